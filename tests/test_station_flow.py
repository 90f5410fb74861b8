"""Complete stations: hand-made kits, and random kits against brute force and networkx."""

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import networkx as nx
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pytest

from rules.facts import station_count, station_flow
from rules.facts.station_parts import Parts, mating_of, usable_parts
from rules.facts.stations import mating

GENDERED = [("socket", "plug"), ("so239", "pl259"), ("bnc_f", "bnc_m")]
SAME = ["genderless", "posts", "pack_latch"]
MATING = pd.DataFrame(
    [(a, b) for a, b in GENDERED] + [(b, a) for a, b in GENDERED] + [(x, x) for x in SAME],
    columns=["plug_a", "plug_b"],
)
MATES = set(MATING.itertuples(index=False, name=None))
WORDS = ("role", "kind", "dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "bands", "pack_family")
BLANK: dict[str, Any] = {
    "kind": "thing",
    "quantity": 1,
    "condition": "ok",
    "is_usable": True,
    "dc_plug": None,
    "dc_plug_far": None,
    "rf_plug": None,
    "rf_plug_far": None,
    "volts_min": np.nan,
    "volts_max": np.nan,
    "amps_tx": np.nan,
    "amps_rated": np.nan,
    "usual_a": np.nan,
    "bands": None,
    "is_charged": None,
    "capacity_ah": np.nan,
    "pack_family": None,
}
BATTERY = {
    "role": "source",
    "kind": "battery",
    "dc_plug": "genderless",
    "volts_min": 12.0,
    "volts_max": 14.6,
    "amps_rated": 30.0,
}
BATTERY |= {"is_charged": True, "capacity_ah": 20.0}
LEAD = {
    "role": "lead",
    "kind": "dc lead",
    "dc_plug": "genderless",
    "dc_plug_far": "socket",
    "amps_rated": 30.0,
}
RADIO = {
    "role": "radio",
    "kind": "mobile",
    "dc_plug": "plug",
    "rf_plug": "so239",
    "volts_min": 11.7,
    "volts_max": 15.8,
}
RADIO |= {"amps_tx": 13.0, "bands": "2m 70cm"}
COAX = {"role": "coax", "rf_plug": "pl259", "rf_plug_far": "pl259"}
ANTENNA = {"role": "antenna", "kind": "antenna", "rf_plug": "so239", "bands": "2m 70cm"}
HANDHELD = {"role": "radio", "kind": "handheld", "dc_plug": "pack_latch", "rf_plug": "bnc_f", "bands": "2m"}
HANDHELD |= {"volts_min": 6.0, "volts_max": 8.4, "amps_tx": 1.5}
PACK = {"role": "pack", "dc_plug": "pack_latch", "is_charged": True}
WHIP = {"role": "antenna", "rf_plug": "bnc_m", "bands": "2m"}
BASE = [BATTERY, LEAD, RADIO, COAX, ANTENNA]


SHARE = 0.9  # of what a converter takes in


class Frames(NamedTuple):
    """A `StationResult` as frames."""

    per_kit: pd.DataFrame
    weak: pd.DataFrame
    path: pd.DataFrame


def stations(items: pd.DataFrame, mates: pd.DataFrame) -> Frames:
    """What is found of the items of a club."""
    words = {name: "string" for name in WORDS if name in items}
    told = pa.Table.from_pandas(items.astype(words), preserve_index=False)
    found = station_count.stations(told, mating_of(mates.itertuples(index=False, name=None)), SHARE)
    return Frames(*(rows.to_pandas() for rows in (found.per_kit, found.weak, found.path)))


def club(*kits: list[dict[str, Any]]) -> pd.DataFrame:
    """Items of several kits; kits and items are numbered from 1."""
    rows: list[dict[str, Any]] = []
    for kit_id, kit in enumerate(kits, 1):
        for item in kit:
            rows.append({"kit_id": kit_id, "item_id": len(rows) + 1, **BLANK, **item})
    frame = pd.DataFrame(rows)
    return frame.astype({"is_charged": "boolean", "is_usable": "boolean"})


def parts_of(kits: Sequence[list[dict[str, Any]]]) -> tuple[Parts, npt.NDArray[np.int64]]:
    """The parts of several kits, and the place of each among the things of its kit."""
    items = club(*kits)
    kit_ids, first = np.unique(items["kit_id"], return_index=True)
    told = items.astype(dict.fromkeys(WORDS, "string"))
    parts = usable_parts(pa.Table.from_pandas(told, preserve_index=False), kit_ids, mating())
    return parts, parts.item_id - 1 - first[parts.kit]


def one(*kit: dict[str, Any]) -> tuple[dict[str, Any], list[int], list[int]]:
    """The row, weak items and path of a club with one kit."""
    result = stations(club(list(kit)), MATING)
    return result.per_kit.iloc[0].to_dict(), [*result.weak["item_id"]], [*result.path["item_id"]]


def counts(*kit: dict[str, Any]) -> tuple[int, int]:
    """Stations, low and high, of a club with one kit."""
    row = one(*kit)[0]
    return row["stations_low"], row["stations_high"]


# --- kits made by hand (how such kits are put together is common practice) ---


def test_battery_lead_radio_coax_antenna_is_one_station_and_everything_is_weak() -> None:
    row, weak, path = one(*BASE)
    assert (row["stations_low"], row["stations_high"], row["has_unknown"]) == (1, 1, False)
    assert row["missing_link"] == row["spare_kind"] == ""
    assert weak == path == [1, 2, 3, 4, 5]


def test_a_second_coax_makes_coax_no_longer_weak_but_not_a_second_station() -> None:
    row, weak, _ = one(*BASE, COAX)
    assert row["stations_low"] == 1
    assert weak == [1, 2, 3, 5]


def test_a_lead_that_may_have_a_second_is_doubtful_and_the_battery_before_it_is_not() -> None:
    result = stations(club([*BASE, LEAD | {"dc_plug_far": None}]), MATING)
    assert result.per_kit["stations_high"].tolist() == [1]
    assert dict(zip(result.weak["item_id"], result.weak["is_doubtful"], strict=True)) == {
        1: False, 2: True, 3: False, 4: False, 5: False,
    }  # fmt: skip


def test_quantity_two_counts_as_two() -> None:
    row, weak, _ = one(*[item | {"quantity": 2} for item in BASE])
    assert row["stations_low"] == 2
    assert weak == []


def test_the_spare_is_the_one_item_that_gives_one_more_station() -> None:
    row, weak, _ = one(*BASE, *[item for item in BASE if item is not ANTENNA])
    assert row["stations_low"] == 1
    assert row["spare_kind"] == "antenna"
    assert weak == [5]


def test_a_distribution_strip_is_shared_so_two_stations_on_it_are_not_independent() -> None:
    strip = LEAD | {"kind": "strip", "dc_plug_far": "genderless"}
    leads = {"role": "lead", "dc_plug": "posts", "dc_plug_far": "genderless", "amps_rated": 30.0}
    battery = BATTERY | {"dc_plug": "posts"}
    ends = [strip | {"dc_plug": "genderless", "dc_plug_far": "socket"}] * 2
    row, weak, _ = one(battery, battery, leads, *ends, RADIO, RADIO, COAX, COAX, ANTENNA, ANTENNA)
    assert row["stations_low"] == 1
    assert weak == [3]


def test_gender_counts() -> None:
    row, _, path = one(BATTERY, LEAD | {"dc_plug_far": "plug"}, RADIO, COAX, ANTENNA)
    assert (row["stations_low"], row["stations_high"], row["missing_link"]) == (0, 0, "dc_path")
    assert (row["plug_from"], row["plug_to"]) == ("genderless", "plug")
    assert path == []


def test_a_lead_may_be_used_either_way_round_but_not_in_and_out_at_one_end() -> None:
    assert counts(BATTERY, LEAD | {"dc_plug": "socket", "dc_plug_far": "genderless"}, *BASE[2:]) == (1, 1)
    assert counts(
        BATTERY, LEAD | {"dc_plug_far": "posts"}, RADIO | {"dc_plug": "genderless"}, COAX, ANTENNA
    ) == (1, 1)
    battery, radio = BATTERY | {"dc_plug": "plug"}, RADIO | {"dc_plug": "plug"}
    assert counts(battery, LEAD, radio, COAX, ANTENNA) == (0, 0)


@pytest.mark.parametrize(
    ("changed", "missing"),
    [
        (BATTERY | {"volts_min": 22.0, "volts_max": 29.2}, "source"),
        (BATTERY | {"amps_rated": 10.0}, "source"),
        (BATTERY | {"is_charged": False}, "source"),
        (LEAD | {"amps_rated": 12.9}, "dc_path"),
        (RADIO | {"is_usable": False}, "radio"),
        (COAX | {"rf_plug_far": "bnc_m"}, "rf_path"),
        (COAX | {"is_usable": False}, "rf_path"),
        (ANTENNA | {"bands": "40m 20m"}, "antenna"),
    ],
)
def test_one_thing_that_does_not_fit_leaves_no_station(changed: dict[str, Any], missing: str) -> None:
    row, weak, path = one(*[changed if item["role"] == changed["role"] else item for item in BASE])
    assert (row["stations_low"], row["stations_high"], row["missing_link"]) == (0, 0, missing)
    assert weak == path == []


def test_a_kit_with_nothing_for_a_station_is_reported() -> None:
    row, _, _ = one({"role": "paper"})
    assert (row["stations_low"], row["missing_link"]) == (0, "source")


@pytest.mark.parametrize("gap", [(0, "volts_max"), (0, "amps_rated"), (1, "dc_plug_far"), (1, "amps_rated")])
def test_what_is_not_known_makes_a_range(gap: tuple[int, str]) -> None:
    at, column = gap
    kit = [item | ({column: None} if i == at else {}) for i, item in enumerate(BASE)]
    row, weak, path = one(*kit)
    assert (row["stations_low"], row["stations_high"], row["has_unknown"]) == (0, 1, True)
    assert row["missing_link"] != ""
    assert path == weak == [1, 2, 3, 4, 5]
    assert not stations(club(kit), MATING).path["is_certain"].any()


@pytest.mark.parametrize(
    "gap",
    [
        *[(2, "bands"), (2, "amps_tx"), (3, "rf_plug"), (4, "bands"), (0, "is_charged")],
        *[(at, "is_usable") for at in range(5)],
    ],
)
def test_what_is_not_known_on_the_radio_side_makes_a_range_too(gap: tuple[int, str]) -> None:
    at, column = gap
    assert counts(*[item | ({column: None} if i == at else {}) for i, item in enumerate(BASE)]) == (0, 1)


@pytest.mark.parametrize(("usual", "low"), [(12.9, 0), (13.0, 1)])  # the radio draws 13 A
def test_a_battery_without_a_rating_carries_what_is_usual_for_certain_and_more_perhaps(
    usual: float, low: int
) -> None:
    assert counts(BATTERY | {"amps_rated": None, "usual_a": usual}, *BASE[1:]) == (low, 1)


def test_a_kit_of_things_that_may_not_work_has_no_station_for_certain() -> None:
    row, weak, path = one(*[item | {"is_usable": None} for item in (HANDHELD, PACK, WHIP)])
    assert (row["stations_low"], row["stations_high"], row["missing_link"]) == (0, 1, "radio")
    assert sorted(weak) == [1, 2, 3] == sorted(path)


def test_kits_that_differ_only_in_whether_a_thing_works_are_not_taken_for_one_another() -> None:
    kits = (BASE, [item | {"is_usable": None} for item in BASE], BASE)
    row = stations(club(*kits), MATING).per_kit
    assert row["stations_low"].tolist() == [1, 0, 1] and row["stations_high"].tolist() == [1, 1, 1]


def test_a_second_of_each_that_may_not_work_leaves_the_first_weak_and_doubtful() -> None:
    kit = [HANDHELD, PACK, WHIP, *[item | {"is_usable": None} for item in (HANDHELD, PACK, WHIP)]]
    assert counts(*kit) == (1, 2)
    weak = stations(club(kit), MATING).weak
    assert weak["item_id"].tolist() == [1, 2, 3] and weak["is_doubtful"].all()


def test_a_mains_supply_needs_no_charge() -> None:
    supply = BATTERY | {"capacity_ah": np.nan, "is_charged": None}
    assert counts(supply, *BASE[1:]) == (1, 1)


def test_a_handheld_with_its_pack_and_whip_is_a_station_and_without_a_charged_pack_is_not() -> None:
    assert one(HANDHELD, PACK, WHIP)[2] == [2, 1, 3]
    assert counts(HANDHELD, PACK | {"is_charged": False}, WHIP) == (0, 0)
    assert counts(HANDHELD, PACK | {"is_charged": None}, WHIP) == (0, 1)
    assert counts(HANDHELD, WHIP) == (0, 0)
    assert counts(HANDHELD, PACK | {"volts_min": 12.0, "volts_max": 16.8}, WHIP) == (0, 0)


def test_integral_pack_and_antenna_need_nothing_else() -> None:
    whole = HANDHELD | {"dc_plug": "builtin", "rf_plug": "builtin", "is_charged": True}
    row, weak, path = one(whole)
    assert (row["stations_low"], weak, path) == (1, [1], [1])
    assert counts(whole | {"quantity": 3}) == (3, 3)
    assert counts(whole | {"is_charged": False}) == (0, 0)


def test_a_24_v_source_reaches_a_12_v_radio_only_through_a_converter() -> None:
    source = BATTERY | {"volts_min": 22.0, "volts_max": 29.2}
    converter = {"role": "converter", "dc_plug": "genderless", "dc_plug_far": "genderless"}
    converter |= {"volts_min": 13.4, "volts_max": 13.8, "amps_rated": 20.0}
    assert counts(source, *BASE[1:]) == (0, 0)
    assert one(source, *BASE[1:], converter)[2] == [1, 6, 2, 3, 4, 5]
    assert counts(source, *BASE[1:], converter | {"amps_rated": 5.0}) == (0, 0)
    assert counts(source, *BASE[1:], converter | {"volts_max": 24.0}) == (0, 0)


def test_a_converter_steps_up_or_down_and_not_the_other_way() -> None:
    """A booster after 24 V and a buck converter after 12 V made a station that has no hour on the air."""
    source_24 = BATTERY | {"volts_min": 22.0, "volts_max": 29.2}
    radio_24 = RADIO | {"volts_min": 20.0, "volts_max": 30.0}
    converter = {
        "role": "converter",
        "dc_plug": "genderless",
        "dc_plug_far": "genderless",
        "amps_rated": 20.0,
    }
    boost, buck = (
        [converter | {"kind": f"{way}_converter", "volts_min": v, "volts_max": v} for v in (13.8, 24.0)]
        for way in ("boost", "buck")
    )
    rest = BASE[1:]
    assert counts(source_24, *rest, buck[0]) == (1, 1)
    assert counts(source_24, *rest, boost[0]) == (0, 0)
    assert one(source_24, *rest, boost[0])[0]["missing_link"] == "source"
    assert one(BATTERY, LEAD, radio_24, COAX, ANTENNA, boost[1])[0]["stations_low"] == 1
    assert counts(BATTERY, LEAD, radio_24, COAX, ANTENNA, buck[1]) == (0, 0)
    # a battery that the radio takes is not handed on by a converter that it cannot feed, only because the plugs would join
    joined = [buck[0] | {"dc_plug_far": "socket"}, RADIO, COAX, ANTENNA]
    assert counts(BATTERY, *joined) == (0, 0)
    assert counts(source_24, *joined) == (1, 1)
    # what the booster delivers can be stepped down again, and volts that nobody told may be right or not
    assert counts(BATTERY, *rest[1:], boost[1], buck[0] | {"dc_plug_far": "socket"}) == (1, 1)
    assert counts(source_24 | {"volts_max": None}, *rest, buck[0]) == (0, 1)


def test_a_battery_may_fall_below_the_window_of_the_radio_and_not_pass_it() -> None:
    """A mobile on lead-acid is a station, and the hours say when it stops: it was none, for want of a battery that fits."""
    for low, high, count in ((11.0, 12.8, 1), (9.0, 11.6, 0), (12.0, 16.8, 0)):
        assert counts(BATTERY | {"volts_min": low, "volts_max": high}, *BASE[1:]) == (count, count)


def test_behind_other_volts_passes_what_the_converter_takes_in_and_not_the_radios_current() -> None:
    # 13 A at 13.6 V are nine tenths of 7.67 A at 25.6 V; 13 A at 24 V of 26.07 A at 13.3 V
    source_24 = BATTERY | {"volts_min": 22.0, "volts_max": 29.2}
    buck = {
        "role": "converter",
        "kind": "buck_converter",
        "dc_plug": "genderless",
        "dc_plug_far": "genderless",
    }
    buck |= {"volts_min": 13.4, "volts_max": 13.8, "amps_rated": 20.0}
    boost = buck | {"kind": "boost_converter", "volts_min": 24.0, "volts_max": 24.0}
    radio_24 = RADIO | {"volts_min": 20.0, "volts_max": 30.0}
    on_posts = {"dc_plug": "posts"}
    lead = LEAD | on_posts | {"dc_plug_far": "genderless"}
    for source, radio, converter, amps in ((source_24, RADIO, buck, 7.67), (BATTERY, radio_24, boost, 26.07)):
        rest = (LEAD, radio, COAX, ANTENNA, converter)
        for rated, count in ((amps - 0.01, 0), (amps + 0.01, 1)):
            assert counts(source | {"amps_rated": rated}, *rest) == (count, count)
            thin = lead | {"amps_rated": rated}
            assert counts(source | on_posts, thin, *rest) == (count, count)
    # behind the converter the radio's own current passes
    assert counts(source_24, LEAD | {"amps_rated": 12.9}, RADIO, COAX, ANTENNA, buck) == (0, 0)
    # and of volts that nobody tells nothing else is known
    untold = source_24 | {"volts_min": None, "volts_max": None, "amps_rated": 8.0}
    assert counts(untold, LEAD, RADIO, COAX, ANTENNA, buck | {"kind": "converter"}) == (0, 0)


def test_one_lead_cannot_stand_before_and_after_a_converter() -> None:
    source = BATTERY | {"volts_min": 22.0, "volts_max": 29.2, "dc_plug": "posts"}
    converter = {"role": "converter", "dc_plug": "genderless", "dc_plug_far": "posts"}
    converter |= {"volts_min": 13.4, "volts_max": 13.8, "amps_rated": 20.0}
    lead = LEAD | {"dc_plug": "posts", "dc_plug_far": "genderless"}
    radio = RADIO | {"dc_plug": "genderless"}
    assert counts(source, lead, radio, COAX, ANTENNA, converter) == (0, 0)
    row, weak, path = one(source, lead, radio, COAX, ANTENNA, converter, lead)
    assert row["stations_low"] == 1
    assert weak == sorted(path) == [1, 2, 3, 4, 5, 6, 7]


def test_radios_of_two_voltages_do_not_take_each_others_sources() -> None:
    radio_24 = RADIO | {"volts_min": 20.0, "volts_max": 30.0}
    source_24 = BATTERY | {"volts_min": 22.0, "volts_max": 29.2}
    two = [item | {"quantity": 2} for item in (LEAD, COAX, ANTENNA)]
    assert counts(BATTERY, RADIO, radio_24, *two) == (1, 1)
    assert counts(BATTERY, source_24, RADIO, *two) == (1, 1)
    assert counts(BATTERY, source_24, RADIO, radio_24, *two) == (2, 2)
    assert counts(BATTERY, source_24, RADIO, radio_24, LEAD, *two[1:]) == (1, 1)


@pytest.mark.parametrize("order", [1, -1])
def test_a_battery_that_fits_two_leads_makes_way_once_for_each_of_it(order: int) -> None:
    """Of 6 batteries 5 fit the 3 leads of the first kind only, so at most 3 of them, and the sixth, have a lead."""
    sources = [BATTERY | {"quantity": 5}, BATTERY | {"dc_plug_far": "posts"}]
    leads = [LEAD | {"quantity": 3}, LEAD | {"dc_plug": "posts", "quantity": 9}]
    rest = [item | {"quantity": 9} for item in (RADIO, COAX, ANTENNA)]
    assert counts(*sources[::order], *leads[::order], *rest) == (4, 4)
    assert counts(*sources, *leads[::order], *rest) == (4, 4)


def test_weak_items_are_found_in_kits_that_list_the_same_things_in_another_order() -> None:
    kit = [*BASE, BATTERY]
    weak = stations(club(kit, [*kit[2:], *kit[:2]]), MATING).weak
    assert weak["item_id"].tolist() == [2, 3, 4, 5, 7, 8, 9, 12]


def test_every_item_of_a_long_way_is_weak() -> None:
    """Each lead joins the one before only by its own near end, so that there is one way round."""
    near, far = ([f"{end} {number}" for number in range(71)] for end in ("near", "far"))
    leads = [LEAD | {"dc_plug": near[n], "dc_plug_far": far[n + 1]} for n in range(70)]
    ends = [BATTERY | {"dc_plug": far[0]}, RADIO | {"dc_plug": near[70]}, COAX, ANTENNA]
    mates = pd.concat([MATING, pd.DataFrame({"plug_a": far + near, "plug_b": near + far})])
    found = stations(club([*ends, *leads]), mates)
    assert found.per_kit["stations_low"].tolist() == [1]
    assert found.weak["item_id"].tolist() == list(range(1, len(ends) + len(leads) + 1))


def test_kits_do_not_lend_to_each_other() -> None:
    result = stations(club(BASE[:3], BASE[3:], BASE), MATING)
    assert [*result.per_kit["stations_low"]] == [0, 0, 1]
    assert [*result.per_kit["missing_link"]] == ["antenna", "source", ""]


def test_a_missing_column_is_named() -> None:
    with pytest.raises(ValueError, match="no column amps_tx"):
        stations(club(BASE).drop(columns="amps_tx"), MATING)


# --- random kits against brute force ---


def random_kit(rng: np.random.Generator, unknown: float) -> list[dict[str, Any]]:
    """A small kit of random parts whose plugs, volts, amps and bands often nearly fit.

    Two batteries, converters up, down and for a handheld, fuses, a second power plug, adapters that join and a pack are
    among them.
    """
    dc, rf = (
        ["genderless", "genderless", "genderless", "socket", "plug"],
        ["so239", "pl259", "pl259", "bnc_m"],
    )
    volts = [(12.0, 14.0), (12.0, 14.0), (13.0, 16.0), (22.0, 28.0)]
    windows = [(11.0, 15.0), (11.0, 15.0), (20.0, 30.0), (11.0, 30.0)]
    low = (6.0, 8.4)

    def pick(options: list[Any]) -> Any:
        return options[rng.integers(len(options))]

    def part(role: str) -> dict[str, Any]:
        item: dict[str, Any] = {"role": role, "kind": role, "quantity": 2 if rng.random() < 0.1 else 1}
        if role in ("source", "lead", "fuse", "converter", "radio"):
            item |= {"dc_plug": pick(dc), "amps_rated": pick([6.0, 12.0, 20.0, 20.0])}
        if role in ("lead", "fuse", "converter"):
            item["dc_plug_far"] = pick(dc)
        if role in ("source", "converter"):
            item["volts_min"], item["volts_max"] = pick(volts)
        if role == "converter":
            item["kind"] = pick(["buck_converter", "boost_converter", "converter"])
            if rng.random() < 0.3:
                item |= {"kind": "handheld_dc_lead", "dc_plug_far": "pack_latch", "volts_min": 7.4}
                item["volts_max"] = 8.4
        if role == "source":
            item |= {"capacity_ah": 7.0, "is_charged": bool(rng.random() < 0.9)}
            item["usual_a"] = pick([np.nan, 6.0, 12.0])
        if role == "pack":
            item |= {"dc_plug": "pack_latch", "is_charged": pick([True, True, True, False, None])}
            item["volts_min"], item["volts_max"] = pick([low, low, (np.nan, np.nan), (12.0, 16.8)])
        if role == "radio":
            item["volts_min"], item["volts_max"] = pick(windows)
            item |= {"amps_tx": pick([2.0, 10.0]), "amps_rated": np.nan}
            if rng.random() < 0.3:
                item |= {"dc_plug": "pack_latch", "volts_min": low[0], "volts_max": low[1], "amps_tx": 2.0}
            if rng.random() < 0.1:
                item |= {"dc_plug": "builtin", "is_charged": True}
        if role in ("source", "radio") and item["dc_plug"] != "builtin" and rng.random() < 0.15:
            item["dc_plug_far"] = pick(dc)
        if role in ("radio", "coax", "rf_adapter", "antenna"):
            ends = rf if role in ("coax", "rf_adapter") else ["so239", "so239", "bnc_f"]
            item["rf_plug"] = pick(ends)
        if role == "radio" and rng.random() < 0.1:
            item["rf_plug"] = "builtin"
        if role == "coax":
            item["rf_plug_far"] = pick(rf)
        if role == "rf_adapter":
            item["rf_plug_far"] = pick(["so239", "bnc_f", "bnc_m"])
        if role in ("radio", "antenna"):
            item["bands"] = pick(["2m", "20m", "2m 20m"])
        item["is_usable"] = True
        for name in (
            "dc_plug",
            "dc_plug_far",
            "rf_plug",
            "volts_min",
            "amps_rated",
            "amps_tx",
            "bands",
            "is_usable",
        ):
            if item.get(name) is not None and rng.random() < unknown:
                item[name] = None
        return item

    few = {"source": 4, "radio": 4, "antenna": 4, "lead": 4, "coax": 4, "converter": 3}
    few |= {"pack": 2, "fuse": 2, "rf_adapter": 3}
    return [part(role) for role, most in few.items() for _ in range(rng.integers(most > 3, most))]


def known(value: Any) -> bool:
    return not (value is None or value is pd.NA or value != value)


DC = ("source", "pack", "lead", "fuse", "converter")
RF = ("coax", "rf_adapter", "antenna")


class Judge:
    """The definition of a station, written down once more for one kit, item by item."""

    def __init__(self, kit: pd.DataFrame, is_kind: bool) -> None:
        there = kit["is_usable"].fillna(is_kind)
        if not is_kind:
            kit = kit.assign(amps_rated=kit["amps_rated"].fillna(kit["usual_a"]))
        self.items = kit[there.astype(bool)].to_dict("records")
        self.is_kind = is_kind

    def most(self, small: Any, large: Any, of: dict[str, Any] | None = None) -> bool:
        """Whether one is at most the other; a pack fits where a figure is not known."""
        is_loose = self.is_kind or (of is not None and of["role"] == "pack")
        return small <= large if known(small) and known(large) else is_loose

    def mate(self, a: Any, b: Any) -> bool:
        if "builtin" in (a, b):
            return False
        return (a, b) in MATES if known(a) and known(b) else self.is_kind

    def takes(self, converter: dict[str, Any], giver: dict[str, Any]) -> bool:
        """Up from what falls to what it delivers, down from what lies above that, and anything from anything else."""
        out_v, middle_v = ((x["volts_min"] + x["volts_max"]) / 2 for x in (converter, giver))
        if converter["kind"] == "boost_converter":
            return self.most(giver["volts_min"], out_v, giver)
        if converter["kind"] == "buck_converter":
            return out_v != middle_v and self.most(out_v, middle_v, giver)
        return True

    def suits(self, radio: dict[str, Any], giver: dict[str, Any]) -> bool:
        """A battery may fall below what the radio takes; nothing may give more."""
        least = giver["volts_min" if giver["role"] == "converter" else "volts_max"]
        is_enough = self.most(radio["volts_min"], least, giver)
        return is_enough and self.most(giver["volts_max"], radio["volts_max"], giver)

    def amps_before(self, radio: dict[str, Any], giver: dict[str, Any]) -> float:
        """Current before a converter of a radio: its power at the least volts that one gives it, losses once."""
        last = [
            (item["volts_min"] + item["volts_max"]) / 2
            for item in self.items
            if item["role"] == "converter" and self.suits(radio, item)
            and self.most(radio["amps_tx"], item["amps_rated"])
        ]  # fmt: skip
        out_v = min(filter(known, last), default=np.nan)
        amps = radio["amps_tx"] * out_v / SHARE / ((giver["volts_min"] + giver["volts_max"]) / 2)
        return float(amps if known(amps) else radio["amps_tx"])

    def ends(self, item: dict[str, Any], side: str) -> list[tuple[Any, Any]]:
        """Ways through an item: plug in, plug out."""
        a, b = item[f"{side}_plug"], item[f"{side}_plug_far"]
        if item["role"] == "converter":
            return [(a, b)]
        return [(a, b), (b, a)]

    def plugs(self, item: dict[str, Any], side: str) -> list[Any]:
        """Plugs of a thing with one end; a second one counts where it is told."""
        return [item[f"{side}_plug"], *filter(known, [item[f"{side}_plug_far"]])]

    def is_charged(self, item: dict[str, Any]) -> bool:
        return bool(item["is_charged"]) if known(item["is_charged"]) else self.is_kind

    def walks(self, radio: dict[str, Any], side: str) -> list[tuple[int, ...]]:
        """Items, radio not included, on every way from the radio to a source (dc) or an antenna (rf)."""
        found: list[tuple[int, ...]] = []
        if "builtin" in self.plugs(radio, side) and (side == "rf" or self.is_charged(radio)):
            found.append(())

        def on_dc(plug: Any, used: tuple[int, ...], taker: dict[str, Any] | None, leads: list[Any]) -> None:
            """Leads are those passed since the converter that takes, whose current hangs on what gives to it."""
            for item in self.items:
                role = item["role"]
                if used.count(item["item_id"]) == item["quantity"] or role not in DC:
                    continue
                longer = (*used, item["item_id"])
                if role in ("lead", "fuse"):
                    if role == "fuse" and not (known(item["dc_plug"]) and known(item["dc_plug_far"])):
                        continue
                    for into, out in self.ends(item, "dc"):
                        if self.mate(out, plug):
                            on_dc(into, longer, taker, [*leads, item])
                    continue
                is_other = taker and not self.suits(radio, item)
                amps = self.amps_before(radio, item) if is_other else radio["amps_tx"]
                if not all(self.most(amps, part["amps_rated"], part) for part in (item, *leads)):
                    continue
                if not (self.takes(taker, item) if taker else self.suits(radio, item)):
                    continue
                if role == "converter":
                    if self.mate(item["dc_plug_far"], plug):
                        on_dc(item["dc_plug"], longer, item, [])
                elif self.is_charged(item):
                    found.extend(longer for own in self.plugs(item, "dc") if self.mate(own, plug))

        def on_rf(plug: Any, used: tuple[int, ...]) -> None:
            for item in self.items:
                role = item["role"]
                if used.count(item["item_id"]) == item["quantity"] or role not in RF:
                    continue
                longer = (*used, item["item_id"])
                if role != "antenna":
                    for into, out in self.ends(item, "rf"):
                        if self.mate(plug, into):
                            on_rf(out, longer)
                elif any(self.mate(plug, own) for own in self.plugs(item, "rf")):
                    a, b = radio["bands"], item["bands"]
                    if bool(set(a.split()) & set(b.split())) if known(a) and known(b) else self.is_kind:
                        found.append(longer)

        for plug in self.plugs(radio, side):
            if side == "dc":
                on_dc(plug, (), None, [])
            else:
                on_rf(plug, ())
        return found

    def paths(self) -> list[Counter[int]]:
        """Every station as the items that it uses."""
        bags: set[tuple[int, ...]] = set()
        for radio in self.items:
            if radio["role"] == "radio":
                by_dc = self.walks(radio, "dc")
                by_rf = self.walks(radio, "rf") if by_dc else []
                bags |= {tuple(sorted((*dc, radio["item_id"], *rf))) for dc in by_dc for rf in by_rf}
        return [Counter(bag) for bag in sorted(bags, key=len)]


def is_within(path: Counter[int], other: Counter[int]) -> bool:
    """Whether the other uses as many of each item; to compare the counters themselves takes four times as long."""
    return all(other.get(item, 0) >= n for item, n in path.items())


def pack(paths: list[Counter[int]], left: dict[int, int]) -> int:
    """Most stations that use no item more often than there are; paths that use more than another are left out."""
    paths = [p for p in paths if all(left[i] >= n for i, n in p.items())]
    paths = [p for n, p in enumerate(paths) if not any(is_within(old, p) for old in paths[:n])]
    if not paths:
        return 0
    first, *rest = paths
    without = pack(rest, left)
    return max(without, 1 + pack(paths, {i: n - first[i] for i, n in left.items()}))


SEEDS = range(6)
KITS = 200
SPARES_EVERY = 7  # the search for a spare draws every station of a kit again for each of its items


@pytest.fixture(scope="module", params=SEEDS)
def drawn(request: pytest.FixtureRequest) -> tuple[pd.DataFrame, Frames]:
    """A club of random kits and its result; half of the clubs have unknown values."""
    rng = np.random.default_rng(request.param)
    items = club(*[random_kit(rng, 0.06 * (request.param % 2)) or [{"role": "paper"}] for _ in range(KITS)])
    return items, stations(items, MATING)


def test_counts_weak_items_spare_and_path_agree_with_enumeration(
    drawn: tuple[pd.DataFrame, Frames],
) -> None:
    items, result = drawn
    rows = result.per_kit.set_index("kit_id")
    weak = result.weak.groupby("kit_id")["item_id"].agg(set).to_dict()
    doubtful = result.weak[result.weak["is_doubtful"]].groupby("kit_id")["item_id"].agg(set).to_dict()
    path = result.path.groupby("kit_id")["item_id"].agg(list).to_dict()
    seen = Counter[int]()
    for kit_id, kit in items.groupby("kit_id"):
        left = dict(zip(kit["item_id"], kit["quantity"], strict=True))
        low, high = (Judge(kit, is_kind).paths() for is_kind in (False, True))
        row = rows.loc[kit_id]
        assert (row["stations_low"], row["stations_high"]) == (pack(low, left), pack(high, left)), kit_id
        paths = low or high
        gone = {i for i in left if paths and not pack(paths, left | {i: left[i] - 1})}
        assert weak.get(kit_id, set()) == gone, kit_id
        spared = {i for i in gone if pack(high, left | {i: left[i] - 1})}
        assert doubtful.get(kit_id, set()) == spared, kit_id
        assert (Counter(path[kit_id]) in paths) if paths else (kit_id not in path)
        if kit_id % SPARES_EVERY == 0 and row["stations_low"]:
            more = [i for i in left if pack(more_of(kit, i), left | {i: left[i] + 1}) > row["stations_low"]]
            kinds = {kit.set_index("item_id")["kind"][i] for i in more}
            assert (row["spare_kind"] in kinds) if kinds else (row["spare_kind"] == ""), kit_id
        assert bool(row["missing_link"]) == (row["stations_low"] == 0)
        seen[row["stations_low"]] += 1
    assert min(seen[0], seen[1], seen[2]) >= 1  # the draw is not trivial


def more_of(kit: pd.DataFrame, item_id: int) -> list[Counter[int]]:
    """Stations of a kit with one more of an item."""
    return Judge(kit.assign(quantity=kit["quantity"] + (kit["item_id"] == item_id)), False).paths()


def test_what_draws_do_not_find_the_programs_do(
    drawn: tuple[pd.DataFrame, Frames], monkeypatch: pytest.MonkeyPatch
) -> None:
    items, result = drawn
    nothing = np.zeros(0, dtype=np.int64)
    monkeypatch.setattr(station_flow, "_draw", lambda g, kits, most: (np.zeros_like(kits), nothing))
    counts = ["stations_low", "stations_high"]
    assert stations(items, MATING).per_kit[counts].equals(result.per_kit[counts])


def test_one_more_item_never_takes_a_station_away(drawn: tuple[pd.DataFrame, Frames]) -> None:
    items, result = drawn
    fewer = items[np.random.default_rng(1).random(len(items)) < 0.8]
    before = stations(fewer, MATING).per_kit.set_index("kit_id")
    after = result.per_kit.set_index("kit_id").loc[before.index]
    for column in ("stations_low", "stations_high"):
        assert (before[column] <= after[column]).all()
    assert (after["stations_low"] <= after["stations_high"]).all()


def test_the_order_in_which_items_come_changes_nothing(drawn: tuple[pd.DataFrame, Frames]) -> None:
    items, found = drawn
    shuffled = items.sample(frac=1, random_state=3)
    again = stations(shuffled, MATING)
    for one_way, other in zip(found, again, strict=True):
        pd.testing.assert_frame_equal(one_way, other)


def test_consecutive_items_of_a_path_mate(drawn: tuple[pd.DataFrame, Frames]) -> None:
    items, result = drawn
    by_id = items.set_index("item_id")
    plugs = {i: [*by_id.loc[i, ["dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far"]]] for i in by_id.index}
    certain = result.path[result.path["is_certain"]]
    for _, steps in certain.groupby("kit_id"):
        for a, b in pairwise(steps["item_id"]):
            assert any((x, y) in MATES for x in plugs[a] for y in plugs[b])


def test_kits_of_one_voltage_and_band_agree_with_networkx_flow() -> None:
    """Leads and cables of this pool can be passed from their first plug to the far one only."""
    rng = np.random.default_rng(11)
    pool = [BATTERY, RADIO, ANTENNA, COAX, LEAD, LEAD | {"dc_plug_far": "plug"}]
    pool += [COAX | {"rf_plug_far": "bnc_m"}, ANTENNA | {"rf_plug": "bnc_f"}]
    pool += [{**LEAD, "dc_plug": "plug", "dc_plug_far": "socket"}, {**COAX, "rf_plug": "so239"}]
    draws = [
        [pool[i] | {"quantity": int(rng.choice([1, 1, 1, 2, 3]))} for i in rng.integers(len(pool), size=20)]
        for _ in range(1000)
    ]
    got = stations(club(*draws), MATING).per_kit["stations_low"]
    assert got.max() > 1
    follows = {("source", "lead"), ("lead", "lead"), ("lead", "radio")}
    follows |= {("radio", "coax"), ("coax", "coax"), ("coax", "antenna"), ("radio", "antenna")}
    for kit, count in zip(draws, got, strict=True):
        graph = nx.DiGraph()
        graph.add_nodes_from(["start", "end"])
        for n, a in enumerate(kit):
            graph.add_edge((n, "in"), (n, "out"), capacity=a["quantity"])
            if a["role"] == "source":
                graph.add_edge("start", (n, "in"))
            if a["role"] == "antenna":
                graph.add_edge((n, "out"), "end")
            for m, b in enumerate(kit):
                side = "rf" if b["role"] in ("coax", "antenna") else "dc"
                out = a.get(f"{side}_plug_far", a.get(f"{side}_plug"))
                if n != m and (a["role"], b["role"]) in follows and (out, b[f"{side}_plug"]) in MATES:
                    graph.add_edge((n, "out"), (m, "in"))
        assert count == nx.maximum_flow_value(graph, "start", "end")
