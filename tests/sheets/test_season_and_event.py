"""The review of the season and the packet of an event."""

import io
import re
from dataclasses import replace

import pandas as pd
import pytest
from pypdf import PdfReader

from dashboard import units
from dashboard.sheets import event, packing, season, told
from dashboard.sheets import loadout as loadouts
from rules.plans import loadout
from rules.plans.purchases import Line, Plan
from tests import small_club
from tests.conftest import RACE
from tests.printed import pages, text
from tests.small_club import TODAY


def bought(count: int) -> Plan:
    """A plan of so many lines, with words as long as they come."""
    line = Line(
        "20 Ah battery <b>", "battery_lifepo4", 2, "Q1ABC/go bag with a long name", "member", 160.0, 320.0, True,
        ("Q1ABC/go bag: Battery runs out before the shift ends",) * 6, (), ("Fog Walk/Gate",),
    )  # fmt: skip
    return Plan(
        budget_usd=9000, spent_usd=count * 320.0, member_usd=count * 320.0, club_usd=0, gap=200, promised=50,
        judged=50, bound=50, is_proven=True, ways_tried=9, lines=(line,) * count, closed=(), opened=(), untold=(),
        kits_ready=(), posts_opened=(), posts_before=0, posts_after=0,
    )  # fmt: skip


@pytest.mark.parametrize("name", ["A4", "letter"])
def test_the_season_takes_three_pages(assessment, small, name):
    for one in (small, assessment):
        said = pages(season.review(one, bought(40), name))
        assert len(said) == 3
        for part, at in zip(("What is missing", "What should the club buy", "Which kits"), said, strict=True):
            assert part in at
    assert "more in the dashboard" in said[0] and "more in the dashboard" in said[1]


def test_the_gaps_of_the_season_are_counted_as_the_tally_counts_them(assessment):
    said = pages(season.review(assessment, None))[0]
    shown = assessment.tally().query("severity != 'advice' and not_met > 0 and not_known > 0")
    worst = shown.nlargest(1, "not_met").iloc[0]
    assert re.search(rf"{re.escape(worst.title)} \d+ {worst.not_met} {worst.not_known}\b", said)


def test_the_purchases_of_the_season_are_those_of_the_plan(small):
    said = pages(season.review(small, bought(2)))[1]
    assert "640 USD of 9,000 close 25% of the weighted gap" in said
    assert said.count("20 Ah battery <b> (estimate)") == 2 and said.count(" 320 member") == 2
    assert "Nothing that closes a finding" in pages(season.review(small, bought(0)))[1]


def test_who_may_not_see_purchases_gets_none_with_the_season(small):
    said = pages(season.review(small, None))
    assert len(said) == 2 and "buy" not in " ".join(said)


def test_kits_never_looked_over_come_first_and_late_ones_say_so(assessment):
    said = pages(season.review(assessment, None))[1]
    late = assessment.con.execute(
        "select count(*) from kit where inspected is null or inspected + interval 365 day < ?", [TODAY]
    ).fetchone()[0]
    assert f"{late} of 70 kits are due now" in said
    assert said.index("no day is known") < said.index(", late")


def test_an_event_packet_names_posts_people_kits_runtime_and_go_or_no_go(small):
    said = text(event.packet(small, "Fog Walk"))
    row = small.con.execute("select runtime_low_h, runtime_high_h, runtime.need_h from runtime join post_kit using (post_kit_id) "
                            "join kit using (kit_id) join post using (post_id) where is_assigned and post = 'Gate'").fetchone()  # fmt: skip
    assert f"{told.hours(row[0], row[1])} / {told.needed(row[2])}" in said
    assert "Q1ABC, go bag" in said and "nobody yet" in said
    assert "3 km / 2 km: past it" in said
    assert "-4 °C / 0 °C: past it" in said
    assert "12 °C / 30 °C" in said and "12 °C / 30 °C: past it" not in said
    assert "no go" in said and "Lightning:" in said
    assert "Where is somebody still wanted?" in said


def test_hours_that_other_posts_take_are_said_where_they_are_asked_for():
    sent = {"runtime_low_h": 20.35, "runtime_high_h": 240.0, "need_h": 10.0, "elsewhere_h": 4.5}
    assert told.shift_needs(sent) == "10.0 h with other posts"
    for none in (0.0, None):
        assert told.shift_needs(sent | {"elsewhere_h": none}) == "10.0 h"


@pytest.mark.parametrize("weight", [None, 0.5])
def test_go_or_no_go_says_what_is_not_known_and_dashes_only_what_nobody_asks(weight):
    far = {"event": "Ride", "post_type": "aid_station", "access": "walk"}
    road = far | {"post": "Road", "access": "drive"}
    limits = {"walk_limit_km": 5.0, "cold_limit_c": -10.0, "heat_limit_c": 35.0}
    heavy = small_club.kit("QA1BC", "Bag", small_club.MOBILE | {"weight_kg": 15.2}, {"kind": "battery"})
    light = small_club.kit(
        "QB2CD", "Sack", {"kind": "battery", "weight_kg": weight}, {"kind": "battery", "item": "spare"}
    )
    sent = {"event": "Ride", "post": "Hut", "member": "QA1BC", "kit": "Bag"}
    club = small_club.assess(
        inventory=[*heavy, *light],
        members=[
            {"member": "QA1BC", "carry_limit_kg": 5.0, **limits},
            {"member": "QB2CD", "carry_limit_kg": 6.0, **limits},
            {"member": "QC3EF", **limits},
        ],
        events=[small_club.EVENT],
        posts=[far | {"post": "Hut"}, road],
        assignments=[
            sent, {**sent, "member": "QB2CD", "kit": "Sack"},
            {"event": "Ride", "post": "Road", "member": "QC3EF"},
        ],
    )  # fmt: skip
    said = re.sub(r"\s+", " ", text(event.packet(club, "Ride"))).split("Go or no go")[1]
    rows = re.split("QA1BC Hut|QB2CD Hut|QC3EF Road", said)[1:]
    unknown = "not known / -10 °C not known / 35 °C"
    own = "not known" if weight is None else "0.5 kg or more"
    assert rows[0].strip().startswith(f"not known / 5 km 15.2 kg or more / 5 kg: past it {unknown}")
    assert rows[1].strip().startswith(f"not known / 5 km {own} / 6 kg {unknown}")
    assert rows[2].strip().startswith(f"- - {unknown}")
    packed = [re.sub(r"\s+", " ", text(packing.packing(club, number))) for number in (1, 2, 3)]
    assert "to carry 15.2 kg or more" in packed[0]
    assert f"to carry {own}" in packed[1] and "to carry" not in packed[2]


def test_what_goes_along_with_a_runner_is_carried_however_one_gets_to_the_start():
    bag = small_club.kit("QA1BC", "Bag", small_club.MOBILE | {"weight_kg": 15.2})
    club = small_club.assess(
        inventory=bag,
        members=[
            {
                "member": "QA1BC",
                "carry_limit_kg": 5.0,
                "walk_limit_km": 8.0,
                "cold_limit_c": -9.0,
                "heat_limit_c": 31.0,
            }
        ],
        events=[small_club.EVENT | {"temp_min_c": 2.0, "temp_max_c": 30.0}],
        posts=[{"event": "Ride", "post": "First", "post_type": "shadow", "access": "drive", "walk_km": 7.0}],
        assignments=[{"event": "Ride", "post": "First", "member": "QA1BC", "kit": "Bag"}],
    )
    said = text(event.packet(club, "Ride"))
    limits = "7 km / 8 km: near it 15.2 kg / 5 kg: past it 2 °C / -9 °C 30 °C / 31 °C: near it"
    assert f"QA1BC First {limits}" in said and "Carrying and walking:" in said
    packed = text(packing.packing(club, 1))
    assert "to carry 15.2 kg own limit 5.0 kg" in packed and "Carrying and walking:" in packed


def test_what_can_hurt_with_what_is_brought_stands_wherever_it_is_listed():
    things = ({"kind": "generator"}, {"kind": "mast_metal"}, small_club.HANDHELD)
    sent = {"event": "Ride", "post": "Hut", "member": "QA1BC"}
    club = small_club.assess(
        inventory=[*small_club.kit("QA1BC", "Box", *things), *small_club.kit("QA1BC", "Bag", small_club.HANDHELD)],
        events=[small_club.EVENT | {"storms_possible": False}],
        posts=[
            {"event": "Ride", "post": "Hut", "post_type": "aid_station"},
            {"event": "Ride", "post": "Gate", "post_type": "mile_marker", "beside_traffic": True},
        ],
        assignments=[sent | {"kit": "Box"}],
    )  # fmt: skip
    found = loadout.loadout(club, "QA1BC/Box", "Ride/Hut")
    held = club.table("item").merge(club.table("kit")[["kit_id", "kit"]])
    whole = replace(found, packing=held[held["kit"] == "Box"])
    sheets = {
        "packet": event.packet(club, "Ride"),
        "packing list": packing.packing(club, 1),
        "load-out": loadouts.packing(whole, club),
    }
    for name, sheet in sheets.items():
        said = text(sheet)
        for caution in ("Mains and generators:", "Masts and antennas:", "RF exposure:"):
            assert caution in said, (name, caution)
    assert "Beside traffic:" in text(sheets["packet"]), "where nobody is sent yet, too"
    light = replace(found, packing=held[held["kit"] == "Bag"])
    assert "Mains and generators:" not in text(loadouts.packing(light, club))


def test_a_packet_says_from_when_on_somebody_is_wanted():
    hours = {name: {"from": pd.Timestamp(f"2027-04-25 {start}:00"), "to": pd.Timestamp(f"2027-04-25 {end}:00")}
             for name, start, end in (("QA1BC", "06", "12"), ("QB2CD", "06", "08"), ("QC3EF", "09", "12"))}  # fmt: skip
    sent = {"event": "Ride", "post": "Hut"}
    whole = {"event": "Ride", "post_type": "aid_station", "operators": 2}
    club = small_club.assess(
        members=[{"member": member} for member in hours],
        events=[small_club.EVENT],
        posts=[whole | {"post": "Hut"}, whole | {"post": "Gate", "operators": 1}],
        assignments=[sent | {"member": member} | at for member, at in hours.items()],
    )
    said = text(event.packet(club, "Ride")).split("Where is somebody still wanted?")[1]
    assert "Hut 1.0 h, first from Sun 2027-04-25 08:00 Gate" in said
    everywhere = "6.0 h, first from Sun 2027-04-25 06:00"
    assert f"Gate {everywhere} {everywhere}" in said


def test_a_distance_to_keep_is_rounded_up_and_the_same_on_packet_and_packing_list():
    post = {"event": "Ride", "post": "Hut", "post_type": "aid_station", "bands": "2m", "mast_m": 6.0}
    things = (small_club.MOBILE, small_club.BATTERY, small_club.LEAD, small_club.COAX, small_club.ANTENNA)
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *things),
        events=[small_club.EVENT],
        posts=[post],
        assignments=[{"event": "Ride", "post": "Hut", "member": "QA1BC", "kit": "Bag"}],
    )
    (clear_m,), (keep_m,) = (
        club.rows(f"select {of}") for of in ("clear_m from fall_zone", "public_safe_m from exposure")
    )
    made = event.packet(club, "Ride"), packing.packing(club, 1)
    with units.chosen(True):
        made += event.packet(club, "Ride"), packing.packing(club, 1)
    in_packet, on_list = (
        r"people ([\d.]+) (?:m|ft) power line (\d+) ",
        r"antenna to people ([\d.]+) (?:m|ft) or more mast to power line (\d+) ",
    )
    for sheet, where, one in zip(
        map(text, made), (in_packet, on_list) * 2, (1.0, 1.0, units.FOOT_M, units.FOOT_M), strict=True
    ):
        antenna, line = map(float, re.search(where, sheet).groups())
        assert clear_m[0] <= line * one < clear_m[0] + one, sheet
        assert keep_m[0] <= antenna * one < keep_m[0] + one / 10
    assert "power line 12 m" in text(made[0]) and f"{clear_m[0]:.2f}" == "11.05"
    for caution in ("Lightning:", "Beside traffic:", "Heat and cold:"):
        assert caution in text(made[1]), "nobody tells of it"
    assert "Channels: not known" in text(made[1]) and "Also sent there: nobody" in text(made[1])


def test_who_shares_a_load_is_held_to_the_limits_of_all_of_them():
    box = small_club.kit(
        "QA1BC", "Box", small_club.MOBILE | {"weight_kg": 6.0}, small_club.BATTERY | {"weight_kg": 6.0}
    )
    sent = {"event": "Ride", "post": "Hut", "kit": "Box", "kit_owner": "QA1BC"}
    late = {"from": pd.Timestamp("2027-04-25 10:00"), "to": small_club.EVENT["ends"]}
    early = {"from": small_club.EVENT["starts"], "to": late["from"]}
    club = small_club.assess(
        inventory=box,
        members=[{"member": member, "carry_limit_kg": 7.0} for member in ("QA1BC", "QB2CD")]
        + [{"member": "QC3EF", "carry_limit_kg": 20.0}],
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": "Hut", "post_type": "aid_station", "access": "walk"}],
        assignments=[
            sent | early | {"member": "QA1BC"}, sent | early | {"member": "QB2CD"},
            sent | late | {"member": "QC3EF"},
        ],
    )  # fmt: skip
    said = re.sub(r"\s+", " ", text(event.packet(club, "Ride"))).split("Go or no go")[1]
    assert said.count("12 kg / 14 kg (2 together)") == 2 and "12 kg / 20 kg" in said and "past it" not in said
    packed = [re.sub(r"\s+", " ", text(packing.packing(club, number))) for number in (2, 3)]
    assert "to carry 12.0 kg, shared by 2 their limit 14.0 kg" in packed[0]
    assert "to carry 12.0 kg own limit 20.0 kg" in packed[1]


def test_of_those_who_bring_a_kit_in_turn_each_is_held_to_their_own_limit():
    """Two pairs and one who can carry least, and has another kit along: each turn shares or bears alone what it brings."""
    box = small_club.kit(
        "QA1BC", "Box", small_club.MOBILE | {"weight_kg": 6.0}, small_club.BATTERY | {"weight_kg": 6.0}
    )
    sack = small_club.kit("QE5GH", "Sack", small_club.HANDHELD | {"weight_kg": 1.0})
    limits = {"QA1BC": 7.0, "QB2CD": 7.0, "QC3DE": 9.0, "QD4EF": 8.0, "QE5GH": 5.0}
    hours = {"QA1BC": (6, 8), "QB2CD": (6, 8), "QC3DE": (8, 10), "QD4EF": (8, 10), "QE5GH": (10, 12)}
    sent = {"event": "Ride", "post": "Hut"}
    told = {
        member: {"member": member}
        | {
            name: pd.Timestamp(f"2027-04-25 {at:02}:00")
            for name, at in zip(("from", "to"), span, strict=True)
        }
        for member, span in hours.items()
    }
    club = small_club.assess(
        inventory=box + sack,
        members=[{"member": member, "carry_limit_kg": limit} for member, limit in limits.items()],
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": "Hut", "post_type": "aid_station", "access": "walk"}],
        assignments=[
            *(sent | who | {"kit": "Box", "kit_owner": "QA1BC"} for who in told.values()),
            sent | told["QE5GH"] | {"kit": "Sack"},
        ],
    )  # fmt: skip
    packed = [re.sub(r"\s+", " ", text(packing.packing(club, number))) for number in (1, 3, 5, 6)]
    asked = (
        "12.0 kg, shared by 2 their limit 14.0 kg",
        "12.0 kg, shared by 2 their limit 17.0 kg",
        "13.0 kg own limit 5.0 kg",
        "13.0 kg own limit 5.0 kg",
    )
    for said, load in zip(packed, asked, strict=True):
        assert f"to carry {load}" in said
    said = re.sub(r"\s+", " ", text(event.packet(club, "Ride"))).split("Go or no go")[1]
    assert said.count("12 kg / 14 kg (2 together)") == said.count("12 kg / 17 kg (2 together)") == 2
    assert said.count("13 kg / 5 kg: past it") == 2


def test_every_post_and_person_of_an_event_is_in_its_packet(assessment):
    said = text(event.packet(assessment, RACE, "letter"))
    posts = assessment.con.execute("select post from post where event = ?", [RACE]).fetchall()
    people = assessment.con.execute("select distinct member from assignment join member using (member_id) join event using "
                               "(event_id) where event = ?", [RACE]).fetchall()  # fmt: skip
    assert [name for (name,) in posts + people if name not in said] == []


def test_who_comes_to_a_post_twice_stands_there_once(assessment):
    said = re.sub(r"\s+", " ", text(event.packet(assessment, "Gorse Hill Trail Run")))
    posts = said.split("Where is somebody still wanted?")[0]
    assert posts.count("QC8MRS, Field office") == 1


def test_a_packet_says_what_was_agreed_for_each_post(assessment):
    said = re.sub(r"\s+", " ", text(event.packet(assessment, RACE)))
    agreed = assessment.con.execute(
        "select count(check_in_min), count(*) filter (power_setting = 'low'), count(*) filter (has_vehicle) "
        "from post where event = ?",
        [RACE],
    ).fetchone()
    assert min(agreed) > 0
    shown = (
        len(re.findall(r"check in every \d+ min", said)),
        said.count("at low power"),
        said.count("a vehicle stays"),
    )
    assert shown == agreed


def test_a_packet_says_how_help_is_called_and_when_the_action_starts():
    begins = {"action_starts": pd.Timestamp("2027-04-25 07:30"), "packets_sent": pd.Timestamp("2027-04-18")}
    begins |= {
        "channel": "hill <repeater>",
        "channel_simplex": "valley",
        "ends": pd.Timestamp("2027-04-25 12:15"),
    }
    hut = {
        "post": "Hut",
        "post_type": "remote",
        "missed_check_in": "call <twice>, then go",
        "alert_path": "agency_radio",
    }
    club = small_club.assess(events=[small_club.EVENT | begins], posts=[{"event": "Ride", **hut}])
    said = re.sub(r"\s+", " ", text(event.packet(club, "Ride")))
    assert "if none comes: call <twice>, then go" in said and "other way to call: agency radio" in said
    assert "action starts" in said and "07:30" in said and "packets sent" in said
    assert "Channels: net hill <repeater>; simplex valley" in said and "if it fails" not in said
    assert "Sun 06:00 to 12:15 6.3 h" in said and said.count("6.3 h, first from Sun 2027-04-25 06:00") == 2


def test_a_packet_says_where_posts_stand_what_tells_of_a_storm_and_what_is_asked_of_all():
    told = {
        "storms_possible": True,
        "storm_watch": "weather_service",
        "waiver_asked": True,
        "training_asked": "is100",
    }
    missed = "call twice, then ask the sweep to look on its way down, and after 15 min call the sheriff's desk on the landline"
    hut = {
        "event": "Ride",
        "post": "Hut",
        "post_type": "remote",
        "site": "<old> quarry",
        "missed_check_in": missed,
    }
    said = re.sub(
        r"\s+",
        " ",
        text(event.packet(small_club.assess(events=[small_club.EVENT | told], posts=[hut]), "Ride")),
    )
    assert "<old> quarry" in said and missed in said
    assert "storm watch" in said and "weather service" in said
    assert "asked of all" in said and "waiver, is100" in said
    fair = small_club.EVENT | {"storms_possible": False}
    said = text(event.packet(small_club.assess(events=[fair], posts=[hut]), "Ride"))
    assert "storm watch" not in said and "asked of all" not in said


def test_a_packet_says_what_the_briefing_must_say():
    said = re.sub(r"\s+", " ", text(event.packet(small_club.assess(events=[small_club.EVENT]), "Ride")))
    for words in ("Nobody is paid", "at least every ten minutes", "a cross-band node or portable repeater identifies too",
                  "bib number and exact place", "No names and no medical detail", "exact place before medical is called"):  # fmt: skip
        assert words in said, words


def test_a_packet_says_where_people_go_in_a_storm_where_that_is_not_the_shelter_of_the_event():
    posts = [{"event": "Ride", "post": post, "post_type": "remote"} for post in ("Hut", "Barn", "Car", "Top")]
    posts[1] |= {"shelter": "<old> barn"}
    posts[2] |= {"vehicle": True}
    posts[3] |= {"shelter": "none"}
    ford = {"event": "Ride", "post": "Ford", "post_type": "aid_station"}
    told = small_club.EVENT | {"shelter": "school"}

    def said(**more: object) -> str:
        return re.sub(
            r"\s+",
            " ",
            text(event.packet(small_club.assess(events=[told | more], posts=[*posts, ford]), "Ride")),
        )

    for place in ("not known", "<old> barn", "the vehicle that stays", "none"):
        assert f"in a storm: {place}" in said()
    assert said().count("in a storm") == 4 and "in a storm" not in said(storms_possible=False)


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_no_page_of_a_packet_is_left_nearly_empty(assessment, size):
    said = pages(event.packet(assessment, RACE, size))
    assert [len(page) for page in said[:-1] if len(page) < 600] == []


def test_a_post_with_a_crowd_goes_on_in_another_row(small, monkeypatch):
    real = told.rows

    def many(club, sql, *given):
        found = real(club, sql, *given)
        if not sql.startswith(packing.SENT):
            return found
        return [row | {"member": f"{row['member']}{n}"} for n in range(90) for row in found]

    monkeypatch.setattr(told, "rows", many)
    said = text(event.packet(small, "Fog Walk"))
    assert said.count("Gate, more") == 8


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_what_was_agreed_for_a_post_has_room_for_several_words_a_line(size):
    hut = {"event": "Ride", "post": "Hut", "post_type": "remote", "missed_check_in": "call twice, then look"}
    packet = event.packet(small_club.assess(events=[small_club.EVENT], posts=[hut]), "Ride", size)
    lines = [
        line for page in PdfReader(io.BytesIO(packet)).pages for line in page.extract_text().splitlines()
    ]
    assert any("if none comes: call twice" in line for line in lines)


@pytest.mark.parametrize(
    ("mains", "said_there", "said_on_the_list"),
    [
        (None, "at least {low} / 6.0 h may be short; nobody tells whether the post has mains",
         "at least {low}; nobody tells whether the post has mains"),
        (False, "{low} / 6.0 h short", "{low}"),
        (True, "mains", "mains"),
    ],
)  # fmt: skip
def test_hours_that_nobody_tells_of_mains_for_are_the_least_with_what_is_to_be_asked(
    mains, said_there, said_on_the_list
):
    radio = small_club.MOBILE | {"amps_tx": 6.3, "amps_rx": 6.3, "amps_idle": 6.3}
    battery = small_club.BATTERY | {
        "amps_rated": 40.0, "capacity_ah": 14.0, "chemistry": "lifepo4", "charged": pd.Timestamp(TODAY),
        "acquired": pd.Timestamp("2027-01-01"),
    }  # fmt: skip
    lead, supply = small_club.LEAD | {"amps_rated": 30.0}, {"kind": "supply_30a", "dc_plug": "genderless_30"}
    things = [radio, battery, lead, supply, small_club.FUSE, small_club.COAX, small_club.ANTENNA]
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *things),
        events=[small_club.EVENT | {"temp_min_c": 20.0, "temp_max_c": 20.0}],
        posts=[{"event": "Ride", "post": "Hut", "post_type": "aid_station", "bands": "2m", "modes": "fm", "mains": mains}],
        assignments=[{"event": "Ride", "post": "Hut", "member": "QA1BC", "kit": "Bag"}],
    )  # fmt: skip
    there, packed = (
        re.sub(r"\s+", " ", text(sheet)) for sheet in (event.packet(club, "Ride"), packing.packing(club, 1))
    )
    low = told.amount(club.table("runtime")["runtime_low_h"].iloc[0], "h", 1)
    assert f"Bag: {said_there.format(low=low)}" in there
    assert f"kit lasts there {said_on_the_list.format(low=low)}" in packed.replace(" (assumed figures)", "")


def test_an_event_without_posts_still_has_a_packet(small):
    assert "=cmd|Walk" in text(event.packet(small, "=cmd|Walk"))
