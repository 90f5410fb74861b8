"""The commands that check files, and send them to a running dashboard."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard import folders, say
from dashboard.options import AsJson

if TYPE_CHECKING:
    from data.upload import Problem


def check(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="CSV files or spreadsheets of any known kind.")
    ],
    as_json: AsJson = False,
) -> None:
    """Check CSV files and spreadsheets (.xlsx, .ods) before they are sent.

    Exit code: 0 all good, 1 problems, 2 a file cannot be read (not there, not text, or of no known kind).
    """
    from data import spreadsheet

    problems: list[Problem] = []
    is_readable = True
    for path in files:
        try:
            content = path.read_bytes()
        except OSError as error:
            is_readable = False
            problems.append(_unreadable(path, error))
            continue
        for read in spreadsheet.read_files(path.name, content):
            problems += read.problems
            is_readable = is_readable and read.stem != ""
            for notice in read.notices:
                say.error(f"{read.file}: {notice}")
            if not as_json and not read.problems and read.frame is not None:
                say.line(f"{read.file}: {len(read.frame)} rows, all good", "green")
    if problems or as_json:
        folders.tell(problems, as_json)
    raise typer.Exit(
        folders.UNREADABLE if not is_readable else folders.PROBLEMS if problems else folders.GOOD
    )


def _unreadable(path: Path, error: OSError) -> Problem:
    from data.upload import Problem

    reason = f"it cannot be read: {error.strerror}"
    return Problem(str(path), 0, "", "", reason, "Write the name of a CSV file.")


def send(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="CSV files or spreadsheets.")],
    to: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Where the dashboard stands, e.g. https://club.example.")
    ],
    try_only: Annotated[
        bool, typer.Option("--try", help="Say what would change, and change nothing.")
    ] = False,
    as_json: AsJson = False,
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
