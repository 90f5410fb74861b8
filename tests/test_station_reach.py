"""Which radios the power things of a kit lead to: kits as thought, and random kits against a graph of their plugs."""

from collections.abc import Mapping
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd

from data import reference
from rules.facts.station_reach import VEHICLE, reached
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, HANDHELD, LEAD, MOBILE, PACK
from tests.test_station_flow import BLANK, parts_of

MATES = reference.mating_pairs() | {("pack_latch", "pack_latch")}
PLUGS = ["genderless_30", "genderless_30", "t_plug_male", "t_plug_female", "clips", "posts", None]


def random_kit(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Radios, sources, leads and converters with few sorts of plugs."""

    def some(most: int, least: int = 0, **thing: Any) -> list[dict[str, Any]]:
        ends = ("dc_plug", "dc_plug_far") if thing["role"] in ("lead", "fuse", "converter") else ("dc_plug",)
        number = rng.integers(least, most + 1)
        return [
            BLANK | thing | {end: PLUGS[rng.integers(len(PLUGS) - (rng.random() < 0.9))] for end in ends}
            for _ in range(number)
        ]

    handheld = BLANK | {"role": "radio", "kind": "handheld", "dc_plug": "pack_latch"}
    eliminator = BLANK | {
        "role": "converter",
        "kind": "handheld_dc_lead",
        "dc_plug": "genderless_30",
        "dc_plug_far": "pack_latch",
    }
    return [
        *some(3, 1, role="radio", kind="mobile"),
        *some(2, role="source"),
        *some(4, role="lead"),
        *some(1, role="fuse"),
        *some(1, role="converter", kind="boost_converter"),
        *([handheld, eliminator] if rng.random() < 0.5 else []),
    ]


def followed(kit: list[dict[str, Any]]) -> set[tuple[int, int, bool]]:
    """What `reached` is to return, by a graph in which a thing has a node for each way round it is used."""

    def mates(a: str | None, b: str | None) -> bool:
        return a is None or b is None or (a, b) in MATES

    ways = [
        (i, x["dc_plug"], x["dc_plug_far"])
        for i, x in enumerate(kit)
        if x["role"] in ("lead", "fuse", "converter")
    ]
    ways = [x for x in ways if kit[x[0]]["role"] != "fuse" or None not in x]  # a loose one lies nowhere
    ways += [(i, b, a) for i, a, b in ways if kit[i]["role"] != "converter"]
    ways += [(i, "", x["dc_plug"]) for i, x in enumerate(kit) if x["role"] == "source"]
    radios = [i for i, x in enumerate(kit) if x["role"] == "radio"]
    mobile = [i for i in radios if kit[i]["kind"] != "handheld"]

    def graph(without: str) -> nx.DiGraph:
        of = nx.DiGraph()
        nodes = [way for way in ways if kit[way[0]]["role"] != without]
        of.add_nodes_from([*ways, *radios])
        of.add_edges_from((x, y) for x in ways for y in nodes if y[1] != "" and mates(x[2], y[1]))
        of.add_edges_from((x, r) for x in ways for r in radios if mates(x[2], kit[r]["dc_plug"]))
        return of

    whole, straight = graph(""), graph("converter")
    starts = [x for x in ways if x[1] == "" or x[1] in VEHICLE]
    fed = set(starts).union(*(nx.descendants(whole, x) for x in starts))
    found: set[tuple[int, int, bool]] = set()
    for thing in {i for i, *_ in ways if kit[i]["kind"] != "handheld_dc_lead"}:
        for asked in (mobile, [r for r in radios if r not in mobile]):
            mine = [x for x in ways if x[0] == thing and set(asked) & nx.descendants(whole, x)]
            mine = [x for x in mine if x in fed] or mine
            led = {r for x in mine for r in nx.descendants(whole, x) if r in asked}
            direct = {r for x in mine for r in nx.descendants(straight, x) if r in asked}
            if led:
                if asked != mobile or direct != set(mobile):
                    found |= {(thing, r, r not in direct) for r in led}
                break
    return found


def test_things_lead_to_the_radios_that_a_graph_of_their_plugs_says() -> None:
    rng = np.random.default_rng(11)
    kits = [random_kit(rng) for _ in range(1500)]
    parts, place = parts_of(kits)
    seen: list[set[tuple[int, int, bool]]] = [set() for _ in kits]
    found = reached(parts)
    for x, r, is_converted in zip(found.thing, found.radio, found.is_converted, strict=True):
        seen[parts.kit[x]].add((int(place[x]), int(place[r]), bool(is_converted)))
    for kit, found in zip(kits, seen, strict=True):
        assert found == followed(kit), pd.DataFrame(kit)[["role", "kind", "dc_plug", "dc_plug_far"]]
    assert {is_converted for found in seen for *_, is_converted in found} == {False, True}


def test_a_plug_that_is_not_told_may_be_one_that_nothing_else_in_the_club_has() -> None:
    radio, source = BLANK | {"role": "radio", "kind": "mobile"}, BLANK | {"role": "source"}
    parts, _ = parts_of([[radio | {"dc_plug": "posts"}, radio | {"dc_plug": "t_plug_male"}, source]])
    assert not len(reached(parts).thing), "it leads straight to each"


def test_each_plug_has_a_bit_of_64() -> None:
    assert len(reference.words("plug")) <= 64


def passes(*things: Mapping[str, object]) -> dict[int, float]:
    """A that pass each thing of a kit that another current passes than the kit's peak."""
    told = small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
    rows = told.rows(
        "select item_id, gain * peak_a from passing join item using (item_id) join holding using (kit_id)"
    )
    return {item_id: round(amps, 1) for item_id, amps in rows}


OWN = {"dc_plug": "t_plug_male", "amps_tx": 11.0}
LARGE = {"item": "HF", "kind": "hf_100w", "dc_plug": "hf_4pin_male", "amps_tx": 22.0}
TAILS = (
    LEAD | {"item": "tail", "dc_plug_far": "t_plug_female", "amps_rated": 15.0},
    LEAD | {"item": "large tail", "dc_plug_far": "hf_4pin_female"},
)


def test_a_lead_that_reaches_the_smaller_radio_alone_is_held_to_that() -> None:
    assert passes(MOBILE | OWN, LARGE, *TAILS, BATTERY) == {3: 11.0}
    assert passes(MOBILE | OWN, LARGE, *TAILS, BATTERY, LEAD) == {3: 11.0}, (
        "a lead between battery and tail reaches both"
    )
    assert passes(MOBILE | OWN, LARGE | {"dc_plug": "t_plug_male"}, *TAILS, BATTERY) == {}, (
        "the other tail reaches none"
    )
    assert passes(MOBILE | {"dc_plug": None}, LARGE, *TAILS, BATTERY) == {3: 11.0}
    assert passes(MOBILE | OWN, LARGE | {"dc_plug": None}, *TAILS, BATTERY) == {}, (
        "a plug that is not told is any"
    )
    vehicle = {"kind": "socket_lead", "dc_plug_far": "j563_female"}
    held = {"kind": "handheld_dc_lead", "dc_plug": "j563_male"}
    assert passes(HANDHELD | {"amps_tx": 1.5}, PACK, MOBILE, BATTERY, held, vehicle) == {6: 1.5}


def test_a_lead_before_a_booster_alone_is_held_to_what_that_takes_in_though_the_volts_suit() -> None:
    """11 A at 13.8 V are nine tenths of 12.8 A at 13.2 V."""
    booster = {
        "kind": "boost_converter",
        "dc_plug": "xt60_male",
        "dc_plug_far": "genderless_30",
        "amps_rated": 25.0,
    }
    before = LEAD | {"item": "before", "dc_plug": "ring_m6", "dc_plug_far": "xt60_female", "amps_rated": 20.0}
    battery = BATTERY | {"dc_plug": "stud_m6"}
    assert passes(MOBILE | {"amps_tx": 11.0}, battery, before, booster, LEAD) == {2: 12.8, 3: 12.8}
    beside = LEAD | {"item": "beside", "dc_plug": "ring_m6"}
    assert passes(MOBILE | {"amps_tx": 11.0}, battery, before, booster, LEAD, beside) == {3: 12.8}


def test_a_loose_fuse_beside_24_v_is_held_to_what_passes_there() -> None:
    battery = BATTERY | {"volts_min": 24.0, "volts_max": 28.8}
    buck = {
        "kind": "buck_converter",
        "dc_plug": "genderless_30",
        "dc_plug_far": "genderless_30",
        "volts_min": 13.8,
        "volts_max": 13.8,
        "amps_rated": 25.0,
    }
    fuse = {"kind": "fuse", "amps_rated": 10.0}
    rest = (MOBILE | {"amps_tx": 11.0}, buck, fuse)
    assert passes(*rest, battery) == {3: 6.4, 4: 6.4}
    assert passes(*rest, battery, BATTERY | {"item": "12 V"}) == {4: 6.4}, (
        "beside one of 12 V it may sit there"
    )
    behind = {
        "kind": "fuse_holder",
        "dc_plug": "genderless_30",
        "dc_plug_far": "t_plug_female",
        "amps_rated": 15.0,
    }
    assert passes(MOBILE | OWN, battery, buck, behind, COAX, ANTENNA) == {2: 6.4}, (
        "the one way has it behind the converter"
    )


def dropped(*things: Mapping[str, object]) -> list[str]:
    told = small_club.assess(inventory=small_club.kit("QA1BC", "box", *things))
    return [one.sentence for one in told.answers("drop_over_three_percent") if one.status != "met"]


THIN = LEAD | {"wire_awg": 14.0, "length_m": 2.0}
FIRST = THIN | {"item": "first", "dc_plug": "ring_m6"}
SECOND = THIN | {"item": "second", "dc_plug_far": "t_plug_female"}


def test_leads_that_the_plugs_string_together_drop_together_whatever_else_is_in_the_kit() -> None:
    """Two of 2 m and 14 AWG drop 0.36 V each, 2.6 % of 13.8 V, at 11 A."""
    battery = BATTERY | {"dc_plug": "stud_m6"}
    kit = (MOBILE | OWN, battery, FIRST, SECOND, COAX, ANTENNA)
    (said,) = dropped(*kit)
    assert "over 4.0 m of 2.1 mm² with what it is joined to" in said
    assert dropped(*kit, HANDHELD, PACK) == [said], "though the handheld makes the shortest station"
    assert dropped(*kit, THIN | {"item": "lies beside"}) == [said]
    assert dropped(*kit, SECOND | {"item": "goes all the way", "dc_plug": "ring_m6"}) == []
    assert dropped(*kit, BATTERY) == [], "a battery that one lead joins"
    (worse,) = dropped(*kit, SECOND | {"item": "longer", "length_m": 2.2})
    assert "longer" in worse and "over 4.2 m" in worse, "of two that fit, the worse"


def test_leads_strung_together_carry_the_radio_that_they_lead_to() -> None:
    """The small radio hangs on two thin leads; the large one has its own heavy one, behind the first, which is heavy too."""
    battery, heavy = BATTERY | {"dc_plug": "stud_m6"}, {"wire_awg": 8.0}
    tail = LEAD | heavy | {"item": "large tail", "dc_plug_far": "hf_4pin_female", "length_m": 0.5}
    kit = (MOBILE | OWN, LARGE, battery, FIRST | heavy | {"length_m": 1.0}, tail)
    assert dropped(*kit, SECOND) == []
    (said,) = dropped(*kit, SECOND | {"length_m": 2.25})
    assert "at 11 A over 3.2 m" in said or "at 11 A over 3.3 m" in said
