"""Commands that keep the club's database: copy it, bring a copy back, write everything out."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from dashboard import folders, say
from dashboard.options import AsJson

Db = Annotated[Path | None, typer.Option("--db", metavar="PATH", help="The club's database.")]


def backup(
    db: Db = None,
    keep: Annotated[int, typer.Option(min=1, help="How many copies stay; older ones go.")] = 14,
    as_json: AsJson = False,
) -> None:
    """Copy the club's database into the folder backups beside it, also while the dashboard runs.

    The copy is read back and compared before it counts. Exit code: 0 copied, 2 could not be.
    """
    copy = _copy(folders.database(db), keep)
    if as_json:
        say.as_json({"file": str(copy)})
    else:
        say.line(f"Copied and read back: {copy}")


def restore(
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help="A copy; else the newest one.")] = None,
    db: Db = None,
    with_erased: Annotated[
        bool,
        typer.Option(
            "--with-erased",
            help="Also where it cannot be read who was erased since: they come back with an older copy.",
        ),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Bring a copy of the database back, whole or not at all, also while the dashboard runs.

    What was in force is copied first. A copy of another club goes into a new file (--db NEW): the record of a club is
    only ever added to. Who was erased after the copy was made, by the file beside it, stays erased.
    Exit code: 0 brought back, 2 could not be.
    """
    from data.backup import listed
    from data.database import StoreError, default_path

    folders.keep_private()
    path = db or default_path()
    copies = listed(path)
    chosen = file or (copies[-1] if copies else None)
    if chosen is None:
        raise folders.fail(f"{path}: no copy of it is known. Name the file to bring back.")
    if not chosen.is_file():
        raise folders.fail(f"{chosen}: there is no file here. Write the name of a copy.")
    try:
        before = _restore(path, chosen, with_erased)
    except StoreError as error:
        raise folders.fail(str(error)) from None
    if as_json:
        say.as_json({"restored": str(chosen), "before": str(before) if before else None})
        return
    say.line(f"In force: {chosen.name}.")
    if before:
        say.line(f"What was in force before: {before}")


def export(
    out: Annotated[Path, typer.Argument(metavar="OUT", help="A new folder.")],
    db: Db = None,
    form: Annotated[str, typer.Option("--form", metavar="csv|parquet", help="Form of the tables.")] = "csv",
    as_json: AsJson = False,
) -> None:
    """Write everything that the club has told into open files, with their schema, also while the dashboard runs.

    Exit code: 0 written, 2 could not be.
    """
    from data import export as open_files
    from data.backup import KEPT
    from data.database import StoreError

    if form not in open_files.FORMS:
        raise folders.fail(f'form: "{form}" is not known. Write csv or parquet.')
    copy = _copy(folders.database(db), KEPT)
    try:
        written = open_files.write(copy, out, form)
    except StoreError as error:
        raise folders.fail(str(error)) from None
    if as_json:
        say.as_json({"files": [str(file) for file in written]})
    else:
        say.line(f"{len(written)} files are in {out}; schema.sql says what stands in each.")


def _copy(path: Path, keep: int) -> Path:
    """A copy of the database, made here or by the dashboard that has it open."""
    from dashboard import control
    from data.backup import make, opened
    from data.database import InUseError, StoreError

    try:
        try:
            with closing(opened(path)) as store:
                return make(store, keep)
        except InUseError:
            return Path(control.ask(path, "backup", keep=keep)["file"])
    except StoreError as error:
        raise folders.fail(str(error)) from None


def _restore(path: Path, chosen: Path, is_forced: bool) -> Path | None:
    """Bring a copy back, here or by the dashboard; the copy of what was in force before."""
    from dataclasses import astuple

    from dashboard import control
    from data import gone
    from data.backup import opened
    from data.database import InUseError, backups
    from data.disk import hand_over

    try:
        with closing(opened(path)) as store:
            return control.bring_back(store, chosen, is_forced=is_forced)
    except InUseError:
        there = backups(path)
        if chosen.absolute().parent == there:
            before = control.ask(path, "restore", name=chosen.name, is_forced=is_forced)["before"]
        else:
            beside = [astuple(one) for one in gone.read(chosen.parent, is_forced)]
            there.mkdir(mode=0o700, exist_ok=True)
            hand_over(there, path)
            with tempfile.NamedTemporaryFile(dir=there, prefix=f"{chosen.stem}-", suffix=".given") as given:
                shutil.copyfile(chosen, given.name)
                hand_over(Path(given.name), path)
                name = Path(given.name).name
                before = control.ask(path, "restore", name=name, beside=beside, is_forced=is_forced)["before"]
        return Path(before) if before else None
