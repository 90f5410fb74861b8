"""The commands that check files, and send them to a running dashboard."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard import documents, folders, say
from dashboard.options import AsJson, Policy

if TYPE_CHECKING:
    from dashboard.remote import Remote
    from data.problems import Problem
    from data.upload import Aliases
    from rules import policy as policies
    from rules.engine import Finding


def check(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE...", help="CSV files or spreadsheets of any known kind, or folders of them."
        ),
    ],
    policy: Policy = None,
    as_json: AsJson = False,
) -> None:
    """Check CSV files and spreadsheets (.xlsx, .ods) before they are sent.

    Of a folder it also tells what does not fit between its files: a name that leads nowhere, hours of another day.
    The club's own words count with its policy, as they do where the files are sent.

    Exit code: 0 all good, 1 problems, 2 a file cannot be read (not there, not text, or of no known kind).
    """
    from data import spreadsheet

    problems: list[Problem] = []
    is_readable, by = True, folders.policy_of(policy)
    for path in files:
        if path.is_dir():
            problems += _in_folder(path, by, as_json)
            continue
        try:
            content = path.read_bytes()
        except OSError as error:
            is_readable = False
            problems.append(_unreadable(path, error))
            continue
        for read in spreadsheet.read_files(path.name, content, aliases=by.aliases):
            problems += read.problems
            is_readable = is_readable and read.stem != ""
            for notice in read.notices:
                say.error(f"{read.file}: {notice}")
            if not as_json and not read.problems and read.frame is not None:
                _say_good(read.file, len(read.frame))
    if problems or as_json:
        folders.tell(problems, as_json)
    raise typer.Exit(
        folders.UNREADABLE if not is_readable else folders.PROBLEMS if problems else folders.GOOD
    )


def _say_good(file: str, rows: int) -> None:
    say.line(f"{file}: {rows} row{'' if rows == 1 else 's'}, all good", "green")


def _in_folder(folder: Path, by: policies.Policy, as_json: bool) -> list[Problem]:
    """What is wrong in the files of a folder or between them; where nothing is, each file is said to be good."""
    told = folders.read(folder, by)
    for notice in told.notices:
        say.error(notice)
    problems = folders.wrong(told)
    for frame in () if problems or as_json else told.frames.values():
        for file, rows in frame["file"].value_counts(sort=False).items():
            _say_good(file, rows)
    return problems


def _unreadable(path: Path, error: OSError) -> Problem:
    from data.problems import Problem

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

    Of the first members whom they name it tells what that mended and what it brought.

    Exit code: 0 all taken, 1 a file has problems, 2 a file cannot be read or the dashboard does not answer.
    """
    from dashboard.remote import Remote, RemoteError

    answers, is_good = [], True
    try:
        dashboard = Remote(to)
        contents = {path: path.read_bytes() for path in files}
        before = {} if try_only else _found(dashboard, contents)
        for path, content in contents.items():
            answer = dashboard.send(path.name, content, try_only)
            answers.append({"name": path.name} | answer)
            is_good = is_good and "problems" not in answer
            if not as_json:
                _tell(answer, try_only)
    except (RemoteError, OSError) as error:
        raise folders.fail(str(error)) from None
    moved: dict[str, tuple[list[Finding], list[Finding]]] = {}
    try:
        moved = {member: (found, dashboard.findings(member) or []) for member, found in before.items()}
    except RemoteError as error:  # the files are taken all the same
        say.error(f"What they mended and brought is not told. {error}")
    if as_json:
        say.as_json({"files": answers, "members": [_moved_of(member, *two) for member, two in moved.items()]})
    else:
        for member, two in moved.items():
            _tell_moved(member, *two)
    raise typer.Exit(folders.GOOD if is_good else folders.PROBLEMS)


def _found(dashboard: Remote, contents: Mapping[Path, bytes]) -> dict[str, list[Finding]]:
    """What is found of the first members whom files name, of those who are judged already."""
    from dashboard.sending import SHOWN_MEMBERS
    from data import spreadsheet

    own = _words(dashboard)
    read = (
        sent
        for path, content in contents.items()
        for sent in spreadsheet.read_files(path.name, content, aliases=own)
    )
    frames = [sent.frame for sent in read if sent.frame is not None and "member" in sent.frame]
    members = sorted({member for frame in frames for member in frame["member"].dropna()})
    found = {member: dashboard.findings(member) for member in members[:SHOWN_MEMBERS]}
    return {member: told for member, told in found.items() if told is not None}


def _words(dashboard: Remote) -> Aliases:
    """The club's own words; none where its policy says what this program, of another day, does not know."""
    from rules.policy import Policy, PolicyError

    try:
        return Policy.parse(dashboard.policy()).aliases
    except PolicyError:
        return {}


def _moved_of(member: str, before: list[Finding], after: list[Finding]) -> dict[str, Any]:
    """What new lists mended of a member and what they brought, as a document."""
    from dashboard.sending import moved

    mended, new = map(documents.findings, moved(before, after))
    return {"member": member, "mended_or_gone": mended, "new": new}


def _tell_moved(member: str, before: list[Finding], after: list[Finding]) -> None:
    """Print what new lists mended of a member and what they brought."""
    from dashboard.sending import moved_in_words

    for words, found in moved_in_words(before, after):
        say.line(f"{member}: {words}", "bold")
        for one in found:
            say.line(f"    {one.sentence}")


def _tell(answer: dict, try_only: bool) -> None:
    """Print what came of one file, or of each sheet of a workbook."""
    from data.problems import Problem

    for problem in answer.get("problems", ()):
        say.line(str(Problem(**problem)))
    rows, things = ("rows", "things that would change") if try_only else ("rows taken", "things changed")
    for read in answer.get("files", ()):
        for notice in read["notices"]:
            say.error(f"{read['file']}: {notice}")
        say.line(f"{read['file']}: {rows}: {read['rows']}, {things}: {len(read['changes'])}", "green")
