"""The commands `kitmuster people …`: who may sign in. Whoever can write the database's file may run them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard import folders, say
from dashboard.options import AsJson

if TYPE_CHECKING:
    from data.people import Known, People

app = typer.Typer(help="Say who may sign in, and as what.", no_args_is_help=True, rich_markup_mode=None)
BY = "command line"

Login = Annotated[
    str,
    typer.Argument(
        metavar="LOGIN",
        help="What they sign in with, mostly an e-mail address; the dashboard shows it to whoever is not on the list.",
    ),
]
Role = Annotated[str, typer.Option(help="One of coordinator, quartermaster, event lead, member, viewer.")]
Db = Annotated[Path | None, typer.Option(metavar="PATH", help="The club's database.")]
NewDb = Annotated[Path | None, typer.Option(metavar="PATH", help="The club's database; made if not there.")]


@contextmanager
def _people(db: Path | None, is_made: bool = False) -> Iterator[People]:
    """The people of a database, which is there or, where that is asked, made; what cannot be done is said plainly."""
    from data.backup import opened
    from data.database import StoreError, default_path
    from data.people import People, PeopleError

    folders.keep_private()
    try:
        with closing(opened((db or default_path()) if is_made else folders.database(db))) as store:
            yield People(store)
    except (StoreError, PeopleError) as error:
        raise folders.fail(str(error)) from None


def _of(people: People, login: str) -> Known:
    from data.people import PeopleError

    found = people.of_login(login)
    if found is None:
        raise PeopleError(f'login: "{login}" may not sign in. `kitmuster people list` shows who may.')
    return found


@app.command()
def add(
    login: Login,
    name: Annotated[str, typer.Option(help="How the records call them.")],
    role: Role = "member",
    member: Annotated[str, typer.Option(help="Their call sign or member number.")] = "",
    db: NewDb = None,
) -> None:
    """Let someone sign in. A club's first coordinator is added here.

    Exit code: 0 done, 2 it cannot be.
    """
    with _people(db, is_made=True) as people:
        people.add(login, name, role, member, BY)
    say.line(f"{name} may sign in as {role}.", "green")


@app.command()
def role(login: Login, role: Annotated[str, typer.Argument(metavar="ROLE")], db: Db = None) -> None:
    """Make someone something else to the club.

    Exit code: 0 done, 2 it cannot be.
    """
    with _people(db) as people:
        people.set_role(_of(people, login).person_id, role, BY)
    say.line(f"{login} is {role}.", "green")


@app.command()
def remove(login: Login, db: Db = None) -> None:
    """Let someone sign in no more; their open pages and keys end with it.

    Exit code: 0 done, 2 it cannot be.
    """
    with _people(db) as people:
        people.remove(_of(people, login).person_id, BY)
    say.line(f"{login} may not sign in any more.", "green")


@app.command(name="list")
def list_(
    db: Db = None,
    as_json: AsJson = False,
) -> None:
    """List who may sign in.

    Exit code: 0 done, 2 the database cannot be read.
    """
    with _people(db) as people:
        rows = [(p.login, p.name, p.role, p.member) for p in people.known() if p.removed is None]
    columns = ("login", "name", "role", "member")
    if as_json:
        say.as_json({"people": [dict(zip(columns, row, strict=True)) for row in rows]})
    elif not rows:
        say.line("Nobody may sign in yet. `kitmuster people add` lets the first coordinator in.")
    else:
        say.table("Who may sign in", columns, rows)
