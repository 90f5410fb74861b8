"""What counts for the hours on the air, and what they rest on: small clubs known by thought."""

from typing import Any

import pandas as pd
import pytest

from rules import engine
from rules.rule import up
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE, PACK, Club

BASE = (MOBILE, BATTERY | {"amps_rated": 40.0}, LEAD | {"amps_rated": 30.0}, FUSE, COAX, ANTENNA)


def alone(*things: dict[str, Any]) -> Club:
    """A club with one kit, sent nowhere."""
    return small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *things))


def status(club: Club, rule: str) -> str:
    """What a rule answers on the only thing that it judges."""
    return next((one.status for one in reversed(club.answers(rule))), "left out")


@pytest.mark.parametrize("kind", ["scanner", "simple_frs"])
def test_what_does_not_send_on_the_channel_is_no_radio(kind: str) -> None:
    other = {"kind": kind, "rf_plug": "so239", "dc_plug": "genderless_30"}
    club = alone(other, *BASE)
    assert status(club, "no_second_radio") == "not met"
    assert club.table("supply")["radio_item_id"].map(
        club.table("item").set_index("item_id")["kind"]
    ).tolist() == ["mobile_vhf_uhf"]
    held = alone(HANDHELD, PACK, other)
    assert held.table("holding")[["radios", "has_mobile"]].values.tolist() == [[1, False]]
    assert (
        held.table("kit_runtime")["runtime_h"].tolist()
        == alone(HANDHELD, PACK).table("kit_runtime")["runtime_h"].tolist()
    )
    apart = alone(other, *BASE[1:])
    assert apart.table("station")["missing_link"].tolist() == ["a radio"]


def test_a_receiver_has_a_power_plug_and_a_voltage_of_its_own() -> None:
    club = alone(*BASE, {"kind": "scanner", "dc_plug": "t_plug_male", "volts_min": 5.0, "volts_max": 6.0})
    asked = ("not_on_the_club_connector", "off_the_common_voltage")
    found = {(one.rule, one.status) for one in club.answers(*asked)}
    assert {(rule, "not met") for rule in asked} <= found


STATION = {"kind": "power_station", "dc_plug": "j563_female", "charged": pd.Timestamp(small_club.TODAY)}
IN_CAR = {"kind": "socket_lead", "dc_plug_far": "genderless_30"}
WEAKER = {"amps_tx": 10.0}  # as much as these carry


def test_a_power_station_is_a_battery() -> None:
    # 400 Wh, nine tenths of them, at the 13 W of a mobile at a quiet post: no more than 30 h
    club = alone(MOBILE | WEAKER, STATION, IN_CAR, COAX, ANTENNA)
    row = club.table("kit_runtime").iloc[0]
    assert 400 * 0.9 / row["load_w"] * 0.8 <= row["runtime_h"] <= 400 * 0.9 / row["load_w"]
    assert row["how"] == "assumed" and row["runtime_low_h"] < row["runtime_h"] < row["runtime_high_h"]
    asked = ("short_of_its_own_hours", "no_battery_of_its_own")
    assert [status(club, rule) for rule in asked] == ["met", "met"]


def test_the_hours_on_a_battery_of_untold_sort_are_not_known() -> None:
    untold = {"kind": "battery", "capacity_ah": 20.0, "dc_plug": "genderless_30"}
    club = alone(MOBILE, untold, LEAD, FUSE, COAX, ANTENNA)
    asked = ("short_of_its_own_hours", "no_battery_of_its_own")
    assert [status(club, rule) for rule in asked] == ["not known", "met"]
    assert alone(HANDHELD, untold).table("kit_runtime")["runtime_h"].tolist() == [0]
    beside = alone(*BASE, untold).table("kit_runtime")["runtime_h"]
    assert beside.tolist() == alone(*BASE).table("kit_runtime")["runtime_h"].tolist()


def hours_at(temp_c: float | None, *things: dict[str, Any], policy: str = "", **post: Any) -> pd.Series:
    """What is told of the hours of a kit at a post at that temperature all day."""
    weather = {"temp_min_c": temp_c, "temp_max_c": temp_c}
    told = {
        "inventory": small_club.kit("QA1BC", "Bag", *things),
        "events": [EVENT | weather],
        "posts": [{"event": "Ride", "post": "Ford", "duty": "busy", "mains": False} | post],
        "assignments": [{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
    }
    return small_club.assess(policy, **told).table("runtime").iloc[0]


AGM = {
    "kind": "battery_agm",
    "dc_plug": "genderless_30",
    "capacity_ah": 35.0,
    "charged": pd.Timestamp(small_club.TODAY),
}
HF_RADIO = {"kind": "hf_100w", "dc_plug": "genderless_30"}
CHARGER = {"kind": "charger_lifepo4"}


def test_a_cold_battery_sags_more() -> None:
    cold = hours_at(-10, HF_RADIO, AGM)
    # the published share of capacity alone is 0.74; sag takes the rest
    assert cold["runtime_h"] < 0.7 * hours_at(20, HF_RADIO, AGM)["runtime_h"] * 0.74
    stiff = hours_at(-10, HF_RADIO, AGM, policy="[facts]\ncold_doubles_k = 60\n")
    assert cold["runtime_h"] < stiff["runtime_h"] < hours_at(0, HF_RADIO, AGM)["runtime_h"] * 1.2
    assert cold["limited_by"] == "brown-out"


def test_a_worn_battery_sags_more() -> None:
    worn = AGM | {"tested": pd.Timestamp("2027-01-10"), "tested_ah": 28.0}
    new = AGM | {"capacity_ah": 28.0, "tested": pd.Timestamp("2027-01-10"), "tested_ah": 28.0}
    as_new = hours_at(20, HF_RADIO, new)["runtime_h"]
    assert hours_at(20, HF_RADIO, worn)["runtime_h"] < 0.95 * as_new
    alike = "[facts]\naged_resistance = 1.25\n"  # as much as the lost fifth of the capacity makes of it
    assert hours_at(20, HF_RADIO, worn, policy=alike)["runtime_h"] == pytest.approx(as_new)


def test_hours_without_a_temperature_span_a_cold_and_a_warm_day() -> None:
    told = {"acquired": pd.Timestamp("2027-01-01"), "chemistry": "lifepo4"}
    radio = MOBILE | {"amps_tx": 11.0, "amps_rx": 0.6, "amps_idle": 0.4}
    untold = hours_at(None, radio, BATTERY | told)
    assert untold["how"] == "assumed"
    cold, warm = (hours_at(temp_c, radio, BATTERY | told) for temp_c in (0, 35))
    assert cold["how"] == "told"
    assert untold[["runtime_low_h", "runtime_high_h"]].tolist() == [cold["runtime_h"], warm["runtime_h"]]
    assert cold["runtime_h"] < untold["runtime_h"] < warm["runtime_h"]


def test_the_hours_of_a_kit_on_its_own_span_a_cold_and_a_warm_day() -> None:
    told = {
        "acquired": pd.Timestamp("2027-01-01"),
        "chemistry": "lifepo4",
        "charged": pd.Timestamp(small_club.TODAY),
    }
    radio = MOBILE | {"amps_tx": 11.0, "amps_rx": 0.6, "amps_idle": 0.4}
    kit = small_club.kit("QA1BC", "Bag", radio, BATTERY | told)

    def own(policy: str = "") -> pd.Series:
        return small_club.assess(policy, inventory=kit).table("kit_runtime").iloc[0]

    row = own()
    cold, warm = (own(f"[facts]\nassumed_temperature_c = {temp_c}\n")["runtime_h"] for temp_c in (0, 35))
    assert cold < row["runtime_h"] < warm
    assert row[["runtime_low_h", "runtime_high_h"]].tolist() == [cold, warm]
    assert row["how"] == "told"


def test_a_battery_that_may_not_work_takes_nothing_from_those_that_do() -> None:
    """It counts in the high end alone; where the others last without it that is known."""
    asked, held = "short_of_its_own_hours", (MOBILE, LEAD, FUSE, COAX, ANTENNA)
    for ah, said in ((40.0, "met"), (2.0, "not known")):
        sound = BATTERY | {"capacity_ah": ah, "charged": pd.Timestamp(small_club.TODAY)}
        one, both = (alone(*held, sound, *more) for more in ((), (sound | {"condition": "unknown"},)))
        assert status(both, asked) == said
        was, row = (club.table("kit_runtime").iloc[0] for club in (one, both))
        assert row["runtime_low_h"] == was["runtime_low_h"] and row["runtime_high_h"] == 240
        assert pd.isna(row["runtime_h"]) == (said == "not known")
        there, beside = (
            hours_at(20.0, *held, sound, *more, CHARGER, mains=True)
            for more in ((), (sound | {"condition": "unknown"},))
        )
        assert beside["runtime_low_h"] == there["runtime_low_h"] > row["runtime_low_h"]
        assert beside["runtime_high_h"] == 240 and beside["how"] == "assumed"


def test_a_supply_where_nobody_tells_of_mains_is_not_known() -> None:
    supply = {"kind": "supply_30a", "dc_plug": "genderless_30"}
    row = hours_at(10, MOBILE, supply, mains=None)
    assert pd.isna(row["is_on_mains"]) and row["runtime_high_h"] == 240
    assert row[["untold", "hoped_h"]].tolist() == ["nobody tells whether the post has mains", 240]
    for mains, answer in ((None, "not known"), (True, "met"), (False, "not met")):
        club = small_club.assess(
            inventory=small_club.kit("QA1BC", "Bag", MOBILE, supply, LEAD, FUSE, COAX, ANTENNA),
            events=[EVENT],
            posts=[{"event": "Ride", "post": "Ford", "mains": mains}],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
        )
        assert status(club, "runs_out_before_the_shift_ends") == answer, mains
    full = hours_at(10, MOBILE, supply, BATTERY, mains=None)
    assert full["runtime_h"] > full["need_h"]
    assert full["untold"] == row["untold"]


SMALL = BATTERY | {"capacity_ah": 5.0, "amps_rated": 40.0}
UNSURE = {"condition": "unknown"}
SUPPLY = {"kind": "supply_30a", "dc_plug": "genderless_30"}
PANEL, MPPT, INVERTER = ({"kind": kind} for kind in ("solar_panel", "charge_controller_mppt", "inverter"))
LITHIUM = {"chemistry": "lifepo4"}
CHARGER, CLIPS, BOOSTER = ({"kind": kind} for kind in ("charger_lifepo4", "clip_lead", "boost_converter"))


@pytest.mark.parametrize(
    ("fed", "there", "on"),
    [
        ((SUPPLY,), {"mains": True}, "mains"),
        ((CHARGER,), {"mains": True}, "mains"),
        ((BOOSTER, CLIPS), {"vehicle": True}, "vehicle"),
    ],
)
def test_hours_without_what_feeds_or_charges_it_are_those_of_a_post_that_has_none(fed, there, on) -> None:
    small = BATTERY | {"capacity_ah": 3.0, "charged": pd.Timestamp(small_club.TODAY)}
    things = (MOBILE, small, LEAD, FUSE, COAX, ANTENNA)
    none = {"mains": False, "vehicle": False}
    row, without = hours_at(20.0, *things, *fed, **none | there), hours_at(20.0, *things, **none)
    assert (row["hangs_on"], without["hangs_on"]) == (on, None)
    assert row["bank_low_h"] == without["runtime_low_h"] < row["runtime_h"]
    assert row["bank_high_h"] == without["runtime_high_h"]


Brought = tuple[tuple[dict[str, Any], ...], dict[str, Any]]
"""What a kit holds, and what is told of the post that it is sent to."""


def each_at_its_post(kits: dict[str, Brought], weather: dict[str, Any], **every: Any) -> Club:
    """A club of one kit for each post, by its name, and a member for each kit; what is told of the event, and of every post."""
    sent = [
        {"event": "Ride", "post": post, "member": f"QA{at}BC", "kit": "Bag"}
        for at, post in enumerate(kits, 1)
    ]
    return small_club.assess(
        inventory=[
            row for one in sent for row in small_club.kit(one["member"], "Bag", *kits[one["post"]][0])
        ],
        events=[EVENT | weather],
        posts=[
            {"event": "Ride", "post": post, "duty": "busy", "mains": False} | every | told
            for post, (_, told) in kits.items()
        ],
        assignments=sent,
    )


def asked_each(
    kits: dict[str, Brought], closes: str = "2027-04-25 12:00", weather: dict[str, Any] | None = None
) -> dict[str, dict[str, tuple[str, str]]]:
    """By post: what the rules on its hours answer and say of a kit there, with a small battery beside these things."""
    event = {"ends": pd.Timestamp(closes), "temp_min_c": 10.0, "temp_max_c": 20.0} | (weather or {})
    held = {post: ((MOBILE, SMALL, *things), told) for post, (things, told) in kits.items()}
    club = each_at_its_post(held, event, vehicle=False)
    found: dict[str, dict[str, tuple[str, str]]] = {post: {} for post in kits}
    for one in club.answers("runs_out_before_the_shift_ends", "no_way_to_recharge"):
        found[str(one.post)][one.rule] = (one.status, one.sentence)
    return found


def asked(*things: dict[str, Any], **post: Any) -> dict[str, tuple[str, str]]:
    """The same of one post."""
    return asked_each({"Ford": (things, post)})["Ford"]


HANGING: list[tuple[tuple[dict[str, Any], ...], dict[str, Any], str, str]] = [
        ((CHARGER,), {"mains": True}, "met", ""),
        ((CHARGER,), {"mains": None}, "not known", "whether the post has mains"),
        ((CHARGER,), {"mains": None, "post_type": "shadow"}, "not met", ""),
        ((CHARGER,), {"mains": False}, "not met", ""),
        ((), {"mains": None, "vehicle": None}, "not met", ""),
        ((CHARGER | {"amps_rated": 0.1},), {"mains": None}, "not met", ""),
        ((MPPT | LITHIUM,), {"mains": True}, "not met", ""),  # it charges from panels alone, whatever it is for
        (
            (CHARGER | UNSURE, MPPT | LITHIUM | UNSURE), {"mains": True},
            "not known", "whether charge_controller_mppt works, whether charger_lifepo4 works",
        ),
        ((CLIPS, BOOSTER), {"vehicle": True}, "met", ""),
        ((CLIPS, BOOSTER), {"vehicle": None}, "not known", "whether a vehicle stays there"),
        ((CLIPS, BOOSTER), {"vehicle": None, "access": "walk"}, "not met", ""),
        ((CLIPS, BOOSTER), {"vehicle": False}, "not met", ""),
        ((CHARGER, {"kind": "generator"}), {}, "not known", "whether the generator has fuel for all of it"),
        (({"kind": "generator"},), {}, "not met", ""),
        (
            (CHARGER, CLIPS, BOOSTER), {"mains": None, "vehicle": None},
            "not known", "whether the post has mains, whether a vehicle stays there",
        ),
        ((CHARGER | UNSURE,), {"mains": True}, "not known", "whether charger_lifepo4 works"),
        ((CHARGER | UNSURE, CHARGER), {"mains": True}, "met", ""),
        ((SUPPLY | UNSURE,), {"mains": True}, "not known", "whether supply_30a works"),
        ((SUPPLY | UNSURE, SUPPLY), {"mains": True}, "met", ""),
        ((SUPPLY | UNSURE,), {"mains": False}, "not met", ""),
        ((CLIPS | UNSURE, BOOSTER), {"vehicle": True}, "not known", "whether clip_lead works"),
        ((CLIPS, BOOSTER | UNSURE), {"vehicle": True}, "not known", "whether boost_converter works"),
        ((CHARGER, INVERTER | UNSURE), {"vehicle": True}, "not known", "whether inverter works"),
        ((CLIPS | UNSURE, BOOSTER), {"vehicle": False}, "not met", ""),
        (
            (CHARGER, {"kind": "generator"} | UNSURE), {},
            "not known", "whether the generator has fuel for all of it, whether generator works",
        ),
        (
            (PANEL | UNSURE, MPPT | UNSURE), {},
            "not known",
            "the place, time zone or warmest of the event, whether solar_panel works, whether charge_controller_mppt works",
        ),
]  # fmt: skip
"""What a kit with a small battery holds besides, what is told of its post, whether it lasts, and what is asked."""


def test_hours_that_hang_on_what_nobody_tells_of_the_post_are_not_known() -> None:
    found = asked_each({f"Post {at}": (things, post) for at, (things, post, *_) in enumerate(HANGING)})
    for at, (*case, answer, untold) in enumerate(HANGING):
        status, sentence = found[f"Post {at}"]["runs_out_before_the_shift_ends"]
        assert status == answer, case
        if untold:
            start = f"Ride/Post {at}: the hours of QA{at + 1}BC's Bag are not known: nobody tells "
            assert sentence.startswith(f"{start}{untold}; without, it lasts "), case
            assert sentence.endswith(" h of 6.0 h."), case


@pytest.mark.parametrize(
    ("leaves", "is_fed"), [("2027-04-25 08:00", False), (None, True)], ids=["two hours", "all day"]
)
def test_a_generator_of_somebody_else_feeds_a_kit_only_where_it_stays(
    leaves: str | None, is_fed: bool
) -> None:
    there = {"event": "Ride", "post": "Ford"}
    club = small_club.assess(
        inventory=[
            *small_club.kit("QA1BC", "Bag", MOBILE, SMALL, CHARGER),
            *small_club.kit("QB2AA", "Cart", {"kind": "generator"}),
        ],
        events=[EVENT | {"temp_min_c": 10.0, "temp_max_c": 20.0}],
        posts=[there | {"duty": "busy", "mains": False, "vehicle": False}],
        assignments=[
            there | {"member": "QA1BC", "kit": "Bag"},
            there | {"member": "QB2AA", "kit": "Cart", "to": leaves and pd.Timestamp(leaves)},
        ],
    )
    answers = [one.status for one in club.answers("runs_out_before_the_shift_ends") if "Bag" in one.sentence]
    assert answers == ["not known" if is_fed else "not met"]


PLACE = {"lat": 45.0, "lon": -93.0, "utc_offset_h": -5.0}


def test_where_frost_may_end_by_day_whether_it_is_charged_is_not_known() -> None:
    """A day of 12 C after a night of -4 C lets lithium be charged for some of the hours: which ones the place tells."""
    ways: dict[str, Brought] = {
        "mains": ((CHARGER,), {"mains": True}),
        "vehicle": ((CLIPS, BOOSTER), {"vehicle": True}),
    }
    for weather, answer in (
        ({"temp_min_c": -4.0, "temp_max_c": 12.0}, "not known"),
        ({"temp_min_c": -4.0, "temp_max_c": 12.0} | PLACE, "not met"),
        ({"temp_min_c": -4.0, "temp_max_c": None} | PLACE, "not known"),
        ({"temp_min_c": -4.0, "temp_max_c": -1.0}, "not met"),
        ({"temp_min_c": 1.0, "temp_max_c": 12.0}, "met"),
    ):
        for way, found in asked_each(ways, closes="2027-04-26 12:00", weather=weather).items():
            assert {status for status, _ in found.values()} == {answer}, (way, weather)
            if answer == "not known":
                said = "nobody tells the place, time zone or warmest of the event"
                assert all(said in sentence for _, sentence in found.values()), (way, weather)


HELD, ELIMINATOR = (HANDHELD, PACK), {"kind": "handheld_dc_lead"}


def held_each(kits: dict[str, Brought]) -> dict[str, pd.Series]:
    """By post, open for a day: the hours of a kit there, and what the rule on them answers."""
    day = {"ends": pd.Timestamp("2027-04-26 06:00"), "temp_min_c": 10.0}
    club = each_at_its_post(kits, day, vehicle=True)
    answer = {one.post: one.status for one in club.answers("runs_out_before_the_shift_ends")}
    there = club.table("post_kit").query("is_assigned").merge(club.table("post")[["post_id", "post"]])
    rows = there[["post_kit_id", "post"]].merge(club.table("runtime"), on="post_kit_id").set_index("post")
    return {post: pd.Series(rows.loc[post].to_dict() | {"answer": answer[post]}) for post in kits}


def held(*things: dict[str, Any], **post: Any) -> pd.Series:
    """The same of a handheld with one pack at one post."""
    return held_each({"Ford": ((*HELD, *things), post)})["Ford"]


def test_a_lead_for_a_handheld_runs_it_from_the_vehicle_that_its_plug_reaches() -> None:
    cases = [
        ("j563_male", None, "met"),
        ("clips", None, "met"),
        ("genderless_15", None, "not met"),
        ("genderless_15", "genderless_30", "met"),
        ("genderless_15", "t_plug_female", "not met"),
        ("genderless_15", "", "met"),
        (None, None, "not known"),
        (None, "genderless_30", "not known"),
    ]  # the plug of the lead; the far plug of a lead from the socket, where there is one; whether it lasts
    kits: dict[str, Brought] = {}
    for at, (plug, lead, _) in enumerate(cases):
        things = [ELIMINATOR | {"dc_plug": plug, "dc_plug_far": "pack_latch"}]
        if lead is not None:
            things.append({"kind": "socket_lead", "dc_plug": "j563_male", "dc_plug_far": lead or None})
        kits |= {
            f"{at} {word}": ((*HELD, *things), {"vehicle": word == "with"}) for word in ("with", "without")
        }
    found = held_each(kits)
    for at, (*case, answer) in enumerate(cases):
        assert found[f"{at} with"]["answer"] == answer, case
        assert found[f"{at} without"]["answer"] == "not met", case
        if answer == "not known":
            assert found[f"{at} with"]["untold"] == "nobody tells the plug of the handheld's 12 V lead"


def test_a_lead_for_handhelds_of_another_family_runs_none_from_a_vehicle() -> None:
    lead = ELIMINATOR | {"dc_plug": "j563_male", "dc_plug_far": "pack_latch"}
    cases = {
        ("red", "red"): "met",
        ("red", " Red"): "met",
        ("red", "blue"): "not met",
        (None, "blue"): "met",
        ("red", None): "met",
    }
    found = held_each(
        {
            f"{fits}, {family}": (
                (HANDHELD | {"pack_family": fits}, PACK, lead | {"pack_family": family}),
                {},
            )
            for fits, family in cases
        }
    )
    assert {post: row["answer"] for post, row in found.items()} == {
        f"{fits}, {family}": answer for (fits, family), answer in cases.items()
    }


def test_a_lead_for_a_handheld_runs_it_from_a_mains_supply_that_its_plug_reaches() -> None:
    cases: list[tuple[str, tuple[str, ...], bool]] = [
        ("posts", (), False), ("j563_male", (), False), ("genderless_15", (), False), ("genderless_15", ("posts", "genderless_30"), False),
        ("genderless_15", ("ring_m6", "genderless_30"), True), ("genderless_15", ("genderless_30", "ring_m6"), True), ("ring_m6", (), True),
    ]  # fmt: skip
    supply, ring = {"kind": "supply_30a", "dc_plug": "posts"}, LEAD | {"item": "ring", "dc_plug": "ring_m6"}
    mains = {"mains": True, "vehicle": False}
    kits: dict[str, Brought] = {}
    for at, (plug, leads, _) in enumerate(cases):
        own = ELIMINATOR | {"dc_plug": plug, "dc_plug_far": "pack_latch"}
        rest = [{"kind": "dc_lead", "dc_plug": leads[0], "dc_plug_far": leads[1]}] if leads else []
        kits |= {
            f"{at} with it": ((*HELD, supply, own, *rest), mains),
            f"{at} without it": ((*HELD, supply, *rest), mains),
            f"{at} beside a mobile": ((*HELD, MOBILE, ring, supply, own, *rest), mains),
        }
    found = held_each(kits)
    for at, (*case, is_on) in enumerate(cases):
        assert found[f"{at} with it"]["is_on_mains"] == is_on, case
        assert not found[f"{at} without it"]["is_on_mains"], case
        beside = found[f"{at} beside a mobile"]
        assert beside["is_on_mains"] and beside["amps_tx"] > 2, (
            "what feeds a mobile is not counted on beside it"
        )


def test_a_lead_for_a_handheld_that_may_not_work_leaves_it_open() -> None:
    lead = ELIMINATOR | {"dc_plug": "j563_male", "dc_plug_far": "pack_latch"} | UNSURE
    row = held(lead)
    assert (row["answer"], row["untold"]) == ("not known", "nobody tells whether handheld_dc_lead works")
    supply = {"kind": "supply_30a", "dc_plug": "posts"}
    lead = lead | {"dc_plug": "ring_m6"}
    row = held(supply, lead, mains=True, vehicle=False)
    assert (row["answer"], row["untold"]) == ("not known", "nobody tells whether handheld_dc_lead works")
    assert held(supply, lead, lead | {"condition": "ok"}, mains=True, vehicle=False)["is_on_mains"]


def test_a_panel_that_may_not_work_gives_sun_in_the_high_end_alone() -> None:
    def at(*things: dict[str, Any]) -> pd.Series:
        told = small_club.assess(
            inventory=small_club.kit("QA1BC", "Bag", *BASE, *things),
            events=[EVENT | PLACE | {"temp_min_c": 10.0}],
            posts=[{"event": "Ride", "post": "Ford", "duty": "busy"}],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
        )
        return told.table("runtime").iloc[0]

    without, sure = at(), at(PANEL, MPPT)
    assert sure["runtime_h"] > without["runtime_h"]
    for things in ((PANEL | UNSURE, MPPT), (PANEL, MPPT | UNSURE)):
        row = at(*things)
        assert row["runtime_h"] == without["runtime_h"] and row["hoped_h"] == sure["runtime_h"]


def test_a_converter_that_may_not_work_leaves_the_hours_open() -> None:
    battery_24 = SMALL | {"volts_min": 24.0, "volts_max": 29.0, "capacity_ah": 20.0}
    buck = {"kind": "buck_converter", "volts_min": 13.8, "volts_max": 13.8, "amps_rated": 25.0}
    buck |= {"dc_plug": "genderless_30", "dc_plug_far": "genderless_30"}
    rest = {"mains": False, "vehicle": False}
    for things, answer in (((battery_24, buck), "met"), ((battery_24, buck | UNSURE), "not known")):
        assert asked(*things, **rest)["runs_out_before_the_shift_ends"][0] == answer


def test_a_converter_in_doubt_does_not_hide_why_the_hours_are_not_known() -> None:
    flooded = AGM | {"kind": "battery_flooded"}
    booster = {"kind": "boost_converter", "amps_rated": 25.0} | UNSURE
    for things in ((MOBILE, flooded, LEAD, booster), (booster, LEAD, flooded, MOBILE)):
        row = hours_at(-10.0, *things)
        assert (
            row["limited_by"] == "colder than the figures published for its battery" and row["energy_wh"] > 0
        )


@pytest.mark.parametrize("coldest_c", [20.0, 0.0, -10.0, -18.0])
def test_as_many_batteries_as_are_asked_for_carry_the_shift_in_the_cold_too(coldest_c: float) -> None:
    told = {"amps_tx": 11.0, "amps_rx": 0.6, "amps_idle": 0.4, "volts_min": 11.7}

    def ends(*more: dict[str, Any]) -> engine.Finding:
        club = small_club.assess(
            inventory=small_club.kit("QA1BC", "Bag", MOBILE | told, SMALL, *more, *BASE[2:]),
            events=[EVENT | {"ends": pd.Timestamp("2027-04-25 18:00"), "temp_min_c": coldest_c, "temp_max_c": 25.0}],
            posts=[{"event": "Ride", "post": "Ford", "duty": "net_control", "mains": False, "vehicle": False}],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
        )  # fmt: skip
        (found,) = club.answers("runs_out_before_the_shift_ends")
        return found

    short = ends()
    assert short.status == "not met" and "each with a fuse of its own" in short.fix
    wanted = short.evidence["batteries_wanted"]
    assert ends(BASE[1] | {"quantity": wanted}).status == "met"
    assert ends(BASE[1] | {"quantity": wanted - 2}).status == "not met", "nor are they far too many"


def test_a_vehicle_charges_a_power_station_from_its_socket() -> None:
    def at(policy: str = "", **post: Any) -> pd.Series:
        return hours_at(10, MOBILE | WEAKER, STATION | {"capacity_ah": 5.0}, IN_CAR, policy=policy, **post)

    alone, charged = at(vehicle=False), at(vehicle=True)
    assert alone["runtime_h"] < 4 and alone["untold"] is None
    assert charged["runtime_h"] == 240 and charged["recharge_w"] > 0
    untold = at()
    assert untold[["runtime_h", "hoped_h"]].tolist() == [alone["runtime_h"], 240]
    # 1 A of 12 V, a tenth lost, of what the radio draws
    weak = at("[facts]\nvehicle_socket_a = 1\n", vehicle=True)
    assert weak["recharge_w"] == pytest.approx(1 * 12 * 0.9)


@pytest.mark.parametrize(
    ("panel", "controller", "lead", "gives"),
    [
        ({"volts_min": 5.0, "volts_max": 5.0}, {}, (), False),  # no controller steps it up
        ({"volts_min": 13.8, "volts_max": 14.4}, None, (), True),
        ({"volts_min": 5.0, "volts_max": 5.0}, None, (), False),
        ({"dc_plug": "mc4_male"}, {"dc_plug": "j563_female", "dc_plug_far": "j563_male"}, (), False),
        ({"dc_plug": "mc4_male"}, {"dc_plug": "j563_female", "dc_plug_far": "j563_male"}, ("mc4_female", "j563_male"), True),
        ({"dc_plug": "mc4_male"}, {"dc_plug": "j563_female", "dc_plug_far": "j563_male"}, ("mc4_female", None), True),
        ({"dc_plug": "genderless_30"}, {"dc_plug": "mc4_male", "dc_plug_far": "mc4_male"}, (), False),
        ({"dc_plug": "mc4_male"}, {"dc_plug": "mc4_female", "dc_plug_far": "genderless_30"}, (), True),
        ({"dc_plug": "mc4_male"}, {"dc_plug": "mc4_female", "dc_plug_far": "genderless_30"} | LITHIUM, (), True),
        ({"dc_plug": "mc4_male"}, {}, (), True),  # nobody tells the controller's
    ],
)  # fmt: skip
def test_a_panel_that_is_too_weak_or_that_nothing_joins_gives_nothing(
    panel: dict[str, Any], controller: dict[str, Any] | None, lead: tuple[str | None, ...], gives: bool
) -> None:
    things = [PANEL | panel] + ([] if controller is None else [MPPT | controller])
    if lead:
        things.append(LEAD | {"item": "sun lead", "dc_plug": lead[0], "dc_plug_far": lead[1]})
    supply = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *BASE, *things)).table("supply")
    assert (supply["solar_w"][0] > 0, supply["solar_may_w"][0] > 0) == (gives, gives)


def test_a_panel_without_a_place_brings_at_most_the_sun_all_day() -> None:
    def at(watts: float) -> str:
        panel = {"kind": "solar_panel", "solar_watts": watts}
        return asked(panel, {"kind": "charge_controller_mppt"})["runs_out_before_the_shift_ends"][0]

    assert [at(watts) for watts in (100.0, 1.0)] == ["not known", "not met"]


def test_a_pack_outside_the_window_of_its_handheld_feeds_nothing() -> None:
    high = PACK | {"volts_min": 11.0, "volts_max": 12.6}
    assert alone(HANDHELD | {"volts_max": 8.4}, high).table("kit_runtime")["runtime_h"].tolist() == [0]


def test_what_counts_as_empty_has_no_hours() -> None:
    long_ago = {"charged": pd.Timestamp("2026-01-01")}
    for things in ((HANDHELD, PACK | long_ago), (MOBILE, AGM | long_ago)):
        assert alone(*things).table("kit_runtime")["runtime_h"].tolist() == [0]
    assert hours_at(10, HANDHELD, PACK | long_ago)["runtime_h"] > 2


def test_of_batteries_that_give_nothing_the_one_that_holds_something_tells_why() -> None:
    empty = AGM | {"charged": pd.Timestamp("2026-01-01")}
    small = BATTERY | {"capacity_ah": 1.0, "charged": pd.Timestamp(small_club.TODAY)}
    for things in ((MOBILE, empty, small, LEAD), (MOBILE, small, empty, LEAD)):
        told = alone(*things).table("kit_runtime")
        assert told[["runtime_h", "limited_by"]].to_numpy().tolist() == [[0.0, "brown-out"]]


def test_everything_that_tells_a_current_draws_it() -> None:
    def load_w(*things: dict[str, Any]) -> float:
        return float(alone(*BASE, *things).table("kit_runtime")["load_w"].iloc[0])

    usual = load_w()
    lantern = {"kind": "lantern", "amps_idle": 1.0}
    assert load_w(lantern) - usual == pytest.approx(13.2)  # 1 A at the middle of 12.0 and 14.4 V
    assert load_w(lantern | {"cell_size": "d"}) == load_w({"kind": "lantern"}) == usual
    assert load_w({"kind": "tuner"}) - usual == pytest.approx(1.32)
    # a receiver draws 0.3 A as long as it listens, one with a pack of its own nothing from the kit's battery
    assert load_w({"kind": "scanner"}) - usual == pytest.approx(0.3 * 13.2)
    assert load_w({"kind": "simple_frs"}, {"kind": "scanner", "capacity_ah": 2.0}) == usual
    assert load_w({"kind": "scanner", "spare": True}) == usual
    # 3.5 A at 19.5 V through a converter that gives nine tenths of what it takes; at 13.2 V, not at 12 V, of the battery
    laptop = {"kind": "laptop", "volts_min": 19.0, "volts_max": 20.0, "amps_idle": 3.5}
    assert load_w(laptop) - usual == pytest.approx(3.5 * 19.5 / 0.9 * 13.2 / 12)
    # one that tells none draws some 50 W, the middle of 30 to 70 W
    assert load_w({"kind": "laptop"}) - usual == pytest.approx(50 / 0.9 * 13.2 / 12, rel=0.02)


def two_shifts(
    first: str, second: str, *things: dict[str, Any], temp_c: float = 10.0, **ford: Any
) -> tuple[list[float], list[str]]:
    """Hours that the kit is asked for at Ford and at Mill, and what the rules on its hours answer there."""
    place = {"event": "Ride", "duty": "busy", "mains": False}
    told = {
        "inventory": small_club.kit("QA1BC", "Bag", *BASE, *things),
        "events": [EVENT | {"temp_min_c": temp_c, "ends": pd.Timestamp("2027-04-26 22:00")}],
        "posts": [place | {"post": "Ford"} | ford, place | {"post": "Mill"}],
        "assignments": [
            {"event": "Ride", "post": post, "member": "QA1BC", "kit": "Bag"}
            | {
                name: pd.Timestamp(f"2027-04-{time}")
                for name, time in zip(("from", "to"), times.split("/"), strict=True)
            }
            for post, times in (("Ford", first), ("Mill", second))
        ],
    }
    club = small_club.assess(**told)
    rules = ("runs_out_before_the_shift_ends", "no_margin_on_the_clock", "no_way_to_recharge")
    answers = [f"{one.rule}: {one.status}" for one in club.answers(*rules)]
    return club.table("runtime")["need_h"].tolist(), answers


def test_a_kit_at_two_posts_has_both_to_last() -> None:
    day, evening, next_day = "25 06:00/25 13:30", "25 14:00/25 21:30", "26 06:00/26 13:30"
    charger = {"kind": "charger_lifepo4"}
    for things in ((), (charger,)):  # no mains for a charger, and no time
        need_h, answers = two_shifts(day, evening, *things)
        assert need_h == [15, 15] and answers.count("runs_out_before_the_shift_ends: not met") == 2
        assert "no_way_to_recharge: not met" in answers
    assert two_shifts(day, next_day)[0] == [7.5, 7.5]
    assert two_shifts(day, day)[0] == [7.5, 7.5], "promised twice, not going on"
    need_h, answers = two_shifts(day, evening, charger, mains=True)
    gone = {"runs_out_before_the_shift_ends: not met", "no_way_to_recharge: not met"}
    assert need_h == [7.5, 7.5] and not gone & set(answers)
    assert two_shifts(day, evening, {"kind": "supply_30a", "dc_plug": "genderless_30"}, mains=True)[0] == [
        7.5,
        7.5,
    ]


def test_what_was_used_before_is_out_of_the_battery_that_mains_refill() -> None:
    day, evening = "25 06:00/25 13:30", "25 14:00/25 21:30"
    ends = "runs_out_before_the_shift_ends"
    need_h, answers = two_shifts(evening, day, {"kind": "charger_lifepo4", "amps_rated": 4.0}, mains=True)
    assert need_h == [15, 7.5] and answers.count(f"{ends}: met") == 2
    # one that gives less than is drawn spares some of the battery in the evening, and nothing of what the day took
    need_h, answers = two_shifts(evening, day, {"kind": "charger_lifepo4", "amps_rated": 1.0}, mains=True)
    assert need_h[0] == 15 > need_h[1] > 7.5 and f"{ends}: met" not in answers


def test_mains_refill_what_the_charger_is_for_where_it_is_warm_enough() -> None:
    day, evening = "25 06:00/25 13:30", "25 14:00/25 21:30"
    packs = (
        small_club.HANDHELD,
        small_club.PACK | {"quantity": 2},
        {"kind": "charger_handheld", "amps_rated": 4.0},
    )
    charger, mains = {"kind": "charger_lifepo4"}, {"mains": True, "rf_watts_min": 25.0}
    assert two_shifts(day, evening, *packs, **mains)[0][0] == 15, "the charger is for packs"
    assert two_shifts(day, evening, *packs, charger, **mains)[0][0] == 7.5
    need_h, answers = two_shifts(day, evening, charger, temp_c=-5.0, mains=True)
    assert need_h == [15, 15] and "runs_out_before_the_shift_ends: met" not in answers


@pytest.mark.parametrize(
    ("times", "asked_h"),
    [
        (("25 06:00/25 13:30", "26 06:00/26 12:00"), 7.5),  # a night at home between
        (("25 06:00/25 13:30", "25 20:00/25 22:00", "26 06:00/26 12:00"), 9.5),  # eight hours are a night
        (("25 06:00/25 22:30", "26 06:00/26 12:00"), 22.5),
        (("25 06:00/25 13:30", "25 12:00/25 18:00"), 12),  # handed over, with an overlap
    ],
)
def test_a_kit_on_several_days_is_charged_in_the_nights_between(
    times: tuple[str, ...], asked_h: float
) -> None:
    told = {"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *BASE),
        events=[EVENT | {"ends": pd.Timestamp("2027-04-26 22:00")}],
        posts=[{"event": "Ride", "post": "Ford", "mains": False}],
        assignments=[
            told | {name: pd.Timestamp(f"2027-04-{at}") for name, at in zip(("from", "to"), span.split("/"), strict=True)}
            for span in times
        ],
    )  # fmt: skip
    assert club.table("runtime")["need_h"].tolist() == [asked_h]


def test_hours_elsewhere_count_by_what_is_drawn_there() -> None:
    need_h, _ = two_shifts("25 06:00/25 13:30", "25 14:00/25 21:30", duty="quiet")
    assert need_h[0] > 15 > need_h[1] > 7.5
    assert (need_h[0] - 7.5) * (need_h[1] - 7.5) == pytest.approx(7.5**2)


BLOCK = {"kind": "dc_block", "dc_plug": "genderless_30", "dc_plug_far": "genderless_30", "amps_rated": 40.0}
HF_STATION = (
    HF_RADIO, BATTERY | {"amps_rated": 40.0}, LEAD | {"amps_rated": 40.0}, BLOCK, LEAD | {"amps_rated": 40.0}, FUSE, COAX,
    {"kind": "dipole", "rf_plug": "so239"},
)  # fmt: skip
IN_HAND = (HANDHELD, PACK, {"kind": "whip"})
APART = (
    MOBILE | {"dc_plug": "t_plug_male"}, BATTERY | {"dc_plug": "t_plug_female", "amps_rated": 40.0, "capacity_ah": 60.0},
    {"kind": "dc_adapter", "dc_plug": "genderless_30", "dc_plug_far": "t_plug_female", "amps_rated": 40.0}, COAX, ANTENNA,
)  # fmt: skip


@pytest.mark.parametrize(
    ("things", "of_ford", "of_mill"),
    [
        ((MOBILE, COAX, ANTENNA), 1.0, 1.0),  # on the battery of the other
        (IN_HAND, 0.0, 0.0),  # on a pack of its own
        (APART, 0.25, 1.0),  # on that battery, and on one of thrice its capacity beside it
    ],
)
def test_what_a_kit_takes_at_another_post_is_what_the_radio_draws_that_works_there(
    things: tuple[dict[str, Any], ...], of_ford: float, of_mill: float
) -> None:
    """The first radio works on 40 m at Ford for 7 h, the second on 2 m at Mill for 3 h."""
    place = {"event": "Ride", "mains": False, "duty": "busy"}
    shift = {"event": "Ride", "member": "QA1BC", "kit": "Bag"}
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *HF_STATION, *things),
        events=[EVENT | {"temp_min_c": 20.0, "temp_max_c": 20.0, "ends": pd.Timestamp("2027-04-25 17:00")}],
        posts=[
            place | {"post": "Ford", "bands": "40m", "modes": "ssb", "duty": "quiet"},
            place | {"post": "Mill", "bands": "2m", "modes": "fm"},
        ],
        assignments=[
            shift | {"post": "Ford", "to": pd.Timestamp("2027-04-25 13:00")},
            shift | {"post": "Mill", "from": pd.Timestamp("2027-04-25 14:00")},
        ],
    )
    ford, mill = club.table("runtime").to_dict("records")
    kinds = club.table("item").set_index("item_id")["kind"]
    assert [kinds[one["radio_item_id"]] for one in (ford, mill)] == ["hf_100w", things[0]["kind"]]
    there_h, back_h = 3 * mill["load_w"] / ford["load_w"], 7 * ford["load_w"] / mill["load_w"]
    assert ford["elsewhere_h"] == pytest.approx(of_ford * there_h, abs=1e-4)
    assert mill["elsewhere_h"] == pytest.approx(of_mill * back_h, abs=1e-4)


def test_hours_of_other_posts_are_told_as_hours_at_the_load_of_this_one() -> None:
    place = {"event": "Ride", "mains": False}
    shift = {"event": "Ride", "member": "QA1BC", "kit": "Bag"}
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", *BASE),
        events=[EVENT | {"temp_min_c": 10.0, "ends": pd.Timestamp("2027-04-25 22:00")}],
        posts=[place | {"post": "Ford", "duty": "busy"}, place | {"post": "Mill", "duty": "net_control"}],
        assignments=[
            shift | {"post": "Ford", "to": pd.Timestamp("2027-04-25 13:30")},
            shift | {"post": "Mill", "from": pd.Timestamp("2027-04-25 14:00")},
        ],
    )
    said = [one.sentence for one in club.answers("runs_out_before_the_shift_ends")]
    elsewhere_h = club.table("runtime")["elsewhere_h"].map(lambda hours: up(hours, 1)).tolist()
    assert elsewhere_h[0] > 8 > elsewhere_h[1] > 0
    for hours, sentence in zip(elsewhere_h, said, strict=True):
        assert (
            f"on average (other posts on the same charge take as much as {hours} h at this load);" in sentence
        )


def at_ford(*kits: list[dict[str, Any]], days: int = 0, **post: Any) -> Club:
    """A club with these kits, each sent to Ford by its member."""
    ends = {"ends": EVENT["ends"] + pd.Timedelta(days=days), "temp_min_c": 20.0, "temp_max_c": 20.0}
    return small_club.assess(
        inventory=[row for kit in kits for row in kit],
        events=[EVENT | ends | PLACE],
        posts=[{"event": "Ride", "post": "Ford", "duty": "busy", "bands": "2m", "modes": "fm", "mains": False, "vehicle": False} | post],
        assignments=[
            {"event": "Ride", "post": "Ford", "member": kit[0]["member"], "kit": kit[0]["kit"]} for kit in kits
        ],
    )  # fmt: skip


STOUT = (*BASE[:1], SMALL, *BASE[2:])
HUNGRY = (MOBILE | {"amps_tx": 10.0, "amps_rx": 0.6, "amps_idle": 0.4}, *STOUT[1:])
MODEST = (MOBILE | {"amps_tx": 4.0, "amps_rx": 0.6, "amps_idle": 0.4}, *STOUT[1:])
SOCKET, PLUGGED_INVERTER = {"kind": "socket_lead"}, INVERTER | {"dc_plug": "j563_male"}
GENERATOR = {"kind": "generator", "volts_min": 110.0, "amps_rated": 0.6}
A_VEHICLE, MORE_VEHICLES, FUEL = (
    "whether a vehicle stays there", "whether another vehicle with a socket stays there",
    "whether the generator has fuel for all of it",
)  # fmt: skip
SHARED: dict[str, tuple[tuple[tuple[Any, ...], ...], dict[str, Any], str, list[str]]] = {
    "one": (((*HUNGRY, BOOSTER, SOCKET),), {"vehicle": True}, "lasts", []),
    "two on one socket": (((*HUNGRY, BOOSTER, SOCKET), (*HUNGRY, CHARGER, PLUGGED_INVERTER)), {"vehicle": True}, "may", [MORE_VEHICLES]),
    "two vehicles": (((*HUNGRY, BOOSTER, SOCKET),) * 2, {"vehicles": 2}, "lasts", []),
    "two vehicles for three": (((*HUNGRY, BOOSTER, SOCKET),) * 3, {"vehicles": 2}, "not, lasts", []),
    "those that draw most share with those that draw least": (
        ((*HUNGRY, BOOSTER, SOCKET), (*MODEST, BOOSTER, SOCKET)) * 2, {"vehicles": 2}, "lasts", [],
    ),
    "one that draws less": (((*HUNGRY, BOOSTER, SOCKET), (*MODEST, BOOSTER, SOCKET)), {"vehicle": True}, "lasts", []),
    "one on clips": (((*HUNGRY, BOOSTER, SOCKET), (*HUNGRY, BOOSTER, CLIPS)), {"vehicle": True}, "lasts", []),
    "one without a booster": (((*HUNGRY, BOOSTER, SOCKET), (*HUNGRY, SOCKET)), {"vehicle": True}, "lasts, not", []),
    "one that may work": (((*HUNGRY, BOOSTER, SOCKET), (*HUNGRY, BOOSTER, SOCKET | UNSURE)), {"vehicle": True}, "may", [MORE_VEHICLES]),
    "in turn": (((*HUNGRY, BOOSTER, SOCKET),) * 2, {"vehicle": True, "turns": True}, "lasts", []),
    "nobody tells": (((*HUNGRY, BOOSTER, SOCKET),) * 2, {}, "may", [A_VEHICLE, MORE_VEHICLES]),
    "nobody tells, one is enough": (((*HUNGRY, BOOSTER, SOCKET), (*MODEST, BOOSTER, SOCKET)), {}, "may", [A_VEHICLE]),
    "a generator": (((*HUNGRY, CHARGER, GENERATOR),), {"vehicle": False}, "may", [FUEL]),
    "two on one generator": (((*HUNGRY, CHARGER, GENERATOR), (*HUNGRY, SUPPLY)), {"vehicle": False}, "not", []),
    "a generator for each": (((*HUNGRY, CHARGER, GENERATOR),) * 2, {"vehicle": False}, "may", [FUEL]),
}  # fmt: skip
"""By post: what its kits hold, what is told of it, whether they last, and what is not told."""
LONG = (HANDHELD, PACK | {"quantity": 3, "capacity_ah": 3.0}, {"kind": "whip"})
UNSURE = {"condition": "unknown"}


@pytest.mark.parametrize(
    ("place", "change", "answer", "untold"),
    [
        (None, {}, "not met", ""),
        (0, {}, "met", ""),
        (0, UNSURE, "not known", "whether handheld works"),
        (2, UNSURE, "not known", "the bands, modes or plugs of handheld, or whether what it needs works"),
        (1, UNSURE, "not known", ""),
        (1, {"quantity": 1, "capacity_ah": 0.5} | UNSURE, "not known", ""),
        (0, {"condition": "faulty"}, "not met", ""),
    ],
)
def test_a_station_that_may_suit_and_would_last_leaves_it_open(
    place: int | None, change: dict[str, Any], answer: str, untold: str
) -> None:
    """Its condition is asked for, where the one that suits for certain ends too early; as well if another brings it."""
    things = [thing | change if place == at else thing for at, thing in enumerate(LONG)]
    beside = things if place is not None else []
    for kits in (
        [small_club.kit("QA1BC", "Bag", *STOUT, *beside)],
        [
            small_club.kit("QA1BC", "Bag", *STOUT),
            *([small_club.kit("QB2CD", "Box", *beside)] if beside else []),
        ],
    )[: 1 if place == 2 else 2]:  # without a whip the other makes no station, which no_complete_station says
        club = at_ford(*kits)
        found = club.answers("runs_out_before_the_shift_ends")
        assert [one.status for one in found] == [answer]
        if untold:
            whose = " in QB2CD's Box" if len(kits) == 2 else ""
            assert (
                f"nobody tells {untold.replace('handheld', f'handheld{whose}')}; without" in found[0].sentence
            )
    weak = at_ford(small_club.kit("QA1BC", "Bag", *STOUT, *beside), rf_watts_min=25.0)
    assert status(weak, "runs_out_before_the_shift_ends") == "not met", "it is too weak whatever is told"


@pytest.mark.parametrize(
    ("times", "answer"),
    [
        (("25 06:00/25 12:00", "26 05:00/26 13:00"), "not known"),
        (("25 05:00/25 06:00", "26 12:00/26 13:00"), "not met"),
        (("25 06:00/25 12:00", "26 12:00/26 13:00"), "not met"),
    ],
)
def test_a_station_that_may_last_leaves_it_open_where_it_is_there_whenever_the_kit_is(
    times: tuple[str, ...], answer: str
) -> None:
    may_last = [thing | UNSURE if at == 0 else thing for at, thing in enumerate(LONG)]
    kits = {"QA1BC": ("25 06:00/25 12:00", "26 06:00/26 12:00"), "QB2CD": times}
    club = small_club.assess(
        inventory=[*small_club.kit("QA1BC", "Bag", *STOUT), *small_club.kit("QB2CD", "Bag", *may_last)],
        events=[EVENT | {"ends": pd.Timestamp("2027-04-26 22:00"), "temp_min_c": 20.0, "temp_max_c": 20.0}],
        posts=[{"event": "Ride", "post": "Ford", "duty": "busy", "bands": "2m", "modes": "fm", "mains": False, "vehicle": False}],
        assignments=[
            {"event": "Ride", "post": "Ford", "member": member, "kit": "Bag"}
            | {name: pd.Timestamp(f"2027-04-{at}") for name, at in zip(("from", "to"), span.split("/"), strict=True)}
            for member, spans in kits.items() for span in spans
        ],
    )  # fmt: skip
    found = {one.member: one.status for one in club.answers("runs_out_before_the_shift_ends")}
    assert found["QA1BC"] == answer


def test_kits_at_one_post_share_what_one_vehicle_or_one_generator_gives() -> None:
    """The hungry draw 51 W each, the modest 22 W; a socket gives 8 A x 12 V x 0.9 = 86 W, the generator 66 W x 0.9 = 59 W."""
    noon = pd.Timestamp("2027-04-25 18:00")
    club = small_club.assess(
        inventory=[
            row for post, (kits, *_) in SHARED.items() for at, things in enumerate(kits)
            for row in small_club.kit(f"QA{at}BC", post, *things)
        ],
        events=[EVENT | PLACE | {"ends": pd.Timestamp("2027-04-26 06:00"), "temp_min_c": 20.0, "temp_max_c": 20.0}],
        posts=[
            {"event": "Ride", "post": post, "duty": "net_control", "bands": "2m", "modes": "fm", "mains": False}
            | {name: value for name, value in told.items() if name != "turns"}
            for post, (_, told, *_) in SHARED.items()
        ],
        assignments=[
            {"event": "Ride", "post": post, "member": f"QA{at}BC", "kit": post} | ({("to", "from")[at]: noon} if "turns" in told else {})
            for post, (kits, told, *_) in SHARED.items() for at in range(len(kits))
        ],
    )  # fmt: skip
    rows = club.rows(
        """
        select post, runtime_h >= r.need_h, hoped_h >= r.need_h, untold
        from runtime as r join post_kit using (post_kit_id) join post using (post_id) join kit using (kit_id)
        where is_assigned order by member
        """
    )
    for post, (_, _, answer, untold) in SHARED.items():
        words = ["lasts" if lasts else "may" if may else "not" for at, lasts, may, _ in rows if at == post]
        assert ", ".join(dict.fromkeys(words)) == answer, post
        if answer == "may":
            said = {text for at, _, may, text in rows if at == post and may}
            assert {text.removeprefix("nobody tells ") for text in said if "works" not in text} == {
                ", ".join(untold)
            }, post


def test_a_spare_radio_takes_nothing_from_those_that_share_no_battery() -> None:
    spare = MOBILE | {"spare": True, "item": "spare"}
    held = (HANDHELD, PACK, {"kind": "whip"})
    small = (MOBILE, SMALL | {"capacity_ah": 14.0}, *BASE[2:])
    two = {"post_type": "digital", "rf_watts_min": 5.0}
    without, with_it = (
        at_ford(small_club.kit("QA1BC", "Bag", *small, *held, *more), **two).table("runtime").iloc[0]
        for more in ((), (spare, COAX, ANTENNA))
    )
    assert with_it["runtime_h"] == without["runtime_h"] > without["need_h"]
    alone = at_ford(small_club.kit("QA1BC", "Bag", *small, spare, COAX, ANTENNA), **two).table("runtime")
    assert alone["runtime_h"].iloc[0] < without["runtime_h"] / 1.5, "two on one battery"


def test_days_on_a_panel_are_held_with_limits_where_rain_would_end_them() -> None:
    def at(watts: float, *more: dict[str, Any]) -> tuple[str, str, str | None]:
        panel = (
            {"kind": "solar_panel", "solar_watts": watts},
            {"kind": "charge_controller_mppt", "amps_rated": 100.0},
        )
        club = at_ford(small_club.kit("QA1BC", "Bag", *BASE, *panel, *more), days=3, duty="quiet")
        asked = (status(club, rule) for rule in ("runs_out_before_the_shift_ends", "no_margin_on_the_clock"))
        return (*asked, club.table("runtime")["untold"].iloc[0])

    assert at(100.0)[:2] == ("met", "not met")
    assert at(1500.0)[:2] == ("met", "met"), "a tenth of it is enough"
    assert at(60.0)[:2] == ("not known", "left out"), "under a clear sky alone"
    assert at(5.0)[:2] == ("not met", "left out")
    assert at(100.0, BATTERY | UNSURE)[2] is None, "the sun carries it, whatever that battery adds"


def test_what_a_battery_lost_in_store_is_lost_of_what_is_used() -> None:
    # 18 Ah AGM, charged 180 days ago: 5 % a month of 30.44 days leaves 70.4 %, of which half of the label stays in it
    lay = pd.Timestamp(small_club.TODAY) - pd.Timedelta(days=180)
    agm = BASE[1] | {"kind": "battery_agm", "capacity_ah": 18.0, "charged": lay}
    (energy_wh,) = alone(BASE[0], agm, *BASE[2:]).table("kit_runtime")["energy_wh"]
    assert energy_wh == pytest.approx(18 * 11.9 * (1 - 0.05 * 180 / 30.4375 - 0.5))
