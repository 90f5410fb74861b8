"""A club as a folder of CSV files or a running dashboard: read, judged, and told plainly what is wrong."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from dashboard import say

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.remote import Remote
    from data.club import Told
    from data.problems import Problem
    from rules.engine import Assessment
    from rules.policy import Policy

GOOD, PROBLEMS, UNREADABLE = 0, 1, 2
Answer = TypeVar("Answer")


def fail(text: str) -> typer.Exit:
    """Say on stderr why nothing could be read; the exit to raise."""
    for line in text.split("\n"):
        say.error(line)
    return typer.Exit(UNREADABLE)


def place(text: str) -> Path | Remote:
    """Where a club is: a folder, or the address of a running dashboard."""
    if not text.startswith(("http://", "https://")):
        return Path(text)
    from dashboard.remote import Remote, RemoteError

    try:
        return Remote(text)
    except RemoteError as error:
        raise fail(str(error)) from None


def database(db: Path | None) -> Path:
    """The database that is meant, which must be there: a wrong name makes no empty one."""
    from data.database import default_path

    keep_private()
    path = db or default_path()
    if not path.is_file():
        raise fail(f"{path}: there is no database here. Write its name after --db.")
    return path


def keep_private() -> None:
    """Let what this program writes be read by its owner only: the database, its journal, what is exported of it."""
    os.umask(0o077)


Place = Annotated[
    Path,
    typer.Argument(
        metavar="FOLDER",
        parser=place,
        help="Folder that holds inventory.csv, or address of a running dashboard.",
    ),
]


def day(text: str | None) -> date:
    """The day that ages are counted to."""
    try:
        return date.fromisoformat(text) if text else date.today()
    except ValueError:
        raise typer.BadParameter(f'"{text}" is not a date. Write it like 2027-04-25.') from None


def tell(problems: list[Problem], is_json: bool) -> None:
    """Print problems, one a line: where, value, what is wrong, what to write."""
    if is_json:
        say.as_json({"problems": [dataclasses.asdict(problem) for problem in problems]})
        return
    for problem in problems:
        say.line(str(problem))


def judged(
    folder: Path | Remote, today: str | None, as_json: bool, policy: Path | None = None
) -> tuple[Assessment, dict[str, pd.DataFrame]]:
    """A club judged by a policy, and the frames it was judged from.

    The policy is the one given, else that of the dashboard asked, else the standard one. A folder with problems
    ends the command with exit code 1, one that cannot be read with 2.
    """
    from rules.engine import assess
    from rules.policy import PolicyError
    from rules.rule import RuleError

    counted_to, by = day(today), _policy(policy, folder)
    told = read(folder, by)
    for notice in told.notices:
        say.error(notice)
    if not told.problems and "inventory" not in told.frames:
        where = folder if isinstance(folder, Path) else folder.address
        raise fail(f"{where}: no inventory here. Put an inventory.csv into it.")
    if problems := wrong(told):
        tell(problems, as_json)
        raise typer.Exit(PROBLEMS)
    with say.console(is_error=True).status("judging"):
        try:
            assessment = assess(told.frames, by, counted_to)
        except (PolicyError, RuleError) as error:
            raise fail(str(error)) from None
    for said in assessment.set_aside:
        say.error(said)
    return assessment, told.frames


def _policy(path: Path | None, folder: Path | Remote) -> Policy:
    from rules.policy import Policy

    if path or isinstance(folder, Path):
        return policy_of(path)
    return _held(lambda: Policy.parse(_asked(folder.policy)))


def policy_of(path: Path | None) -> Policy:
    """The policy of a file, else the standard one; one that is none ends the command."""
    from rules.policy import Policy

    return _held(lambda: Policy.read(path) if path else Policy.standard())


def _held(read: Callable[[], Policy]) -> Policy:
    from rules.policy import PolicyError

    try:
        return read()
    except PolicyError as error:
        raise fail(str(error)) from None


def _asked(ask: Callable[[], Answer]) -> Answer:
    """What a dashboard answers; one that does not answer ends the command."""
    from dashboard.remote import RemoteError

    try:
        return ask()
    except RemoteError as error:
        raise fail(str(error)) from None


def wrong(told: Told) -> list[Problem]:
    """What is wrong in the files of a club; where nothing is, what does not fit between them."""
    from data.club_check import loose_ends

    return told.problems or loose_ends(told.frames)


def read(folder: Path | Remote, policy: Policy) -> Told:
    """Read all files of a club, saying on stderr which file is being read."""
    from data import club

    with say.console(is_error=True).status("reading") as status:

        def reading(name: str) -> None:
            status.update(f"reading {say.printable(name)}")

        if not isinstance(folder, Path):
            return _asked(lambda: folder.told(reading))
        try:
            return club.read_folder(folder, progress=reading, aliases=policy.aliases)
        except FileNotFoundError as error:
            raise fail(str(error)) from None
        except OSError as error:
            raise fail(f"{folder}: {error.strerror}. Write the name of a folder that can be read.") from None
