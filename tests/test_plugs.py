"""Whose battery and antenna work at whose radio, over the whole club, and who is shown it."""

import json

import pandas as pd
import pytest

import dashboard.standing
from dashboard import access, charts, drawing, plugs
from dashboard.palette import WAYS
from dashboard.plugs import ANTENNAS, BATTERIES
from dashboard.standing import Standing
from data import plain_words, upload
from tests.pages import alone, chart_title, page, unfolded, words
from tests.small_club import ANTENNA, BATTERY, COAX, HANDHELD, LEAD, MOBILE, TODAY, assess, kit

OTHER = {"dc_plug": "xt60_male"}
UNTOLD = {"dc_plug": None}
ADAPTER = {"kind": "dc_adapter", "dc_plug": "genderless_30", "dc_plug_far": "xt60_female", "module": "power"}
SENT = (
    b"member,kit,item,kind,quantity,dc_plug\n"
    b"Q1A,box,battery,battery_lifepo4,1,genderless_30\n"
    b"Q2B,bag,radio,mobile_vhf_uhf,1,genderless_30\n"
)


def standing(*kits: list[dict]) -> Standing:
    return Standing(1, TODAY, assess(inventory=[thing for things in kits for thing in things]))


def ways(rows: pd.DataFrame) -> dict[tuple[str, str], str]:
    return {(row.plug, row.radio): row.way for row in rows.itertuples()}


def lender(*more: dict, **battery: object) -> list[dict]:
    """A kit with a battery and no radio of its own."""
    return kit("Q1A", "box", BATTERY | battery, *more)


def borrower(*more: dict, **radio: object) -> list[dict]:
    """A kit with a radio and no battery of its own."""
    return kit("Q2B", "bag", MOBILE | radio, ANTENNA, *more)


@pytest.mark.parametrize(
    ("kits", "way"),
    [
        ((lender(), borrower()), "as they are"),
        ((lender(), borrower(ADAPTER, **OTHER)), "as they are"),
        ((lender(ADAPTER), borrower(**OTHER)), "as they are"),
        ((lender(), borrower(**OTHER), kit("Q3C", "shelf", ADAPTER)), "with a club adapter"),
        ((lender(), borrower(LEAD, **OTHER), kit("Q3C", "shelf", ADAPTER)), "with a club adapter"),
        ((lender(), borrower(**OTHER), kit("Q3C", "shelf", LEAD)), "not at all"),
        ((lender(), borrower(ADAPTER | {"dc_plug_far": None}, **OTHER)), "not known"),
        ((lender(), borrower(**UNTOLD)), "not known"),
        ((lender(**UNTOLD), borrower()), "not known"),
    ],
)
def test_the_way_from_a_battery_to_a_radio(kits, way):
    assert list(ways(plugs.pairs(standing(*kits), BATTERIES)).values()) == [way]


WHIP, ROOF = {"kind": "whip", "rf_plug": "sma_male"}, {"kind": "mag_mount", "rf_plug": "pl259"}
HAND = HANDHELD | {"rf_plug": "sma_female"}
PIGTAIL = {"kind": "rf_adapter", "rf_plug": "so239", "rf_plug_far": "sma_male"}


@pytest.mark.parametrize(
    ("antenna", "radio", "more", "way"),
    [
        ([ROOF], [MOBILE], [], "as they are"),
        ([ANTENNA], [MOBILE], [], "not at all"),
        ([ANTENNA], [MOBILE, COAX], [], "as they are"),
        ([ANTENNA, COAX], [MOBILE], [], "as they are"),
        ([ANTENNA], [MOBILE], [COAX], "with a club adapter"),
        ([ROOF], [HAND], [PIGTAIL], "with a club adapter"),
        ([WHIP], [HAND], [], "as they are"),
        ([ROOF], [HAND], [], "not at all"),
        ([ROOF], [HAND, PIGTAIL | {"rf_plug_far": None}], [], "not known"),
    ],
)
def test_the_way_from_an_antenna_to_a_radio(antenna, radio, more, way):
    now = standing(kit("Q1A", "box", *antenna), kit("Q2B", "bag", *radio), kit("Q3C", "shelf", *more))
    assert list(ways(plugs.pairs(now, ANTENNAS)).values()) == [way]


@pytest.mark.parametrize(
    ("antenna", "radio"),
    [(WHIP, MOBILE), (ROOF | {"bands": "40m"}, MOBILE), (ROOF | {"condition": "faulty"}, MOBILE)],
)
def test_no_antenna_is_paired_with_a_radio_that_has_none_of_its_bands_nor_a_whip_with_a_mobile(
    antenna, radio
):
    assert plugs.pairs(standing(kit("Q1A", "box", antenna), kit("Q2B", "bag", radio)), ANTENNAS).empty


def test_no_kit_is_paired_with_itself_nor_over_voltages_that_do_not_meet():
    assert plugs.pairs(standing(kit("Q1A", "box", BATTERY, MOBILE)), BATTERIES).empty
    assert plugs.pairs(standing(lender(volts_min=20.0, volts_max=29.0), borrower()), BATTERIES).empty


def test_who_is_hidden_lends_and_borrows_nothing_not_even_an_adapter():
    now = standing(lender(), borrower(**OTHER), kit("Q3C", "shelf", ADAPTER))
    assert ways(plugs.pairs(now, BATTERIES, {"Q3C"})) == {
        ("genderless stackable DC", "XT60, pins"): "not at all"
    }
    assert plugs.pairs(now, BATTERIES, {"Q1A"}).empty


def test_the_title_names_how_many_kits_no_battery_can_help():
    rows = plugs.pairs(standing(lender(), borrower(**OTHER), kit("Q3C", "pack", MOBILE)), BATTERIES)
    assert plugs.title(rows, BATTERIES) == (
        "1 of 2 kinds of plugs keeps 1 kit apart from every battery whose plug is told"
    )


def test_the_title_counts_pairs_where_every_kit_can_be_helped():
    shelf = kit("Q3C", "shelf", ADAPTER)
    rows = plugs.pairs(standing(lender(), borrower(**OTHER), kit("Q4D", "pack", MOBILE), shelf), BATTERIES)
    assert plugs.title(rows, BATTERIES) == (
        "1 of 2 pairs of kits can share power as they are, 1 more with an adapter that the club has"
    )


def test_pairs_are_counted_by_plugs_and_every_way_has_its_shape():
    now = standing(lender(), borrower(**OTHER), kit("Q3C", "pack", MOBILE), kit("Q4D", "case", MOBILE))
    counted = plugs.counts(plugs.pairs(now, BATTERIES))
    assert list(dict.fromkeys(counted["plugs"])) == [
        "genderless stackable DC to genderless stackable DC",
        "genderless stackable DC to XT60, pins",
    ]
    assert counted["pairs"].sum() == 3
    assert (counted["lenders"] == 1).all()
    assert list(counted["radios"].unique()) == [2, 1]
    spec = drawing.drawn(charts.parted(counted, ("plugs", "way", "pairs"), WAYS, "x"))
    words = next(frame for frame in spec["datasets"].values() if "says" in frame)
    assert list(zip(words["plugs"], words["says"], strict=True)) == [
        ("genderless stackable DC to genderless stackable DC", "● 2"),
        ("genderless stackable DC to XT60, pins", "■ 1"),
    ]


@pytest.mark.parametrize(
    ("me", "said"),
    [
        (access.HERE, "1 of 1 pair of kits can share power as they are"),
        (
            access.Person("Tim", access.Role.MEMBER, "Q2B"),
            "This looks into kits that are not shared with you.",
        ),
    ],
)
def test_the_season_page_compares_only_kits_that_one_may_see_in_full(tmp_path, monkeypatch, me, said):
    with alone():
        club = dashboard.standing.open_club(tmp_path / "club.duckdb")
        club.accept(upload.read("inventory.csv", SENT), "me")
        monkeypatch.setattr(access, "HERE", me)
        app = unfolded(page())
    drawn = [one.proto.spec for one in app.get("vega_lite_chart") if '"title": "pairs"' in one.proto.spec]
    labels = [button.label for button in app.get("download_button")]
    sees_it = me.role is access.Role.COORDINATOR
    assert len(drawn) == sees_it
    assert ("Download shared power as PNG" in labels) is sees_it
    below = words(app) + "".join(chart_title(json.loads(spec)) for spec in drawn)
    assert said in below


def test_two_plugs_and_their_figures_fit_on_a_line_of_a_phone():
    names = {plugs.TOO_FINE.sub("", name) for name in plain_words.sides().values()}
    assert {"vehicle socket", "6.3 mm blade tabs", "barrel socket 2.1 mm"} <= names
    assert len(names) == len(set(plain_words.sides().values())), "no two become one"
    usual = "genderless stackable DC"
    common = [
        plugs.TOO_FINE.sub("", plain_words.sides()[plug]) for plug in ("j563_female", "barrel_2.1_female")
    ]
    assert max(len(f"{name} to {usual}: ● 26, ▲ 11") for name in common) <= 62


@pytest.mark.parametrize(
    ("plug", "told", "carried", "stations"),
    [("barrel_2.1", {}, 5, 0), ("spade_f2", {}, 15, 1), ("barrel_2.1", {"amps_rated": 20.0}, 20, 1)],
)
def test_a_lead_that_tells_no_rating_carries_no_more_than_its_plugs(plug, told, carried, stations):
    battery = BATTERY | {"dc_plug": f"{plug}_male", "amps_rated": 20.0, "charged": pd.Timestamp(TODAY)}
    lead = LEAD | {"dc_plug": f"{plug}_female"} | told
    club = assess(inventory=kit("Q1A", "box", MOBILE | {"amps_tx": 11.0}, battery, lead, ANTENNA, COAX))
    assert club.rows("select amps_rated from item where kind = 'dc_lead'") == [(carried,)]
    assert club.rows("select stations_low, stations_high from station") == [(stations, stations)]


def test_the_fuse_in_a_lead_is_not_taken_to_be_as_small_as_its_plugs():
    lead = {"kind": "clip_lead", "dc_plug": "clips", "dc_plug_far": "j563_female"}
    club = assess(inventory=kit("Q1A", "box", MOBILE, BATTERY | {"dc_plug": "posts"}, lead))
    assert club.rows("select i.amps_rated, f.fuse_a from fuse as f join item as i using (item_id)") == [
        (10, 30)
    ]
