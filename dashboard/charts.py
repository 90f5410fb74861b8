"""Charts: a frame in, an Altair chart out. Every title says the finding, every axis its unit."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from typing import Any

import altair as alt
import pandas as pd

from dashboard.palette import ANSWERS, VERDICTS, Mark

TITLE_LETTERS = 46  # of a title's line; what a screen of 390 px holds
FONT = "muster text, sans-serif"


def heatmap(cells: pd.DataFrame, families: Mapping[str, str], title: str, subject: str) -> alt.Chart:
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
    frame["label"] = (
        frame["subject"]
        + ": "
        + frame["question"]
        + " "
        + frame["worst"].map(lambda word: ANSWERS[word].label)
        + ", "
        + frame["not_met"].astype(str)
        + " not met, "
        + frame["not_known"].astype(str)
        + " not known"
    )
    rows = list(dict.fromkeys(frame["subject"]))
    shown = [family for family in families if family in set(frame["family"])]
    picked = alt.selection_point(name="cell", fields=["subject", "family"], toggle=False)
    base = alt.Chart(frame).encode(
        x=alt.X("family:N", sort=shown, title="family of rules").axis(orient="top", labelAngle=-45),
        y=alt.Y("subject:N", sort=rows, title=subject).axis(labelLimit=170),
    )
    shapes = base.mark_point(filled=True, size=70, opacity=1).encode(
        color=_colour("worst", ANSWERS, "worst answer"), shape=_shape("worst", ANSWERS, "worst answer")
    )
    areas = base.mark_rect(fillOpacity=0.16, cursor="pointer").encode(
        color=_colour("worst", ANSWERS, "worst answer"),
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
    chart = alt.layer(shapes, areas.add_params(picked)).properties(height=alt.Step(24), title=_title(title))
    return _dressed(chart)


def gaps(frame: pd.DataFrame, title: str, unit: str = "members") -> alt.Chart:
    """Rules not met, most common first, as bars under their titles; a click picks one rule.

    Parameters
    ----------
    frame
        rule, title, severity, members (how many members have the gap), in the order wanted.
    """
    frame = frame[["rule", "title", "severity", "members"]].copy()
    frame["says"] = frame["severity"].map(lambda word: ANSWERS[word].shape) + " " + frame["title"]
    frame["label"] = frame["title"] + ": " + frame["members"].astype(str) + f" {unit}, " + frame["severity"]
    picked = alt.selection_point(name="gap", fields=["rule"], toggle=False)
    row = alt.Y("rule:N", sort=list(frame["rule"]), axis=None)
    base = alt.Chart(frame)
    bars = (
        base.mark_bar(height=10, yOffset=10, cursor="pointer")
        .encode(
            x=alt.X("members:Q", title=unit).axis(tickMinStep=1, format="d", grid=False),
            y=row,
            color=_colour(
                "severity", {word: ANSWERS[word] for word in ("blocks", "limits", "advice")}, "severity"
            ),
            description="label:N",
            stroke=alt.when(picked, empty=False).then(alt.value("#3787c4")).otherwise(alt.value(None)),
            strokeWidth=alt.value(3),
            tooltip=[alt.Tooltip("title:N", title="gap"), alt.Tooltip("members:Q", title=unit), "severity:N"],
        )
        .add_params(picked)
    )
    names = base.mark_text(align="left", baseline="middle", dy=-7, fontSize=13, limit=520).encode(
        x=alt.value(0), y=row, text="says:N"
    )
    counts = base.mark_text(align="left", dx=6, dy=10, fontWeight="bold").encode(
        x="members:Q", y=row, text="members:Q"
    )
    return _dressed(alt.layer(bars, names, counts).properties(height=alt.Step(40), title=_title(title)))


def ranges(frame: pd.DataFrame, title: str) -> alt.Chart:
    """Scores as bars from every unknown bad (low) to every unknown good (high), 0 to 100.

    Parameters
    ----------
    frame
        subject, verdict, low, high (0 to 100).
    """
    frame = frame[["subject", "verdict", "low", "high"]].dropna().copy()
    frame["says"] = frame["verdict"].map(lambda word: VERDICTS[word].label)
    frame["range"] = [_span(low, high) for low, high in zip(frame["low"], frame["high"], strict=True)]
    frame["label"] = frame["subject"] + ": " + frame["verdict"] + ", score " + frame["range"]
    base = alt.Chart(frame)
    row = alt.Y("subject:N", sort=list(frame["subject"]), axis=None)
    scale = alt.Scale(domain=[0, 100])
    bars = base.mark_bar(height=10, yOffset=10, minBandSize=3).encode(
        x=alt.X("low:Q", scale=scale, title="score, from every unknown bad to every unknown good (0 to 100)"),
        x2="high:Q",
        y=row,
        color=_colour("verdict", VERDICTS, "verdict"),
        description="label:N",
        tooltip=[alt.Tooltip("subject:N"), alt.Tooltip("verdict:N"), alt.Tooltip("range:N", title="score")],
    )
    ends = base.mark_point(filled=True, size=90, yOffset=10, opacity=1).encode(
        x=alt.X("high:Q", scale=scale),
        y=row,
        color=_colour("verdict", VERDICTS, "verdict"),
        shape=_shape("verdict", VERDICTS, "verdict"),
    )
    frame["text"] = frame["subject"] + "   " + frame["says"] + ", " + frame["range"]
    names = base.mark_text(align="left", baseline="middle", dy=-8, fontSize=13, limit=520).encode(
        x=alt.value(0), y=row, text="text:N"
    )
    return _dressed(alt.layer(bars, ends, names).properties(height=alt.Step(44), title=_title(title)))


def shifts(frame: pd.DataFrame, title: str) -> alt.Chart:
    """Who stands at which post and when, as bars in local time.

    Parameters
    ----------
    frame
        post, member, kit, verdict (of the post), starts, ends (local time of the event).
    """
    frame = frame[["post", "member", "kit", "verdict", "starts", "ends"]].copy()
    frame["who"] = [
        f"{VERDICTS[verdict].shape} {member}"
        for verdict, member in zip(frame["verdict"], frame["member"], strict=True)
    ]
    frame["label"] = frame["post"] + ": " + frame["member"] + ", post " + frame["verdict"]
    base = alt.Chart(frame)
    row = alt.Y("post:N", sort=list(dict.fromkeys(frame["post"])), title="post").axis(labelLimit=150)
    lane = alt.YOffset("member:N")
    bars = base.mark_bar(height=16, opacity=0.45).encode(
        x=alt.X("starts:T", title="local time").axis(format="%H:%M"),
        x2="ends:T",
        y=row,
        yOffset=lane,
        color=_colour("verdict", VERDICTS, "post is"),
        description="label:N",
        tooltip=[
            "post:N",
            "member:N",
            "kit:N",
            alt.Tooltip("starts:T", format="%d %b %H:%M"),
            alt.Tooltip("ends:T", format="%d %b %H:%M"),
            alt.Tooltip("verdict:N", title="post is"),
        ],
    )
    names = base.mark_text(align="left", dx=4, fontSize=12).encode(
        x="starts:T", y=row, yOffset=lane, text="who:N"
    )
    return _dressed(alt.layer(bars, names).properties(height=alt.Step(22), title=_title(title)))


def _span(low: float, high: float) -> str:
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"


def _colour(field: str, marks: Mapping[str, Mark], title: str) -> alt.Color:
    return alt.Color(f"{field}:N", scale=_scale(marks, (mark.colour for mark in marks.values())), title=title)


def _shape(field: str, marks: Mapping[str, Mark], title: str) -> alt.Shape:
    return alt.Shape(f"{field}:N", scale=_scale(marks, (mark.point for mark in marks.values())), title=title)


def _scale(marks: Mapping[str, Mark], values: Iterable[str]) -> alt.Scale:
    return alt.Scale(domain=list(marks), range=list(values))


def _title(text: str) -> alt.TitleParams:
    return alt.TitleParams(
        textwrap.wrap(text, TITLE_LETTERS), anchor="start", frame="group", fontSize=15, offset=12
    )


def _dressed(chart: Any) -> Any:
    """Fonts, legend below the title, and every mark an SVG element with a name of its own."""
    return (
        chart.configure(font=FONT, aria=True)
        .configure_legend(orient="bottom", columns=3, symbolSize=90, titleAnchor="start")
        .configure_view(strokeOpacity=0)
        .properties(usermeta={"embedOptions": {"renderer": "svg", "actions": False}})
    )
