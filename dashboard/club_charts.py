"""Charts of the whole club: how readiness went, and whose power fits whose radio."""

from __future__ import annotations

import altair as alt
import pandas as pd

from dashboard.drawing import INK, coloured, dressed, pointed
from dashboard.palette import VERDICTS

TOP = 1.24  # of the axis of shares: room above all points for words on three lines
WORDS_PX = 14  # from one line of words to the next


def course(shares: pd.DataFrame, changes: pd.DataFrame, title: str) -> alt.LayerChart:
    """Share of kits with each verdict by day, with an upright line where what judges has changed.

    Parameters
    ----------
    shares
        day, verdict, count, kits, share (0 to 1).
    changes
        day, changed (`rules`, `policy`, or both).
    """
    frame = shares[["day", "verdict", "count", "kits", "share"]].copy()
    frame["label"] = [
        f"{row.day:%d %b %Y}: {row.count_} of {row.kits} {row.verdict}"
        for row in frame.rename(columns={"count": "count_"}).itertuples()
    ]
    start, end = frame["day"].min(), frame["day"].max()
    is_long = end - start > pd.Timedelta(days=300)
    base = alt.Chart(frame).encode(
        x=alt.X("day:T", title="day").axis(
            format="%b %Y" if is_long else "%d %b", tickCount=4, grid=False, labelOverlap=True
        ),
        y=alt.Y("share:Q", title="share of kits", scale=alt.Scale(domain=[0, TOP], nice=False)).axis(
            format=".0%", values=[0, 0.25, 0.5, 0.75, 1]
        ),
        color=coloured("verdict", VERDICTS),
    )
    lines = base.mark_line(strokeWidth=2)
    points = base.mark_point(filled=True, size=80, opacity=1).encode(
        shape=pointed("verdict", VERDICTS),
        description="label:N",
        tooltip=[
            alt.Tooltip("day:T", format="%d %b %Y"),
            "verdict:N",
            alt.Tooltip("count:Q", title="kits"),
            alt.Tooltip("kits:Q", title="of"),
            alt.Tooltip("share:Q", format=".0%"),
        ],
    )
    return dressed(alt.layer(*_upright(changes, start + (end - start) / 2), lines, points), title)


def _upright(changes: pd.DataFrame, middle: pd.Timestamp) -> list[alt.Chart]:
    """Lines where what judges has changed, their words above one another and turned to the middle."""
    if changes.empty:
        return []
    drawn = [alt.Chart(changes[["day"]]).mark_rule(color=INK, strokeDash=[4, 3]).encode(x="day:T")]
    for place, row in enumerate(changes[["day", "changed"]].itertuples(index=False)):
        side, dx = ("right", -4) if row.day > middle else ("left", 4)
        word = alt.Chart(pd.DataFrame({"day": [row.day], "says": [f"{row.changed} changed"]}))
        drawn.append(
            word.mark_text(align=side, dx=dx, baseline="top", fontSize=12, color=INK).encode(
                x="day:T", y=alt.value(place % 3 * WORDS_PX), text="says:N"
            )
        )
    return drawn
