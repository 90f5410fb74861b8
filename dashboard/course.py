"""What the season page says of readiness over the days on which the club was judged."""

from __future__ import annotations

from datetime import date

import pandas as pd

from dashboard import parts
from dashboard.palette import VERDICTS
from dashboard.standing import Standing
from data import history
from data.store import Store


def days(now: Standing, store: Store) -> pd.DataFrame:
    """Kits by verdict on each day that was judged, earliest first, one row per day.

    Columns: day, a count for each verdict, kits, changed (what judges otherwise than the day before: `rules`,
    `policy`, both, or "").
    """

    def make() -> pd.DataFrame:
        rows = history.by_day(store)
        judges = rows.drop_duplicates("day").set_index("day")[["rules", "policy_id"]]
        counts = rows.pivot(index="day", columns="verdict", values="kits")
        counts = counts.reindex(columns=list(VERDICTS), fill_value=0).fillna(0).astype(int)
        counts["kits"] = counts.sum(axis=1)
        is_other = judges.ne(judges.shift()).iloc[1:]
        counts["changed"] = ""
        counts.loc[is_other.index, "changed"] = [
            " and ".join(word for word, is_so in (("rules", row.rules), ("policy", row.policy_id)) if is_so)
            for row in is_other.itertuples()
        ]
        return counts.rename_axis(columns=None).reset_index()

    return now.kept.once(("course",), make)


def title(rows: pd.DataFrame) -> str:
    """How the ready kits went from the first day to the last, as the finding; `rows` as of `days`, two or more."""
    first, last = rows.iloc[0], rows.iloc[-1]
    since = _day(first["day"], last["day"])
    was, is_ = int(first["ready"]), int(last["ready"])
    if first["kits"] != last["kits"]:
        how = "rose" if is_ > was else "fell" if is_ < was else "went"
        return f"Ready kits {how} from {was} of {first['kits']} to {is_} of {last['kits']} since {since}"
    if was == is_:
        return f"Ready kits are {is_} of {last['kits']}, as many as on {since}"
    return f"Ready kits {'rose' if is_ > was else 'fell'} from {was} to {is_} of {last['kits']} since {since}"


def judged_otherwise(rows: pd.DataFrame) -> str:
    """On which days the rules or the policy changed, as a sentence; "" where they never did."""
    told = [
        f"the {row.changed} by {_day(row.day, rows['day'].iloc[-1])}"
        for row in rows.itertuples()
        if row.changed
    ]
    if not told:
        return ""
    return f"What judges has changed: {parts.listed(told)}. Kits before and after were not held to the same."


def by_verdict(rows: pd.DataFrame) -> pd.DataFrame:
    """The rows of `days` for the chart: day, verdict, count, kits, share (0 to 1)."""
    long = rows.melt(["day", "kits"], list(VERDICTS), "verdict", "count")
    return long.assign(share=long["count"] / long["kits"])


def _day(day: date, last: date) -> str:
    """A day in words, with its year where that is not the year of the last one."""
    return f"{day.day} {day:%b}" if day.year == last.year else f"{day.day} {day:%b %Y}"
