"""What the page after an event says: hours as predicted beside hours as measured, and what a report would change."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import altair as alt
import pandas as pd

from dashboard import charts, days, drawing
from dashboard.palette import RAN, VERDICTS
from dashboard.standing import Standing, made_once
from rules import on_air
from rules.plans import after, report

ROW_PX = 52
Things = Mapping[tuple[str, str, str, int], int]
"""How many pieces of a thing of a member's kit; the last figure tells things alike apart."""


@made_once
def observations(now: Standing) -> pd.DataFrame:
    """As `after.observations` over every event, with ran: a word of RAN; once per version."""
    return ran(after.observations(now.assessment))


def ran(found: pd.DataFrame) -> pd.DataFrame:
    """The observations with `ran`: how the hours as measured stand to those predicted. Ranges that meet agree."""
    return found.assign(ran=[_ran(row) for row in found.to_dict("records")])


def _ran(row: dict[Any, Any]) -> str:
    if row["lasts_low_h"] > row["predicted_high_h"]:
        return "longer than predicted"
    if row["reading"] != "measured" or pd.isna(row["lasts_h"]):
        return "not known"
    return "shorter than predicted" if row["lasts_high_h"] < row["predicted_low_h"] else "as predicted"


def moved(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """The kits whose verdict or score a report changed: member, kit, before and after, each with its score."""
    keys, told = ["member", "kit"], ["verdict", "low", "high"]
    kits = [scores[scores["subject_kind"] == "kit"][keys + told] for scores in (before, after)]
    both = kits[0].merge(kits[1], on=keys, suffixes=("_before", "_after"))
    for when in ("before", "after"):
        rows = both[[f"{name}_{when}" for name in told]].itertuples(index=False, name=None)
        both[when] = [f"{VERDICTS[word].label}, {charts.score_range(low, high)}" for word, low, high in rows]
    return both[both["before"] != both["after"]][[*keys, "before", "after"]].reset_index(drop=True)


def title(found: pd.DataFrame) -> str:
    """How many stations ran as predicted, as a finding."""
    counts = found["ran"].value_counts()
    said = [f"{counts[word]} {word}" for word in RAN if word in counts]
    return f"Of {len(found)} station{'' if len(found) == 1 else 's'}: " + ", ".join(said)


def figures(found: pd.DataFrame) -> pd.DataFrame:
    """The observations as people read them, one row each."""
    ends = ("lasts_h", "lasts_low_h", "lasts_high_h", "predicted_h")
    given = {name: found[name].map(on_air.down, na_action="ignore") for name in ends}
    return pd.DataFrame(
        {
            "post": found["post"],
            "member": found["member"],
            "kit": found["kit"],
            "day": found["date"].dt.date,
            "it ran": [RAN[word].label for word in found["ran"]],
            "ran (h)": found["hours"],
            "left (%)": 100 * found["left_share"],
            "left, predicted (%)": 100 * found["predicted_left_share"],
            "would last (h)": given["lasts_h"],
            "at least (h)": given["lasts_low_h"],
            "at most (h)": given["lasts_high_h"],
            "predicted (h)": given["predicted_h"],
            "average (A)": found["average_a"],
            "on transmit (%)": 100 * found["measured_share"],
            "from (%)": 100 * found["measured_low_share"],
            "to (%)": 100 * found["measured_high_share"],
            "profile": found["duty"],
            "profile says (%)": 100 * found["planned_share"],
            "why not known": found["why"],
        }
    )


def chart(found: pd.DataFrame, said: str) -> alt.LayerChart:
    """Hours as predicted (bar) and as measured (shape, with its range as a line), one row per station.

    Parameters
    ----------
    found : as `observations` returns it, only rows with a prediction
    """
    frame = found[
        ["predicted_low_h", "predicted_high_h", "lasts_low_h", "lasts_h", "lasts_high_h", "ran"]
    ].copy()
    frame["subject"] = [
        f"{row.post}: {row.member} {row.kit}, {days.spoken(row.date)}" for row in found.itertuples()
    ]
    frame["hours"] = [
        f"{'not' if pd.isna(row.lasts_h) else on_air.said(row.lasts_h)} measured, "
        f"{on_air.span(row.predicted_low_h, row.predicted_high_h)} predicted"
        for row in frame.itertuples()
    ]
    frame["says"] = [
        f"{RAN[row.ran].shape} {row.subject}: {row.ran}, {row.hours}" for row in frame.itertuples()
    ]
    frame["where"] = [
        f"{RAN[row.ran].shape} {row.post}: {row.member} {row.kit}" for row in found.itertuples()
    ]
    thin = frame["predicted_high_h"] - frame["predicted_low_h"] < 0.1
    frame["predicted_low_h"] -= thin * 0.05
    row, colour = drawing.rows_of("subject", frame).axis(None), drawing.coloured("ran", RAN)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=12, yOffset=16, color=drawing.FIGURES, opacity=0.35).encode(
        x=alt.X("predicted_low_h:Q", title="hours on its own batteries", scale=alt.Scale(zero=True)),
        x2="predicted_high_h:Q",
        y=row,
        description="says:N",
    )
    known = base.transform_filter("isValid(datum.lasts_h)")
    lines = known.mark_rule(yOffset=16, strokeWidth=2).encode(
        x="lasts_low_h:Q", x2="lasts_high_h:Q", y=row, color=colour
    )
    points = known.mark_point(filled=True, size=110, opacity=1, yOffset=16).encode(
        x="lasts_h:Q", y=row, color=colour, shape=drawing.pointed("ran", RAN), description="says:N"
    )
    words = drawing.two_lines(base, ("where", "hours"), row)
    return drawing.dressed(alt.layer(bars, lines, points, *words), said, row_px=ROW_PX)


def named(frames: report.Frames, event: str) -> dict[tuple[str, str, str, int], int]:
    """Places in the inventory of the things that were at an event, by member, kit, item and which of several alike."""
    known = report.things(frames, event)
    keys = zip(known["member"], known["kit"], known["item"], known["nth"], strict=True)
    return dict(zip(keys, known["place"], strict=True))


def edits(
    frames: report.Frames, event: str, filled: pd.DataFrame, failed: Things, missing: Things
) -> dict[str, Callable[[pd.DataFrame], pd.DataFrame]]:
    """A report as edits of the files that it changes, to be saved together."""

    def edit(stem: str) -> Callable[[pd.DataFrame], pd.DataFrame]:
        def made(rows: pd.DataFrame) -> pd.DataFrame:
            now = {**frames, stem: rows}
            places = named(now, event)
            chosen = (
                {places[thing]: pieces for thing, pieces in group.items() if thing in places}
                for group in (failed, missing)
            )
            return report.changed(now, event, filled, *chosen).get(stem, rows.head(0))

        return made

    return {stem: edit(stem) for stem in ("rehearsals", "inventory")}
