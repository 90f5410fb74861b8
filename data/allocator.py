"""What the memory allocators of a program are told, which they read as it starts."""

import os
import sys

# DuckDB's own gives back within a second what it no longer needs, which the next upload asks for again, in hundreds of
# system calls.
DUCKDB = "dirty_decay_ms:10000,muzzy_decay_ms:10000"
# The C library's keeps seven pieces of each size at hand for a thread; any more go back under a lock.
C_LIBRARY = "glibc.malloc.tcache_count=65535"


def restart_with_more_at_hand() -> None:
    """Start this program anew, under its number, unless the C library's allocator has been told how much to keep.

    An upload is then judged with 3 to 10 % less work. Elsewhere than on Linux nothing is done; another C library than GNU's
    reads none of this. Of what ran before nothing is left, so ask for it first.
    """
    if sys.platform == "linux" and "GLIBC_TUNABLES" not in os.environ:
        os.execve(sys.executable, sys.orig_argv, {**os.environ, "GLIBC_TUNABLES": C_LIBRARY})
