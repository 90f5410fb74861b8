"""Physics: numbers in, numbers out. Nothing here reads a file or the database."""
