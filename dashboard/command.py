"""The command `kitmuster`: every command that it has, in the order in which its help lists them."""

from __future__ import annotations

import sys
from importlib.metadata import version as installed
from typing import Annotated

import typer

from dashboard import (
    buy_commands,
    change_commands,
    folders,
    keep_commands,
    people_commands,
    plan_commands,
    rule_commands,
    say,
    score_commands,
    send_commands,
    serve_commands,
    sheet_commands,
    word_commands,
)
from data import allocator

SERVING = ("serve", "demo")

app = typer.Typer(
    help="Review the radio kits of a club: what is missing, who can hold which post, what to mend first.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(asked: bool) -> None:
    if asked:
        say.line(f"kitmuster {installed('kitmuster')}")
        raise typer.Exit(folders.GOOD)


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Review the radio kits of a club: what is missing, who can hold which post, what to mend first."""


app.command()(send_commands.check)
app.command()(score_commands.score)
app.command()(rule_commands.rules)
app.command()(serve_commands.serve)
app.command()(serve_commands.demo)
app.command()(send_commands.send)
app.add_typer(people_commands.app, name="people")
app.command()(keep_commands.backup)
app.command()(keep_commands.restore)
app.command()(keep_commands.export)
app.command()(sheet_commands.sheets)
app.command()(sheet_commands.calendar)
app.command()(buy_commands.buy)
app.command()(buy_commands.loadout)
app.command()(buy_commands.borrow)
app.command()(plan_commands.posts)
app.command()(plan_commands.staff)
app.command()(change_commands.whatif)
app.command()(change_commands.after)
app.command()(word_commands.words)


def main() -> None:
    """Run the command `kitmuster`."""
    if sys.argv[1:2] and sys.argv[1] in SERVING:
        allocator.restart_with_more_at_hand()
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows a question mark
    try:
        app(prog_name="kitmuster")
    except Exception as error:
        from duckdb import OutOfMemoryException

        if not isinstance(error, OutOfMemoryException):
            raise
        from data.club import TOO_LARGE

        say.error(TOO_LARGE)
        sys.exit(folders.UNREADABLE)
