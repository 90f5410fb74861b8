"""Charts: a frame in, an Altair chart out. Every title says the finding, every axis its unit.

A status is drawn in its colour and with its shape or word; the page shows what they mean (`parts.legend`).
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt
import pandas as pd

from dashboard.palette import ANSWERS, VERDICTS, Mark

TITLE_LETTERS = 42  # of a title's line; what a screen of 390 px holds
FONT = "muster text, sans-serif"
INK = "currentColor"  # the text colour of the page, light or dark
THIN = 0.8  # a score that is one figure, not a range, is drawn so wide


def heatmap(cells: pd.DataFrame, families: Mapping[str, str], title: str, subject: str) -> alt.LayerChart:
    """Worst answer of each member or kit (row) in each family of rules (column); a click picks one cell.

    Parameters
    ----------
    cells
        subject, family, worst, met, not_met, not_known, in the order in which rows are wanted.
    families
        Question by family, in the order of the columns.
    subject
        What a row is: `kit` or `member`.
    """
    frame = cells[["subject", "family", "worst", "met", "not_met", "not_known"]].copy()
    frame["question"] = frame["family"].map(families)
    frame["label"] = [
        f"{row.subject}: {row.question} {row.worst}, {row.not_met} not met, {row.not_known} not known"
        for row in frame.itertuples()
    ]
    shown = [family for family in families if family in set(frame["family"])]
    picked = alt.selection_point(name="cell", fields=["subject", "family"], toggle=False)
    base = alt.Chart(frame).encode(
        x=alt.X("family:N", scale=alt.Scale(domain=shown), title=None).axis(
            orient="top", labelAngle=-90, labelOverlap=False
        ),
        y=_rows("subject", frame).axis(labelLimit=130, labelFlush=False, title=None),
    )
    shapes = base.mark_point(filled=True, size=70, opacity=1).encode(
        color=_colour("worst", ANSWERS),
        shape=alt.Shape(
            "worst:N", scale=_scale(ANSWERS, [mark.point for mark in ANSWERS.values()]), legend=None
        ),
    )
    areas = base.mark_rect(fillOpacity=0.16, cursor="pointer").encode(
        color=_colour("worst", ANSWERS),
        description="label:N",
        stroke=alt.when(picked, empty=False).then(alt.value("#3787c4")).otherwise(alt.value(None)),
        strokeWidth=alt.value(3),
        tooltip=[
            alt.Tooltip("subject:N", title=subject),
            alt.Tooltip("question:N"),
            alt.Tooltip("worst:N", title="worst answer"),
            alt.Tooltip("not_met:Q", title="rules not met"),
            alt.Tooltip("not_known:Q", title="not known"),
            alt.Tooltip("met:Q", title="met"),
        ],
    )
    return _dressed(alt.layer(shapes, areas.add_params(picked)), title, row_px=24)


def gaps(frame: pd.DataFrame, title: str, unit: str = "members") -> alt.LayerChart:
    """Rules not met as bars under their titles, in the order given; a click picks one rule.

    Parameters
    ----------
    frame
        rule, title, severity, members (how many members have the gap).
    """
    frame = frame[["rule", "title", "severity", "members"]].copy()
    frame["says"] = [f"{ANSWERS[row.severity].shape} {row.title}" for row in frame.itertuples()]
    frame["label"] = [f"{row.title}: {row.members} {unit}, {row.severity}" for row in frame.itertuples()]
    picked = alt.selection_point(name="gap", fields=["rule"], toggle=False)
    row = _rows("rule", frame).axis(None)
    base = alt.Chart(frame)
    bars = (
        base.mark_bar(height=10, yOffset=10, cursor="pointer")
        .encode(
            x=alt.X("members:Q", title=unit).axis(tickMinStep=1, format="d", grid=False),
            y=row,
            color=_colour("severity", ANSWERS),
            description="label:N",
            stroke=alt.when(picked, empty=False).then(alt.value("#3787c4")).otherwise(alt.value(None)),
            strokeWidth=alt.value(3),
            tooltip=[alt.Tooltip("title:N", title="gap"), alt.Tooltip("members:Q", title=unit), "severity:N"],
        )
        .add_params(picked)
    )
    names = _words(base, "says", dy=-7).encode(x=alt.value(0), y=row)
    counts = base.mark_text(align="left", dx=6, dy=10, fontWeight="bold", color=INK).encode(
        x="members:Q", y=row, text="members:Q"
    )
    return _dressed(alt.layer(bars, names, counts), title, row_px=40)


def ranges(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """Scores as bars from every unknown bad (low) to every unknown good (high), 0 to 100.

    Parameters
    ----------
    frame
        subject, verdict, low, high (0 to 100).
    """
    frame = frame[["subject", "verdict", "low", "high"]].dropna().copy()
    frame["range"] = [score_range(row.low, row.high) for row in frame.itertuples()]
    frame["says"] = [
        f"{row.subject}: {VERDICTS[row.verdict].label}, {row.range}" for row in frame.itertuples()
    ]
    frame["label"] = [f"{row.subject}: {row.verdict}, score {row.range}" for row in frame.itertuples()]
    frame["left"] = (frame["high"] - THIN).clip(upper=frame["low"])
    row = _rows("subject", frame).axis(None)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=10, yOffset=10).encode(
        x=alt.X("left:Q", scale=alt.Scale(domain=[0, 100]), title="score, 0 to 100").axis(
            values=[0, 25, 50, 75, 100]
        ),
        x2="high:Q",
        y=row,
        color=_colour("verdict", VERDICTS),
        description="label:N",
        tooltip=[alt.Tooltip("subject:N"), alt.Tooltip("verdict:N"), alt.Tooltip("range:N", title="score")],
    )
    names = _words(base, "says", dy=-8).encode(x=alt.value(0), y=row)
    return _dressed(alt.layer(bars, names), title, row_px=44)


def shifts(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """Who stands at which post and when: a bar for each assignment, in local time.

    Parameters
    ----------
    frame
        post, member, kit, verdict (of the post), starts, ends (local time of the event).
    """
    frame = frame[["post", "member", "kit", "verdict", "starts", "ends"]].copy()
    frame["row"] = frame["post"] + ", " + frame["member"]
    frame["says"] = [f"{VERDICTS[row.verdict].shape} {row.post}, {row.member}" for row in frame.itertuples()]
    frame["label"] = [f"{row.post}: {row.member}, the post is {row.verdict}" for row in frame.itertuples()]
    row = _rows("row", frame).axis(None)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=10, yOffset=10).encode(
        x=alt.X("starts:T", title="local time").axis(format="%H:%M", tickCount=6),
        x2="ends:T",
        y=row,
        color=_colour("verdict", VERDICTS),
        description="label:N",
        tooltip=[
            "post:N",
            "member:N",
            "kit:N",
            alt.Tooltip("starts:T", title="from", format="%d %b %H:%M"),
            alt.Tooltip("ends:T", title="to", format="%d %b %H:%M"),
            alt.Tooltip("verdict:N", title="the post is"),
        ],
    )
    names = _words(base, "says", dy=-8).encode(x=alt.value(0), y=row)
    return _dressed(alt.layer(bars, names), title, row_px=40)


def score_range(low: float | None, high: float | None) -> str:
    """A score from every unknown bad to every unknown good, in words."""
    if low is None or high is None or pd.isna(low) or pd.isna(high):
        return "no score yet"
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"


def _rows(field: str, frame: pd.DataFrame) -> alt.Y:
    """Rows in the order of the frame; a domain, because layers cannot agree on a sort."""
    return alt.Y(f"{field}:N", scale=alt.Scale(domain=list(dict.fromkeys(frame[field]))))


def _words(base: alt.Chart, field: str, dy: int) -> alt.Chart:
    return base.mark_text(align="left", baseline="middle", dy=dy, fontSize=13, limit=520, color=INK).encode(
        text=f"{field}:N"
    )


def _colour(field: str, marks: Mapping[str, Mark]) -> alt.Color:
    return alt.Color(f"{field}:N", scale=_scale(marks, [mark.colour for mark in marks.values()]), legend=None)


def _scale(marks: Mapping[str, Mark], values: Sequence[str]) -> alt.Scale:
    return alt.Scale(domain=list(marks), range=list(values))


def _dressed(chart: alt.LayerChart, title: str, row_px: int) -> Any:
    """Title that fits a narrow screen, our font, and every mark an SVG element with a name of its own."""
    lines = alt.TitleParams(
        textwrap.wrap(title, TITLE_LETTERS), anchor="start", frame="bounds", fontSize=15, offset=12
    )
    return (
        chart.properties(height=alt.Step(row_px), title=lines, autosize=alt.AutoSizeParams(type="fit-x"))
        .configure(font=FONT, aria=True)
        .configure_view(strokeOpacity=0)
        .properties(usermeta={"embedOptions": {"renderer": "svg", "actions": False}})
    )
