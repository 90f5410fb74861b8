"""Which sources feed which radios: kits as thought, and random kits against a graph of their parts."""

from collections.abc import Mapping
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd
import pytest

from data import reference
from rules.facts.station_feed import MAYBE, NO, SURE, apart
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, HANDHELD, LEAD, MOBILE, PACK
from tests.test_station_flow import BLANK, SHARE, parts_of

MATES = reference.mating_pairs() | {("pack_latch", "pack_latch")}
PLUGS = ["genderless_30", "genderless_30", "t_plug_male", "t_plug_female", "posts", "ring_m6", None]
VOLTS = [(12.0, 14.4), (12.0, 14.4), (24.0, 28.8), (9.0, 12.6), (np.nan, np.nan)]
Kit = list[dict[str, Any]]


def random_kit(rng: np.random.Generator) -> Kit:
    """Radios, sources, leads and converters with few sorts of plugs, volts and currents."""

    def any_of(values: list[Any]) -> Any:
        return values[rng.integers(len(values))]

    def some(most: int, least: int = 0, **thing: Any) -> Kit:
        ends = ("dc_plug", "dc_plug_far") if thing["role"] in ("lead", "fuse", "converter") else ("dc_plug",)
        return [
            BLANK
            | thing
            | {end: any_of(PLUGS if rng.random() < 0.2 else PLUGS[:-1]) for end in ends}
            | {"amps_rated": any_of([5.0, 15.0, 30.0, np.nan]), "is_usable": any_of([True, True, True, None])}
            for _ in range(rng.integers(least, most + 1))
        ]

    mobiles = [
        x | {"volts_min": 11.7, "volts_max": 15.9, "amps_tx": any_of([2.0, 11.0, 22.0, np.nan])}
        for x in some(2, 1, role="radio", kind="mobile")
    ]
    sources = [
        x | dict(zip(("volts_min", "volts_max"), any_of(VOLTS), strict=True))
        for x in [*some(3, role="source", kind="battery"), *some(1, role="source", kind="generator")]
    ]
    steps = [
        x | dict.fromkeys(("volts_min", "volts_max"), any_of([13.8, 13.8, 12.0, 24.0]))
        for x in [
            *some(2, role="converter", kind="boost_converter"),
            *some(2, role="converter", kind="buck_converter"),
        ]
    ]
    held: Kit = []
    if rng.random() < 0.6:
        volts = {"volts_min": 6.0, "volts_max": 8.4, "dc_plug": "pack_latch"}
        family = [None, "red", " Red", "blue"]
        held = [
            BLANK
            | volts
            | {"role": "radio", "kind": "handheld", "amps_tx": 1.6, "pack_family": any_of(family)},
            *(BLANK | volts | {"role": "pack", "pack_family": any_of(family)} for _ in range(rng.integers(3))),
            *(
                x | {"volts_min": 7.4, "volts_max": 8.4, "dc_plug_far": "pack_latch", "pack_family": any_of(family)}
                for x in some(1, role="converter", kind="handheld_dc_lead")
            ),
        ]  # fmt: skip
    return [*mobiles, *sources, *some(4, role="lead"), *some(1, role="fuse"), *steps, *held]


def joined(kit: Kit, source: int, radio: int, steps: tuple[int, ...], is_loose: bool) -> bool:
    """Whether a way leads from source to radio through converters, by a graph in which a lead has a node for each way round."""

    def mates(a: str | None, b: str | None) -> bool:
        return is_loose if a is None or b is None else (a, b) in MATES

    def middle(of: int) -> float:
        return float(kit[of]["volts_min"] + kit[of]["volts_max"]) / 2

    def gives(giver: dict[str, Any], reached_v: str) -> bool:
        told = [x["pack_family"].strip().lower() for x in (giver, kit[radio]) if x["pack_family"]]
        is_wrong = giver[reached_v] < kit[radio]["volts_min"] or giver["volts_max"] > kit[radio]["volts_max"]
        return not is_wrong and not giver["amps_rated"] < kit[radio]["amps_tx"] and len(set(told)) < 2

    def path(entry: str | None, exits: tuple[str | None, ...], amps: float) -> bool:
        of = nx.DiGraph()
        of.add_nodes_from(["from", "to"])
        ways = [
            (i, a, b)
            for i, x in enumerate(kit)
            if x["role"] in ("lead", "fuse")
            and (is_loose or x["is_usable"])
            and not x["amps_rated"] < amps
            and not (x["role"] == "fuse" and None in (x["dc_plug"], x["dc_plug_far"]))
            for a, b in ((x["dc_plug"], x["dc_plug_far"]), (x["dc_plug_far"], x["dc_plug"]))
        ]
        of.add_edges_from(("from", way) for way in ways if any(mates(x, way[1]) for x in exits))
        of.add_edges_from((x, y) for x in ways for y in ways if mates(x[2], y[1]))
        of.add_edges_from((way, "to") for way in ways if mates(way[2], entry))
        return any(mates(x, entry) for x in exits) or bool(nx.has_path(of, "from", "to"))

    amps, exits = kit[radio]["amps_tx"], (kit[radio]["dc_plug"],)
    if not steps:
        return gives(kit[source], "volts_max") and path(exits[0], (kit[source]["dc_plug"],), amps)
    if not gives(kit[steps[-1]], "volts_min"):
        return False
    entry = kit[radio]["dc_plug"]
    for giver, at in zip((source, *steps)[-2::-1], steps[::-1], strict=True):
        step = kit[at]
        drawn = middle(at) * amps / SHARE / middle(giver)
        drawn = amps if np.isnan(drawn) else drawn
        refuses = {
            "boost_converter": middle(at) < kit[giver]["volts_min"],
            "buck_converter": middle(giver) <= middle(at),
        }
        is_fit = (is_loose or bool(step["is_usable"])) and not refuses.get(step["kind"], False)
        if not is_fit or kit[giver]["amps_rated"] < drawn or not path(entry, (step["dc_plug_far"],), amps):
            return False
        amps, entry = drawn, step["dc_plug"]
    return path(entry, (kit[source]["dc_plug"],), amps)


SORTS = {"boost_converter": 1, "buck_converter": 2}


def followed(kit: Kit) -> dict[tuple[int, int], tuple[int, ...]]:
    """How sure each source is joined to each radio, straight and through each sort of converter, and of which sorts two are needed."""

    def best(source: int, radio: int, ways: list[tuple[int, ...]]) -> int:
        for is_loose, how in ((False, SURE), (True, MAYBE)):
            if any(joined(kit, source, radio, way, is_loose) for way in ways):
                return how
        return NO

    converters = [i for i, x in enumerate(kit) if x["role"] == "converter"]
    found: dict[tuple[int, int], tuple[int, ...]] = {}
    for r, radio in enumerate(kit):
        if radio["role"] == "radio":
            is_held = radio["kind"] == "handheld"
            of: dict[int, tuple[int, ...]] = {}
            for s, source in enumerate(kit):
                if source["role"] in ("source", "pack") and source["kind"] != "generator":
                    is_pack = source["role"] == "pack"
                    told = [best(s, r, [()]) if is_pack == is_held else NO, NO, NO, NO]
                    by_itself = [NO] * 4
                    for last in () if is_pack else converters:
                        one = best(s, r, [(last,)])
                        two = best(s, r, [(x, last) for x in converters if x != last])
                        sort = SORTS.get(kit[last]["kind"], 3)
                        told[sort] = max(told[sort], one, two)
                        by_itself[sort] = max(by_itself[sort], one)
                    of[s] = (*told, *(x > y for x, y in zip(told[1:], by_itself[1:], strict=True)))
            is_fed = any(SURE in ways[:4] for ways in of.values())
            for s, told_of in of.items():
                ways = [SURE if how == MAYBE and not is_fed else how for how in told_of[:4]]
                found[s, r] = (*ways, *told_of[4:])
    return found


def test_sources_feed_the_radios_that_a_graph_of_their_parts_says() -> None:
    rng = np.random.default_rng(12)
    kits = [random_kit(rng) for _ in range(600)]
    parts, place = parts_of(kits)
    seen: list[dict[tuple[int, int], tuple[int, ...]]] = [{} for _ in kits]
    pairs = apart(parts, SHARE)
    *columns, in_series = vars(pairs).values()
    for s, r, *told in zip(*columns, *in_series, strict=True):
        seen[parts.kit[s]][int(place[s]), int(place[r])] = tuple(int(x) for x in told)
    said, seconds = set(), set()
    for kit, found in zip(kits, seen, strict=True):
        what = pd.DataFrame(kit)[["role", "kind", "dc_plug", "dc_plug_far", "amps_rated", "volts_min"]]
        for (s, r), ways in followed(kit).items():
            is_held, is_pack = kit[r]["kind"] == "handheld", kit[s]["role"] == "pack"
            if (s, r) in found:
                assert found[s, r] == ways, (what, s, r)
                said.add((ways[0], max(ways[1:4])))
                seconds.add(ways[4:])
            else:
                assert is_pack != is_held or ways[0] == SURE, (what, s, r)
                sorts = () if is_pack else {SORTS.get(x["kind"], 3) for x in delivering(kit, r)}
                assert all(ways[sort] == SURE for sort in sorts), (what, s, r)
                assert not any(ways[4:]), (what, s, r)
    assert said >= {(NO, NO), (MAYBE, NO), (NO, MAYBE), (NO, SURE), (SURE, NO)}
    assert seconds > {(0, 0, 0), (1, 0, 0), (0, 1, 0)}


def delivering(kit: Kit, radio: int) -> Kit:
    """The converters of a kit that give what a radio takes, whatever their plugs."""
    asked = kit[radio]
    return [
        x
        for x in kit
        if x["role"] == "converter"
        and not (x["volts_min"] < asked["volts_min"] or x["volts_max"] > asked["volts_max"])
        and not x["amps_rated"] < asked["amps_tx"]
        and not (
            x["pack_family"]
            and asked["pack_family"]
            and x["pack_family"].strip().lower() != asked["pack_family"].strip().lower()
        )
    ]


def table(name: str, *things: Mapping[str, object]) -> pd.DataFrame:
    return small_club.assess(inventory=small_club.kit("QA1BC", "box", *things)).table(name)


def hours(*things: Mapping[str, object]) -> tuple[float, float]:
    """Hours of a kit's main radio and their high end."""
    row = table("kit_runtime", *things).iloc[0]
    return round(row["runtime_h"], 3), round(row["runtime_high_h"], 3)


RADIO = MOBILE | {"amps_tx": 11.0}
SMALL = BATTERY | {"capacity_ah": 7.0, "amps_rated": 20.0}
LARGE = BATTERY | {"item": "large", "capacity_ah": 50.0, "amps_rated": 40.0}
RING = LEAD | {"dc_plug": "ring_m6"}
STUDS = LARGE | {"dc_plug": "stud_m6"}


@pytest.mark.parametrize(
    ("things", "counts"),
    [
        ([STUDS], False), ([STUDS, LEAD], False), ([STUDS, RING], True), ([STUDS, RING | {"amps_rated": 10.0}], False),
        ([STUDS, RING | {"condition": "faulty"}], False), ([STUDS, RING | {"condition": "unknown"}], None),
        ([STUDS, LEAD | {"dc_plug": None}], None), ([LARGE], True), ([LARGE | {"amps_rated": 5.0}], False),
        ([LARGE | {"amps_rated": None}], True), ([LARGE | {"dc_plug": None}], None), ([LARGE | {"volts_min": 24.0, "volts_max": 28.8}], False),
        ([LARGE | {"dc_plug": "posts"}, {"kind": "clip_lead", "dc_plug_far": "genderless_30"}], True),
        ([LARGE | {"dc_plug": "posts"}, {"kind": "clip_lead", "dc_plug_far": "t_plug_male"}], False),
        ([STUDS, RING | {"dc_plug_far": "xt60_male"}, {"kind": "dc_block", "dc_plug": "xt60_female", "dc_plug_far": "genderless_30"}], True),
    ],
)  # fmt: skip
def test_a_battery_counts_where_something_joins_it_to_the_radio(
    things: list[dict[str, object]], counts: bool | None
) -> None:
    """In the high end alone where a plug is not told, or nobody is sure whether what joins it works."""
    told, high = hours(RADIO, SMALL, *things)
    alone, whole = hours(RADIO, SMALL), hours(RADIO, SMALL, LARGE)
    if counts is None:
        assert (np.isnan(told) or told == alone[0], high) == (True, 240)
    else:
        assert told == (whole if counts else alone)[0]


def test_of_a_battery_that_may_be_joined_it_is_said_which() -> None:
    things = (RADIO, SMALL | {"capacity_ah": 2.0}, LARGE | {"dc_plug": None})
    said = table("kit_runtime", *things)["limited_by"].tolist()
    assert said == ["nobody tells whether anything joins large to the radio"]
    alone = hours(RADIO, LARGE | {"dc_plug": None})
    assert alone == hours(RADIO, LARGE), "where nothing else feeds it, no_complete_station says that"


def test_a_plug_that_is_not_told_may_be_one_that_nothing_else_in_the_club_has() -> None:
    assert hours(RADIO | {"dc_plug": "t_plug_male"}, LARGE | {"dc_plug": None}) == hours(RADIO, LARGE)


def test_a_battery_that_nothing_joins_is_none() -> None:
    row = table("kit_runtime", RADIO, STUDS).iloc[0]
    assert (row["runtime_h"], row["limited_by"]) == (0, "no battery that fits it and is joined to it")


def test_a_battery_feeds_through_a_converter_that_its_leads_reach() -> None:
    high = LARGE | {"volts_min": 24.0, "volts_max": 28.8}
    buck: dict[str, object] = {
        "kind": "buck_converter",
        "dc_plug": "xt60_female",
        "dc_plug_far": "genderless_30",
    }
    buck |= {"volts_min": 13.8, "volts_max": 13.8, "amps_rated": 15.0}
    lead = LEAD | {"dc_plug_far": "xt60_male", "amps_rated": 7.0}
    alone = hours(RADIO, SMALL)
    assert hours(RADIO, SMALL, high, buck) == alone
    assert hours(RADIO, SMALL, high, buck, lead)[0] > 2 * alone[0], "11 A at 13.8 V are 6.4 A at 26.4 V"
    assert hours(RADIO, SMALL, high, buck, lead | {"amps_rated": 6.0}) == alone


def test_a_converter_behind_another_takes_nothing_from_one_of_its_sort_on_the_battery() -> None:
    """Of two bucks the one on the battery stops at what it delivers; another on a booster would stop at the least that any takes."""
    high = LARGE | {"volts_min": 24.0, "volts_max": 28.8}
    given = {"amps_rated": 30.0, "volts_min": 13.8, "volts_max": 13.8, "dc_plug_far": "genderless_30"}
    buck = given | {"kind": "buck_converter", "dc_plug": "genderless_30"}
    raised: dict[str, object] = {"volts_min": 48.0, "volts_max": 48.0, "dc_plug_far": "t_plug_male"}
    booster = buck | {"kind": "boost_converter"} | raised
    behind = buck | {"item": "behind", "dc_plug": "t_plug_female"}
    asked = ["stop_v", "gain"]
    alone, both, second = (
        table("feed", RADIO, high, *things)[asked].round(6).values.tolist()
        for things in ([buck], [buck, booster, behind], [booster, behind])
    )
    assert both == alone and [stop_v for stop_v, _ in alone] == [13.8]
    assert second == [[9.0, pytest.approx(alone[0][1] / 0.9, abs=1e-6)]]


def test_a_handheld_runs_on_a_battery_that_joins_its_12_v_lead() -> None:
    held = HANDHELD | {"amps_tx": 1.6}
    lead = {"kind": "handheld_dc_lead", "dc_plug": "j563_male"}
    alone = hours(held, PACK)
    assert hours(held, PACK, BATTERY, lead) == alone
    assert hours(held, PACK, BATTERY, lead | {"dc_plug": "genderless_30"})[0] > 2 * alone[0]
    socket = LEAD | {"dc_plug_far": "j563_female"}
    assert hours(held, PACK, BATTERY, lead, socket)[0] > 2 * alone[0]


def test_a_pack_of_another_family_feeds_nothing() -> None:
    red, blue = ({"pack_family": family} for family in ("red", "blue"))
    other = PACK | {"item": "other"}
    alone, both = hours(HANDHELD | red, PACK | red), hours(HANDHELD | red, PACK | red, other)
    assert both[0] == pytest.approx(2 * alone[0], abs=0.01), "a family that is not told may be the same"
    assert hours(HANDHELD | red, PACK | red, other | blue) == alone
    assert hours(HANDHELD | red, PACK | red, other | {"pack_family": " Red"}) == both
    assert hours(HANDHELD, PACK | red, other | blue) == both
    assert hours(HANDHELD | red, PACK | blue) == (0, 0)
    whip = {"kind": "whip", "rf_plug": "sma_male"}
    for family, stations in ((red, 1), (blue, 0)):
        found = table("station", HANDHELD | red | {"rf_plug": "sma_female"}, PACK | family, whip)
        assert found["stations_high"].tolist() == [stations]


@pytest.mark.parametrize(
    ("supply", "others", "has"),
    [
        ({"dc_plug": "genderless_30"}, [], True), ({"dc_plug": "genderless_30", "amps_rated": 5.0}, [], False), ({}, [], False),
        ({}, [LEAD | {"dc_plug": "ring_m6"}], True), ({}, [LEAD | {"dc_plug": "ring_m6", "condition": "unknown"}], None),
        ({"dc_plug": "genderless_30", "condition": "unknown"}, [], None), ({}, [LEAD | {"dc_plug": None}], None),
        ({"dc_plug": "genderless_30", "volts_min": 24.0, "volts_max": 24.0}, [], False),
    ],
)  # fmt: skip
def test_a_mains_supply_counts_where_it_is_joined_and_strong_enough(
    supply: dict[str, object], others: list[dict[str, object]], has: bool | None
) -> None:
    found = table("supply", RADIO, SMALL, {"kind": "supply_30a", **supply}, *others)["has_mains_supply"]
    assert [None if pd.isna(x) else bool(x) for x in found] == [has]


def test_a_battery_or_antenna_that_is_not_ready_changes_no_joint() -> None:
    """What is charged before use counts at a post, whatever its date."""
    empty = STUDS | {"charged": pd.Timestamp("2020-01-01")}
    pairs = table("apart", RADIO, SMALL | {"charged": pd.Timestamp("2020-01-01")}, empty, COAX, ANTENNA)
    assert pairs[["item_id", "is_straight"]].values.tolist() == [[3, False]]


@pytest.mark.parametrize(
    ("charger", "others", "amps"),
    [
        ({}, [], 6), ({"dc_plug_far": "genderless_30"}, [], 6), ({"dc_plug": "xt60_male"}, [], 0), ({"dc_plug_far": "xt60_male"}, [], 0),
        ({"dc_plug": "xt60_male"}, [LEAD | {"dc_plug_far": "xt60_female"}], 6), ({"dc_plug": "xt60_male"}, [LEAD], 0),
        ({"dc_plug": "xt60_male"}, [LEAD | {"dc_plug": "xt60_female"}], 6), ({"dc_plug": "xt60_male"}, [LEAD | {"dc_plug": None}], 6),
        ({"dc_plug": "xt60_male"}, [LEAD | {"dc_plug": None, "dc_plug_far": "xt60_female"}], 6),
        ({"dc_plug": "xt60_male"}, [{"kind": "charger_lifepo4", "item": "other", "amps_rated": 4.0}], 4),
    ],
)  # fmt: skip
def test_a_charger_counts_where_its_plug_joins_the_battery(
    charger: dict[str, object], others: list[dict[str, object]], amps: float
) -> None:
    found = table("feed", RADIO, SMALL, {"kind": "charger_lifepo4", "amps_rated": 6.0, **charger}, *others)
    assert found["charger_a"].tolist() == [amps]


def test_a_spare_lead_that_nobody_needs_makes_no_drop() -> None:
    def at(*things: Mapping[str, object]) -> tuple[float, float]:
        return hours(*things, COAX, ANTENNA)

    radio = RADIO | {"amps_tx": 22.0}
    store = BATTERY | {"kind": "battery_agm", "capacity_ah": 35.0, "amps_rated": 40.0}
    short = LEAD | {"item": "short", "amps_rated": 40.0, "wire_awg": 8.0, "length_m": 0.5}
    long = LEAD | {"item": "long", "wire_awg": 14.0, "length_m": 4.0}
    spare = long | {"spare": True}
    right = at(radio, store, short)
    assert at(radio, store, spare, short) == right > at(radio, store, long, short)
    assert at(radio, store, spare) == at(radio, store), "battery and radio mate without"
    own = {"dc_plug_far": "t_plug_female"}
    odd = radio | {"dc_plug": "t_plug_male"}
    right = at(odd, store, short | own)
    assert at(odd, store, spare | own, short | own) == right > at(odd, store, spare | own)
    mains = {"kind": "supply_30a", "dc_plug": "t_plug_female"}
    assert at(odd, store, short | own, mains) == right, "a supply drops nothing on the battery"


SHORT = LEAD | {"item": "short", "wire_awg": 10.0, "length_m": 1.0, "amps_rated": 30.0}
LONG = SHORT | {"item": "long", "wire_awg": 16.0, "length_m": 6.0}
CLIPS = LONG | {"item": "clips", "kind": "clip_lead", "dc_plug": "clips"}
TEE = RADIO | {"item": "tee", "dc_plug": "t_plug_male"}
OWN = {"dc_plug_far": "t_plug_female"}
SHORT_OHM, LONG_OHM = 0.0176, 0.1691  # 2 m of 3.277 ohm/km, 12 m of 13.18 ohm/km, 4 contacts and the fuse


@pytest.mark.parametrize(
    ("things", "ohm"),
    [
        ([RADIO, SHORT, LONG], [(LONG_OHM, SHORT_OHM)]), ([TEE, SHORT | OWN, LONG | OWN], [(LONG_OHM, SHORT_OHM)]),
        ([TEE, LONG | OWN, SHORT | OWN], [(LONG_OHM, SHORT_OHM)]), ([RADIO, SHORT, CLIPS], [(SHORT_OHM, SHORT_OHM)]),
        ([TEE, RADIO, LONG, SHORT | OWN], [(SHORT_OHM, SHORT_OHM), (LONG_OHM, LONG_OHM)]),
        ([RADIO, SHORT, LONG | {"amps_rated": 5.0}], [(SHORT_OHM, SHORT_OHM)]),
        ([TEE, SHORT | OWN, LONG | OWN | {"amps_rated": 5.0}], [(SHORT_OHM, SHORT_OHM)]),
        ([TEE, SHORT | OWN, LONG | OWN | {"condition": "unknown"}], [(SHORT_OHM, SHORT_OHM)]),
        ([TEE, SHORT | OWN | {"condition": "unknown"}, LONG | OWN | {"spare": True}], [(LONG_OHM, LONG_OHM)]),
        ([TEE, SHORT | OWN | {"condition": "unknown"}, LONG | OWN | {"amps_rated": 5.0}], [(SHORT_OHM, SHORT_OHM)]),
        ([RADIO, CLIPS], [(0.027, 0.027)]), ([RADIO, LONG | {"amps_rated": 5.0}], [(0.027, 0.027)]), ([RADIO, LONG | {"condition": "unknown"}, CLIPS], [(LONG_OHM, 0.027)]),
        ([RADIO, LONG | {"condition": "unknown"}], [(LONG_OHM, 0.027)]), ([RADIO, SHORT | {"condition": "unknown"}], [(0.027, 0.027)]),
        ([RADIO, SHORT, LONG | {"condition": "unknown"}], [(SHORT_OHM, SHORT_OHM)]), ([RADIO, LONG | {"condition": "unknown", "spare": True}], [(0.027, 0.027)]),
        ([TEE, SHORT | OWN, {"kind": "fuse_holder", "dc_plug": "genderless_30", **OWN}], [(SHORT_OHM, SHORT_OHM)]),
        ([TEE, {"kind": "fuse_holder", "dc_plug": "genderless_30", **OWN}, CLIPS], [(0.027, 0.027)]),
        ([RADIO, SHORT | {"dc_plug": None}, LONG], [(LONG_OHM, SHORT_OHM)]),
        ([RADIO, SHORT | {"dc_plug": "t_plug_male"}, LONG], [(LONG_OHM, LONG_OHM)]),
    ],
)  # fmt: skip
def test_a_radio_hangs_on_the_leads_that_may_feed_it(
    things: list[dict[str, object]], ohm: list[tuple[float, float]]
) -> None:
    found = table("supply", *things, LARGE, COAX, ANTENNA)
    assert found[["path_ohm", "path_least_ohm"]].values.tolist() == [
        pytest.approx(each, abs=1e-4) for each in ohm
    ]


def test_ways_begin_at_a_battery_and_not_at_a_supply_beside_it() -> None:
    supply = {"kind": "supply_30a", "dc_plug": "genderless_30"}
    found = table("supply", RADIO, STUDS, RING | {"wire_awg": 10.0, "length_m": 1.0}, supply, LONG)
    assert found["path_ohm"].tolist() == [pytest.approx(SHORT_OHM, abs=1e-4)]


def test_where_one_lead_is_enough_and_another_not_nobody_knows_the_hours() -> None:
    """Enough on the worst is enough; too few on the best is too few, on the worst."""
    best, worst = hours(RADIO, LARGE, SHORT), hours(RADIO, LARGE, LONG)
    assert worst[0] < 12 < best[0]
    for leads in ((SHORT, LONG), (LONG, SHORT)):
        row = table("kit_runtime", RADIO, LARGE, *leads).iloc[0]
        assert np.isnan(row["runtime_h"])
        assert row["limited_by"] == "nobody tells which of its leads feeds the radio"
        alone = table("kit_runtime", RADIO, LARGE, LONG).iloc[0]
        assert (row["runtime_low_h"], row["how"]) == (alone["runtime_low_h"], "assumed")
        assert row["runtime_high_h"] == pytest.approx(best[1], abs=1e-3)
    fair = SHORT | {"item": "fair", "length_m": 2.0}
    both, alone = (table("kit_runtime", RADIO, LARGE, *leads).iloc[0] for leads in ((SHORT, fair), (fair,)))
    assert both["runtime_h"] == alone["runtime_h"], "either is enough"
    small = SMALL | {"capacity_ah": 2.0}
    both, alone = (table("kit_runtime", RADIO, small, *leads).iloc[0] for leads in ((SHORT, LONG), (LONG,)))
    assert (both["runtime_h"], both["limited_by"]) == (alone["runtime_h"], alone["limited_by"])
    assert both["runtime_high_h"] == table("kit_runtime", RADIO, small, SHORT).iloc[0]["runtime_high_h"]


def test_at_a_post_it_is_not_known_either_whether_the_kit_lasts() -> None:
    def at(*leads: Mapping[str, object]) -> tuple[Any, list[str]]:
        charger = {"kind": "charger_lifepo4", "amps_rated": 0.1}
        things: list[Mapping[str, object]] = [RADIO, LARGE, *leads, charger, COAX, ANTENNA]
        post = {"event": "Ride", "post": "Ford", "post_type": "aid_station", "bands": "2m", "mains": True}
        club = small_club.assess(
            inventory=small_club.kit("QA1BC", "box", *things), events=[small_club.EVENT], posts=[post],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "box"}],
        )  # fmt: skip
        said = [x.sentence for x in club.findings() if x.rule == "runs_out_before_the_shift_ends"]
        return club.table("runtime").iloc[0], said

    (best, none), (worst, short), (row, said) = at(SHORT), at(LONG), at(SHORT, LONG)
    assert (none, worst["runtime_high_h"] < 6 < best["runtime_h"], len(short)) == ([], True, 1)
    assert np.isnan(row["runtime_h"]) and np.isnan(row["hoped_h"])
    assert row["runtime_low_h"] == worst["runtime_low_h"]
    assert row["runtime_high_h"] == pytest.approx(best["runtime_high_h"])
    assert row["untold"] == "nobody tells which of its leads feeds the radio"
    assert said == [
        "Ride/Ford: the hours of QA1BC's box are not known: nobody tells which of its leads feeds the radio."
    ]


def test_a_battery_feeds_through_two_converters_and_the_losses_of_both() -> None:
    """9 of 10 W are left of what each takes in: 13.8 V from 26.4 V, and from 9.5 V."""
    boost: dict[str, object] = {
        "kind": "boost_converter",
        "dc_plug": "xt60_female",
        **OWN,
        "amps_rated": 25.0,
    }
    boost |= {"volts_min": 13.8, "volts_max": 13.8}
    buck = boost | {"kind": "buck_converter"}
    first = {"dc_plug": "genderless_30", "dc_plug_far": "xt60_male"}
    high, low = (LARGE | {"volts_min": v, "volts_max": w} for v, w in ((24.0, 28.8), (9.0, 10.0)))
    for store, one, two, volts in (
        (high, buck | first | {"volts_min": 12.0, "volts_max": 12.0}, boost, 26.4),
        (low, boost | first | {"volts_min": 24.0, "volts_max": 24.0}, buck, 9.5),
    ):
        found = table("feed", TEE, store, one, two)
        assert found["gain"].tolist() == [pytest.approx(13.8 / volts / 0.9**2)]
        assert found["stop_v"].tolist() == [9]
        assert (
            table("feed", TEE, store, one, two | {"dc_plug": "genderless_30"})["gain"].tolist()
            != found["gain"].tolist()
        )
        assert table("feed", TEE, store, one | {"dc_plug_far": "t_plug_male"}, two).empty
    few = table(
        "feed", TEE, high, buck | first | {"volts_min": 12.0, "volts_max": 12.0, "amps_rated": 10.0}, boost
    )
    assert few.empty, "the boost converter takes in 14 A at 12 V"


def test_a_sort_of_converter_that_nothing_joins_is_no_way() -> None:
    """A buck converter stops at what it gives, a boost converter goes on below that."""
    boost: dict[str, object] = {
        "kind": "boost_converter",
        "dc_plug": "genderless_30",
        **OWN,
        "amps_rated": 25.0,
    }
    boost |= {"volts_min": 13.8, "volts_max": 13.8}
    buck, odd = boost | {"kind": "buck_converter"}, {"dc_plug": "xt60_female"}
    other = boost | {"kind": "usb_pd_converter"}
    store = LARGE | {"volts_min": 12.0, "volts_max": 20.0}

    def stops(*things: Mapping[str, object]) -> list[float]:
        return sorted(table("feed", TEE, store, *things)["stop_v"])

    assert stops(boost, buck) == [9, 13.8]
    assert (stops(boost | odd, buck), stops(boost, buck | odd)) == ([13.8], [9])
    assert stops(buck | odd, other) == [9]
    assert stops(buck, other | odd) == [13.8]


def test_what_is_for_another_family_of_packs_neither_charges_nor_feeds() -> None:
    held, pack = HANDHELD | {"pack_family": "blue", "amps_tx": 1.6}, PACK | {"pack_family": "blue"}
    desk: dict[str, object] = {"kind": "charger_handheld", "amps_rated": 1.5}

    def amps(**told: object) -> list[float]:
        return table("feed", held, pack, desk | told)["charger_a"].tolist()

    assert (amps(pack_family="red"), amps(pack_family=" Blue"), amps()) == ([0], [1.5], [1.5])
    any_lead = LEAD | {"dc_plug": None, "dc_plug_far": None}
    found = table("feed", held, pack, desk | {"pack_family": "red"}, any_lead)
    assert found["charger_a"].tolist() == [0], "a lead that may join them changes no family"
    both = table("feed", held, pack, desk | {"pack_family": "red"}, desk | {"item": "own", "amps_rated": 1.0})
    assert both["charger_a"].tolist() == [1]
    lead = {"kind": "handheld_dc_lead", "dc_plug": "genderless_30"}
    assert len(table("feed", held, pack, BATTERY, lead)) == 2
    assert len(table("feed", held, pack, BATTERY, lead | {"pack_family": "blue"})) == 2
    assert len(table("feed", held, pack, BATTERY, lead | {"pack_family": "red"})) == 1
    supply = {"kind": "supply_30a", "dc_plug": "genderless_30"}
    for family, has in (("red", False), ("blue", True)):
        found = table("supply", held, supply, lead | {"pack_family": family})
        assert found["has_mains_supply"].tolist() == [has]


def test_whether_a_battery_feeds_the_radio_is_told_beside_what_ends_the_hours() -> None:
    for things, told in (
        ((RADIO, SMALL), [True, False]), ((RADIO, STUDS), [False, True]), ((RADIO,), [False, False]),
        ((RADIO, SMALL | {"capacity_ah": None}), [True, False]), ((RADIO, PACK), [False, False]),
        ((RADIO, SMALL | {"capacity_ah": 0.0}), [True, False]),
    ):  # fmt: skip
        assert table("kit_runtime", *things)[["has_battery", "has_apart"]].values.tolist() == [told]
