"""How it is shown: pages, printed sheets, the command line, the HTTP API."""
