"""How things stood: what was in force at an earlier version, and which rules judged it with which scores."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

import pandas as pd

from data import schema, upload
from data.database import StoreError
from data.store import COVERS, Store

SENT = "what = 'accepted' or what like 'restored from upload %'"


@dataclass(frozen=True)
class Judged:
    """How one version was judged when it was new.

    Attributes
    ----------
    day : day that ages were counted to
    rules : digest of the rules
    policy_id : number of the policy in force, 0 for the standard one
    scores : digest of the scores
    """

    version: int
    day: date
    rules: str
    policy_id: int
    scores: str


def note(store: Store, judged: Judged, kits: Mapping[str, int]) -> None:
    """Write down how a version was judged and how many kits had each verdict, the first time that it is."""
    with store.changing() as cur:
        is_new = cur.execute(
            "insert or ignore into judged values (?, ?, ?, ?, ?) returning change_id",
            [judged.version, judged.day, judged.rules, judged.policy_id, judged.scores],
        ).fetchone()
        if is_new:
            for verdict, count in kits.items():
                cur.execute("insert into judged_kits values (?, ?, ?)", [judged.version, verdict, count])


def by_day(store: Store) -> pd.DataFrame:
    """How many kits had each verdict at the last version of each day that was judged with kits in it.

    Columns: day, version, rules (digest), policy_id, verdict, kits; one row per day and verdict, earliest first.
    """
    with store.reading() as cur:
        return cur.execute(
            "with counted as (select change_id, verdict, kits from judged_kits where kits > 0), last as ("
            "  select day, max(change_id) as change_id from judged where change_id in (select change_id from counted)"
            "  group by day) "
            "select day, change_id as version, rules, policy_id, verdict, kits "
            "from last join judged using (day, change_id) join counted using (change_id) "
            "order by day, version, verdict"
        ).df()


def judged(store: Store, version: int) -> Judged | None:
    """How a version was judged when it was new; None where it never was."""
    with store.reading() as cur:
        found = cur.execute("select * from judged where change_id = ?", [version]).fetchone()
    return Judged(*found) if found else None


def moment(store: Store, version: int) -> datetime:
    """When a version came about (UTC).

    Raises
    ------
    StoreError
        There is no such version.
    """
    with store.reading() as cur:
        found = cur.execute('select "at" from change where change_id = ?', [version]).fetchone()
    if found is None:
        raise StoreError(f"There is no version {version}. Choose one from the list of changes.")
    at: datetime = found[0]
    return at


def policy_at(store: Store, version: int) -> tuple[int, str]:
    """Number and text of the policy that was in force at a version; 0 and "" for the standard one."""
    with store.reading() as cur:
        found = cur.execute(
            "select policy_id, text from policy where policy_id = "
            "(select count(*) from change where what = 'policy changed' and change_id <= ?)",
            [version],
        ).fetchone()
    return (int(found[0]), str(found[1])) if found else (0, "")


def frames_at(
    store: Store, version: int, aliases: Callable[[str], upload.Aliases]
) -> tuple[dict[str, pd.DataFrame], list[int]]:
    """The rows that were in force at a version, as `Store.frames` gives them, read again from the files as sent.

    Parameters
    ----------
    aliases : from the text of a policy to the club's own words in it; each file is read by those of its day

    Returns
    -------
    tuple
        Frames by file stem, and the numbers of the uploads that can no longer be read and are left out.
    """
    with store.reading() as cur:
        backs = dict(
            cur.execute("select change_id, back_to from change where back_to is not null").fetchall()
        )
        sent = cur.execute(
            f"select change_id, upload_id, file, stem, payload from change join upload using (upload_id) "
            f"where list_contains(?, change_id) and ({SENT}) order by change_id",
            [counting(version, backs)],
        ).fetchall()
    frames = {stem: schema.empty(stem) for stem in schema.FILES}
    unread = []
    for change_id, upload_id, file, stem, payload in sent:
        words = aliases(policy_at(store, change_id)[1])
        read = upload.read(file, payload, stem, limits=upload.FOLDER, aliases=words)
        if read.frame is None or read.problems:
            unread.append(int(upload_id))
            continue
        frames[stem] = replaced(stem, frames[stem], read.frame)
    return frames, unread


def counting(version: int, backs: Mapping[int, int]) -> list[int]:
    """Numbers of the changes that count at a version, latest first: going back to a copy takes away what came between.

    Parameters
    ----------
    backs : from the change at which a copy was restored to the version that it brought back
    """
    found = []
    while version > 0:
        found.append(version)
        version = backs.get(version, version - 1)
    return found


def replaced(stem: str, before: pd.DataFrame, sent: pd.DataFrame) -> pd.DataFrame:
    """The rows in force once those sent have taken the place of what they cover, as `Store.accept` does it."""
    rows = sent[before.columns].astype(before.dtypes.to_dict())
    kept = _not_covered(stem, before, rows)
    return pd.concat([kept, rows], ignore_index=True) if len(kept) else rows


def _not_covered(stem: str, before: pd.DataFrame, sent: pd.DataFrame) -> pd.DataFrame:
    """The rows in force that those sent do not replace."""
    columns = list(COVERS[stem])
    if not columns:
        return before.iloc[:0]
    replaced = pd.MultiIndex.from_frame(sent[columns])
    return before[~pd.MultiIndex.from_frame(before[columns]).isin(replaced)]
