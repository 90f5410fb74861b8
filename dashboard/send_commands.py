"""The command that sends files to a running dashboard."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dashboard import folders, say


def send(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="CSV files or spreadsheets.")],
    to: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Where the dashboard stands, e.g. https://club.example.")
    ],
    try_only: Annotated[
        bool, typer.Option("--try", help="Say what would change, and change nothing.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one JSON document instead of lines.")
    ] = False,
) -> None:
    """Send CSV files and spreadsheets (.xlsx, .ods) to a running dashboard; each is taken whole or not at all.

    Exit code: 0 all taken, 1 a file has problems, 2 a file cannot be read or the dashboard does not answer.
    """
    from dashboard.remote import Remote, RemoteError

    answers, is_good = [], True
    try:
        dashboard = Remote(to)
        for path in files:
            answer = dashboard.send(path.name, path.read_bytes(), try_only)
            answers.append({"name": path.name} | answer)
            is_good = is_good and "problems" not in answer
            if not as_json:
                _tell(answer, try_only)
    except (RemoteError, OSError) as error:
        raise folders.fail(str(error)) from None
    if as_json:
        say.as_json({"files": answers})
    raise typer.Exit(folders.GOOD if is_good else folders.PROBLEMS)


def _tell(answer: dict, try_only: bool) -> None:
    """Print what came of one file, or of each sheet of a workbook."""
    from data.upload import Problem

    for problem in answer.get("problems", ()):
        say.line(str(Problem(**problem)))
    word = "would change" if try_only else "taken, changing"
    for read in answer.get("files", ()):
        for notice in read["notices"]:
            say.error(f"{read['file']}: {notice}")
        say.line(f"{read['file']}: {read['rows']} rows, {word} {len(read['changes'])} things", "green")
