"""The invented club in a store: whether it is there, and how a club that has looked around in it begins for real."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import duckdb
import pandas as pd

from data import upload, writing
from data.store import BEGUN_ANEW, OWNER, Store

MARK = "invented-"  # how the names of its files begin
TAKEN_OUT = "the invented club was taken out"
KEPT = "kept-"  # how the names of the files begin that hold what is a club's own


@dataclass(frozen=True)
class Invented:
    """Names of the invented club, as its files told them: members, events, offers, and things that it may lend."""

    members: frozenset[str]
    events: frozenset[str]
    offers: frozenset[str]
    gear: frozenset[str] = frozenset()

    def is_of(self, stem: str, rows: pd.DataFrame) -> pd.Series:
        """Which rows of a list speak of it."""
        is_its = pd.Series(False, index=rows.index)
        named = (("event", self.events), ("offer", self.offers), (OWNER.get(stem, ""), self.members))
        for column, names in named:
            if column in rows and not (column == "event" and stem == "rehearsals"):
                is_its |= rows[column].isin(names)
        return is_its


def unmarked(sent: upload.Upload) -> upload.Upload:
    """A file that someone sends, without the mark: taken out, changed and sent again it is theirs, whatever its name."""
    file = sent.file
    while file.startswith(MARK):
        file = file.removeprefix(MARK)
    return dataclasses.replace(sent, file=file)


def names(store: Store) -> Invented:
    """Names of the invented club, none where it was never loaded."""
    found: dict[str, set[str]] = {"members": set(), "events": set(), "offers": set(), "gear": set()}
    sent = store.uploads()
    sent = sent[sent["file"].str.startswith(MARK)]
    for number, stem, members in zip(sent["upload_id"], sent["stem"], sent["members"], strict=True):
        found["members"] |= set(members.split())
        if stem in ("events", "offers", "inventory"):
            file, payload = store.payload(int(number))
            read = upload.read(file, payload, stem, limits=upload.FOLDER).frame
            if read is None:
                continue
            if stem == "inventory":
                found["gear"] |= _of_the_club(read)
            else:
                found[stem] |= set(read[stem.removesuffix("s")])
    return Invented(**{name: frozenset(told) for name, told in found.items()})


def _of_the_club(inventory: pd.DataFrame) -> set[str]:
    """Things that belong to a club, and so may be lent, in small letters."""
    return set(inventory["item"][inventory["owner"].eq("club").fillna(False)].str.casefold())


def is_there(store: Store) -> bool:
    """Whether any of its members or events is in force."""
    its, frames = names(store), store.frames()
    return any(its.is_of(stem, frames[stem]).any() for stem in ("inventory", "members", "events"))


def is_all_there_was(cur: duckdb.DuckDBPyConnection) -> bool:
    """Whether a record tells of nothing but that the invented club was loaded, and perhaps taken out again."""
    others = cur.execute(
        "select count(*) from change left join upload using (upload_id) "
        "where not (what = 'accepted' and coalesce(starts_with(file, ?), false)) and (what, detail) is distinct from (?, ?)",
        [MARK, BEGUN_ANEW, TAKEN_OUT],
    ).fetchone()
    return others == (0,)


def remove(store: Store, by: str, aliases: upload.Aliases = upload.NO_ALIASES) -> dict[str, int]:
    """Take it out of force with everything that was changed of it, whole or not at all; what is a club's own stays.

    A thing of the invented club that was lent to a member of one's own goes as well, unless the club has such a thing
    itself.

    Returns
    -------
    dict
        How many rows stay, by file stem.
    """
    its = names(store)
    left: dict[str, int] = {}

    def own(frames: dict[str, pd.DataFrame]) -> list[upload.Upload]:
        kept, told = [], frames["inventory"]
        is_its = its.is_of("inventory", told)
        gear = (its.gear | _of_the_club(told[is_its])) - _of_the_club(told[~is_its])
        for stem, rows in frames.items():
            mine = rows[~its.is_of(stem, rows)].reset_index(drop=True)
            if stem == "loans":
                mine = mine[~mine["item"].str.casefold().isin(gear)]
            if stem == "assignments":
                mine.loc[mine["kit_owner"].isin(its.members), ["kit", "kit_owner"]] = None
            if len(mine):
                left[stem] = len(mine)
                file, sent = f"{KEPT}{stem}.csv", writing.csv_of(stem, mine)
                kept.append(upload.read(file, sent, stem, limits=upload.FOLDER, aliases=aliases))
        return kept

    store.begin_anew(own, by, TAKEN_OUT)
    return left
