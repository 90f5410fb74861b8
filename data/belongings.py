"""Everything that is held on one member: to take out, and to erase."""

from __future__ import annotations

import csv
import hashlib
import io
import re
import zipfile
from datetime import UTC, datetime

import duckdb
import pandas as pd

from data import forms, gone, schema, upload, writing
from data.store import OWNER, Store

ERASED = "erased"


def export(store: Store, member: str, aliases: upload.Aliases = upload.NO_ALIASES) -> bytes:
    """A zip of CSV files: a member's rows in force, what of earlier uploads is theirs, and what is held on the person.

    Files that can no longer be read are named in `not_readable.csv`; nothing of other members is in the zip.
    """
    files: dict[str, bytes] = {}
    for stem, rows in store.frames_of(member).items():
        if stem in OWNER and len(rows):
            files[f"in_force/{stem}.csv"] = writing.csv_of(stem, rows)
    unread = []
    for upload_id, file, stem, payload in _uploads_of(store, member):
        frame = _read(file, payload, stem, aliases)
        if frame is None:
            unread.append({"upload_id": upload_id, "file": file})
        elif stem in OWNER and len(own := frame[frame[OWNER[stem]] == member]):
            files[f"sent/{upload_id}_{stem}.csv"] = writing.csv_of(stem, own)
    for name, sql in _ABOUT.items():
        with store.reading() as cur:
            rows = cur.execute(sql, {"member": member}).df()
        files[f"{name}.csv"] = _csv(rows)
    if unread:
        files["not_readable.csv"] = _csv(pd.DataFrame(unread))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, content in sorted(files.items()):
            bundle.writestr(name, content)
    return out.getvalue()


def erase(store: Store, member: str, by: str, aliases: upload.Aliases = upload.NO_ALIASES) -> str:
    """Erase everything that is held on a member, and return what the records say of it, which does not name them.

    Rows in force go, and so do the rows in the files as they were sent; the rows of others in the same files
    stay, in their lines, without kits that the member lent and without notes and the like that name the member.
    What others called their own things, kits, events and posts stays as they wrote it; how many of these names
    hold the member's is said. A file that can no longer be read is emptied. A person of the records who is this
    member can sign in no more and is called by a number. Backups made before still hold everything, which a restore
    of one leaves out again (`data.gone`), and the file of the database may hold remains in places that it has not
    used again; a copy made afterwards holds none.
    """
    with gone.changing(store) as (cur, going):
        going.append((gone.MEMBER, member))
        return erase_in(cur, member, by, aliases)


def erase_in(
    cur: duckdb.DuckDBPyConnection, member: str, by: str, aliases: upload.Aliases = upload.NO_ALIASES
) -> str:
    """As `erase`, as part of a change that is already under way."""
    rows = 0
    for stem, owner in OWNER.items():
        rows += _count(cur, f"delete from told_{stem} where {owner} = ?", member)
    cur.execute("update told_assignments set kit = null, kit_owner = null where kit_owner = ?", [member])
    for stem in schema.FILES:
        for column in _free(stem):
            for text in _mentions(cur, stem, column, member):
                cur.execute(f"update told_{stem} set {column} = null where {column} = ?", [text])
    uploads = _uploads(cur, member)
    for upload_id, file, stem, payload in uploads:
        _redact(cur, upload_id, file, stem, payload, member, aliases)
    names = _forget_person(cur, member)
    cur.execute("delete from sharing where member = ?", [member])
    for change_id, detail in cur.execute("select change_id, detail from change").fetchall():
        if _names(detail, [member, *names]):
            cur.execute("update change set detail = ? where change_id = ?", [ERASED, change_id])
    said = f"everything of one member: {rows} rows in force, {len(uploads)} uploads"
    if left := {text for place in _names_of_things() for text in _mentions(cur, *place, member)}:
        said += f"; names of others' things that still hold theirs: {len(left)}"
    Store.log(cur, datetime.now(UTC), names.get(by, by), ERASED, None, said)
    return said


def erase_again(cur: duckdb.DuckDBPyConnection, copied: str) -> None:
    """Take out of the rows in force, brought back from an attached copy, what was erased since it was made.

    What is left of a file as it was sent says which of its rows may stay, line by line.
    """
    redacted = cur.execute(
        f'select u.upload_id, u.file, u.stem, u.payload from upload as u join "{copied}".main.upload as c '
        "using (upload_id) where u.sha256 <> c.sha256"
    ).fetchall()
    for upload_id, file, stem, payload in redacted:
        frame = _read(file, payload, stem, upload.NO_ALIASES)
        left = schema.empty(stem).assign(line=0) if frame is None else frame
        cur.execute(
            f"delete from told_{stem} where upload_id = ? and not list_contains(?::integer[], line)",
            [upload_id, left["line"].tolist()],
        )
        cur.execute(f"update told_{stem} set file = ? where upload_id = ?", [file, upload_id])
        for column in [*_free(stem), *(name for name in ("kit", "kit_owner") if stem == "assignments")]:
            cur.execute(
                f"update told_{stem} set {column} = null where upload_id = ? and list_contains(?::integer[], line)",
                [upload_id, left["line"][left[column].isna()].tolist()],
            )


_PERSON = "person_id in (select person_id from person where member = $member)"
_ABOUT = {
    "person": f"select login, name, role, member, added, removed from person where {_PERSON}",
    "agreements": f'select "at", text, withdrawn from consent where {_PERSON}',
    "keys": f"select label, created, expires, revoked, used from token where {_PERSON}",
    "sharing": "select member, share from sharing where member = $member",
    "uploads": 'select upload_id, "at", "by", file, stem, is_current from upload '
    "where list_contains(string_split(members, ' '), $member) order by upload_id",
    "changes": 'select change_id, c."at", c."by", what, upload_id, detail from change as c '
    'left join upload as u using (upload_id) where c."by" in (select name from person where member = $member) '
    "or u.members = $member order by change_id",
}


def members(cur: duckdb.DuckDBPyConnection, aliases: upload.Aliases = upload.NO_ALIASES) -> set[str]:
    """Every member who is named where a member is named: in rows, in files as sent, among people, in what is shared."""
    places = [f"select {owner} from told_{stem}" for stem, owner in OWNER.items()]
    places += ["select kit_owner from told_assignments", "select member from person"]
    places += ["select member from sharing", "select unnest(string_split(members, ' ')) from upload"]
    found = {row[0] for row in cur.execute(" union ".join(places)).fetchall()}
    lent = cur.execute("select file, payload from upload where stem = 'assignments'").fetchall()
    for file, payload in lent:
        frame = _read(file, payload, "assignments", aliases)
        found |= set() if frame is None else {*frame["kit_owner"].dropna()}
    return found - {None, ""}


def _uploads(cur: duckdb.DuckDBPyConnection, member: str) -> list[tuple[int, str, str, bytes]]:
    """Uploads that name a member anywhere, whatever their encoding."""
    found = cur.execute("select upload_id, file, stem, payload from upload order by upload_id").fetchall()
    sought = member.upper()
    return [
        row
        for row in found
        if sought in row[1].upper() or sought in row[3].replace(b"\0", b"").decode("latin-1").upper()
    ]


def _uploads_of(store: Store, member: str) -> list[tuple[int, str, str, bytes]]:
    with store.reading() as cur:
        return _uploads(cur, member)


def _read(file: str, payload: bytes, stem: str, aliases: upload.Aliases) -> pd.DataFrame | None:
    read = upload.read(file, payload, stem, limits=upload.FOLDER, aliases=aliases)
    return None if read.problems else read.frame


def _redact(
    cur: duckdb.DuckDBPyConnection,
    upload_id: int,
    file: str,
    stem: str,
    payload: bytes,
    member: str,
    aliases: upload.Aliases,
) -> None:
    """Take a member out of a file as it was sent."""
    frame = _read(file, payload, stem, aliases)
    left = None if frame is None else _without(stem, frame, member)
    content = b"" if left is None or left.empty else _in_their_lines(stem, left)
    whose = "" if left is None or stem not in OWNER else " ".join(sorted(left[OWNER[stem]].unique()))
    cur.execute(
        "update upload set file = ?, members = ?, rows = ?, payload = ?, sha256 = ?, "
        f"is_current = is_current and upload_id in (select upload_id from told_{stem}) where upload_id = ?",
        [
            f"{stem}.csv",
            whose,
            0 if left is None else len(left),
            content,
            hashlib.sha256(content).hexdigest(),
            upload_id,
        ],
    )
    cur.execute(f"update told_{stem} set file = ? where upload_id = ?", [f"{stem}.csv", upload_id])
    cur.execute("update change set detail = ? where upload_id = ?", [ERASED, upload_id])


def _without(stem: str, rows: pd.DataFrame, member: str) -> pd.DataFrame:
    """The rows of others, without what they wrote freely that names a member."""
    left = rows[rows[OWNER[stem]] != member] if stem in OWNER else rows
    if "kit_owner" in left:
        is_lent = left["kit_owner"].eq(member).fillna(False).astype(bool)
        left = left.assign(**{name: left[name].mask(is_lent) for name in ("kit", "kit_owner")})
    for column in _free(stem):
        is_told = left[column].map(lambda text: not _names(str(text), [member])).astype(bool)
        left = left.assign(**{column: left[column].where(is_told)})
    return left


def _free(stem: str) -> list[str]:
    """Columns of a file in which people write what they like, and which may be emptied."""
    return [name for name in ("notes", "missing", "faulty") if name in schema.columns(stem)]


def _names_of_things() -> list[tuple[str, str]]:
    """File and column of every name that somebody gave to a thing, a kit, an event or a post of theirs."""
    return [
        (stem, name)
        for stem in schema.FILES
        for name, column in schema.columns(stem).items()
        if column.form == forms.TEXT and name not in (*_free(stem), OWNER.get(stem))
    ]


def _mentions(cur: duckdb.DuckDBPyConnection, stem: str, column: str, member: str) -> list[str]:
    """What stands in a column in force and names a member."""
    found = cur.execute(f"select distinct {column} from told_{stem} where {column} is not null").fetchall()
    return [text for (text,) in found if _names(text, [member])]


def _in_their_lines(stem: str, rows: pd.DataFrame) -> bytes:
    """Rows as a file, each in the line that it stood in, with empty lines between."""
    heading, *cells = csv.reader(io.StringIO(writing.csv_of(stem, rows).decode("utf-8"), newline=""))
    out = io.StringIO(newline="")
    written = csv.writer(out)
    written.writerow(heading)
    for line, row in zip(rows["line"], cells, strict=True):
        out.write("\r\n" * (int(line) - out.getvalue().count("\n") - 1))
        written.writerow(row)
    return out.getvalue().encode("utf-8")


def _forget_person(cur: duckdb.DuckDBPyConnection, member: str) -> dict[str, str]:
    """Call the person who is a member by a number, everywhere; from their names to what stands in their place."""
    replaced: dict[str, str] = {}
    found = cur.execute("select person_id, login, name from person where member = ?", [member]).fetchall()
    for person_id, login, name in found:
        number = f"erased person {person_id}"
        replaced |= {name: number, login: number}
        cur.execute(
            "update person set login = ?, name = ?, member = '', removed = coalesce(removed, ?) where person_id = ?",
            [number, number, datetime.now(UTC), person_id],
        )
        for table in ("upload", "change", "policy"):
            cur.execute(f'update {table} set "by" = ? where "by" = ?', [number, name])
        for table in ("consent", "token"):
            cur.execute(f"delete from {table} where person_id = ?", [person_id])
    return replaced


def _names(text: str, words: list[str]) -> bool:
    return any(re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text, re.IGNORECASE) for word in words)


def _count(cur: duckdb.DuckDBPyConnection, sql: str, member: str) -> int:
    row = cur.execute(sql, [member]).fetchone()
    return int(row[0]) if row else 0


def _csv(rows: pd.DataFrame) -> bytes:
    safe = rows.map(lambda value: upload.neutralise(value) if isinstance(value, str) else value)
    return safe.to_csv(index=False, lineterminator="\r\n").encode("utf-8")
