"""The people of the club: who may sign in as what, how far kits are shared, who agreed, keys for programs."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import duckdb
import pandas as pd

from data import gone
from data.store import Store

ROLES = ("coordinator", "quartermaster", "event lead", "member", "viewer")
SHARES = ("none", "verdicts", "full")
USUAL_SHARE = "verdicts"
TOKEN_DAYS = 90
LONGEST_TOKEN_DAYS = 366
USED_TO = timedelta(minutes=1)  # how exactly the last use of a key is kept
PREFIX = "km_"
COLUMNS = "person_id, login, name, role, member, added, removed, valid_from"


class PeopleError(ValueError):
    """What was asked about people cannot be done; the message says why and what to write."""


@dataclass(frozen=True)
class Known:
    """Someone who may sign in.

    Attributes
    ----------
    login : e-mail address or subject by which the sign-in names them
    name : how the records call them, unlike anyone else's
    member : their call sign or member number, "" where they are none
    valid_from : sign-ins up to this moment do not count any more (UTC); None where all do
    """

    person_id: int
    login: str
    name: str
    role: str
    member: str
    added: datetime
    removed: datetime | None
    valid_from: datetime | None


class People:
    """People, sharing, consent and keys of one store; every change is written into its record of changes."""

    def __init__(self, store: Store) -> None:
        self._store = store

    # ---- who

    def add(self, login: str, name: str, role: str, member: str, by: str) -> int:
        """Let someone sign in, and return their number.

        Raises
        ------
        PeopleError
            A word is missing or unknown, or the login or name is someone's already.
        """
        login, name, member = _login(login), " ".join(name.split()), member.strip().upper()
        if not login:
            raise PeopleError("login: empty. Write the e-mail address that they sign in with.")
        if not name:
            raise PeopleError("name: empty. Write how the records should call them.")
        _one_of("role", role, ROLES)
        with self._store.changing() as cur:
            for person in _all(cur):
                if person.removed is None and person.login == login:
                    raise PeopleError(f'login: "{login}" can sign in already, as {person.name}.')
                if person.name == name:
                    raise PeopleError(f'name: "{name}" is in the records already. Write another.')
            _keep_to_one(cur, member)
            number = _next(cur, "person", "person_id")
            now = datetime.now(UTC)
            cur.execute(
                "insert into person values (?, ?, ?, ?, ?, ?, null, null)",
                [number, login, name, role, member, now],
            )
            self._store.log(cur, now, by, "person added", None, f"{name} is {role}{_as(member)}")
        return number

    def set_role(self, person_id: int, role: str, by: str) -> None:
        """Make someone something else to the club.

        Raises
        ------
        PeopleError
            The role is unknown, nobody has the number, or no coordinator would be left.
        """
        _one_of("role", role, ROLES)
        with self._store.changing() as cur:
            person = _of(cur, person_id)
            if role != "coordinator":
                _keep_a_coordinator(cur, person)
            cur.execute("update person set role = ? where person_id = ?", [role, person_id])
            detail = f"{person.name} was {person.role}, is {role}"
            self._store.log(cur, datetime.now(UTC), by, "role changed", None, detail)

    def set_member(self, person_id: int, member: str, by: str) -> None:
        """Say whose lists are someone's own: the call sign or member number that they go by, "" for nobody's.

        Raises
        ------
        PeopleError
            Nobody has the number, or the member is somebody else already.
        """
        member = member.strip().upper()
        with self._store.changing() as cur:
            person = _of(cur, person_id)
            if person.member == member:
                return
            _keep_to_one(cur, member)
            cur.execute("update person set member = ? where person_id = ?", [member, person_id])
            detail = f"{person.name} was {person.member or 'none'}, is {member or 'none'}"
            self._store.log(cur, datetime.now(UTC), by, "member changed", None, detail)

    def remove(self, person_id: int, by: str) -> None:
        """Let someone sign in no more; their open pages and keys end with it.

        Raises
        ------
        PeopleError
            Nobody has the number, or no coordinator would be left.
        """
        with gone.changing(self._store) as (cur, going):
            person = _of(cur, person_id)
            _keep_a_coordinator(cur, person)
            take_out(cur, person.login, by)
            going.append((gone.LOGIN, person.login))

    def sign_out(self, person_id: int) -> None:
        """Let no sign-in up to now count any more, on whatever machine it was made."""
        with self._store.changing() as cur:
            cur.execute(
                "update person set valid_from = ? where person_id = ?", [datetime.now(UTC), person_id]
            )

    def of_login(self, login: str) -> Known | None:
        """Who may sign in by this name; None where nobody may."""
        return among(self.known(), login)

    def named(self, login: str) -> Known:
        """Who may sign in by this name.

        Raises
        ------
        PeopleError
            Nobody may.
        """
        found = self.of_login(login)
        if found is None:
            raise PeopleError(f'login: "{login}" may not sign in. `kitmuster people list` shows who may.')
        return found

    def known(self) -> list[Known]:
        """Everyone who may sign in, or once might."""
        with self._store.reading() as cur:
            return _all(cur)

    # ---- how far kits are shared

    def shares(self) -> dict[str, str]:
        """How much others see, by member where it differs from the club's usual, which stands under ""."""
        with self._store.reading() as cur:
            told = dict(cur.execute("select member, share from sharing").fetchall())
        return {"": USUAL_SHARE} | told

    def set_share(self, member: str, share: str | None, by: str) -> None:
        """Share the kits of a member, or of all who have no setting of their own (""), this far; None as usual.

        Raises
        ------
        PeopleError
            The word is unknown.
        """
        if share is not None:
            _one_of("share", share, SHARES)
        with self._store.changing() as cur:
            cur.execute("delete from sharing where member = ?", [member])
            if share is not None:
                cur.execute("insert into sharing values (?, ?)", [member, share])
            detail = f"{member or 'the club'}: others see {share or 'as usual'}"
            self._store.log(cur, datetime.now(UTC), by, "sharing changed", None, detail)

    # ---- consent

    def agree(self, person_id: int, text: str) -> None:
        """Note that someone agreed to a text."""
        with self._store.changing() as cur:
            person, now = _of(cur, person_id), datetime.now(UTC)
            cur.execute(
                "insert into consent values (?, ?, ?, ?, null)",
                [_next(cur, "consent", "consent_id"), person_id, now, text],
            )
            self._store.log(cur, now, person.name, "agreed", None, "how their lists are kept")

    def withdraw(self, person_id: int) -> None:
        """Note that someone no longer agrees."""
        with self._store.changing() as cur:
            person, now = _of(cur, person_id), datetime.now(UTC)
            cur.execute(
                "update consent set withdrawn = ? where person_id = ? and withdrawn is null", [now, person_id]
            )
            self._store.log(cur, now, person.name, "withdrew", None, "their agreement to how lists are kept")

    def has_agreed(self, person_id: int, text: str) -> bool:
        """Whether someone agreed to this very text and has not withdrawn."""
        with self._store.reading() as cur:
            found = cur.execute(
                "select count(*) from consent where person_id = ? and text = ? and withdrawn is null",
                [person_id, text],
            ).fetchone()
        return bool(found and found[0])

    # ---- keys for programs

    def new_token(self, person_id: int, label: str, by: str, days: int = TOKEN_DAYS) -> str:
        """Make a key that acts for a person, and return it; only its digest is kept, so it is seen this once.

        Raises
        ------
        PeopleError
            Nobody has the number, or the days are too many or too few.
        """
        if not 1 <= days <= LONGEST_TOKEN_DAYS:
            raise PeopleError(
                f"days: {days} does not fit. Write a whole number from 1 to {LONGEST_TOKEN_DAYS}."
            )
        key = PREFIX + secrets.token_urlsafe(32)
        with self._store.changing() as cur:
            person, now = _of(cur, person_id), datetime.now(UTC)
            number = _next(cur, "token", "token_id")
            cur.execute(
                "insert into token values (?, ?, ?, ?, ?, ?, null, null)",
                [number, person_id, _digest(key), label, now, now + timedelta(days=days)],
            )
            self._store.log(cur, now, by, "key made", None, f"key {number} of {person.name}, {days} days")
        return key

    def revoke_token(self, token_id: int, by: str) -> None:
        """Let a key count no more."""
        with self._store.changing() as cur:
            now = datetime.now(UTC)
            cur.execute(
                "update token set revoked = ? where token_id = ? and revoked is null", [now, token_id]
            )
            self._store.log(cur, now, by, "key ended", None, f"key {token_id}")

    def tokens(self) -> pd.DataFrame:
        """Keys, newest first: token_id, person_id, name, label, created, expires, revoked, used (UTC)."""
        with self._store.reading() as cur:
            return cur.execute(
                "select token_id, person_id, name, label, created, expires, revoked, used "
                "from token join person using (person_id) order by token_id desc"
            ).df()

    def person_of_token(self, token: str) -> Known | None:
        """Whom a key acts for; None for a key that is unknown, ended or expired, or whose person was removed.

        Every kept digest is compared, in a time that does not depend on how much of it fits.
        """
        digest, now, found = _digest(token), datetime.now(UTC), None
        with self._store.reading() as cur:
            kept = cur.execute(
                "select token_id, person_id, sha256, expires, revoked, used from token"
            ).fetchall()
            people = {person.person_id: person for person in _all(cur)}
        for token_id, person_id, sha256, expires, revoked, used in kept:
            is_same = hmac.compare_digest(sha256, digest)
            if is_same and revoked is None and expires > now and people[person_id].removed is None:
                found = people[person_id]
                if used is None or now - used >= USED_TO:
                    with self._store.changing() as cur:
                        cur.execute("update token set used = ? where token_id = ?", [now, token_id])
        return found


def take_out(cur: duckdb.DuckDBPyConnection, login: str, by: str) -> None:
    """Let whoever signs in by a name do so no more, as part of a change that is already under way."""
    person, now = among(_all(cur), login), datetime.now(UTC)
    if person is None:
        return
    cur.execute("update person set removed = ? where person_id = ?", [now, person.person_id])
    cur.execute(
        "update token set revoked = ? where person_id = ? and revoked is null", [now, person.person_id]
    )
    Store.log(cur, now, by, "person removed", None, person.name)


def among(known: Iterable[Known], login: str) -> Known | None:
    """Who of these may sign in by a name; None where nobody may."""
    wanted = _login(login)
    return next((p for p in known if wanted and p.removed is None and p.login == wanted), None)


def _login(text: str) -> str:
    return text.strip().casefold()


def _as(member: str) -> str:
    return f", member {member}" if member else ""


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _one_of(what: str, word: str, words: tuple[str, ...]) -> None:
    if word not in words:
        raise PeopleError(f'{what}: "{word}" is not known. Write one of {", ".join(words)}.')


def _all(cur: duckdb.DuckDBPyConnection) -> list[Known]:
    rows = cur.execute(f"select {COLUMNS} from person order by person_id").fetchall()
    return [Known(*row) for row in rows]


def _of(cur: duckdb.DuckDBPyConnection, person_id: int) -> Known:
    found = [p for p in _all(cur) if p.person_id == person_id and p.removed is None]
    if not found:
        raise PeopleError(f"There is no person {person_id} who may sign in. Choose one from the list.")
    return found[0]


def _keep_to_one(cur: duckdb.DuckDBPyConnection, member: str) -> None:
    for person in _all(cur):
        if member and person.removed is None and person.member == member:
            raise PeopleError(f'member: "{member}" is {person.name} already. Write another, or none.')


def _keep_a_coordinator(cur: duckdb.DuckDBPyConnection, leaving: Known) -> None:
    others = [p for p in _all(cur) if p.removed is None and p.role == "coordinator" and p != leaving]
    if leaving.role == "coordinator" and not others:
        raise PeopleError(f"{leaving.name} is the only coordinator. Make someone else coordinator first.")


def _next(cur: duckdb.DuckDBPyConnection, table: str, column: str) -> int:
    row = cur.execute(f"select coalesce(max({column}), 0) + 1 from {table}").fetchone()
    assert row is not None
    return int(row[0])
