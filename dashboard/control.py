"""How a command on this machine reaches the dashboard that has the database open: a secret in a file beside it.

The file can be read by its owner only. It holds an address and a token that lives as long as the server. Whoever
can read it could read the database as well, so it opens nothing that was shut, and nothing but the limit on all
requests counts how often it is used.
"""

from __future__ import annotations

import hmac
import json
import os
import secrets
import urllib.error
import urllib.request
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from dashboard import logs, standing
from data import backup, gone, restoring, upload
from data.database import StoreError, backups
from data.people import People
from data.store import Store
from rules.policy import Policy, PolicyError

BY, BY_COMMAND = "this machine", "command line"
LOCAL = ("127.0.0.1", "::1")
PATIENCE_S = 600


def secret_file(db: Path) -> Path:
    """Where the running dashboard says how it can be reached."""
    return db.with_name(db.name + ".control")


@contextmanager
def announced(db: Path, address: str, token: str) -> Iterator[None]:
    """Keep the file there while the dashboard runs, readable by its owner only."""
    path = secret_file(db)
    fresh = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    number = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(number, "w", encoding="utf-8") as file:
        json.dump({"address": address, "token": token}, file)
    fresh.replace(path)
    try:
        yield
    finally:
        path.unlink(missing_ok=True)


def is_bearer(request: Request, token: str) -> bool:
    """Whether a request carries the token."""
    given = request.headers.get("authorization", "").removeprefix("Bearer ")
    return bool(token) and hmac.compare_digest(given.encode(), token.encode())


def routes(token: str) -> list[Route]:
    """What a command may ask of the running dashboard."""

    def guarded(work: Callable[[dict[str, Any]], dict[str, Any]]) -> Callable[[Request], Any]:
        async def answer(request: Request) -> Response:
            is_near = request.client is not None and request.client.host in LOCAL
            if not is_near or "x-forwarded-for" in request.headers or not is_bearer(request, token):
                return JSONResponse({"problem": "This is for commands on the same machine."}, 403)
            try:
                asked = json.loads(await request.body() or b"{}")
                return JSONResponse(await run_in_threadpool(work, asked))
            except (StoreError, ValueError, KeyError, TypeError) as error:
                logs.failed("control failed", error)
                return JSONResponse({"problem": str(error)}, 409)

        return answer

    return [
        Route("/control/backup", guarded(_backup), methods=["POST"]),
        Route("/control/restore", guarded(_restore), methods=["POST"]),
        Route("/control/people", guarded(_people), methods=["POST"]),
    ]


def _backup(asked: dict[str, Any]) -> dict[str, Any]:
    copy = backup.make(standing.club().store, int(asked.get("keep", backup.KEPT)))
    logs.event("backup made", bytes=copy.stat().st_size)
    return {"file": str(copy)}


def _restore(asked: dict[str, Any]) -> dict[str, Any]:
    """Restore a file of the folder backups, named without its folder: no other file can be asked for."""
    club, name = standing.club(), str(asked["name"])
    path = club.store.path
    assert path is not None
    file = backups(path) / name
    if Path(name).name != name or file.is_symlink() or not file.is_file():
        raise StoreError("This is no file of the folder backups. Write the name of one that is.")
    beside = [gone.Gone(*one) for one in asked.get("beside", [])]
    before = bring_back(club.store, file, beside, bool(asked.get("is_forced")))
    club.standing()
    logs.event("backup restored")
    return {"before": str(before) if before else None}


def _people(asked: dict[str, Any]) -> dict[str, Any]:
    found = of_people(standing.club().people, **asked)
    if asked["do"] != "list":
        logs.event("people changed")
    return {"people": found}


def of_people(
    people: People, do: str, login: str = "", name: str = "", role: str = "", member: str = ""
) -> list[dict[str, str]]:
    """Do what `kitmuster people` asks (add, role, remove or list); who may sign in then.

    Raises
    ------
    PeopleError
        It cannot be done.
    """
    match do:
        case "add":
            people.add(login, name, role, member, BY_COMMAND)
        case "role":
            people.set_role(people.named(login).person_id, role, BY_COMMAND)
        case "remove":
            people.remove(people.named(login).person_id, BY_COMMAND)
    return [
        {"login": person.login, "name": person.name, "role": person.role, "member": person.member}
        for person in people.known()
        if person.removed is None
    ]


def bring_back(
    store: Store, file: Path, beside: Collection[gone.Gone] = (), is_forced: bool = False
) -> Path | None:
    """As `data.restoring.restore`, by whoever sits at this machine, with the club's own words of the day of the copy."""
    assert store.path is not None
    folder = store.path.parent

    def aliases(text: str) -> upload.Aliases:
        try:
            return Policy.parse(text, beside=folder).aliases
        except (
            PolicyError
        ):  # of another version; what cannot be read without it is emptied where someone is erased
            return upload.NO_ALIASES

    return restoring.restore(store, file, BY, aliases, beside, is_forced)


def ask(db: Path, what: str, **asked: object) -> dict[str, Any]:
    """Ask the dashboard that has the database open.

    Raises
    ------
    StoreError
        No dashboard has said how it can be reached, or it cannot do what was asked.
    """
    try:
        told = json.loads(secret_file(db).read_text("utf-8"))
        request = urllib.request.Request(
            f"{told['address']}/control/{what}",
            json.dumps(asked).encode(),
            {"Authorization": f"Bearer {told['token']}"},
        )
        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        with opener.open(request, timeout=PATIENCE_S) as answer:
            found: dict[str, Any] = json.load(answer)
            return found
    except urllib.error.HTTPError as error:
        raise StoreError(json.load(error).get("problem", error.reason)) from None
    except (OSError, ValueError, KeyError) as error:
        raise StoreError(
            f"{db} is in use by another program, and no dashboard answers that could do it. "
            "Stop that program, and ask again."
        ) from error
