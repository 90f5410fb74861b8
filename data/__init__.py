"""What a club tells: the contract of its files, what is generally known of gear, and where both are kept."""

import os

from data.allocator import DUCKDB

os.environ.setdefault("DUCKDB_JE_MALLOC_CONF", DUCKDB)  # before DuckDB is imported
