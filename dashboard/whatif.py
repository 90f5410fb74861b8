"""What if: changes as people name them, and what the page and the command say of a club before and after them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import pandas as pd

from dashboard import drawing, units
from dashboard.palette import LOSSES, VERDICTS
from data import plain_words
from rules.engine import Assessment
from rules.plans import whatif
from rules.plans.whatif import Change, ChangeError

MEASURES = {  # what is said of each objective of a staffing, and its unit
    "critical hours open": ("person-hours open at critical posts", "h"),
    "hours open": ("person-hours open", "h"),
    "hours short of gear": ("post-hours short of gear that the post as a whole must have", "h"),
    "reserve hours open": ("hours without the reserve", "h"),
    "limits": ("limits that the plan puts up with", ""),
    "kits lent": ("kits lent", ""),
    "turns beyond the first": ("second and later turns of one person", ""),
    "people moved": ("people sent elsewhere than before", ""),
    "other kits brought": ("people who stay and bring another kit", ""),
    "carried kg": ("carried in all", "kg"),
}
TOLD = (
    "subject_kind",
    "subject",
    "event",
    "post",
    "member",
    "kit",
    "before",
    "after",
    "is_worse",
    "is_better",
)


@dataclass(frozen=True)
class Asked:
    """Changes to one event, as people name them.

    Attributes
    ----------
    coldest, hottest : air, °C
    hours : from opening to closing, or with + or - so many more or fewer
    duty : word of duty.csv
    post : the post that hours and duty mean; None for all
    absent : members; broken : MEMBER/KIT, or MEMBER/KIT/ITEM for one piece of a thing of it
    """

    event: str
    coldest: float | None = None
    hottest: float | None = None
    hours: str = ""
    duty: str | None = None
    post: str | None = None
    absent: tuple[str, ...] = ()
    broken: tuple[str, ...] = ()

    def changes(self, frames: whatif.Frames) -> list[Change]:
        """The changes as the club is judged with them.

        Raises
        ------
        ChangeError
            Hours are no number, something that is broken is not named in full, or the event is not known.
        """
        found = []
        if self.coldest is not None:
            found.append(Change("coldest", self.coldest, event=self.event))
        if self.hottest is not None:
            found.append(Change("hottest", self.hottest, event=self.event))
        if self.hours:
            found.append(Change("hours", self._hours(frames), event=self.event, post=self.post))
        if self.duty:
            found.append(Change("duty", self.duty, event=self.event, post=self.post))
        found += [Change("absent", event=self.event, member=member) for member in self.absent]
        return found + [_broken(name) for name in self.broken]

    def _hours(self, frames: whatif.Frames) -> float:
        try:
            told = float(self.hours)
            if not math.isfinite(told):
                raise ValueError
        except ValueError:
            raise ChangeError(
                f'hours: "{self.hours}" is not a number. Write hours such as 12, or +2 for two more.'
            ) from None
        is_more = self.hours.strip()[0] in "+-"
        return told + (whatif.lasts_h(frames, self.event, self.post) if is_more else 0.0)

    def words(self, degrees: Callable[[float], str] = "{:g} °C".format) -> list[str]:
        """The changes in words, in order; `degrees` says a temperature that is given in °C."""
        where = f" at {self.post}" if self.post else ""
        said = [f"the coldest is {degrees(self.coldest)}"] if self.coldest is not None else []
        said += [f"the hottest is {degrees(self.hottest)}"] if self.hottest is not None else []
        said += [f"{_hours_words(self.hours)}{where}"] if self.hours else []
        said += [f"duty is “{plain_words.called('duty', self.duty)}”{where}"] if self.duty else []
        said += [f"{member} is absent" for member in self.absent]
        pieces = (" (one piece)" if name.count("/") > 1 else "" for name in self.broken)
        return said + [f"{name} is broken{piece}" for name, piece in zip(self.broken, pieces, strict=True)]


def _hours_words(hours: str) -> str:
    size = hours.strip().lstrip("+-")
    if hours.strip().startswith("+"):
        return f"it lasts {size} h longer"
    return f"it lasts {size} h less" if hours.strip().startswith("-") else f"it lasts {size} h"


def _broken(name: str) -> Change:
    member, _, rest = name.partition("/")
    kit, _, item = rest.partition("/")
    if not member or not kit:
        raise ChangeError(
            f'broken: "{name}" names no kit. Write MEMBER/KIT, or MEMBER/KIT/ITEM for one piece of it.'
        )
    return Change("item_failed" if item else "kit_failed", member=member.upper(), kit=kit, item=item or None)


@dataclass(frozen=True)
class Answer:
    """What changes bring: verdicts of everything that bears on the event, and its best staffing, before and after.

    Attributes
    ----------
    verdicts : TOLD, those of the event's posts and of the event first
    staffing : as `rules.plans.whatif.staffings` returns it
    """

    verdicts: pd.DataFrame
    staffing: whatif.Staffings


def answer(frames: whatif.Frames, asked: Asked, before: Assessment, seconds: float) -> Answer:
    """Judge and staff the club with the changes, beside the club as it is.

    Raises
    ------
    ChangeError
        A change names nothing the club knows.
    """
    changes = asked.changes(frames)
    found = whatif.what_if(frames, changes, before)
    staffed = whatif.staffings(found, asked.event, seconds, changes)
    rows = found.verdicts
    is_here = rows["event"].eq(asked.event)
    is_moved = (rows["is_worse"] | rows["is_better"]) & rows["event"].isna()
    found.after.con.close()
    shown = pd.concat([rows[is_here], rows[is_moved]])
    return Answer(shown[list(TOLD)].reset_index(drop=True), staffed)


def moves_title(moves: pd.DataFrame) -> str:
    """At how many posts somebody else would stand, as a finding."""
    posts = moves["post"].nunique()
    if not posts:
        return "Everyone would stand where they do"
    return f"At {posts} post{'' if posts == 1 else 's'} the plan would differ"


def who_stands(moves: pd.DataFrame) -> pd.DataFrame:
    """Moves as people read them: post, before, after; who stands there with what, and when."""
    is_one_day = len({moment.date() for moment in [*moves["from"], *moves["to"]]}) < 2
    clock = "%H:%M" if is_one_day else "%a %H:%M"
    said = moves.assign(who=[_who(row, clock) for row in moves.to_dict("records")])
    return pd.DataFrame(
        [
            (
                post,
                *(
                    "; ".join(rows.loc[rows["stands"] == when, "who"]) or "nobody"
                    for when in ("before", "after")
                ),
            )
            for post, rows in said.groupby("post", sort=False)
        ],
        columns=["post", "before", "after"],
    )


def _who(row: Mapping[str, Any], clock: str) -> str:
    kit = "" if pd.isna(row["kit"]) else f" with {row['kit']}"
    lent = "" if pd.isna(row["kit_owner"]) else f" of {row['kit_owner']}"
    return f"{row['member']}{kit}{lent}, {row['from']:{clock}} to {row['to']:{clock}}"


def title(verdicts: pd.DataFrame) -> str:
    """How many posts get worse or better, as a finding."""
    posts = verdicts[verdicts["subject_kind"] == "post"]
    worse, better = int(posts["is_worse"].sum()), int(posts["is_better"].sum())
    if not worse and not better:
        which = "The one post would not" if len(posts) == 1 else f"None of {len(posts)} posts would"
        return f"{which} change its verdict"
    said = [f"{count} would be {word}" for count, word in ((worse, "worse"), (better, "better")) if count]
    if len(posts) == 1:
        return f"The one post would be {'worse' if worse else 'better'}"
    return f"Of {len(posts)} posts, " + " and ".join(said)


def side_by_side(verdicts: pd.DataFrame) -> pd.DataFrame:
    """The verdicts as people read them: which, what, before, after, change."""
    return pd.DataFrame(
        {
            "which": [
                row.post if row.subject_kind == "post" else row.subject for row in verdicts.itertuples()
            ],
            "what": verdicts["subject_kind"],
            "before": [_mark(word) for word in verdicts["before"]],
            "after": [_mark(word) for word in verdicts["after"]],
            "change": [
                "worse" if row.is_worse else "better" if row.is_better else "the same"
                for row in verdicts.itertuples()
            ],
        }
    )


def _mark(word: str | float) -> str:
    return VERDICTS[word].label if isinstance(word, str) else "not there"


def measures_words(measures: pd.DataFrame) -> pd.DataFrame:
    """What the best staffing reaches before and after, as the page says it, in the reader's units."""
    rows = []
    for row in measures.itertuples():
        label, unit = MEASURES[row.objective]
        figures = [units.told(value, unit)[0] for value in (row.before, row.after)]
        said = f"{label} ({units.name(unit)})" if unit else label
        rows.append((said, *(f"{float(figure):.4g}" for figure in figures)))
    return pd.DataFrame(rows, columns=["what", "before", "after"])


def failures_title(table: pd.DataFrame, event: str) -> str:
    """How many single failures an event would feel, as a finding."""
    felt = int(table["is_felt"].astype(bool).sum())
    return f"{felt} of {len(table)} single failures would make a post of {event} worse"


def ranked(table: pd.DataFrame) -> pd.DataFrame:
    """Failures that are felt, worst first: what, which, lost, worse (posts, in words), lost_count, worse_count."""
    felt = table[table["is_felt"].astype(bool)]
    return pd.DataFrame(
        {
            "what": felt["what"],
            "which": felt["name"],
            "posts lost": felt["posts_lost"].map(", ".join),
            "posts worse": felt["posts_worse"].map(", ".join),
            "lost": felt["posts_lost"].str.len(),
            "worse": felt["posts_worse"].str.len(),
            "critical": felt["critical_lost"],
        }
    ).reset_index(drop=True)


def failures_chart(rows: pd.DataFrame, said: str) -> alt.LayerChart:
    """Posts that get a worse verdict for each single failure, those that are lost in the colour of not ready.

    Parameters
    ----------
    rows : as `ranked` returns it
    """
    frame = rows[["what", "which", "lost", "worse"]].copy()
    frame["says"] = [
        f"{row.worse} worse, {row.lost} of them lost: {row.what} {row.which}" for row in frame.itertuples()
    ]
    order = drawing.rows_of("says", frame).axis(None)
    base = alt.Chart(frame)
    worse = base.mark_bar(height=10, yOffset=10, color=LOSSES["worse, but not lost"].colour).encode(
        x=alt.X("worse:Q", title="posts with a worse verdict").axis(tickMinStep=1, format="d", grid=False),
        y=order,
        description="says:N",
    )
    gone = base.mark_bar(height=10, yOffset=10, color=LOSSES["lost"].colour).encode(x="lost:Q", y=order)
    names = drawing.words(base, "says", order, dy=-8)
    return drawing.dressed(alt.layer(worse, gone, names), said, row_px=40)


def of_members(names: Sequence[str], kinds: Sequence[str]) -> list[str]:
    """The member that each failure is about, "" where it is nobody's."""
    return [
        "" if kind == "adapter family" else name.partition("/")[0]
        for name, kind in zip(names, kinds, strict=True)
    ]
