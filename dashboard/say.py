"""How the command line speaks: tables for people, JSON for programs, errors and progress on stderr."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Sequence
from typing import Any

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from dashboard import documents

PIPE_WIDTH = 4000
STYLES = {
    "not ready": "bold red",
    "not met": "bold red",
    "blocks": "bold red",
    "ready with limits": "yellow",
    "limits": "yellow",
    "not known": "cyan",
    "ready": "green",
    "met": "green",
}


def printable(text: str) -> str:
    """Text with every character that could steer a terminal replaced by a visible one."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def console(is_error: bool = False) -> Console:
    """A console on stdout or stderr; as wide as the terminal, and unwrapped and uncoloured in a pipe."""
    stream = sys.stderr if is_error else sys.stdout
    width = None if stream.isatty() else PIPE_WIDTH
    return Console(file=stream, width=width, markup=False, highlight=False, emoji=False)


def line(text: str = "", style: str = "") -> None:
    """Print one line on stdout; words of a finding may stand in it."""
    console().print(Text(printable(text), style=style), soft_wrap=True)


def error(text: str) -> None:
    """Print one line on stderr."""
    console(is_error=True).print(Text(printable(text)), soft_wrap=True)


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print a table; a number stands right, and a word that is a status carries its colour.

    In a pipe a row is a line of cells with a tab between: no cell is cut or filled up, and programs can split them.
    """
    rows = [list(row) for row in rows]
    line(title, "bold")
    out = console()
    if not out.is_terminal:
        for row in [columns, *rows]:
            sys.stdout.write("\t".join(printable(str(cell)) for cell in row).rstrip() + "\n")
        sys.stdout.write("\n")
        return
    drawn = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for number, name in enumerate(columns):
        is_number = bool(rows) and all(isinstance(row[number], int | float) for row in rows)
        drawn.add_column(name, justify="right" if is_number else "left", overflow="fold")
    for row in rows:
        words = [printable(str(cell)) for cell in row]
        drawn.add_row(*(Text(word, style=STYLES.get(word, "")) for word in words))
    out.print(drawn)


def as_json(value: Any) -> None:
    """Print one JSON document."""
    sys.stdout.write(json.dumps(documents.plain(value), ensure_ascii=False, allow_nan=False, indent=2) + "\n")
