"""Charts keep their promises: the finding as title, a status never by colour alone, a name for every mark."""

import json
import re
from xml.etree import ElementTree

import pandas as pd
import pyarrow as pa
import pytest
import vl_convert

from dashboard import charts, drawing, pictures
from dashboard.palette import ANSWERS, VERDICTS

SVG = "{http://www.w3.org/2000/svg}"
FAMILIES = {"power": "will the power last?", "wiring": "are wires and fuses right?"}


def cells() -> pd.DataFrame:
    rows = [("Q1A/box", "wiring", "met", 3, 0, 0), ("Q1A/box", "power", "blocks", 0, 2, 1)]
    return pd.DataFrame(rows, columns=["subject", "family", "worst", "met", "not_met", "not_known"])


def gaps() -> pd.DataFrame:
    rows = [("too_thin", "Lead too thin", "limits", 7), ("no_fuse", "No fuse", "blocks", 9)]
    return pd.DataFrame(rows, columns=["rule", "title", "severity", "members"])


def scores() -> pd.DataFrame:
    rows = [("box", "ready", 90.0, 100.0), ("bag", "not ready", 40.0, 40.0), ("new", "not known", None, None)]
    return pd.DataFrame(rows, columns=["subject", "verdict", "low", "high"])


def shifts() -> pd.DataFrame:
    at = [pd.Timestamp("2027-04-25T06:00"), pd.Timestamp("2027-04-25T12:00")]
    return pd.DataFrame(
        [("Mile 3", "Q1A", "box", "ready", *at), ("Mile 3", "Q2B", "", "ready", *at)],
        columns=["post", "member", "kit", "verdict", "starts", "ends"],
    )


DRAWN = {
    "heatmap": lambda title: charts.heatmap(cells(), FAMILIES, title, "kit"),
    "gaps": lambda title: charts.gaps(gaps(), title),
    "ranges": lambda title: charts.ranges(scores(), title),
    "shifts": lambda title: charts.shifts(shifts(), title),
}


def layers(spec: dict) -> dict[str, dict]:
    return {layer["mark"]["type"]: layer for layer in spec["layer"]}


def rows(spec: dict) -> list[dict]:
    """The data of a chart whose layers share one frame."""
    (data,) = spec["datasets"].values()
    return data


@pytest.mark.parametrize("name", DRAWN)
def test_the_title_says_the_finding_on_lines_that_fit_a_phone_and_a_wide_screen(name):
    title = 'Something blocks 7 of 70 kits; most often in redundancy and in the "wiring" \\ of the battery'
    spec = drawing.drawn(DRAWN[name](title))
    phone = re.search(r"\? (\[.*\]) : ", spec["title"]["text"]["expr"])
    assert " ".join(json.loads(phone[1])) == title
    assert max(map(len, json.loads(phone[1]))) <= drawing.TITLE_LETTERS
    lines = lines_at(spec, 720)
    assert " ".join(lines) == title
    assert len(lines) == 2
    assert lines_at(spec, 390) == json.loads(phone[1])


def lines_at(spec: dict, width_px: int) -> list[str]:
    """The lines of the title as they are drawn at a width."""
    alone = pictures.standing_alone(spec) | {"width": width_px}
    drawn = ElementTree.fromstring(vl_convert.vegalite_to_svg(alone))
    (title,) = (group for group in drawn.iter(f"{SVG}g") if "role-title-text" in group.get("class", ""))
    return [line.text for line in title.iter(f"{SVG}tspan")]


def drawn_at(spec: dict, width_px: int) -> list[str]:
    """Every text of a chart as it is drawn at a width."""
    alone = pictures.standing_alone(spec) | {"width": width_px}
    texts = ElementTree.fromstring(vl_convert.vegalite_to_svg(alone)).iter(f"{SVG}text")
    return ["".join(text.itertext()) for text in texts]


def test_a_row_of_shifts_names_its_member_once_whatever_the_turns():
    frame = pd.concat([shifts().head(1)] * 2, ignore_index=True)
    frame.loc[1, ["starts", "ends"]] += pd.Timedelta("8h")
    assert drawn_at(drawing.drawn(charts.shifts(frame, "x")), 720).count("● Mile 3, Q1A") == 1


def test_the_name_of_a_kit_is_whole_on_a_wide_screen():
    name = "QX1ABC/The crate behind the back seat"
    frame = cells().assign(subject=name)
    assert name in drawn_at(drawing.drawn(charts.heatmap(frame, FAMILIES, "x", "kit")), 720)


def test_long_words_over_a_row_leave_the_plot_its_width_on_a_phone():
    frame = gaps().assign(title="what somebody called it at great length " * 5)
    alone = pictures.standing_alone(drawing.drawn(charts.gaps(frame, "x"))) | {"width": drawing.NARROW_PX}
    drawn = vl_convert.vegalite_to_svg(alone)
    across = float(re.search(r'class="background"[^>]*d="M[-0-9.,]+h([0-9.]+)v', drawn)[1])
    assert across > drawing.NARROW_PX - 60


def test_the_figures_over_a_bar_stand_on_a_line_of_their_own_which_a_phone_shows_whole():
    name = "QX1ABC/the box with the longest name of all at Upper Reservoir crossing"
    frame = pd.DataFrame(
        [(name, 1.2, 2.1, None, "not known", "people 2.1 m, crew 1.2 m")],
        columns=["subject", "low", "high", "need", "enough", "says"],
    )
    drawn = drawing.drawn(charts.spans(frame, "x", "metres from the antenna"))
    alone = pictures.standing_alone(drawn) | {"width": drawing.NARROW_PX}
    svg = vl_convert.vegalite_to_svg(alone)
    assert ">people 2.1 m, crew 1.2 m<" in svg
    assert f"{name}<" not in svg, "the name is cut, not the figures"


@pytest.mark.parametrize(("high", "need", "end"), [(4.0, 20.0, 20.4), (60.0, 20.0, 40.0), (4.0, None, 4.08)])
def test_bars_of_what_there_is_take_no_more_room_than_they_need(high, need, end):
    frame = pd.DataFrame(
        [("QX1ABC/box", 1.0, high, need, "enough", "x")],
        columns=["subject", "low", "high", "need", "enough", "says"],
    )
    x = layers(charts.spans(frame, "x", "hours").to_dict())["bar"]["encoding"]["x"]
    assert x["scale"]["domain"] == [0, pytest.approx(end)]


@pytest.mark.parametrize(("later", "clock"), [("0D", "%H:%M"), ("1D", "%a %H:%M")])
def test_the_clock_of_shifts_names_the_day_where_there_is_more_than_one(later, clock):
    frame = shifts()
    frame["ends"] += pd.Timedelta(later)
    bars = layers(charts.shifts(frame, "x").to_dict())["bar"]
    assert bars["encoding"]["x"]["axis"]["format"] == clock


@pytest.mark.parametrize("name", DRAWN)
def test_axes_are_written_in_the_ink_of_the_page(name):
    axis = drawing.drawn(DRAWN[name]("Title"))["config"]["axis"]
    assert {axis["labelColor"], axis["titleColor"]} == {drawing.INK}


@pytest.mark.parametrize("name", DRAWN)
def test_every_mark_is_an_svg_element_with_a_name_of_its_own(name):
    spec = DRAWN[name]("x").to_dict()
    assert spec["usermeta"]["embedOptions"]["renderer"] == "svg"
    described = [layer for layer in spec["layer"] if "description" in layer["encoding"]]
    assert [layer["encoding"]["description"]["field"] for layer in described] == ["label"]
    labels = [row["label"] for row in rows(spec)]
    assert len(set(labels)) == len(labels)


@pytest.mark.parametrize("name", DRAWN)
def test_the_status_colours_are_the_palette(name):
    for layer in DRAWN[name]("x").to_dict()["layer"]:
        if "color" in layer["encoding"]:
            scale = layer["encoding"]["color"]["scale"]
            marks = VERDICTS if scale["domain"] == list(VERDICTS) else ANSWERS
            assert dict(zip(scale["domain"], scale["range"], strict=True)) == {
                word: mark.colour for word, mark in marks.items()
            }


@pytest.mark.parametrize("marks", [VERDICTS, ANSWERS])
def test_no_two_statuses_share_a_word_shape_or_colour(marks):
    for part in ("word", "shape", "point", "colour"):
        assert len({getattr(mark, part) for mark in marks.values()}) == len(marks)


def luminance(colour: str) -> float:
    """Relative luminance of a hex colour, 0 to 1. WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("page", ["#fbfcfa", "#121916"])
@pytest.mark.parametrize("mark", [*VERDICTS.values(), *ANSWERS.values()], ids=lambda mark: mark.word)
def test_status_colours_stand_out_from_both_pages(mark, page):
    """At least 3:1 for graphics: WCAG 2.2, success criterion 1.4.11."""
    low, high = sorted((luminance(mark.colour), luminance(page)))
    assert (high + 0.05) / (low + 0.05) >= 3


def test_the_heatmap_draws_a_shape_and_an_area_for_each_cell_in_the_order_given():
    spec = DRAWN["heatmap"]("x").to_dict()
    by_mark = layers(spec)
    assert set(by_mark) == {"point", "rect"}
    assert by_mark["rect"]["encoding"]["x"]["scale"]["domain"] == ["power", "wiring"]
    assert by_mark["rect"]["encoding"]["y"]["scale"]["domain"] == ["Q1A/box"]
    shape = by_mark["point"]["encoding"]["shape"]["scale"]
    assert shape["range"][shape["domain"].index("blocks")] == "square"
    label = next(row["label"] for row in rows(spec) if row["family"] == "power")
    assert label == "Q1A/box: will the power last? blocks, 2 not met, 1 not known"
    assert spec["params"][0]["select"]["fields"] == ["subject", "family"]


def test_a_gap_carries_its_severity_as_a_shape_and_its_count_as_a_figure():
    spec = DRAWN["gaps"]("x").to_dict()
    assert [row["says"] for row in rows(spec)] == ["▲ Lead too thin", "■ No fuse"]
    assert spec["layer"][0]["encoding"]["x"]["title"] == "members"
    assert spec["layer"][0]["encoding"]["y"]["scale"]["domain"] == ["too_thin", "no_fuse"]
    assert spec["layer"][2]["encoding"]["text"]["field"] == "members"


def test_a_score_is_a_bar_from_low_to_high_and_a_single_figure_stays_visible():
    spec = DRAWN["ranges"]("x").to_dict()
    drawn = {row["subject"]: row for row in rows(spec)}
    assert set(drawn) == {"box", "bag"}, "what has no score is not drawn"
    assert (drawn["box"]["left"], drawn["box"]["high"]) == (90, 100)
    assert drawn["bag"]["left"] == pytest.approx(40 - charts.THIN)
    assert drawn["box"]["says"] == "box: ● ready, 90 to 100"
    assert drawn["bag"]["says"] == "bag: ■ not ready, 40"
    assert spec["layer"][0]["encoding"]["x"]["scale"]["domain"] == [0, 100]


def test_two_people_at_one_post_have_a_bar_each():
    spec = DRAWN["shifts"]("x").to_dict()
    assert spec["layer"][0]["encoding"]["y"]["scale"]["domain"] == ["Mile 3, Q1A", "Mile 3, Q2B"]
    assert spec["layer"][0]["encoding"]["x"]["title"] == "local time"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (None, None, "no score yet"),
        (40.0, 40.3, "40"),
        (40.0, 60.0, "40 to 60"),
        (float("nan"), 3.0, "no score yet"),
    ],
)
def test_a_range_in_words(low, high, said):
    assert charts.score_range(low, high) == said


def test_a_chart_is_sent_with_the_same_rows_as_it_is_kept_with():
    kept = drawing.drawn(charts.gaps(gaps(), "One"))
    sent = drawing.packed(kept)
    assert {**sent, "datasets": 0} == {**kept, "datasets": 0}
    for name, stream in sent["datasets"].items():
        rows = pa.ipc.open_stream(stream).read_all().to_pylist()
        assert rows == kept["datasets"][name].to_dict("records")
    named = {layer.get("data", sent.get("data", {})).get("name") for layer in sent["layer"]}
    assert named <= set(sent["datasets"]), "every layer finds its frame"
