"""What the club was told, in one DuckDB file: every upload as sent, the rows in force, who changed what.

One connection serves the whole process. Readers take a cursor of their own; writers take turns, and what one
of them does happens whole or not at all. Sharing the connection itself between threads mixes up their rows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from functools import cache
from operator import itemgetter
from pathlib import Path
from threading import RLock
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa

from data import schema, upload
from data.database import StoreError, broken, connect, one
from data.differences import compare

MIGRATIONS = Path(__file__).parent / "migrations"

# An upload replaces the rows that share these values with one of its own; without columns, the whole table.
COVERS: dict[str, tuple[str, ...]] = {
    "inventory": ("member", "kit"),
    "kits": ("member", "kit"),
    "rehearsals": ("member", "kit"),
    "posts": ("event",),
    "assignments": ("event",),
    "members": (),
    "events": (),
    "offers": (),
    "loans": (),
}
# Columns that say whose row it is, where a member asks for their own.
OWNER = {
    "inventory": "member",
    "members": "member",
    "kits": "member",
    "rehearsals": "member",
    "assignments": "member",
    "loans": "borrower",
}
# Which rows decide how a member and their kits are judged; and the posts and events that they are sent to.
OWN = {
    **dict.fromkeys(("inventory", "kits", "members", "rehearsals"), "member = $member"),
    "assignments": "$member in (member, kit_owner)",
}
OFFERED = "list_contains($kinds, kind)"
THERE = {
    "posts": "list_contains($there, {'event': event, 'post': post})",
    "events": "list_contains($events, event)",
}
ONE_OF_ANOTHER = """
    join (select member, kit from told_inventory union all select member, kit from told_kits) using (member, kit)
    where member <> $member limit 1
"""
BEGUN_ANEW = "begun anew"  # in the record of changes


class Store:
    """The club's database.

    Parameters
    ----------
    path : file of the database, made when it is not there; None keeps everything in memory
    before_upgrade : done with the store as it was before the tables of an earlier version are brought up

    Raises
    ------
    StoreError
        The file is in use, damaged, not a database, or written by a newer version.
    """

    def __init__(self, path: Path | None, before_upgrade: Callable[[Store], object] | None = None) -> None:
        self._path = path
        self._writing = RLock()
        self._written = 0
        self._con = connect(path)
        try:
            self._migrate(before_upgrade)
        except BaseException:
            self._con.close()
            raise

    def close(self) -> None:
        """Write everything to the file and let it go."""
        with self._writing:
            self._con.close()

    def cursor(self) -> duckdb.DuckDBPyConnection:
        """A connection of one's own for reading; close it after use."""
        return self._con.cursor()

    @property
    def written(self) -> int:
        """A number that grows whenever something may have been written; while it stays, so does every answer."""
        return self._written

    def accept(self, sent: upload.Upload, by: str) -> int:
        """Put an upload in force, whole or not at all, and return its number.

        It replaces what it covers: an inventory, kits or rehearsals file the kits that it names, posts and
        assignments the events that they name, any other file the whole table. The same bytes again, while
        every row of them is in force, change nothing and return the number they already have.

        Parameters
        ----------
        by : who sends it

        Raises
        ------
        ValueError
            The upload has problems.
        """
        return self.accept_all([sent], by)[0]

    def accept_all(self, sent: Sequence[upload.Upload], by: str) -> list[int]:
        """Put several uploads in force, all of them or none, and return their numbers; each as `accept` does.

        Raises
        ------
        ValueError
            One of the uploads has problems.
        """
        return self._accept(sent, by, "accepted")

    def begin_anew(
        self, own: Callable[[dict[str, pd.DataFrame]], Sequence[upload.Upload]], by: str, why: str
    ) -> None:
        """Let nothing that was sent before count any more, whole or not at all; the record and the files as sent stay.

        Parameters
        ----------
        own : from all rows in force, by file stem, to the uploads that hold those that are to stay

        Raises
        ------
        ValueError
            One of the uploads has problems.
        """
        with self.changing() as cur:
            readable = [(one, *_readable(one)) for one in own(self.frames())]
            for stem in schema.FILES:
                cur.execute(f"delete from told_{stem}")
            cur.execute("update upload set is_current = false")
            self.log(cur, datetime.now(UTC), by, BEGUN_ANEW, None, why, 0)
            for one in readable:
                self._put(cur, *one, by, "accepted")

    def restore(self, upload_id: int, by: str, aliases: upload.Aliases = upload.NO_ALIASES) -> int:
        """Read an earlier upload again, put it in force as a new one, and return the new number.

        Raises
        ------
        StoreError
            There is no such upload, or the file rules have changed and it can no longer be read.
        """
        name, stem, payload = self._kept(upload_id)
        sent = upload.read(name, payload, stem, limits=upload.FOLDER, aliases=aliases)
        if sent.problems:
            raise StoreError(
                f"Upload {upload_id} cannot be restored. {sent.problems[0]} "
                "Download the file, mend it and send it again."
            )
        return self._accept([sent], by, f"restored from upload {upload_id}")[0]

    def changes(self, sent: upload.Upload) -> pd.DataFrame:
        """What accepting the upload would add, remove and change in what is in force, as `differences.compare` tells it."""
        stem, table = _readable(sent)
        with self.reading() as cur:
            cur.register("incoming", table)
            before = _typed(stem, cur.execute(_select(stem, _where_covered(stem))).df())
        after = upload.to_frame(table)
        return compare(stem, before, after)

    def uploads(self) -> pd.DataFrame:
        """Uploads, newest first: upload_id, at (UTC), by, file, stem, members, rows, is_current."""
        columns = 'upload_id, "at", "by", file, stem, members, rows, is_current'
        with self.reading() as cur:
            return cur.execute(f"select {columns} from upload order by upload_id desc").df()

    def payload(self, upload_id: int) -> tuple[str, bytes]:
        """Name and bytes of an upload as they were sent.

        Raises
        ------
        StoreError
            There is no such upload.
        """
        name, _, payload = self._kept(upload_id)
        return name, payload

    def frames(self) -> dict[str, pd.DataFrame]:
        """All rows in force at one moment, by file stem, typed as `data.upload.read` types them."""
        with self.reading() as cur:
            return {stem: _typed(stem, cur.execute(_select(stem)).df()) for stem in schema.FILES}

    def frame(self, stem: str) -> pd.DataFrame:
        """The rows in force of one kind of file, as `frames` gives them."""
        with self.reading() as cur:
            return _typed(stem, cur.execute(_select(stem)).df())

    def kits(self) -> pd.DataFrame:
        """Member and kit of the things in force, each pair once."""
        with self.reading() as cur:
            return cur.execute("select distinct member, kit from told_inventory order by all").df()

    def frames_of(self, member: str) -> dict[str, pd.DataFrame]:
        """The member's own rows, assignments and loans, with all events, posts and offers."""
        found = {}
        with self.reading() as cur:
            for stem in schema.FILES:
                mine = f"where {OWNER[stem]} = $member" if stem in OWNER else ""
                given = {"member": member} if stem in OWNER else {}
                found[stem] = _typed(stem, cur.execute(_select(stem, mine), given).df())
        return found

    def frames_bearing_on(self, member: str, sent: Iterable[upload.Upload] = ()) -> dict[str, pa.Table]:
        """The rows by which a member, their kits and what these hold are judged as they are among everyone's.

        Their own rows, where they or their kits are sent, what is offered of the kinds that they have, and where
        they have not rehearsed one rehearsal of another's kit, if there is any, as some rules ask whether the club writes
        rehearsals down.

        Parameters
        ----------
        sent : uploads of the member without problems, in the place of what they cover as if they were in force
        """
        incoming = dict(map(_readable, sent))
        with self.reading() as cur:
            known: dict[str, Any] = {"member": member}

            def told(stem: str, rest: str) -> pa.Table:
                given = {name: value for name, value in known.items() if f"${name}" in rest}
                cur.execute(f"from told_{stem} as told {rest}", given)
                names, forms = [column[0] for column in cur.description], _columns(stem)
                rows = cur.fetchall()
                if not rows:
                    return forms.empty_table()
                rows.sort(
                    key=itemgetter(names.index("upload_id"), names.index("line"))
                )  # quicker than `order by`
                cells = dict(zip(names, zip(*rows, strict=True), strict=True))
                return pa.table([_arrow(cells[form.name], form.type) for form in forms], forms)

            def stands(stem: str, where: str) -> pa.Table:
                if stem not in incoming:
                    return told(stem, f"where {where}")
                new, columns = incoming[stem], COVERS[stem]
                if not columns:
                    return new
                told_of = set(zip(*(new[name].to_pylist() for name in columns), strict=True))
                known["covered"] = [dict(zip(columns, values, strict=True)) for values in told_of]
                row = ", ".join(f"'{name}': {name}" for name in columns)
                rest = told(stem, f"where {where} and not list_contains($covered, {{{row}}})")
                return pa.concat_tables([rest, new.cast(rest.schema)]) if rest.num_rows else new

            found = {stem: stands(stem, where) for stem, where in OWN.items()}
            known["kinds"] = found["inventory"]["kind"].unique().to_pylist()
            found["offers"] = stands("offers", OFFERED)
            known["there"] = found["assignments"].select(["event", "post"]).to_pylist()
            known["events"] = list({one["event"] for one in known["there"]})
            if known["there"]:
                found |= {stem: stands(stem, where) for stem, where in THERE.items()}
            kits = {kit for stem in ("inventory", "kits") for kit in found[stem]["kit"].unique().to_pylist()}
            if not kits.isdisjoint(found["rehearsals"]["kit"].to_pylist()):
                return found
            another = told("rehearsals", ONE_OF_ANOTHER)
        named = [{**row, "line": 0} for row in another.select(["member", "kit"]).to_pylist()]
        theirs = pa.Table.from_pylist(named, _columns("kits"))
        for stem, rows in (("rehearsals", another), ("kits", theirs)):
            found[stem] = pa.concat_tables([found[stem].cast(rows.schema), rows])
        return found

    def version(self) -> int:
        """A number that grows with every accepted change; 0 when there was none."""
        with self.reading() as cur:
            return int(one(cur, "select coalesce(max(change_id), 0) from change"))

    def changes_log(self) -> pd.DataFrame:
        """Who did what, newest first: change_id, at (UTC), by, what, upload_id, detail."""
        with self.reading() as cur:
            return cur.execute("select * exclude (back_to) from change order by change_id desc").df()

    def policy(self) -> str:
        """Text of the policy in force; empty when the club has set none."""
        with self.reading() as cur:
            found = cur.execute("select text from policy order by policy_id desc limit 1").fetchone()
            return str(found[0]) if found else ""

    def set_policy(self, text: str, by: str, why: str) -> None:
        """Put a policy in force. The text is kept as it is; whoever calls has checked it.

        Raises
        ------
        ValueError
            No reason is given.
        """
        if not why.strip():
            raise ValueError(
                "why: empty. Write why the policy changes, for example: net control runs on mains this year."
            )
        with self.changing() as cur:
            self.put_policy(cur, datetime.now(UTC), by, why, text)

    @classmethod
    def put_policy(cls, cur: duckdb.DuckDBPyConnection, now: datetime, by: str, why: str, text: str) -> None:
        """Put a policy in force as part of a change that is already under way."""
        cur.execute(
            "insert into policy select coalesce(max(policy_id), 0) + 1, ?, ?, ?, ? from policy",
            [now, by, why, text],
        )
        cls.log(cur, now, by, "policy changed", None, why)

    def policies(self) -> pd.DataFrame:
        """Every policy that was put in force, newest first: policy_id, at (UTC), by, why, text."""
        with self.reading() as cur:
            return cur.execute("select * from policy order by policy_id desc").df()

    @property
    def path(self) -> Path | None:
        """File of the database; None where everything is in memory."""
        return self._path

    @contextmanager
    def alone(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor outside any transaction while nobody else writes, to copy the whole database or bring it back."""
        with self._writing:
            cur = self.cursor()
            try:
                yield cur
            finally:
                self._written += 1
                cur.close()

    def _migrate(self, before_upgrade: Callable[[Store], object] | None) -> None:
        """Bring the tables to the newest version, one step at a time."""
        steps = {int(file.name.split("_")[0]): file for file in MIGRATIONS.glob("*.sql")}
        with self.changing() as cur:
            tables = {row[0] for row in cur.execute("show tables").fetchall()}
            if tables and "schema_version" not in tables:
                raise StoreError(f"{self._path} holds something else than Kit Muster. Choose another file.")
            cur.execute(
                'create table if not exists schema_version (version integer primary key, "at" timestamptz)'
            )
            version = one(cur, "select coalesce(max(version), 0) from schema_version")
        if version > max(steps):
            raise StoreError(
                f"{self._path} was written by a newer Kit Muster (version {version} of the tables; this one "
                f"knows {max(steps)}). Install the newer Kit Muster, or choose another file."
            )
        if before_upgrade and 0 < version < max(steps):
            before_upgrade(self)
        for number in sorted(step for step in steps if step > version):
            with self.changing() as cur:
                cur.execute(steps[number].read_text("utf-8"))
                cur.execute("insert into schema_version values (?, ?)", [number, datetime.now(UTC)])

    def _kept(self, upload_id: int) -> tuple[str, str, bytes]:
        """File name, stem and bytes of an upload."""
        with self.reading() as cur:
            found = cur.execute(
                "select file, stem, payload from upload where upload_id = ?", [upload_id]
            ).fetchone()
        if found is None:
            raise StoreError(f"There is no upload {upload_id}. Choose one from the list of uploads.")
        name, stem, payload = found
        return name, stem, payload

    def _accept(self, sent: Sequence[upload.Upload], by: str, what: str) -> list[int]:
        readable = [(one, *_readable(one)) for one in sent]
        with self.changing() as cur:
            return [self._put(cur, *one, by, what) for one in readable]

    def _put(
        self,
        cur: duckdb.DuckDBPyConnection,
        sent: upload.Upload,
        stem: str,
        table: pa.Table,
        by: str,
        what: str,
    ) -> int:
        digest = hashlib.sha256(sent.payload).hexdigest()
        cur.register("incoming", table)
        known = _in_force(cur, stem, digest)
        if known is not None:
            return known
        upload_id = int(one(cur, "select coalesce(max(upload_id), 0) + 1 from upload"))
        now = datetime.now(UTC)
        replaced = one(cur, f"delete from told_{stem} {_where_covered(stem)}")
        cur.execute(f"insert into told_{stem} by name select *, ? as upload_id from incoming", [upload_id])
        cur.execute(
            "update upload set is_current = false where stem = $stem and is_current "
            f"and upload_id not in (select upload_id from told_{stem})",
            {"stem": stem},
        )
        cur.execute(
            "insert into upload values (?, ?, ?, ?, ?, ?, ?, ?, ?, true)",
            [upload_id, now, by, sent.file, stem, _members(stem, table), len(table), sent.payload, digest],
        )
        detail = f"{sent.file}: {len(table)} row{'' if len(table) == 1 else 's'} of {stem} took the place of {replaced}"
        self.log(cur, now, by, what, upload_id, detail)
        return upload_id

    @staticmethod
    def log(
        cur: duckdb.DuckDBPyConnection,
        now: datetime,
        by: str,
        what: str,
        upload_id: int | None,
        detail: str,
        back_to: int | None = None,
    ) -> None:
        cur.execute(
            "insert into change select coalesce(max(change_id), 0) + 1, ?, ?, ?, ?, ?, ? from change",
            [now, by, what, upload_id, detail, back_to],
        )

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor that sees one moment, whatever is accepted meanwhile."""
        cur = self.cursor()
        try:
            cur.begin()
            yield cur
        except duckdb.Error as error:
            raise broken(self._path, error) from error
        finally:
            cur.close()

    @contextmanager
    def changing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor whose work happens whole or not at all.

        Not only errors undo it: a page that is left in mid-run ends with an exception that is no Exception.
        """
        with self._writing:
            cur = self.cursor()
            try:
                cur.begin()
                yield cur
                cur.commit()
            except BaseException as error:
                with suppress(duckdb.Error):
                    cur.rollback()
                if isinstance(error, duckdb.Error):
                    raise broken(self._path, error) from error
                raise
            finally:
                self._written += 1
                cur.close()


def _readable(sent: upload.Upload) -> tuple[str, pa.Table]:
    if sent.table is None:
        raise ValueError(f"{sent.file} has {len(sent.problems)} problems; only one without any is stored")
    return sent.stem, sent.table


def _where_covered(stem: str) -> str:
    """The rows that those of `incoming` replace."""
    columns = ", ".join(COVERS[stem])
    return f"where ({columns}) in (select ({columns}) from incoming)" if columns else ""


def _in_force(cur: duckdb.DuckDBPyConnection, stem: str, digest: str) -> int | None:
    """Number of the upload with these bytes whose rows are exactly the incoming ones, all in force."""
    found = cur.execute(
        "select upload_id from upload where stem = ? and sha256 = ? and is_current order by upload_id desc",
        [stem, digest],
    ).fetchone()
    if found is None:
        return None
    differs = " or ".join(
        f'told."{name}" is distinct from incoming."{name}"' for name in schema.columns(stem)
    )
    differing = one(
        cur,
        f"select count(*) from (from told_{stem} where upload_id = {found[0]}) as told "
        f"full join incoming on told.line = incoming.line "
        f"where told.line is null or incoming.line is null or {differs}",
    )
    return None if differing else int(found[0])


def _select(stem: str, where: str = "") -> str:
    return f"select * exclude (upload_id) from told_{stem} {where} order by upload_id, line"


def _typed(stem: str, rows: pd.DataFrame) -> pd.DataFrame:
    dtypes = _dtypes(stem)
    return rows[list(dtypes.index)].astype(dtypes.to_dict())


def _arrow(cells: Sequence[Any], form: pa.DataType) -> pa.Array:
    """Cells as they come from the store, where days are no moments, in a form of the models."""
    return pa.array(cells).cast(form) if pa.types.is_timestamp(form) else pa.array(cells, form)


@cache
def _columns(stem: str) -> pa.Schema:
    return pa.Schema.from_pandas(schema.empty(stem), preserve_index=False).remove_metadata()


@cache
def _dtypes(stem: str) -> pd.Series[Any]:
    return schema.empty(stem).dtypes


def _members(stem: str, table: pa.Table) -> str:
    """Whom the rows are about, each once: two spellings of one call sign are two codes of the same text."""
    return " ".join(sorted(set(table[OWNER[stem]].unique().to_pylist()))) if stem in OWNER else ""
