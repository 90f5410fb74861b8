"""Feet, pounds, miles and °F for who wants them: exact, on every page alike, and nothing stored or sent away changes."""

import csv
import io
import itertools
import re
import string
from types import SimpleNamespace

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import access, evidence_tables, loadouts, parts, posts, searching, standing, units
from data import demo, upload
from rules.policy import Policy
from rules.rule import fill, load_rules
from tests.pages import alone, page, unfolded, words

FIGURES = (0.0, 0.49, 1.0, 4.2, 23.0, 104.6)
WITH_UNIT = r"(?<![\w.])\d+(?:\.\d+)? (?:kg|km|m|°C)(?![\w²³/])"


@pytest.fixture
def in_us(monkeypatch):
    """A reader who wants feet and pounds."""
    monkeypatch.setattr(units, "is_us", lambda: True)


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    demo.write(folder)
    with alone():
        opened = standing.open_club(folder / "club.duckdb")
        for path in sorted(folder.glob("*.csv")):
            opened.store.accept(upload.read(path.name, path.read_bytes()), "demo")
        yield opened


@pytest.fixture
def at(club):
    """A page of the demo club as a reader of feet and pounds sees it, or as everyone else does."""

    def opened(view: str, us: bool = True, **query: str) -> AppTest:
        app = page(view, **query)
        return app.toggle(key=units.KEY).set_value(True).run() if us else app

    return opened


# ---- figures


@pytest.mark.parametrize(
    ("value", "unit", "digits"),
    [
        (0.45359237, "kg", "1"),  # NIST SP 811, B.8 with footnote 22: pound, 4.535 923 7 E-01 kg, exact
        (0.3048, "m", "1"),  # B.8: foot, 3.048 E-01 m, exact
        (1.609344, "km", "1"),  # B.8: mile, 1.609 344 E+03 m, exact
        (100.0, "°C", "212"),  # B.8: t/°C = (t/°F - 32)/1.8
        (0.0, "°C", "32"),
        (-40.0, "°C", "-40"),
    ],
)
def test_factors_are_the_exact_ones(value, unit, digits):
    assert units.in_us(value, unit) == pytest.approx(float(digits), rel=1e-15)
    assert units.in_us(pd.Series([value]), unit).iloc[0] == pytest.approx(float(digits), rel=1e-15)


def test_a_unit_without_another_is_an_error():
    with pytest.raises(KeyError, match="V"):
        units.in_us(1.0, "V")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Bag: 23 kg in one piece.", "Bag: 23 kg (51 lb) in one piece."),
        ("People come to 4.2 m; 4.0 m are asked.", "People come to 4.2 m (13.8 ft); 4.0 m (13.1 ft) are asked."),
        ("1.5 km on foot", "1.5 km (0.93 mi) on foot"),
        ("the coldest is -5 °C", "the coldest is -5 °C (23 °F)"),
        ("the coldest is -18 °C.", "the coldest is -18 °C (0 °F)."),
        ("15 to 20 kg", "15 to 20 kg (33 to 44 lb)"),
        ("3.0 m of 4.0 mm² wire on 2m, 5 m/s, 0.5 m²", "3.0 m (9.8 ft) of 4.0 mm² wire on 2m, 5 m/s, 0.5 m²"),
        ("10 °C colder than told", "10 °C colder than told"),
        ("not known m away, 13.8 V, 20 Ah, 5 min", "not known m away, 13.8 V, 20 Ah, 5 min"),
        ("51 lb (23 kg) and 23 kg (51 lb)", "51 lb (23 kg) and 23 kg (51 lb)"),
        ("the QA-5 kg", "the QA-5 kg"),
    ],
)  # fmt: skip
def test_a_sentence_keeps_its_figures_and_gets_theirs_beside_them(in_us, text, shown):
    assert units.said(text) == shown


def test_what_is_asked_for_at_least_is_rounded_up_in_feet_too(in_us):
    text = "the line is 11.4 m away; the mast wants 11.5 m, the wire 12 m"
    shown = "the line is 11.4 m (37.4 ft) away; the mast wants 11.5 m (37.8 ft), the wire 12 m (40 ft)"
    assert units.said(text, asked=[11.448, 11.9]) == shown
    found = SimpleNamespace(
        subject="", member=None, kit=None, event=None, post=None, evidence={"clear_m": 11.448, "mast_m": 6.4}
    )
    assert units.in_finding("wants 11.5 m", found) == "wants 11.5 m (37.8 ft)"
    assert units.at_least(11.448, "m") == "38 ft" and units.at_least(1.5, "m", 1) == "5.0 ft"


def test_names_are_left_as_they_were_written(in_us):
    text = "QA1BC/5 m lead (old): 5 m long, and the 5 m lead (old) weighs 1 kg"
    shown = "QA1BC/5 m lead (old): 5 m (16 ft) long, and the 5 m lead (old) weighs 1 kg (2 lb)"
    assert units.said(text, ["5 m lead (old)", None, "", "5"]) == shown
    assert units.said("23: 23 kg", ["23"]) == "23: 23 kg (51 lb)", "a name that is a number hides no figure"


def test_who_wants_metric_reads_what_the_rules_say():
    assert units.said("23 kg") == "23 kg"
    assert units.told(23.0, "kg") == (23.0, "kg")
    frame = pd.DataFrame({"weight_kg": [1.0]})
    assert units.shown(frame) is frame


@pytest.mark.parametrize("rule", load_rules(), ids=lambda rule: rule.name)
def test_no_sentence_of_a_rule_is_mangled(in_us, rule):
    """Take the brackets out again and the sentence is what it was; every figure with such a unit got one."""
    for template, figure in itertools.product((rule.not_met, rule.not_known, rule.fix), FIGURES):
        names = {name for _, name, _, _ in string.Formatter().parse(template) if name} - set(rule.param)
        texts = {"subject", "member", "kit", "event", "post"}
        row = {name: f"Kit of {name}" if name in texts else figure for name in names}
        sentence = fill(rule, template, row, Policy.standard())
        shown = units.said(sentence)
        told = re.findall(r" \(-?[\d.]+(?: to -?[\d.]+)? (?:lb|ft|mi|°F)\)", shown)
        assert re.sub(r" \(-?[\d.]+(?: to -?[\d.]+)? (?:lb|ft|mi|°F)\)", "", shown) == sentence
        assert len(told) == len(re.findall(WITH_UNIT, sentence)), shown


def test_tables_turn_figures_and_headings_and_leave_the_rest(in_us):
    frame = pd.DataFrame(
        {"what": ["bag"], "weight_kg": [4.5359237], "people (m)": [3.048], "walk_km": [1.609344],
         "temp_min_c": [-5.0], "load (W)": [5.0], "shelf_m": ["5 m"], "events_12m": [3]},
        index=[7],
    )  # fmt: skip
    shown = units.shown(frame)
    assert list(shown) == [
        "what", "weight_lb", "people (ft)", "walk_mi", "temp_min_f", "load (W)", "shelf_m", "events_12m",
    ]  # fmt: skip
    assert shown.iloc[0].tolist() == ["bag", *map(pytest.approx, (10.0, 10.0, 1.0, 23.0, 5.0)), "5 m", 3]
    assert list(shown.index) == [7]
    assert units.shown(pd.DataFrame({"people (m)": [2.2]}))["people (ft)"].iloc[0] == 7.22, "no 7.2178"
    assert list(frame)[1] == "weight_kg", "the frame itself is as it was"


# ---- pages


def test_evidence_is_in_the_units_of_the_reader(club, in_us):
    found = [
        f
        for f in club.standing().assessment.findings(with_met=True)
        if f.evidence.get("carried_kg") is not None
    ]
    frame = evidence_tables.evidence_frame(found[:1])
    kg = found[0].evidence["carried_kg"]
    assert frame["weight to carry (lb)"].iloc[0] == f"{kg / 0.45359237:.4g}"
    assert not [name for name in frame if "(kg)" in name]


def test_the_choice_stands_in_the_sidebar(at):
    app = at("start", us=False)
    assert app.sidebar.toggle(key=units.KEY).value is False
    assert "stay metric" not in words(app)
    app.sidebar.toggle(key=units.KEY).set_value(True).run()
    said = "Paper comes so too. Files and tables that are downloaded stay metric."
    assert said in [text.value for text in app.sidebar.text]


def test_the_choice_goes_along_from_page_to_page(at):
    app = at("start")
    app.switch_page("views/whatif.py").run()
    assert not app.exception
    assert app.sidebar.toggle(key=units.KEY).value is True


def test_distances_on_a_page_are_in_feet_and_the_download_says_that_it_is_metric(at, club):
    event = club.standing().of("event")["subject"].iloc[0]
    query = {"event": event, "look": "how far must people stay?"}
    metric, us = unfolded(at("events", us=False, **query)), unfolded(at("events", **query))
    near, far = (
        next(frame.value for frame in app.dataframe if any("crew (" in name for name in frame.value))
        for app in (metric, us)
    )
    pd.testing.assert_series_equal(
        far["crew (ft)"], (near["crew (m)"] / 0.3048).round(2), check_names=False, check_dtype=False
    )
    labels = [[button.label for button in app.get("download_button")] for app in (metric, us)]
    assert "Download distances as CSV" in labels[0]
    assert "Download distances as CSV, in metric units" in labels[1]


def test_bars_of_distances_are_drawn_in_feet(club, in_us):
    now = club.standing()
    rows = posts.distances(now, now.of("event")["subject"].iloc[0]).dropna(subset=["high"])
    drawn = posts.in_units(rows, "m")
    assert drawn["high"].tolist() == pytest.approx((rows["high"] / 0.3048).tolist())
    assert " ft)" in drawn["says"].iloc[0]
    assert posts.in_units(rows, "h") is rows


def test_findings_that_are_downloaded_stay_metric(club, in_us):
    found = [f for f in club.standing().assessment.findings() if " kg" in f.sentence]
    assert found, "the invented club has something that is too heavy"
    assert " lb)" in units.in_finding(found[0].sentence, found[0])
    rows = list(
        csv.DictReader(io.StringIO(parts.csv(evidence_tables.findings_frame(found)).decode("utf-8-sig")))
    )
    assert [row["sentence"] for row in rows] == [f.sentence for f in found]


def test_a_member_reads_pounds_on_the_page_of_a_kit(at, club):
    found = [f for f in club.standing().assessment.findings() if f.member and " kg" in f.sentence]
    query = {"member": found[0].member, "family": found[0].family}
    shown = words(at("kit", **query)).replace("\\", "")
    assert units.in_finding(found[0].sentence, found[0]) in shown or " lb)" in shown
    assert " lb)" not in words(at("kit", us=False, **query)).replace("\\", "")


def test_a_load_out_says_both(in_us):
    found = loadouts.lightest.LoadOut.__new__(loadouts.lightest.LoadOut)
    told = {"whole_kg": 12.0, "weight_kg": 12.0, "bound_kg": 12.0, "stay": (), "take": (), "part": "module"}
    for name, value in told.items():
        object.__setattr__(found, name, value)
    assert units.said(loadouts.words(found)) == "Everything is needed: 12.0 kg (26.5 lb)"
    object.__setattr__(found, "bound_kg", 3.0)
    assert loadouts.words(found) == "Nothing was found that can stay at home: 12.0 kg"
    chair = loadouts.lightest.Module("chair", 3.0, 1)
    for name, value in {"stay": (chair,), "weight_kg": 9.0}.items():
        object.__setattr__(found, name, value)
    assert loadouts.words(found) == "1 module of 1 can stay at home: 9.0 kg go along, 3.0 kg stay"
    object.__setattr__(found, "is_freed", True)
    said = "1 module of 1 to leave at home, as with all of it the kit does not hold the post: 9.0 kg go along, 3.0 kg stay"
    assert loadouts.words(found) == said


def test_figures_of_a_reader_who_wants_degrees_fahrenheit_are_taken_in_them(at):
    app = at("whatif")
    app.number_input(key="coldest_us").set_value(14.0).run()
    assert "If the coldest is 14 °F:" in words(app).replace("\\", "")
    field = app.number_input(key="coldest_us")
    assert (field.label, field.min, field.max) == ("coldest, °F", -76, 140)
    assert "°F as told" in field.placeholder


@pytest.mark.parametrize("unit", units.US)
def test_what_is_written_in_feet_and_the_like_comes_back_the_same(unit):
    for value in (0.0, 0.3, 4.2, 23.0, 104.6, 1e6):
        assert units.from_us(units.in_us(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-12)
    assert (units.taken(6, "m"), units.taken(2, "kg"), units.taken(14, "°C")) == (1.8288, 0.90718474, -10)


def test_a_rule_compares_in_the_reader_s_units(at):
    app = at("rulebook", rule="container_too_heavy_for_one")
    told = next(frame.value for frame in app.table if "compares with" in frame.value.columns)
    assert told[["value", "unit"]].values.tolist() == [[r"50\.71", "lb"]]
    metric = at("rulebook", us=False, rule="container_too_heavy_for_one")
    told = next(frame.value for frame in metric.table if "compares with" in frame.value.columns)
    assert told[["value", "unit"]].values.tolist() == [["23", "kg"]]


def test_findings_are_found_by_their_figures_in_pounds(at, club, in_us):
    found = next(f for f in club.standing().assessment.findings() if " kg" in f.sentence)
    said = units.in_finding(found.sentence, found)
    figure = re.search(r"\((\d[\d.]* lb)\)", said)[1]
    entries = searching.index(club.standing())
    hits = searching.search(entries, f"{figure} {found.member}", access.Sight(access.HERE, {"": "full"}))
    assert said in [entry.title for group in hits for entry in group.entries]


def test_what_keeps_a_post_open_is_in_the_reader_s_units(in_us):
    """The sentences of a plan, in a table; names that look like figures stay."""
    told = "QA1BC walks at most 2 km, the post asks for 3 km"
    frame = pd.DataFrame({"post": ["5 km sign"], "why": [f"5 km sign: {told}"], "change": ["ask QA1BC"]})
    shown = posts.said_in_units(frame, "why", "change")
    assert shown["why"].tolist() == [
        "5 km sign: QA1BC walks at most 2 km (1.2 mi), the post asks for 3 km (1.9 mi)"
    ]
    assert shown["post"].tolist() == ["5 km sign"] and shown["change"].tolist() == ["ask QA1BC"]


def test_how_much_better_a_plan_may_be_is_in_the_reader_s_units(in_us):
    found = SimpleNamespace(is_proven=False, gap={"hours open": 1.0, "carried kg": 10.0})
    assert ": hours open, by up to 1.0; carried, by up to 10.0 kg (22.0 lb)." in posts.proof(found)
