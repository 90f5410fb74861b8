"""A copy of the database put in force again: the rows of its day, or whole where no record is lost."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Collection
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from data import belongings, gone, invented, people, schema, upload
from data.backup import COPIED, attached, digests, make, name_of, path_of, sweep, tables
from data.database import StoreError, backups, one, reason
from data.gone import Gone
from data.store import Store

MOST_ROWS = 50_000_000  # of all tables together; what holds more was made to fill a disk
CHOSEN = ".chosen"
RESTORED = "backup restored"  # in the record of changes
JUDGED = ("judged_kits", "judged")  # what was worked out of a version


def restore(
    store: Store,
    file: Path,
    by: str,
    aliases: Callable[[str], upload.Aliases] = lambda policy: upload.NO_ALIASES,
    beside: Collection[Gone] = (),
    is_forced: bool = False,
) -> Path | None:
    """Put a copy in force, all of it or nothing, and return the copy made of what was in force before.

    A record is only ever added to. Into the store that it was made of a copy brings back the rows and the policy
    of its day, and nothing else: the record goes on, nobody who was taken out and no key that was revoked comes
    back, and what was erased stays erased. A line more in the record says who restored which copy. A copy comes
    whole, with its record and people, into a store that has no record of its own, as it is new or holds nothing but
    the invented club, and into one whose record is how that of the copy begins. Nobody knows there which keys and
    sign-ins were ended after the copy was made: every key in it ends, and everyone signs in anew. Who is known to
    be gone since (`data.gone`), from beside the copy or beside the store, is erased and taken out again.

    Parameters
    ----------
    aliases : from the text of a policy to the club's own words in it, by which files as sent are read to erase
    beside : who is gone by what stood beside the copy where it came from
    is_forced : also where it cannot be read who is gone

    Raises
    ------
    StoreError
        The file is no copy of a Kit Muster database, is damaged, or comes from a newer version; or the store has a
        record of its own, and the copy another.
    GoneError
        It cannot be read who is gone.
    """
    path = path_of(store)
    there = backups(path)
    chosen = there / f"{path.stem}{CHOSEN}"
    with store.alone() as cur:  # nobody writes between the copy and what takes its place
        try:
            there.mkdir(mode=0o700, exist_ok=True)
            sweep(path, CHOSEN)
            _bring_up(file, chosen)
            left_out = {*beside, *gone.read(file.parent, is_forced), *gone.read(there, is_forced)}
            with attached(cur, chosen, "(read_only)"):
                way = _way(cur, file)
            before = None if way == "new" else make(store)
            with attached(cur, chosen, "(read_only)"):
                _replace(cur, file, by, way, lambda: _leave_out(cur, path, left_out, by, aliases, is_forced))
        except (duckdb.Error, OSError) as error:
            raise StoreError(
                f"{file.name} was not restored: {reason(error)} What is in force is untouched. "
                f"Choose another file of {there}."
            ) from error
        finally:
            sweep(path, CHOSEN)
    return before


def _way(cur: duckdb.DuckDBPyConnection, file: Path) -> str:
    """How the attached copy may come without a line of our record being lost.

    Returns
    -------
    str
        "new" where there is no record yet, "back" where the copy holds this database as it once was, "on" where our
        record is how that of the copy begins, "instead" where ours tells of nothing but the invented club.

    Raises
    ------
    StoreError
        There is no way.
    """
    ours = name_of(cur)
    if not one(cur, f'select count(*) from "{ours}".main.change'):
        return "new"
    if _begins(cur, COPIED, ours):
        return "back"
    if _begins(cur, ours, COPIED) and _goes_on(cur, ours):
        return "on"
    if invented.is_all_there_was(cur):
        return "instead"
    raise StoreError(
        f"{file.name} was not restored: it is a copy of another club, or of this one on another machine where it "
        "went its own way. What is in force here has a record of its own, which is only ever added to. Bring the "
        "copy into a new file with kitmuster restore FILE --db NEW, and serve that with kitmuster serve --db NEW."
    )


def _begins(cur: duckdb.DuckDBPyConnection, first: str, second: str) -> bool:
    """Whether the record of one database is how that of the other begins, or is the same."""
    early, late = (
        set(cur.execute(f'select change_id, "at" from "{name}".main.change').fetchall())
        for name in (first, second)
    )
    return bool(early) and early <= late


def _goes_on(cur: duckdb.DuckDBPyConnection, ours: str) -> bool:
    """Whether the copy holds every line of our record, file as sent and policy, as it is or with someone erased."""
    kept = f"""
    select not exists (
        from "{ours}".main.change as o where not exists (
            from {COPIED}.main.change as c where (c.change_id, c."at", c.what) = (o.change_id, o."at", o.what)
            and c.upload_id is not distinct from o.upload_id and c.back_to is not distinct from o.back_to
            and (c."by" = o."by" or c."by" like 'erased person %')
            and c.detail in (o.detail, '{belongings.ERASED}')))
    and not exists (
        from "{ours}".main.upload as o where not exists (
            from {COPIED}.main.upload as c where (c.upload_id, c."at", c.stem) = (o.upload_id, o."at", o.stem)
            and (c.sha256 = o.sha256 or exists (
                from {COPIED}.main.change as e where e.upload_id = c.upload_id and e.detail = '{belongings.ERASED}'))))
    and not exists (
        from "{ours}".main.policy as o where not exists (
            from {COPIED}.main.policy as c
            where (c.policy_id, c."at", c.why, c.text) = (o.policy_id, o."at", o.why, o.text)))
    """
    return bool(one(cur, kept))


def _replace(
    cur: duckdb.DuckDBPyConnection, file: Path, by: str, way: str, leave_out: Callable[[], None]
) -> None:
    """Put the attached copy in force, in one transaction."""
    _see_that_it_is_no_bomb(cur, file)
    cur.begin()
    try:
        if way == "back":
            _go_back(cur, file, by)
        else:
            _take_whole(cur, file, by, way)
            leave_out()
        cur.commit()
    except BaseException:
        with suppress(duckdb.Error):
            cur.rollback()
        raise


def _take_whole(cur: duckdb.DuckDBPyConnection, file: Path, by: str, way: str) -> None:
    """Put every row of the attached copy in the place of all rows, or of all that it does not go on from."""
    number = one(cur, "select coalesce(max(change_id), 0) from change")
    apart = [*JUDGED] if way == "on" else []
    for table in tables(cur, COPIED):
        if table not in apart:
            _take(cur, table)
    now, then = (
        {table: held for table, held in digests(cur, name).items() if table not in apart}
        for name in (name_of(cur), COPIED)
    )
    if now != then:
        raise StoreError(f"{file.name} was not restored: what was read from it differs from it.")
    for table in apart:  # what was judged here, which the last one tells, stays
        cur.execute(
            f"insert into {table} by name from {COPIED}.main.{table} "
            f"where change_id not in (select change_id from {JUDGED[-1]})"
        )
    moment = datetime.now(UTC)
    cur.execute("update token set revoked = ? where revoked is null", [moment])
    cur.execute("update person set valid_from = ?", [moment])
    if way == "instead":
        cur.execute(
            "insert into change select greatest(?, coalesce(max(change_id), 0)) + 1, ?, ?, ?, NULL, ?, NULL "
            "from change",
            [number, moment, by, RESTORED, file.name],
        )


def _leave_out(
    cur: duckdb.DuckDBPyConnection,
    path: Path,
    left_out: set[Gone],
    by: str,
    aliases: Callable[[str], upload.Aliases],
    is_forced: bool,
) -> None:
    """Erase and take out again who has gone since the copy was made that is in force now."""
    club = gone.began(cur, name_of(cur))
    newest = one(cur, f"select coalesce(max(change_id), 0) from {COPIED}.main.change")
    since = [who for who in left_out if who.club == club and who.change > newest]
    if any(who.what == gone.MEMBER for who in since):
        words = aliases(one(cur, "select coalesce(max_by(text, policy_id), '') from policy"))
        for member in gone.are(since, gone.MEMBER, club, belongings.members(cur, words)):
            belongings.erase_in(cur, member, by, words)
    logins = [row[0] for row in cur.execute("select login from person where removed is null").fetchall()]
    for login in gone.are(since, gone.LOGIN, club, logins):
        people.take_out(cur, login, by)
    if left_out:
        gone.add(path, [who for who in left_out if who.club == club], is_forced)


def _go_back(cur: duckdb.DuckDBPyConnection, file: Path, by: str) -> None:
    """Put the rows and the policy that were in force when the attached copy was made in force again.

    The record goes on: changes, files as sent, policies and judgements since then stay. So do people, keys,
    agreements and what is shared; what was erased since stays erased. Where nothing has changed since, nothing does.
    """
    told = [f"told_{stem}" for stem in schema.FILES]
    now, then = digests(cur, name_of(cur)), digests(cur, COPIED)
    if all(now[table] == then.get(table) for table in (*told, "change")):
        return  # it is in force as it is
    for table in told:
        _take(cur, table)
    now = digests(cur, name_of(cur))
    if any(now[table] != then[table] for table in told):
        raise StoreError(f"{file.name} was not restored: what was read from it differs from it.")
    belongings.erase_again(cur, COPIED)
    sources = " union ".join(f"select upload_id from {table}" for table in told)
    cur.execute(f"update upload set is_current = upload_id in ({sources})")
    moment = datetime.now(UTC)
    before, after = (
        one(cur, f"select coalesce(max_by(text, policy_id), '') from \"{name}\".main.policy")
        for name in (name_of(cur), COPIED)
    )
    if before != after:
        Store.put_policy(cur, moment, by, f"as in {file.name}", after)
    version = one(cur, f"select max(change_id) from {COPIED}.main.change")
    Store.log(cur, moment, by, RESTORED, None, f"{file.name}, version {version}", version)


def _see_that_it_is_no_bomb(cur: duckdb.DuckDBPyConnection, file: Path) -> None:
    """A few kilobytes can hold a billion rows of the same; refuse them before they are written out."""
    rows = one(
        cur, f"select coalesce(sum(estimated_size), 0) from duckdb_tables() where database_name = '{COPIED}'"
    )
    if rows > MOST_ROWS:
        raise StoreError(
            f"{file.name} was not restored: it holds {int(rows):,} rows, and {MOST_ROWS:,} are allowed. "
            "Choose another file of the folder backups."
        )


def _take(cur: duckdb.DuckDBPyConnection, table: str) -> None:
    """Put the rows of a table of the attached copy in the place of ours."""
    ours = f'"{name_of(cur)}".main."{table}"'
    cur.execute(f"delete from {ours}")
    cur.execute(f'insert into {ours} by name from {COPIED}.main."{table}"')


def _bring_up(file: Path, to: Path) -> None:
    """Copy a chosen file, bring its tables to the newest version, and see that it is whole."""
    if not file.is_file() or file.stat().st_size == 0:
        raise StoreError(f"{file}: there is no backup here. Write the name of a file of the folder backups.")
    shutil.copyfile(file, to)
    if (log := file.with_name(file.name + ".wal")).is_file():
        shutil.copyfile(log, to.with_name(to.name + ".wal"))
    try:
        Store(to).close()
    except StoreError as error:
        raise StoreError(
            f"{file.name} is not a backup that can be restored: it is damaged, something else, or from a newer "
            f"Kit Muster. Choose another file of {to.parent}."
        ) from error
