"""What every chart is drawn with: titles and words that fit the screen, a status in its colour and shape, and how it is sent."""

from __future__ import annotations

import json
import textwrap
import threading
from collections.abc import Mapping
from typing import Any

import altair as alt
import pandas as pd
import pyarrow as pa

from dashboard.palette import Mark

TITLE_LETTERS = 42  # of a title's line; what a screen of 390 px holds
WIDE_PX, WIDE_LETTERS = 520, 72  # a plot from so wide on holds titles of so many letters a line
FONT = "muster text, sans-serif"
INK = "currentColor"  # the text colour of the page, light or dark
FIGURES = "#3787c4"  # of what is no status
FLAT_PX = 240  # height of a chart without rows
NARROW_PX = 310  # of a chart on a screen of 390 px
ROOM = alt.expr(f"max(width, {NARROW_PX}) - 20")  # for words over a row: longer ones would squeeze the plot
IS_NARROW = f"containerSize()[0] < {WIDE_PX}"


def rows_of(field: str, frame: pd.DataFrame) -> alt.Y:
    """Rows in the order of the frame; a domain, because layers cannot agree on a sort."""
    return alt.Y(f"{field}:N", scale=alt.Scale(domain=list(dict.fromkeys(frame[field]))))


def words(base: alt.Chart, field: str, row: alt.Y, dy: int) -> alt.Chart:
    """Words over each row, as long as the screen is wide."""
    return base.mark_text(align="left", baseline="middle", dy=dy, fontSize=13, limit=ROOM, color=INK).encode(
        x=alt.value(0), y=row, text=f"{field}:N"
    )


def two_lines(base: alt.Chart, fields: tuple[str, str], row: alt.Y) -> list[alt.Chart]:
    """Words over each row, one below the other: a phone cuts a long line at its end, where the figures would stand."""
    return [words(base, field, row, dy) for field, dy in zip(fields, (-18, -2), strict=True)]


def ringed(picked: alt.Parameter) -> dict[str, Any]:
    """A line around what is picked."""
    stroke = alt.when(picked, empty=False).then(alt.value(FIGURES)).otherwise(alt.value(None))
    return {"stroke": stroke, "strokeWidth": alt.value(3)}


def coloured(field: str, marks: Mapping[str, Mark]) -> alt.Color:
    """A status as its colour."""
    return alt.Color(f"{field}:N", scale=scale_of(marks, "colour"), legend=None)


def pointed(field: str, marks: Mapping[str, Mark]) -> alt.Shape:
    """A status as its shape."""
    return alt.Shape(f"{field}:N", scale=scale_of(marks, "point"), legend=None)


def scale_of(marks: Mapping[str, Mark], part: str) -> alt.Scale:
    """A part of each mark, as its colour, for its word."""
    return alt.Scale(domain=list(marks), range=[getattr(mark, part) for mark in marks.values()])


def titled(title: str) -> Any:
    """A title in lines that fit the chart, whether it is drawn on a phone or wide."""
    narrow, wide = (textwrap.wrap(title, letters) for letters in (TITLE_LETTERS, WIDE_LETTERS))
    if narrow == wide:
        return wide
    return alt.expr(f"width < {WIDE_PX} ? {json.dumps(narrow)} : {json.dumps(wide)}")


def dressed(chart: alt.LayerChart, title: str, row_px: int = 0) -> Any:
    """Title that fits the screen, our font, axes in the page's ink, and every mark an SVG element with a name of its own."""
    lines = alt.TitleParams(titled(title), anchor="start", frame="bounds", fontSize=15, offset=12)
    return (
        chart.properties(
            height=alt.Step(row_px) if row_px else FLAT_PX,
            title=lines,
            autosize=alt.AutoSizeParams(type="fit-x"),
        )
        .configure(font=FONT, aria=True)
        .configure_axis(labelColor=INK, titleColor=INK)
        .configure_view(strokeOpacity=0)
        .properties(usermeta={"embedOptions": {"renderer": "svg", "actions": False}})
    )


_altair = threading.Lock()  # its data transformer and theme are of the whole process
_frames: dict[str, pd.DataFrame] = {}


def _by_name(data: pd.DataFrame) -> dict[str, str]:
    name = f"frame{len(_frames)}"
    _frames[name] = data
    return {"name": name}


alt.data_transformers.register("muster_frames", _by_name)


def drawn(chart: alt.LayerChart) -> dict[str, Any]:
    """A chart as a Vega-Lite specification with its frames in `datasets`; costly, so worth keeping."""
    with _altair, alt.data_transformers.enable("muster_frames"), alt.theme.enable("none"):
        _frames.clear()
        spec: dict[str, Any] = chart.to_dict()
        return spec | {"datasets": dict(_frames)}


def packed(spec: Mapping[str, Any]) -> dict[str, Any]:
    """A specification as it is sent: its frames as Arrow streams, which the framework need not convert again."""
    return dict(spec) | {"datasets": {name: _arrow(frame) for name, frame in spec["datasets"].items()}}


def _arrow(frame: pd.DataFrame) -> bytes:
    table = pa.Table.from_pandas(frame, preserve_index=False)
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema) as stream:
        stream.write_table(table)
    return sink.getvalue().to_pybytes()
