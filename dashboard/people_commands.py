"""The commands `kitmuster people …`: who may sign in. Whoever can write the database's file may run them."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from dashboard import folders, say
from dashboard.options import AsJson

app = typer.Typer(
    help="Say who may sign in, and as what, also while the dashboard runs.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

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


def _done(db: Path | None, do: str, **told: str) -> list[dict[str, str]]:
    """Do something here, or have it done by the dashboard that has the database open; who may sign in then."""
    from dashboard import control
    from data.backup import opened
    from data.database import InUseError, StoreError, default_path
    from data.people import People, PeopleError

    folders.keep_private()
    path = (db or default_path()) if do == "add" else folders.database(db)
    try:
        try:
            with closing(opened(path)) as store:
                return control.of_people(People(store), do, **told)
        except InUseError:
            found: list[dict[str, str]] = control.ask(path, "people", do=do, **told)["people"]
            return found
    except (StoreError, PeopleError) as error:
        raise folders.fail(str(error)) from None


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
    _done(db, "add", login=login, name=name, role=role, member=member)
    say.line(f"{name} may sign in as {role}.", "green")


@app.command()
def role(login: Login, role: Annotated[str, typer.Argument(metavar="ROLE")], db: Db = None) -> None:
    """Make someone something else to the club.

    Exit code: 0 done, 2 it cannot be.
    """
    _done(db, "role", login=login, role=role)
    say.line(f"{login} is {role}.", "green")


@app.command()
def remove(login: Login, db: Db = None) -> None:
    """Let someone sign in no more; their open pages and keys end with it.

    Exit code: 0 done, 2 it cannot be.
    """
    _done(db, "remove", login=login)
    say.line(f"{login} may not sign in any more.", "green")


@app.command(name="list")
def list_(db: Db = None, as_json: AsJson = False) -> None:
    """List who may sign in.

    Exit code: 0 done, 2 the database cannot be read.
    """
    people = _done(db, "list")
    if as_json:
        say.as_json({"people": people})
    elif not people:
        say.line("Nobody may sign in yet. `kitmuster people add` lets the first coordinator in.")
    else:
        say.table("Who may sign in", list(people[0]), [list(person.values()) for person in people])
