"""What a post asks must be met by one radio that stands on a complete station there: small clubs known by thought."""

from itertools import product
from typing import Any

import numpy as np
import pandas as pd
import pytest

from rules import engine
from rules.engine import Assessment
from rules.facts import sharing, teams
from rules.plans import posts, staffing
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE, PACK, Club

WHIP = {"kind": "whip", "module": "radio"}
BASE = (MOBILE, BATTERY | {"amps_rated": 40.0}, LEAD | {"amps_rated": 30.0}, FUSE, COAX, ANTENNA)
HF_RADIO = {"kind": "hf_100w", "dc_plug": "genderless_30", "rf_plug": "so239", "amps_tx": 22.0}
DIPOLE = {"kind": "dipole", "rf_plug": "so239", "bands": "80m 40m"}
HF = (HF_RADIO, BATTERY | {"item": "HF battery", "amps_rated": 40.0}, COAX | {"item": "HF coax"}, DIPOLE)
WARM = EVENT | {"temp_min_c": 20.0}
FORD = {"event": "Ride", "post": "Ford", "bands": "2m", "modes": "fm", "power_setting": "high"}


def at_post(*things: dict[str, Any], ends: pd.Timestamp = EVENT["ends"], **post: Any) -> Club:
    """A club with one kit, which is sent to the only post for all of its hours, until the event ends."""
    return small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *things),
        events=[WARM | {"ends": ends}],
        posts=[FORD | post],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
    )


def said(club: Club, *rules: str) -> list[str]:
    """What the rules answer on the post and the kit there."""
    found = {one.rule: one.status for one in club.answers(*rules)}
    return [found.get(rule, "left out") for rule in rules]


def answers_at(
    posts: dict[str, tuple[list[tuple[dict[str, Any], ...]], dict[str, Any]]], *rules: str
) -> dict[str, list[list[str]]]:
    """Several posts, by name, with the kits that are sent there and what is told of each: what each rule answers on all of it."""
    sent = [
        {"event": "Ride", "post": post, "member": f"QA{at}BC", "kit": f"Bag {number}", "things": things}
        for at, (post, (kits, _)) in enumerate(posts.items(), 1)
        for number, things in enumerate(kits)
    ]
    club = small_club.assess(
        inventory=[row for one in sent for row in small_club.kit(one["member"], one["kit"], *one["things"])],
        events=[WARM],
        posts=[FORD | told | {"post": post} for post, (_, told) in posts.items()],
        assignments=[{name: one[name] for name in ("event", "post", "member", "kit")} for one in sent],
    )
    found = club.answers(*rules)
    return {
        post: [sorted(one.status for one in found if (one.post, one.rule) == (post, rule)) for rule in rules]
        for post in posts
    }


def test_a_post_on_another_band_than_the_antenna_has_no_station() -> None:
    asked = ("kit_without_the_band", "nobody_brings_a_station")
    assert said(at_post(*HF, bands="40m", modes=None), *asked) == ["met", "met"]
    assert said(at_post(*HF, bands="20m", modes=None), *asked) == ["not met", "not met"]
    on_70cm = ANTENNA | {"bands": "70cm"}
    assert said(at_post(*BASE[:-1], on_70cm), *asked) == ["not met", "not met"]
    assert said(at_post(*BASE, on_70cm | {"item": "other"}), *asked) == ["met", "met"]
    assert said(at_post(*BASE[:-1], ANTENNA | {"bands": "2m"}, bands="2m 70cm"), *asked)[0] == "not met"


def test_each_band_may_have_an_antenna_of_its_own() -> None:
    single = [ANTENNA | {"item": band, "bands": band} for band in ("2m", "70cm")]
    club = at_post(*BASE[:-1], *single, bands="2m 70cm")
    assert said(club, "kit_without_the_band", "nobody_brings_a_station") == ["met", "met"]


def test_a_radio_with_a_whip_of_its_own_counts_by_its_bands() -> None:
    held = HANDHELD | {"rf_plug": "builtin"}
    asked = ("kit_without_the_band", "nobody_brings_a_station")
    assert said(at_post(held, PACK), *asked) == ["met", "met"]
    assert said(at_post(held, PACK, bands="40m"), *asked) == ["not met", "not met"]


def test_a_station_on_another_band_is_no_second_way() -> None:
    asked = ("post_without_a_second_way", "post_hangs_on_one_small_part", "kit_without_the_band")
    club = at_post(*BASE, *HF, post_type="medical", rf_watts_min=25.0)
    assert club.table("station")["stations_low"].tolist() == [2]
    assert said(club, *asked) == ["not met", "not met", "met"]
    lasting = PACK | {"capacity_ah": 10.0}
    both = at_post(*BASE, HANDHELD, lasting, WHIP, post_type="medical", rf_watts_min=25.0)
    assert said(both, *asked) == ["met", "met", "met"]


def test_a_strong_radio_that_nothing_feeds_has_no_power() -> None:
    held = (HANDHELD, PACK, WHIP)
    asked = ("kit_below_the_power", "nobody_brings_a_station", "kit_without_the_mode")
    club = at_post(MOBILE, *held, post_type="sag", rf_watts_min=25.0)
    assert said(club, *asked) == ["not met", "met", "met"]
    assert club.table("post_kit")["rf_watts"].tolist() == [5.0]
    assert said(at_post(*BASE, *held, post_type="sag", rf_watts_min=25.0), *asked) == ["met", "met", "met"]


def test_a_data_radio_that_nothing_joins_has_no_mode() -> None:
    data = {"kind": "mobile_data", "dc_plug": "t_plug_male", "rf_plug": "so239", "modes": "packet fm"}
    asked = ("kit_without_the_mode", "nobody_brings_a_station", "kit_without_the_band")
    assert said(at_post(*BASE, data, modes="packet"), *asked) == ["not met", "not met", "met"]
    joined = data | {"dc_plug": "genderless_30"}
    assert said(at_post(*BASE, joined, modes="packet"), *asked) == ["met", "met", "met"]


def test_a_kit_without_any_station_is_told_so_once() -> None:
    club = at_post(MOBILE, ANTENNA, COAX, post_type="sag", rf_watts_min=25.0)
    asked = ("kit_without_the_band", "kit_without_the_mode", "kit_below_the_power")
    assert said(club, *asked) == ["met", "met", "met"]
    assert said(club, "nobody_brings_a_station") == ["not met"]


def test_a_plug_that_is_not_told_on_the_way_to_the_band_leaves_it_open() -> None:
    wire = {"kind": "end_fed_wire", "rf_plug": "so239", "bands": "20m"}
    things = (HF_RADIO | {"dc_plug": None}, *HF[1:3], wire)
    club = at_post(*things, HANDHELD, PACK, WHIP, bands="20m", modes=None)
    assert pd.isna(club.table("post_kit")["has_band"].iloc[0])
    assert said(club, "kit_without_the_band", "nobody_brings_a_station") == ["not known", "not known"]


def test_a_strong_radio_that_may_be_fed_leaves_the_power_open() -> None:
    asked = ("kit_below_the_power", "kit_without_the_band")
    open_plug = MOBILE | {"dc_plug": None}
    club = at_post(open_plug, *BASE[1:], HANDHELD, PACK, WHIP, rf_watts_min=25.0)
    assert said(club, *asked) == ["not known", "met"]


def lasts(club: Club) -> list[float]:
    """Hours on the air of each kit at its post, by kit."""
    rows = club.rows(
        "select runtime_h from runtime join post_kit as pk using (post_kit_id) join kit using (kit_id) order by kit.kit"
    )
    return [float(hours) for (hours,) in rows]


def two_kits(*second: dict[str, Any], ends: str = "2027-04-25 12:00", **post: Any) -> Club:
    """BASE, and another kit that is sent to the same post, for all of its hours unless it ends before."""
    kits = {"A": BASE, "B": second}
    return small_club.assess(
        inventory=[row for name, things in kits.items() for row in small_club.kit("QA1BC", name, *things)],
        events=[WARM],
        posts=[FORD | post],
        assignments=[
            {"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": name, "to": pd.Timestamp(until)}
            for name, until in zip(kits, (EVENT["ends"], ends), strict=True)
        ],
    )


def test_a_bag_of_other_things_beside_a_station_makes_its_post_no_worse() -> None:
    asked = ("no_complete_station", "no_second_radio", "nothing_for_the_air")
    for other, answers in (
        ({"kind": "generator"}, {"nothing_for_the_air": "not met"}),
        (ANTENNA, {"no_complete_station": "not met", "no_second_radio": "not met"}),
        (MOBILE | {"condition": "removed"}, {"no_complete_station": "not met", "no_second_radio": "not met"}),
    ):
        club = two_kits({"kind": "first_aid"}, other)
        found = {one.rule: one.status for one in club.answers(*asked) if one.kit == "B"}
        assert found == {"nothing_for_the_air": "met"} | answers
        assert said(club, "nobody_brings_a_station") == ["met"]


def test_the_hours_are_those_of_the_radio_that_has_the_power() -> None:
    weak = BATTERY | {"capacity_ah": 7.0, "amps_rated": 40.0}
    packs = PACK | {"quantity": 4, "capacity_ah": 3.0}
    things = (MOBILE, weak, *BASE[2:], HANDHELD, packs, WHIP)
    asked = ("runs_out_before_the_shift_ends", "kit_below_the_power")
    duty = {"post_type": "sag", "bands": "2m"}
    strong = at_post(*things, rf_watts_min=25.0, **duty)
    assert said(strong, *asked) == ["not met", "met"]
    assert lasts(strong)[0] < 6 < lasts(at_post(*things, rf_watts_min=5.0, **duty))[0]
    assert said(at_post(*things, rf_watts_min=5.0, **duty), *asked) == ["met", "met"]


def test_whether_a_station_lasts_longer_than_hours_are_worked_out_is_not_known() -> None:
    """Of 300 h: one ends after some 17, two may last; at a post that needs two ways so may both."""
    until = EVENT["starts"] + pd.Timedelta(hours=300)
    for amp_hours, answer in ((20.0, "not met"), (400.0, "not known"), (5000.0, "not known")):
        things = (MOBILE, BATTERY | {"capacity_ah": amp_hours, "amps_rated": 40.0}, *BASE[2:])
        kit = [thing | {"item": f"{thing['kind']} {side}"} for side in (1, 2) for thing in things]
        club = at_post(*kit, ends=until, post_type="medical", bands="2m")
        assert said(club, *OF_TWO) == [answer] * 2
        assert said(at_post(*things, post_type="medical", bands="2m"), OF_TWO[0]) == ["met"]
    (told,) = club.answers(OF_TWO[0])
    assert told.sentence.endswith("are not known: no more than 240 h are worked out.")


def test_whether_a_kit_lasts_longer_than_hours_are_worked_out_is_not_known() -> None:
    things = (MOBILE, BATTERY | {"capacity_ah": 5000.0, "amps_rated": 40.0}, *BASE[2:])
    for hours, answer in ((200.0, "met"), (300.0, "not known")):
        club = small_club.assess(
            inventory=small_club.kit("QA1BC", "Bag", *things),
            kits=[{"member": "QA1BC", "kit": "Bag", "hours": hours}],
        )
        assert each(club, "short_of_its_own_hours") == [answer]


WEAK = {"capacity_ah": 2.0, "amps_rated": 40.0}
SECOND = tuple(thing | {"item": f"other {thing['kind']}"} for thing in (MOBILE, BATTERY | WEAK, *BASE[2:]))
OF_TWO = ("runs_out_before_the_shift_ends", "post_without_a_second_way")


def each(club: Club, rule: str) -> list[str]:
    """What a rule answers on each kit at the post."""
    return sorted(one.status for one in club.answers(rule))


def told(club: Club) -> list[tuple[int, int]]:
    """Ways that last, at least and at most, of each kit at the post, by kit."""
    return club.rows(
        "select ways_low, ways_high from runtime join post_kit as pk using (post_kit_id) join kit using (kit_id) order by kit.kit"
    )


def test_a_weak_second_way_is_no_way_and_makes_a_kit_no_worse() -> None:
    """Six hours at 22 W are some 11 Ah: 20 Ah last, 2 Ah do not."""
    alone, both = (at_post(*BASE, *more, post_type="medical") for more in ((), SECOND))
    assert said(alone, *OF_TWO) == said(both, *OF_TWO) == ["met", "not met"]
    assert lasts(both)[0] > lasts(alone)[0]
    assert (told(alone), told(both)) == ([(1, 1)], [(1, 1)])
    strong = (
        *BASE,
        *(thing | {"capacity_ah": 20.0} if "capacity_ah" in thing else thing for thing in SECOND),
    )
    assert said(at_post(*strong, post_type="medical"), *OF_TWO) == ["met", "met"]


def test_of_two_kits_the_second_is_told_once_where_it_ends_too_early() -> None:
    strong, weak = two_kits(*BASE, post_type="medical"), two_kits(*SECOND, post_type="medical")
    assert each(strong, OF_TWO[0]) == each(weak, OF_TWO[0]) == ["met"]
    assert (said(strong, OF_TWO[1]), said(weak, OF_TWO[1])) == (["met"], ["not met"])
    assert (told(strong), told(weak)) == ([(1, 1), (1, 1)], [(1, 1), (0, 0)])
    assert each(two_kits(*SECOND, post_type="aid_station"), OF_TWO[0]) == ["met"]


def test_a_second_way_of_which_the_hours_are_not_known_is_not_known() -> None:
    untold = PACK | {"condition": "unknown", "capacity_ah": 10.0}
    beside = two_kits(HANDHELD, untold, WHIP, post_type="medical")
    within = at_post(*BASE, HANDHELD, untold, WHIP, post_type="medical")
    for club in (beside, within):
        assert (each(club, OF_TWO[0]), said(club, OF_TWO[1])) == (["met"], ["not known"])


HELD = HANDHELD | {"amps_tx": 1.5, "amps_rx": 0.2, "amps_idle": 0.05}


def pack(share: float, **told: Any) -> dict[str, Any]:
    """A pack that runs HELD for this share of six hours at a medical post, as hours go by its capacity."""
    six_hours = 2.5 * 6 / lasts(at_post(HELD, PACK | {"capacity_ah": 2.5}, WHIP, post_type="medical"))[0]
    return PACK | {"capacity_ah": share * six_hours} | told


@pytest.mark.parametrize(
    ("share", "answer"), [(0.7, "not met"), (0.9, "not known"), (1.1, "not known"), (1.5, "met")]
)
def test_a_second_way_lasts_for_certain_at_the_low_end_of_its_hours_alone(share: float, answer: str) -> None:
    """How old the pack is nobody tells, so its hours may be a fifth more or less."""
    club = at_post(*BASE, HELD, pack(share), WHIP, post_type="medical")
    assert said(club, OF_TWO[1]) == [answer]


@pytest.mark.parametrize(
    ("packs", "answers"),
    [(1, ["not met", "not met"]), (2, ["met", "not met"]), (3, ["met", "not met"]), (4, ["met", "met"])],
)
def test_two_ways_on_the_same_packs_are_two_where_these_carry_both(packs: int, answers: list[str]) -> None:
    """Each pack runs a handheld for 0.7 of its hours."""
    new = pack(0.7, acquired=pd.Timestamp(small_club.TODAY), quantity=packs)
    club = at_post(HELD | {"quantity": 2}, new, WHIP | {"quantity": 2}, post_type="medical")
    assert said(club, *OF_TWO) == answers


def test_two_handhelds_on_one_antenna_are_no_two_ways_where_the_mobile_beside_them_ends() -> None:
    weak = (MOBILE, BATTERY | WEAK, *BASE[2:])
    held = (HELD | {"quantity": 2}, PACK | {"capacity_ah": 10.0, "quantity": 2})
    one, each = (at_post(*weak, *held, WHIP | {"quantity": n}, post_type="medical") for n in (1, 2))
    assert (told(one), told(each)) == ([(1, 2)], [(2, 2)])
    assert told(at_post(*BASE, *held, WHIP, post_type="medical")) == [(2, 2)]


def test_a_second_radio_on_the_only_battery_is_no_second_way() -> None:
    pair = (MOBILE | {"quantity": 2}, *BASE[1:4], COAX | {"quantity": 2}, ANTENNA | {"quantity": 2})
    club = at_post(*pair, post_type="medical")
    assert (told(club), said(club, *OF_TWO)) == ([(1, 1)], ["met", "not met"])
    assert lasts(club) == pytest.approx(lasts(at_post(*BASE, post_type="medical")))


NEW = {"acquired": pd.Timestamp(small_club.TODAY)}
CLUB_PLUGS = {"dc_plug": "genderless_30", "dc_plug_far": "genderless_30"}
SOCKET_LEAD = {
    "kind": "socket_lead",
    "dc_plug": "j563_male",
    "dc_plug_far": "genderless_30",
    "amps_rated": 10.0,
}
CLIP_LEAD = SOCKET_LEAD | {"kind": "clip_lead", "dc_plug": "clips", "amps_rated": 30.0}
BOOSTER = {"kind": "boost_converter", "amps_rated": 25.0} | CLUB_PLUGS
STATION = {
    "kind": "power_station",
    "capacity_ah": 6.0,
    "chemistry": "lifepo4",
    "volts_min": 12.0,
    "volts_max": 14.4,
}
POWER_STATION = STATION | NEW | {"dc_plug": "genderless_30", "amps_rated": 30.0}
SMALL = BATTERY | NEW | {"capacity_ah": 6.0, "amps_rated": 40.0}
CHARGER, GENERATOR = (
    {"kind": "charger_lifepo4", "amps_rated": 20.0},
    {"kind": "generator", "volts_min": 110.0},
)
HELD_LEAD = {"kind": "handheld_dc_lead", "dc_plug": "pack_latch", "dc_plug_far": "j563_male"}

TWO_MOBILES = (
    MOBILE | {"amps_tx": 11.0, "amps_rx": 0.6, "amps_idle": 0.4, "quantity": 2},
    *(thing | {"quantity": 2} for thing in (LEAD | {"amps_rated": 30.0}, FUSE, COAX, ANTENNA)),
)


def pair(*more: dict[str, Any]) -> list[tuple[int, int]]:
    """Ways that last a day, of two mobiles in one kit at a relay: each draws 0.4 x 11 + 0.1 x 0.6 + 0.5 x 0.4 = 4.66 A."""
    day = {"ends": EVENT["starts"] + pd.Timedelta(hours=24), "post_type": "relay", "mains": False}
    return told(at_post(*TWO_MOBILES, *more, vehicle=True, **day))


@pytest.mark.parametrize(
    ("more", "ways"),
    [
        ((SMALL | {"quantity": 2},), (0, 0)),
        ((SMALL | {"quantity": 2}, BOOSTER, SOCKET_LEAD), (1, 1)),  # 10 A x 12 V x 0.9 = 108 W for 2 x 61.5
        ((SMALL | {"quantity": 2}, BOOSTER, CLIP_LEAD), (2, 2)),  # 324 W
        ((SMALL | {"quantity": 2}, BOOSTER | {"amps_rated": 8.0}, CLIP_LEAD), (1, 1)),  # 8 A x 13.2 V = 106 W
        ((POWER_STATION | {"quantity": 2},), (1, 1)),  # 8 A x 12 V x 0.9 = 86 W by the socket
        (
            (SMALL | {"quantity": 2}, CHARGER, GENERATOR | {"amps_rated": 1.0}),
            (0, 1),
        ),  # 110 V x 1 A x 0.9 = 99 W
        ((SMALL | {"quantity": 2}, CHARGER, GENERATOR | {"amps_rated": 1.4}), (0, 2)),  # 139 W
    ],
)
def test_what_one_lead_from_a_vehicle_gives_is_split_among_the_radios(
    more: tuple[dict[str, Any], ...], ways: tuple[int, int]
) -> None:
    assert pair(*more) == [ways]


@pytest.mark.parametrize(("leads", "ways"), [((), 0), ((HELD_LEAD,), 1), ((HELD_LEAD | {"quantity": 2},), 2)])
def test_a_lead_from_a_vehicle_runs_one_handheld(leads: tuple[dict[str, Any], ...], ways: int) -> None:
    """A pack of 1.8 Ah gives 0.05 x 1.5 + 0.35 x 0.2 + 0.6 x 0.05 = 0.175 A for 9 h of the day."""
    two = (HELD | {"quantity": 2}, PACK | {"capacity_ah": 1.8, "quantity": 2}, WHIP | {"quantity": 2})
    day = {"ends": EVENT["starts"] + pd.Timedelta(hours=24), "post_type": "remote", "mains": False}
    assert told(at_post(*two, *leads, vehicle=True, **day)) == [(ways, ways)]
    maybe = tuple(lead | {"condition": "unknown"} for lead in leads)
    assert told(at_post(*two, *maybe, vehicle=True, **day)) == [(0, ways)]


@pytest.mark.parametrize(
    ("leads", "ends"),
    [(1, ("ring_m6", "pack_latch")), (2, ("ring_m6", "pack_latch")), (2, ("pack_latch", "ring_m6"))],
)
def test_a_lead_from_a_mains_supply_runs_one_handheld(leads: int, ends: tuple[str, str]) -> None:
    two = (HELD | {"quantity": 2}, PACK | {"capacity_ah": 1.8, "quantity": 2}, WHIP | {"quantity": 2})
    lead = {"kind": "handheld_dc_lead", "quantity": leads} | dict(
        zip(("dc_plug", "dc_plug_far"), ends, strict=True)
    )
    supplies = {"kind": "supply_30a", "dc_plug": "posts", "quantity": 2}
    day = {"ends": EVENT["starts"] + pd.Timedelta(hours=24), "post_type": "remote", "mains": True}
    assert told(at_post(*two, lead, supplies, vehicle=False, **day)) == [(leads, leads)]


@pytest.mark.parametrize(("amps", "ways"), [(8.0, 1), (16.0, 2)])
def test_what_one_controller_passes_on_is_split_among_the_radios(amps: float, ways: int) -> None:
    """Each draws 61.5 W and has 70 x 0.9 x 13.2 = 832 Wh: 13.5 h. Of 8 A it has 53 W while the sun shines, 12 h at most: 24 h take 1476."""
    things = [
        {"kind": "solar_panel", "solar_watts": 1000.0},
        {"kind": "charge_controller_mppt", "amps_rated": amps},
        SMALL | {"capacity_ah": 70.0, "chemistry": "lifepo4", "quantity": 2},
    ]
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *TWO_MOBILES, *things),
        events=[
            WARM
            | {"ends": EVENT["starts"] + pd.Timedelta(hours=24), "temp_max_c": 30.0}
            | {"lat": 0.0, "lon": 0.0, "utc_offset_h": 0.0}
        ],
        posts=[FORD | {"post_type": "relay", "mains": False, "vehicle": False}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
    )
    assert told(club)[0][1] == ways


def test_a_kit_that_a_stronger_one_stands_beside_is_not_what_the_post_hangs_on() -> None:
    """The handheld lasts longer, and has not the power that the post asks for."""
    packs = PACK | {"quantity": 6, "capacity_ah": 3.0}
    club = two_kits(HANDHELD, packs, WHIP, post_type="sag", rf_watts_min=25.0)
    assert lasts(club)[0] < lasts(club)[1]
    assert club.rows("select is_second from runtime order by runtime_h") == [(False,), (True,)]


def on_two_days(mine: list[tuple[int, int, int]], other: list[tuple[int, int, int]], **post: Any) -> Club:
    """A club with two kits at the only post, there on days of the month from hour to hour; the other one lasts longer."""
    pair = (MOBILE | {"quantity": 2}, *BASE[1:4], COAX | {"quantity": 2}, ANTENNA | {"quantity": 2})
    inventory = [
        *small_club.kit("QA1BC", "Bag", *pair),
        *small_club.kit("QB2DE", "Box", *BASE, BATTERY | {"item": "more"}, BATTERY | {"item": "most"}),
    ]
    sent = [("QA1BC", "Bag", *turn) for turn in mine] + [("QB2DE", "Box", *turn) for turn in other]
    return small_club.assess(
        inventory=inventory,
        events=[WARM | {"ends": EVENT["starts"] + pd.Timedelta(days=2)}],
        posts=[FORD | post],
        assignments=[
            {"event": "Ride", "post": "Ford", "member": member, "kit": kit}
            | {"from": pd.Timestamp(2027, 4, day, begins), "to": pd.Timestamp(2027, 4, day, ends)}
            for member, kit, day, begins, ends in sent
        ],
    )


def test_a_kit_that_goes_home_for_the_night_stands_beside_none_until_it_is_there_again() -> None:
    days, edges = [(25, 7, 17), (26, 7, 17)], [(25, 7, 8), (26, 16, 17)]
    beside, alone = (on_two_days(days, other, post_type="digital") for other in (days, edges))
    for club, is_second in ((beside, [False, True]), (alone, [False, False])):
        assert sorted(club.table("runtime")["is_second"]) == is_second
    assert lasts(alone)[0] < 0.7 * lasts(beside)[0], "both radios of the kit are on while it is there alone"


def test_two_handhelds_have_one_each_of_two_packs() -> None:
    def kit(handhelds: int, packs: int, **post: Any) -> float:
        radio, whip = HANDHELD | {"quantity": handhelds}, WHIP | {"quantity": handhelds}
        return lasts(at_post(radio, PACK | {"quantity": packs}, whip, **post))[0]

    one_each = kit(1, 1, post_type="digital")
    assert kit(2, 2, post_type="digital") == pytest.approx(one_each)
    assert kit(2, 5, post_type="digital") == pytest.approx(3 * one_each)
    assert kit(2, 2, post_type="sweep") == pytest.approx(2 * kit(1, 1, post_type="sweep"))


def test_two_radios_on_one_battery_draw_both_where_the_post_plans_two() -> None:
    def kit(**post: Any) -> float:
        pair = (MOBILE | {"quantity": 2}, *BASE[1:4], COAX | {"quantity": 2}, ANTENNA | {"quantity": 2})
        return lasts(at_post(*pair, **post))[0]

    one = lasts(at_post(*BASE, post_type="digital"))[0]
    assert 0.4 * one < kit(post_type="digital") < 0.6 * one
    busy = lasts(at_post(*BASE, post_type="sag"))[0]
    assert kit(post_type="sag") == pytest.approx(busy)


def test_batteries_are_dealt_out_whole_and_the_best_radio_is_judged_where_one_way_is_asked() -> None:
    pair = [thing | {"item": f"second {thing['kind']}"} for thing in SECOND]
    one = lasts(at_post(*BASE, post_type="digital"))[0]
    assert lasts(at_post(*BASE, *pair, post_type="digital"))[0] == pytest.approx(one, rel=1e-6)


def test_the_hungry_radio_of_two_ways_has_the_large_battery() -> None:
    """20 and 30 Ah last 5 h behind the radios of 9 and 12 A of a net control, but not the other way round."""
    small, large = (
        BATTERY | {"item": f"{ah} Ah", "capacity_ah": ah, "amps_rated": 40.0} for ah in (20.0, 30.0)
    )
    radios = [
        MOBILE | {"item": f"{amps} A", "amps_tx": amps, "amps_rx": 0.6, "amps_idle": 0.3}
        for amps in (9.0, 12.0)
    ]
    pairs = [LEAD | {"amps_rated": 30.0, "quantity": 2}, COAX | {"quantity": 2}, ANTENNA | {"quantity": 2}]
    club = at_post(
        *radios, small, large, *pairs, ends=pd.Timestamp("2027-04-25 11:00"), post_type="net_control"
    )
    assert told(club)[0][1] == 2


def test_of_all_deals_of_batteries_the_first_radio_ends_latest() -> None:
    """Small kits of a seed against each deal that there is; a fifth of their batteries do not fit a radio."""
    rng = np.random.default_rng(4)
    for _ in range(60):
        pieces, radios = rng.integers(1, 3, rng.integers(1, 4)), int(rng.integers(2, 4))
        each_h = rng.uniform(1.0, 9.0, (len(pieces), radios))
        each_h[1:][rng.random((len(pieces) - 1, radios)) < 0.2] = -1.0
        kit, fed = np.zeros(len(pieces), dtype=np.int64), np.flatnonzero((each_h >= 0).any(axis=0))
        given, bank_h = sharing.deal(kit, pieces, each_h, 1)
        sharing.level(given, bank_h, kit, pieces, each_h, np.array([0]))
        piece_h = np.repeat(np.maximum(each_h, 0.0), pieces, axis=0).tolist()
        ends_h = [
            [sum(hours[to] for hours, to in zip(piece_h, deal, strict=True) if to == radio) for radio in fed]
            for deal in product(fed, repeat=len(piece_h))
        ]
        assert bank_h[0, fed].min() == pytest.approx(max(min(ends) for ends in ends_h), abs=1e-6)
        assert bank_h[0] == pytest.approx((given * np.maximum(each_h, 0.0)).sum(axis=0), abs=1e-6)
        assert (given.sum(axis=1) <= pieces).all()


def test_a_kit_beside_takes_over_a_planned_radio() -> None:
    pair = (MOBILE | {"quantity": 2}, *BASE[1:4], COAX | {"quantity": 2}, ANTENNA | {"quantity": 2})
    club = two_kits(*pair, post_type="digital")
    assert lasts(club)[0] == pytest.approx(lasts(club)[1])


def test_a_mains_supply_carries_one_radio() -> None:
    supply = {"kind": "supply_30a", "dc_plug": "genderless_30"}
    pair = (MOBILE | {"quantity": 2}, *BASE[1:4], COAX | {"quantity": 2}, ANTENNA | {"quantity": 2})
    leads = LEAD | {"item": "other lead", "amps_rated": 30.0}
    one, two = (
        at_post(*pair, leads, supply | {"quantity": supplies}, post_type="relay", mains=True)
        for supplies in (1, 2)
    )
    assert (told(one), told(two)) == ([(1, 1)], [(2, 2)])
    asked = "select is_on_mains from runtime"
    assert one.rows(asked) == two.rows(asked) == [(True,)]


def test_a_spare_handheld_with_a_charged_pack_turns_no_kit_away(
    frames: dict[str, pd.DataFrame], assessment: Assessment
) -> None:
    """Each kit of the invented club with a station more that shares nothing with the rest: no post that it can hold is lost."""
    held = frames["inventory"]
    kits = sorted(set(zip(held["member"], held["kit"], strict=True)))
    new = {"condition": "ok", "weight_kg": 0.0, "acquired": pd.Timestamp(small_club.TODAY)}
    radio = HANDHELD | new | {"rf_plug": "builtin", "programmed": new["acquired"], "spare": True}
    rows = [row for names in kits for row in small_club.kit(*names, radio, PACK | new)]
    more = small_club.frame("inventory", rows)
    more["line"] += held["line"].max()
    club = engine.assess(
        {**frames, "inventory": pd.concat([held, more], ignore_index=True)}, today=small_club.TODAY
    )
    where = ["event", "post", "member", "kit"]
    both = posts.post_by_kit(assessment).merge(posts.post_by_kit(club), on=where)
    is_held = both["answer_x"].isin(["can", "with limits"])
    assert is_held.sum() > 100
    assert both.loc[is_held & both["answer_y"].eq("cannot"), where].values.tolist() == []


OF_BANDS = ("kit_without_the_band", "nobody_brings_a_station")
BOTH = {"bands": "2m 40m", "modes": None, "post_type": "aid_station"}
LARGE = {"capacity_ah": 100.0}


def test_radios_of_a_kit_may_have_the_bands_between_them() -> None:
    """At once: each on an antenna of its own and fed, for certain on a battery of its own."""
    one_antenna, on_70cm = ANTENNA | {"bands": "2m 40m"}, ANTENNA | {"item": "other", "bands": "70cm"}
    other_plug = HF_RADIO | {"item": "other", "bands": "2m 40m", "dc_plug": None}
    told: dict[str, tuple[tuple[dict[str, Any], ...], str, str]] = {
        "both": ((*BASE, *HF), "2m 40m", "met"),
        "a third band of one of them": ((*BASE, *HF), "2m 70cm 40m", "met"),
        "a band of neither": ((*BASE, *HF), "2m 40m 20m", "not met"),
        "one antenna": ((*BASE[:-1], one_antenna, *HF[:-1]), "2m 40m", "not met"),
        "another on another band": ((*BASE[:-1], one_antenna, on_70cm, *HF[:-1]), "2m 40m", "not met"),
        "one battery": ((*BASE, HF[0], *HF[2:]), "2m 40m", "not known"),
        "nothing feeds one": ((*BASE, HF_RADIO | {"dc_plug": "t_plug_male"}, *HF[1:]), "2m 40m", "not met"),
        "its plug is not told": ((*BASE, HF_RADIO | {"dc_plug": None}, *HF[1:]), "2m 40m", "not known"),
        "it may not work": ((*BASE, HF_RADIO | {"condition": "unknown"}, *HF[1:]), "2m 40m", "not known"),
        "a third radio of which the plug is not told": ((*BASE, *HF, other_plug), "2m 40m", "met"),
    }
    posts = {name: ([things], BOTH | {"bands": bands}) for name, (things, bands, _) in told.items()}
    assert answers_at(posts, *OF_BANDS) == {name: [[answer], [answer]] for name, (*_, answer) in told.items()}
    weak = at_post(*BASE, *HF, other_plug, **BOTH, rf_watts_min=75.0)
    assert said(weak, "kit_without_the_band", "kit_below_the_power") == ["not known", "met"]


def test_a_relay_is_one_radio() -> None:
    assert said(at_post(*BASE, *HF, **BOTH | {"post_type": "relay"}), *OF_BANDS) == ["not met", "not met"]


def test_radios_that_share_the_bands_share_the_modes_and_all_have_the_power() -> None:
    asked = ("kit_without_the_band", "kit_without_the_mode", "kit_below_the_power")
    kit = (*BASE, *HF)
    assert said(at_post(*kit, **BOTH | {"modes": "fm ssb"}, rf_watts_min=50.0), *asked) == ["met"] * 3
    assert said(at_post(*kit, **BOTH | {"modes": "ssb"}), *asked[:2]) == ["met", "not met"]
    assert said(at_post(*kit, **BOTH | {"modes": "fm ssb packet"}), *asked[:2]) == ["met", "not met"]
    weak = at_post(*kit, **BOTH, rf_watts_min=75.0)
    assert said(weak, asked[2]) == ["not met"]
    assert weak.table("post_kit")["rf_watts"].tolist() == [50.0]


def test_radios_that_share_the_bands_last_as_long_as_the_first_to_end() -> None:
    on_2m, on_40m = (
        lasts(at_post(*part, **BOTH | {"bands": band}))[0] for part, band in ((BASE, "2m"), (HF, "40m"))
    )
    assert lasts(at_post(*BASE, *HF, **BOTH)) == [pytest.approx(on_40m)] and on_2m > on_40m > 6
    larger = at_post(*BASE, HF_RADIO, HF[1] | LARGE, *HF[2:], **BOTH)
    assert lasts(larger) == [pytest.approx(on_2m)]
    spare = BATTERY | LARGE | {"amps_rated": 40.0}
    assert lasts(at_post(MOBILE, spare, *BASE[2:], HF_RADIO | {"quantity": 2}, *HF[1:], **BOTH)) == lasts(
        larger
    )
    thirsty = HF_RADIO | {"item": "first", "amps_tx": 40.0}
    assert lasts(at_post(thirsty, *BASE, *HF, **BOTH)) == [pytest.approx(on_40m)]
    for weak in ((MOBILE, BATTERY | WEAK, *BASE[2:], *HF), (*BASE, HF_RADIO, HF[1] | WEAK, *HF[2:])):
        assert said(at_post(*weak, **BOTH), OF_TWO[0]) == ["not met"]
    assert lasts(at_post(*BASE, HF[0], *HF[2:], **BOTH))[0] < on_40m / 2


def test_radios_that_share_the_bands_are_one_way() -> None:
    """And none, where one of them ends too early."""
    medical, charged = BOTH | {"post_type": "medical"}, [thing | LARGE for thing in (BATTERY, HF[1])]
    for of_hf, ways in ((charged[1], 1), (HF[1] | WEAK, 0)):
        club = at_post(
            MOBILE, charged[0] | {"amps_rated": 40.0}, *BASE[2:], HF_RADIO, of_hf, *HF[2:], **medical
        )
        assert (told(club), said(club, OF_TWO[1])) == ([(ways, ways)], ["not met"])
    wide = [{"kind": "jpole", "rf_plug": "so239", "bands": "2m 40m", "item": name} for name in ("one", "two")]
    club = at_post(*BASE[:-1], *HF[:-1], *wide, **medical)
    assert club.table("way")[["stations_low", "stations_high"]].values.tolist() == [[1, 1]]


def test_kits_beside_each_other_may_have_the_bands_between_them() -> None:
    """All the while, in the modes, with the power, and each by one radio."""
    modem = {"kind": "modem", "modes": "fm", "condition": "unknown"}
    told: dict[str, tuple[tuple[dict[str, Any], ...], dict[str, Any], str]] = {
        "both": (HF, {}, "met"),
        "modes of one each": (HF, {"modes": "fm ssb"}, "met"),
        "the power of the weaker": (HF, {"rf_watts_min": 50.0}, "met"),
        "a mode of neither": (HF, {"modes": "fm packet"}, "not met"),
        "a third mode of neither": (HF, {"modes": "fm ssb packet"}, "not met"),
        "the power of the stronger": (HF, {"rf_watts_min": 75.0}, "not met"),
        "a band of neither": (HF, {"bands": "2m 20m"}, "not met"),
        "two alike": (BASE, {}, "not met"),
        "a relay": (HF, {"post_type": "relay"}, "not met"),
        "a plug that is not told": ((HF_RADIO | {"dc_plug": None}, *HF[1:]), {}, "not known"),
        "a modem that may not work": ((*HF, modem), {"modes": "fm"}, "not known"),
        "two antennas for the radios of one": (
            (*BASE[:-1], ANTENNA | {"bands": "2m 40m"}, *HF[:-1]),
            {},
            "not known",
        ),
    }
    posts = {name: ([BASE, second], BOTH | of_post) for name, (second, of_post, _) in told.items()}
    assert answers_at(posts, *OF_BANDS) == {
        name: [[answer] * 2, [answer]] for name, (*_, answer) in told.items()
    }
    leaves = two_kits(*HF, ends="2027-04-25 11:00", **BOTH)
    assert (each(leaves, OF_BANDS[0]), said(leaves, OF_BANDS[1])) == (["met", "not met"], ["not met"])


def test_each_kit_of_those_that_have_the_bands_between_them_is_judged_by_the_radio_that_it_gives() -> None:
    on_40m = lasts(at_post(*HF, **BOTH | {"bands": "40m"}))
    held = HELD | {"bands": "70cm"}
    club = two_kits(*HF, held, PACK | LARGE, WHIP | {"bands": "70cm"}, **BOTH)
    assert lasts(club)[1:] == [pytest.approx(on_40m[0])]
    assert each(club, OF_TWO[0]) == ["met", "met"]
    weak = (HF_RADIO, HF[1] | WEAK, *HF[2:])
    assert each(two_kits(*weak, **BOTH), OF_TWO[0]) == ["met", "not met"]
    beside = two_kits(*BASE, *HF, **BOTH)
    assert (each(beside, OF_TWO[0]), each(beside, OF_BANDS[0])) == (["met"], ["met", "met"])
    assert beside.table("coverage")[["stations_low", "stations_high"]].values.tolist() == [[1, 1]]
    for things, ways in (((HF_RADIO, HF[1] | LARGE, *HF[2:]), 1), (weak, 0)):
        told = two_kits(*things, **BOTH | {"post_type": "remote"}).table("coverage")
        assert told[["stations_low", "stations_high"]].values.tolist() == [[1, 1]]
        assert told[["ways_low", "ways_high"]].values.tolist() == [[ways, ways]]


def test_a_kit_whose_radios_have_the_bands_between_them_is_sent() -> None:
    holder = {
        "kind": "fuse_holder",
        "dc_plug": "genderless_30",
        "dc_plug_far": "genderless_30",
        "fuse_at_m": 0.1,
    }
    feed = (
        BATTERY | {"charged": pd.Timestamp("2027-02-28")} | LARGE,
        LEAD | {"wire_awg": 8, "length_m": 1.0},
    )
    feeds = [
        thing | {"item": f"{thing['kind']} {side}"}
        for side in (1, 2)
        for thing in (*feed, holder | {"amps_rated": 30.0})
    ]
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", MOBILE, ANTENNA, COAX, HF_RADIO, *HF[2:], *feeds),
        members=[{"member": "QA1BC", "licence_class": "general", "roles": "field", "available": True}],
        events=[WARM],
        posts=[FORD | BOTH | {"public_m": 50.0}],
    )
    plan = staffing.staff(club, EVENT["event"])
    assert plan.rows[["post", "kit"]].values.tolist() == [["Ford", "Bag"]]
    assert plan.blocked.empty


def test_of_many_radios_the_best_on_each_band_are_tried() -> None:
    radios = [
        {"item_id": number, "on_bands": [band], "does": ["fm"], "is_told": True, "is_strong": number > 19, "rf_watts": 5.0, "amps_tx": 1.0}
        for number, band in enumerate(["2m", "40m"] * 20)
    ]  # fmt: skip
    tried = [team.item_ids for team in teams.teams(["2m", "40m"], ["fm"], radios)]
    assert len(tried) == teams.TRIED and min(min(ids) for ids in tried) > 19
