"""Charts as pictures to take away, in our own letters: the specification that a page shows, on white paper."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from dashboard.drawing import FONT, INK

LETTERS = Path(__file__).parent / "static"
FAMILY = "Muster Fallback"  # holds the shapes of every status and the letters of many scripts
HEAD = "Archivo SemiBold"  # of titles; both as the shipped files name themselves
PAPER, WRITING = "#ffffff", "#18211d"
WIDTH_PX = 720
SCALE = 2.0  # dots for each pixel of a PNG


def standing_alone(spec: Mapping[str, Any]) -> dict[str, Any]:
    """A specification that needs no page around it: its data inside, its own colours, letters and width."""
    whole = copy.deepcopy({name: part for name, part in spec.items() if name not in ("datasets", "usermeta")})
    text = json.dumps(whole).replace(FONT, FAMILY).replace(INK, WRITING)
    alone: dict[str, Any] = json.loads(text)
    alone["datasets"] = {
        name: json.loads(frame.to_json(orient="records", date_format="iso"))
        for name, frame in spec["datasets"].items()
    }
    alone |= {"background": PAPER, "width": WIDTH_PX, "padding": 16, "autosize": {"type": "fit-x"}}
    config = alone.setdefault("config", {})
    config["title"] = {"color": WRITING, "font": HEAD}
    config["axis"] = {"titleColor": WRITING, "labelColor": WRITING, "titleFont": HEAD}
    return alone


def svg(spec: Mapping[str, Any]) -> bytes:
    """A chart as SVG."""
    return str(_converter().vegalite_to_svg(standing_alone(spec))).encode()


def png(spec: Mapping[str, Any]) -> bytes:
    """A chart as PNG."""
    return bytes(_converter().vegalite_to_png(standing_alone(spec), scale=SCALE))


@cache
def _converter() -> Any:
    """The converter with our letters; loaded when the first picture is asked for, as it is large."""
    import vl_convert

    vl_convert.register_font_directory(str(LETTERS))
    return vl_convert
