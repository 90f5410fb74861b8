"""What a club tells: the contract of its files, what is generally known of gear, and where both are kept."""

import os

# DuckDB's allocator gives back within a second what it no longer needs, which the next upload asks for again, in hundreds
# of system calls. It reads this as DuckDB is imported.
os.environ.setdefault("DUCKDB_JE_MALLOC_CONF", "dirty_decay_ms:10000,muzzy_decay_ms:10000")
