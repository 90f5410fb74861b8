"""Charts: a frame in, an Altair chart out. Every title says the finding, every axis its unit.

A status is drawn in its colour and with its shape or word; the page shows what they mean (`parts.legend`).
"""

from __future__ import annotations

from collections.abc import Mapping

import altair as alt
import pandas as pd

from dashboard.drawing import (
    FIGURES,
    INK,
    IS_NARROW,
    ROOM,
    coloured,
    dressed,
    pointed,
    ringed,
    rows_of,
    scale_of,
    two_lines,
    words,
)
from dashboard.palette import ANSWERS, CHANCES, ENOUGH, LINKS, VERDICTS, Mark

CHAIN_PX = 12  # from the edge to the line of a chain
LETTER_PX = 6.2  # of text of 11 px
NAMES_IN_TWO = "indexof(datum.value, '/') < 0 ? datum.value : split(replace(datum.value, '/', '/\\n'), '\\n')"
BEYOND = 2.0  # bars end at so many times the most that is wanted, with an arrow; the words tell the rest
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
        y=rows_of("subject", frame).axis(
            labelExpr=f"{IS_NARROW} ? {NAMES_IN_TWO} : datum.value",
            labelOffset=alt.expr(f"{IS_NARROW} ? -6 : 0"),
            labelLimit=alt.expr(f"{IS_NARROW} ? 130 : 300"),
            labelLineHeight=11,
            labelOverlap=False,
            labelFlush=False,
            title=None,
        ),
    )
    shapes = base.mark_point(filled=True, size=70, opacity=1).encode(
        color=coloured("worst", ANSWERS), shape=pointed("worst", ANSWERS)
    )
    areas = base.mark_rect(fillOpacity=0.16, cursor="pointer").encode(
        color=coloured("worst", ANSWERS),
        description="label:N",
        **ringed(picked),
        tooltip=[
            alt.Tooltip("subject:N", title=subject),
            alt.Tooltip("question:N"),
            alt.Tooltip("worst:N", title="worst answer"),
            alt.Tooltip("not_met:Q", title="rules not met"),
            alt.Tooltip("not_known:Q", title="not known"),
            alt.Tooltip("met:Q", title="met"),
        ],
    )
    return dressed(alt.layer(shapes, areas.add_params(picked)), title, row_px=26)


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
    row = rows_of("rule", frame).axis(None)
    base = alt.Chart(frame)
    bars = (
        base.mark_bar(height=10, yOffset=10, cursor="pointer")
        .encode(
            x=alt.X("members:Q", title=unit).axis(tickMinStep=1, format="d", grid=False),
            y=row,
            color=coloured("severity", ANSWERS),
            description="label:N",
            **ringed(picked),
            tooltip=[alt.Tooltip("title:N", title="gap"), alt.Tooltip("members:Q", title=unit), "severity:N"],
        )
        .add_params(picked)
    )
    names = words(base, "says", row, dy=-7)
    counts = base.mark_text(align="left", dx=6, dy=10, fontWeight="bold", color=INK).encode(
        x="members:Q", y=row, text="members:Q"
    )
    return dressed(alt.layer(bars, names, counts), title, row_px=40)


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
    row = rows_of("subject", frame).axis(None)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=10, yOffset=10).encode(
        x=alt.X("left:Q", scale=alt.Scale(domain=[0, 100]), title="score, 0 to 100").axis(
            values=[0, 25, 50, 75, 100]
        ),
        x2="high:Q",
        y=row,
        color=coloured("verdict", VERDICTS),
        description="label:N",
        tooltip=[alt.Tooltip("subject:N"), alt.Tooltip("verdict:N"), alt.Tooltip("range:N", title="score")],
    )
    names = words(base, "says", row, dy=-8)
    return dressed(alt.layer(bars, names), title, row_px=44)


def shifts(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """Who stands at which post and when: a bar for each assignment, in local time.

    Parameters
    ----------
    frame
        post, member, kit, verdict (of the post), starts, ends (local time of the event).
    """
    frame = frame[["post", "member", "kit", "verdict", "starts", "ends"]].copy()
    frame["row"] = frame["post"] + ", " + frame["member"]
    frame["is_first"] = ~frame["row"].duplicated()
    frame["says"] = [f"{VERDICTS[row.verdict].shape} {row.post}, {row.member}" for row in frame.itertuples()]
    frame["label"] = [f"{row.post}: {row.member}, the post is {row.verdict}" for row in frame.itertuples()]
    row = rows_of("row", frame).axis(None)
    is_one_day = pd.concat([frame["starts"], frame["ends"]]).dt.date.nunique() < 2
    clock, ticks = ("%H:%M", 6) if is_one_day else ("%a %H:%M", 4)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=10, yOffset=10).encode(
        x=alt.X("starts:T", title="local time").axis(format=clock, tickCount=ticks),
        x2="ends:T",
        y=row,
        color=coloured("verdict", VERDICTS),
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
    named = base.transform_filter("datum.is_first")  # a name drawn once more for each turn would look bolder
    names = words(named, "says", row, dy=-8)
    return dressed(alt.layer(bars, names), title, row_px=40)


def chances(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """How many kits can hold each post, with limits, cannot, or are not known: one bar of parts per post.

    Parameters
    ----------
    frame
        post, answer, kits, in the order in which posts are wanted.
    """
    return parted(frame, ("post", "answer", "kits"), CHANCES, title)


def parted(
    frame: pd.DataFrame, columns: tuple[str, str, str], marks: Mapping[str, Mark], title: str
) -> alt.LayerChart:
    """One bar for each subject, in parts by status, with its name and the figures as words above it.

    Parameters
    ----------
    frame
        One row per subject and status, in the order in which subjects are wanted.
    columns
        Names of the columns of the subject, the status (a word of `marks`) and the count; the last is the axis too.
    """
    subject, status, count = columns
    frame = frame[list(columns)].copy()
    frame["place"] = frame[status].map({word: place for place, word in enumerate(marks)})
    frame["label"] = [f"{name}: {number} {word}" for name, word, number in frame[list(columns)].to_numpy()]
    told = [
        ", ".join(
            f"{marks[word].shape} {number}"
            for word, number in zip(own[status], own[count], strict=True)
            if number
        )
        for _, own in frame.groupby(subject, sort=False)
    ]
    names = pd.DataFrame({subject: list(dict.fromkeys(frame[subject])), "says": told})
    row = rows_of(subject, frame).axis(None)
    bars = (
        alt.Chart(frame[frame[count] > 0])
        .mark_bar(height=10, yOffset=16)
        .encode(
            x=alt.X(f"{count}:Q", title=count, stack="zero").axis(tickMinStep=1, format="d", grid=False),
            y=row,
            order="place:Q",
            color=coloured(status, marks),
            description="label:N",
            tooltip=[f"{subject}:N", f"{status}:N", f"{count}:Q"],
        )
    )
    return dressed(alt.layer(bars, *two_lines(alt.Chart(names), (subject, "says"), row)), title, row_px=52)


def timeline(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """A staffing by hour: under each post its people, one bar for each shift; what is open stands as `open`.

    Parameters
    ----------
    frame
        post, lane (0, 1, … within the post), who, kit, answer, starts, ends (local time of the event), in the order
        in which posts are wanted.
    """
    frame = frame[["post", "lane", "who", "kit", "answer", "starts", "ends"]].copy()
    frame["row"] = [f"{row.post}\t{row.lane}" for row in frame.itertuples()]
    frame["share"] = (frame["ends"] - frame["starts"]) / (frame["ends"].max() - frame["starts"].min())
    frame["shape"] = [CHANCES[answer].shape for answer in frame["answer"]]
    frame["says"] = frame["shape"] + " " + frame["who"]
    frame["label"] = [
        f"{row.post}: {row.who}, {row.answer}, {row.starts:%d %b %H:%M} to {row.ends:%d %b %H:%M}"
        for row in frame.itertuples()
    ]
    domain: list[str] = []
    for post, own in frame.groupby("post", sort=False):
        domain += [str(post), *sorted(set(own["row"]), key=lambda row: int(row.rsplit("\t", 1)[1]))]
    scale = alt.Scale(domain=domain)
    base = alt.Chart(frame).encode(y=alt.Y("row:N", scale=scale).axis(None))
    bars = base.mark_bar(height=18, fillOpacity=0.22, strokeWidth=1.5).encode(
        x=alt.X("starts:T", title="local time").axis(format="%a %H:%M", tickCount=4),
        x2="ends:T",
        color=coloured("answer", CHANCES),
        stroke=alt.Stroke("answer:N", scale=scale_of(CHANCES, "colour"), legend=None),
        description="label:N",
        tooltip=[
            "post:N",
            "who:N",
            "kit:N",
            "answer:N",
            alt.Tooltip("starts:T", title="from", format="%d %b %H:%M"),
            alt.Tooltip("ends:T", title="to", format="%d %b %H:%M"),
        ],
    )
    fits = f"width * datum.share > length(datum.says) * {LETTER_PX}"
    fitting = alt.expr(f"{fits} ? datum.says : datum.shape")
    inside = base.mark_text(align="left", dx=4, fontSize=11, color=INK, text=fitting).encode(x="starts:T")
    posts = pd.DataFrame({"row": list(dict.fromkeys(frame["post"]))})
    names = words(alt.Chart(posts), "row", alt.Y("row:N", scale=scale).axis(None), dy=4)
    return dressed(alt.layer(bars, inside, names), title, row_px=23)


def spans(frame: pd.DataFrame, title: str, axis: str) -> alt.LayerChart:
    """What there is, from low to high, against what is wanted: a bar and an upright line per row, an arrow where it goes on.

    Parameters
    ----------
    frame
        subject, low, high, need (missing where none is told), enough (a word of ENOUGH), says (figures in words).
    axis
        Title of the axis, with its unit.
    """
    frame = frame[["subject", "low", "high", "need", "enough", "says"]].copy()
    frame["text"] = [f"{ENOUGH[row.enough].shape} {row.subject}" for row in frame.itertuples()]
    frame["label"] = [f"{row.subject}: {row.says}, {row.enough}" for row in frame.itertuples()]
    far, beyond = frame[["high", "need"]].max().max() * 1.02, BEYOND * frame["need"].max()
    most = far if pd.isna(beyond) else min(far, beyond)
    most = max(most, 0.1) if pd.notna(most) else 1.0
    frame["right"] = frame["high"].clip(upper=most)
    frame["is_beyond"] = frame["high"] > most
    frame["left"] = frame[["low", "right"]].min(axis=1)
    is_thin = frame["right"] - frame["left"] < most / 100
    frame["left"] = frame["left"].where(~is_thin, (frame["right"] - most / 100).clip(lower=0))
    row = rows_of("subject", frame).axis(None)
    base = alt.Chart(frame)
    bars = (
        base.transform_filter("isValid(datum.right)")
        .mark_bar(height=10, yOffset=16)
        .encode(
            x=alt.X("left:Q", scale=alt.Scale(domain=[0, most], nice=False), title=axis),
            x2="right:Q",
            y=row,
            color=coloured("enough", ENOUGH),
            description="label:N",
            tooltip=["subject:N", "says:N", "enough:N"],
        )
    )
    lines = (
        base.transform_filter("isValid(datum.need)")
        .mark_tick(height=18, thickness=3, yOffset=17, color=INK)
        .encode(x="need:Q", y=row)
    )
    arrows = (
        base.transform_filter("datum.is_beyond")
        .mark_point(
            shape="triangle-right", filled=True, size=110, opacity=1, xOffset=-6, yOffset=17, color=INK
        )
        .encode(x="right:Q", y=row)
    )
    named = two_lines(base, ("text", "says"), row)
    return dressed(alt.layer(bars, lines, arrows, *named), title, row_px=52)


def frontier(frame: pd.DataFrame, budget_usd: float, title: str) -> alt.LayerChart:
    """Share of the weighted gap that money closes, with the budget in question as an upright line.

    Parameters
    ----------
    frame
        budget_usd, gap_share (0 to 1), kits_ready, posts_opened.
    """
    frame = frame[["budget_usd", "gap_share", "kits_ready", "posts_opened"]].copy()
    frame["label"] = [f"{row.budget_usd:.0f} USD close {row.gap_share:.0%}" for row in frame.itertuples()]
    base = alt.Chart(frame).encode(
        x=alt.X("budget_usd:Q", title="budget, USD").axis(format=",d", tickCount=5),
        y=alt.Y("gap_share:Q", title="weighted gap closed").axis(format=".0%", tickCount=4),
    )
    line = base.mark_line(color=FIGURES, strokeWidth=2)
    points = base.mark_point(filled=True, size=70, color=FIGURES, opacity=1).encode(
        description="label:N",
        tooltip=[
            alt.Tooltip("budget_usd:Q", title="budget, USD", format=",.0f"),
            alt.Tooltip("gap_share:Q", title="gap closed", format=".1%"),
            alt.Tooltip("kits_ready:Q", title="kits made ready"),
            alt.Tooltip("posts_opened:Q", title="posts opened"),
        ],
    )
    here = (
        alt.Chart(pd.DataFrame({"budget_usd": [budget_usd]}))
        .mark_rule(color=INK, strokeDash=[4, 3])
        .encode(x="budget_usd:Q")
    )
    return dressed(alt.layer(line, points, here), title)


def replacements(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """What falls due in each year, in money.

    Parameters
    ----------
    frame
        year (text), cost_usd, things, says (all of it in words).
    """
    row = rows_of("year", frame).axis(None)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=10, yOffset=10, color=FIGURES).encode(
        x=alt.X("cost_usd:Q", title="USD").axis(format=",d", tickCount=4, grid=False),
        y=row,
        description="says:N",
        tooltip="says:N",
    )
    names = words(base, "says", row, dy=-8)
    return dressed(alt.layer(bars, names), title, row_px=40)


def station(frame: pd.DataFrame, title: str) -> alt.LayerChart:
    """One station as a chain from source to antenna, each thing marked by whether another could take its place.

    Parameters
    ----------
    frame
        item, role, link (a word of LINKS), in the order of the chain.
    """
    frame = frame[["item", "role", "link"]].reset_index(drop=True)
    frame["place"] = frame.index.astype(str)
    frame["says"] = [
        f"{LINKS[row.link].shape} {row.item}: {row.role}, {row.link}" for row in frame.itertuples()
    ]
    row = rows_of("place", frame).axis(None)
    base = alt.Chart(frame).encode(y=row, x=alt.value(CHAIN_PX))
    chain = base.mark_line(color=INK, strokeWidth=2, strokeOpacity=0.4, aria=False).encode(order="place:O")
    points = base.mark_point(filled=True, size=160, opacity=1).encode(
        color=coloured("link", LINKS),
        shape=pointed("link", LINKS),
        description="says:N",
        tooltip=["item:N", "role:N", "link:N"],
    )
    beside = base.mark_text(
        align="left", baseline="middle", dx=18, fontSize=13, limit=ROOM, color=INK
    ).encode(text="says:N")
    return dressed(alt.layer(chain, points, beside), title, row_px=40)


def score_range(low: float | None, high: float | None) -> str:
    """A score from every unknown bad to every unknown good, in words."""
    if low is None or high is None or pd.isna(low) or pd.isna(high):
        return "no score yet"
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"
