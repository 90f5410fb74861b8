"""Charts of what gear does: how a battery runs down."""

from __future__ import annotations

import altair as alt
import pandas as pd

from dashboard.drawing import FIGURES, INK, dressed
from dashboard.palette import ENOUGH
from rules import on_air

BEYOND = 1.5  # the axis ends at so many times the shift; the title tells the rest


def discharge(curve: pd.DataFrame, title: str) -> alt.LayerChart:
    """Volts at the radio on transmit over the hours, with the end of the shift and the volts at which it stops.

    Parameters
    ----------
    curve
        As `dashboard.curves.at_post`.
    """
    need, least = float(curve["need_h"].iloc[0]), float(curve["least_v"].iloc[0])
    end, last_v = float(curve["hours"].max()), float(curve["volts_v"].iloc[-1])
    most = max(min(end, BEYOND * need), need) * 1.02
    shown = curve[["hours", "volts_v", "battery"]].copy()
    shown["run"] = (shown["battery"] != shown["battery"].shift()).cumsum()
    shown["label"] = [
        f"{row.battery}: {row.volts_v:.1f} V after {row.hours:.1f} h" for row in shown.itertuples()
    ]
    low = min(least, float(shown["volts_v"].min())) - 0.3
    high = float(shown["volts_v"].max()) + 0.3
    x = alt.X(
        "hours:Q", title="hours, at the duty of the post", scale=alt.Scale(domain=[0, most], nice=False)
    )
    y = alt.Y(
        "volts_v:Q", title="volts at the radio on transmit", scale=alt.Scale(domain=[low, high], nice=False)
    )
    base = alt.Chart(shown)
    line = base.mark_line(color=FIGURES, strokeWidth=2.5, clip=True).encode(
        x=x, y=y, detail="run:N", tooltip=["battery:N", alt.Tooltip("hours:Q", format=".1f"), alt.Tooltip("volts_v:Q", title="volts", format=".2f")],
        description="label:N",
    )  # fmt: skip
    rules = pd.DataFrame({"hours": [need], "says": ["end of the shift"]})
    shift = alt.Chart(rules).mark_rule(color=INK, strokeWidth=2).encode(x="hours:Q")
    shift_word = (
        alt.Chart(rules)
        .mark_text(align="right", baseline="top", dx=-5, fontSize=12, color=INK)
        .encode(x="hours:Q", y=alt.value(2), text="says:N")
    )
    stops = pd.DataFrame({"volts_v": [least], "says": [f"the radio stops at {least:.1f} V"]})
    stop = alt.Chart(stops).mark_rule(color=INK, strokeDash=[5, 3]).encode(y="volts_v:Q")
    stop_word = (
        alt.Chart(stops)
        .mark_text(align="left", baseline="bottom", dy=-3, dx=4, fontSize=12, color=INK)
        .encode(x=alt.value(0), y="volts_v:Q", text="says:N")
    )
    layers = [line, shift, shift_word, stop, stop_word]
    if end <= most:
        mark = ENOUGH["enough" if end >= need else "too little"]
        stopped = pd.DataFrame(
            {"hours": [end], "volts_v": [last_v], "label": [f"ends after {on_air.said(end, need=need)}"]}
        )
        layers.append(
            alt.Chart(stopped)
            .mark_point(filled=True, size=140, opacity=1, color=mark.colour, shape=mark.point)
            .encode(x="hours:Q", y="volts_v:Q", description="label:N")
        )
    return dressed(alt.layer(*layers), title)
