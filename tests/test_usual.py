"""Numbers that a thing of its kind does not have are refused or told, with what they are in another unit."""

import numpy as np
import pandas as pd
import pytest

from data import forms, reference, schema, upload, usual

FULL = {"kit": "bag", "item": "thing", "member": "Q1ABC"}
RADIO = "mobile_vhf_uhf"


def thing(kind, **told):
    return sent("inventory", **FULL, kind=kind, **told)


def sent(stem, **row):
    lines = [",".join(row), ",".join(str(value) for value in row.values())]
    return upload.read(f"{stem}.csv", "\n".join(lines).encode())


@pytest.mark.parametrize(
    ("kind", "column", "value", "problem", "fix"),
    [
        (
            "handheld_pack",
            "capacity_ah",
            1800,
            'more than any thing of the kind "handheld pack, lithium-ion" has, 10 Ah',
            "1.8 (1800 mAh)",
        ),
        (
            "handheld_pack",
            "tested_ah",
            1700,
            'more than any thing of the kind "handheld pack, lithium-ion" has, 10 Ah',
            "1.7 (1700 mAh)",
        ),
        (
            "spare_cells",
            "capacity_ah",
            2000,
            'more than any thing of the kind "spare dry cells" has, 100 Ah',
            "2 (2000 mAh)",
        ),
        (
            "battery_lifepo4",
            "capacity_ah",
            1800,
            'more than any thing of the kind "battery, LiFePO4" has, 1000 Ah',
            "1.8 (1800 mAh)",
        ),
        (
            "power_station",
            "capacity_ah",
            1000,
            'more than any thing of the kind "portable power station, 300 to 500 Wh" has, 600 Ah',
            "Write a number in Ah",
        ),
        (
            "handheld",
            "capacity_ah",
            1800,
            'more than any thing of the kind "handheld, dual band, 5 W" has, 10 Ah',
            "1.8 (1800 mAh)",
        ),
        (
            "handheld",
            "amps_idle",
            80,
            'more than any thing of the kind "handheld, dual band, 5 W" has, 3.2 A',
            "0.08 (80 mA)",
        ),
        (
            "handheld",
            "weight_kg",
            250,
            'more than any thing of the kind "handheld, dual band, 5 W" has, 27 kg',
            "0.25 (250 g)",
        ),
        (
            "handheld",
            "rf_watts",
            5000,
            'more than any thing of the kind "handheld, dual band, 5 W" has, 100 W',
            "5 (5000 mW)",
        ),
        (
            RADIO,
            "rf_watts",
            0.05,
            'less than any thing of the kind "mobile VHF/UHF, 50 W" has, 0.1 W',
            "50 (0.05 kW)",
        ),
        (
            RADIO,
            "amps_tx",
            0.6,
            'less than any thing of the kind "mobile VHF/UHF, 50 W" has, 1.1 A',
            "Write a number in A from 1.1 to 165, or leave",
        ),
        (
            RADIO,
            "amps_rx",
            0,
            'less than any thing of the kind "mobile VHF/UHF, 50 W" has, 0.012 A',
            "Write a number in A",
        ),
        (
            "solar_panel",
            "solar_watts",
            0.1,
            'less than any thing of the kind "folding solar panel, 100 W" has, 1 W',
            "100 (0.1 kW)",
        ),
        ("dc_lead", "length_m", 200, 'more than any thing of the kind "DC lead" has, 50 m', "2 (200 cm)"),
        (
            "dc_lead",
            "length_m",
            0,
            'less than any thing of the kind "DC lead" has, 0.02 m',
            "Write a number in m",
        ),
        (
            "battery_agm",
            "fuse_at_m",
            15,
            'more than any thing of the kind "battery, sealed lead-acid AGM" has, 10 m',
            "0.15 (15 cm)",
        ),
        ("dc_lead", "wire_awg", 2.5, "no whole number", "2.5 in wire_mm2"),
        (
            "battery_agm",
            "weight_kg",
            0,
            'less than any thing of the kind "battery, sealed lead-acid AGM" has, 0.0136 kg',
            "Write a number in kg from 0.0136 to 680, or leave the cell empty.",
        ),
        (
            "log_forms",
            "weight_kg",
            0,
            'less than any thing of the kind "blank log forms, by the sheet" has, 0.00001 kg',
            "Write a number in kg from 0.00001 to",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_write(kind, column, value, problem, fix):
    got = thing(kind, **{column: value})
    assert got.frame is None
    [found] = got.problems
    assert (found.line, found.column, found.value, found.problem) == (2, column, f"{value}", problem)
    assert fix in found.fix


@pytest.mark.parametrize(
    ("kind", "column", "value", "says"),
    [
        (
            "battery_lifepo4",
            "capacity_ah",
            256,
            'more than usual for the kind "battery, LiFePO4", 150 Ah (1 row). Check it.',
        ),
        (
            "dc_lead",
            "wire_awg",
            4,
            'less than usual for the kind "DC lead", 8 AWG (1 row). If it should be 4 in wire_mm2',
        ),
        (
            "dc_lead",
            "wire_mm2",
            14,
            'more than usual for the kind "DC lead", 10 mm2 (1 row). If it should be 14 in wire_awg',
        ),
        ("mast_fibreglass", "length_m", 30, "If it should be 9.144 (30 ft), write that."),
        (RADIO, "amps_tx", 50, "more than usual"),
    ],
)
def test_what_is_seldom_so_is_taken_and_told(kind, column, value, says):
    got = thing(kind, **{column: value})
    assert got.frame[column][0] == value
    [notice] = got.notices
    assert notice.startswith(f'{column}: "{value}" is ') and says in notice


@pytest.mark.parametrize(
    ("stem", "column", "value", "meant"),
    [
        ("members", "carry_limit_kg", 40, "18.14 (40 lb)"),
        ("members", "cold_limit_c", 20, "-6.667 (20 °F)"),
        ("members", "walk_limit_km", 80, "0.08 (80 m)"),
        ("rehearsals", "hours_on_battery", 480, "8 (480 min)"),
        ("events", "minutes_to_care", 1, "60 (1 h)"),
        ("events", "temp_max_c", 59, "15 (59 °F)"),
        ("posts", "mast_m", 30, "9.144 (30 ft)"),
        ("posts", "check_in_min", 1, "60 (1 h)"),
        ("assignments", "travel_h", 20, "0.3333 (20 min)"),
    ],
)
def test_files_without_kinds_are_told_of_other_units_too(stem, column, value, meant):
    needed = {name: told for name, told in ROWS.items() if name in schema.columns(stem)}
    got = sent(stem, **needed, **{column: value})
    assert got.problems == []
    assert any(notice.startswith(f'{column}: "{value}" is ') and meant in notice for notice in got.notices)


ROWS = {
    "member": "Q1ABC",
    "event": "Ride",
    "post": "Ford",
    "post_type": "aid_station",
    "kit": "bag",
    "date": "2027-01-01",
    "stage": "yard",
    "starts": "2027-03-08T06:00",
    "ends": "2027-03-08T14:00",
}


def test_the_same_number_is_told_once_and_those_beyond_the_cap_are_counted():
    rows = [
        f"Q1ABC,bag,{place},battery_agm,{250 + number}" for place, number in enumerate((1, 1, *range(1, 60)))
    ]
    got = upload.read("inventory.csv", "\n".join(["member,kit,item,kind,capacity_ah", *rows]).encode())
    assert got.notices[0].startswith(
        'capacity_ah: "251" is more than usual for the kind "battery, sealed lead-acid AGM", 250 Ah (3 rows).'
    )
    assert got.notices[-1] == "capacity_ah: 9 more numbers are not usual."


def test_a_number_sent_in_another_unit_is_held_to_the_same_bounds():
    [found] = thing("dc_lead", length_ft=200).problems
    assert (found.column, found.problem) == (
        "length_m",
        'more than any thing of the kind "DC lead" has, 50 m',
    )


def test_a_file_is_refused_whole_for_one_number():
    rows = ["Q1ABC,bag,good,handheld_pack,1.8", "Q1ABC,bag,bad,handheld_pack,1800"]
    assert (
        upload.read("inventory.csv", "\n".join(["member,kit,item,kind,capacity_ah", *rows]).encode()).frame
        is None
    )


def test_bounds_stand_in_order_and_belong_to_numbers_that_are_sent():
    told = reference.table("usual")
    columns = {name: column for stem in schema.FILES for name, column in schema.columns(stem).items()}
    for row in told.itertuples():
        bounds = pd.Series([getattr(row, name) for name in usual.BOUNDS]).dropna()
        assert len(bounds) and bounds.is_monotonic_increasing, row
        assert columns[row.column].form == forms.NUMBER
        known = {"all": {"all"}, "role": set(reference.kinds()["role"]), "kind": set(reference.words("kind"))}
        assert row.of in known[row.level]
        assert not row.beside or row.beside in columns
    assert told.groupby("column")["step"].nunique().max() <= 1


def test_what_has_no_kind_is_never_refused_here():
    """The range of the column, in the schema, does that."""
    for column, told in usual.usual().items():
        if column not in schema.columns("inventory"):
            assert np.isnan(told.bounds[-1, [0, 3]]).all(), column


def test_typical_values_are_usual():
    kinds = reference.kinds()
    for column, told in usual.usual().items():
        if column in kinds:
            value, (_, least, most, _) = kinds[column].to_numpy(float), told.bounds[:-1].T
            assert not np.any(((value < least) | (value > most)) & (value > 0)), column


def test_a_row_that_is_another_cell_for_cell_is_told():
    head, row = "member,kit,item,kind,notes\n", "Q1ABC,bag,radio,handheld,\n"
    got = upload.read("inventory.csv", f"{head}{row}Q1ABC,bag,radio,handheld,mine\n{row}".encode())
    [notice] = got.notices
    assert notice.startswith("1 row says the same as another, cell for cell (line 4 as line 2); each counts")
    assert len(got.frame) == 3
    assert upload.read("inventory.csv", f"{head}{row}".encode()).notices == []


@pytest.mark.parametrize(
    ("kind", "chemistry", "fix"),
    [
        ("battery_agm", "lifepo4", "Write battery_lifepo4 as its kind, or clear this cell."),
        ("battery_lifepo4", "nimh", "Clear this cell, or mend the kind."),
    ],
)
def test_a_battery_is_of_the_chemistry_that_its_kind_says(kind, chemistry, fix):
    """Of LiFePO4 nine tenths may be used, of AGM half."""
    [found] = thing(kind, chemistry=chemistry).problems
    assert (found.column, found.value, found.problem) == (
        "chemistry",
        chemistry,
        f"not the chemistry of a {kind}",
    )
    assert found.fix == fix


@pytest.mark.parametrize(
    ("kind", "chemistry"),
    [("battery_agm", "agm"), ("battery", "lifepo4"), ("power_station", "lifepo4"), ("handheld_pack", "nimh")],
)
def test_a_kind_that_names_no_chemistry_takes_any(kind, chemistry):
    assert thing(kind, chemistry=chemistry).problems == []


def place(lat, lon, offset):
    row = {"event": "Ride", "starts": "2027-03-08T06:00", "ends": "2027-03-08T14:00"}
    return sent("events", **row, lat=lat, lon=lon, utc_offset_h=offset)


@pytest.mark.parametrize(
    ("lat", "lon", "offset", "fix"),
    [
        (
            44,
            71,
            -5,
            "Write lon -71 (east is positive, west negative), or utc_offset_h 5 (local time less UTC).",
        ),
        (
            44,
            -71,
            5,
            "Write lon 71 (east is positive, west negative), or utc_offset_h -5 (local time less UTC).",
        ),
        (-71, 10, -5, "Write lat 10 and lon -71."),
        (44, -71, 12, "Mend lon or utc_offset_h."),
    ],
)
def test_clocks_that_a_place_cannot_keep_are_refused(lat, lon, offset, fix):
    [found] = place(lat, lon, offset).problems
    assert (found.column, found.problem) == ("lon", f"nowhere that clocks are {offset:+d} h from UTC")
    assert found.fix == fix


# The west of one zone, the east of another, both sides of the date line, summer time at a western coast, the pole.
@pytest.mark.parametrize(
    ("lat", "lon", "offset"),
    [
        (39.5, 76, 8),
        (2, -157.4, 14),
        (-44, -176.5, 13.75),
        (43.4, -8.4, 2),
        (52.9, 173.2, -9),
        (-90, 0, 13),
        (65, -24, 0),
    ],
)
def test_clocks_that_places_keep_are_taken(lat, lon, offset):
    assert place(lat, lon, offset).problems == []


@pytest.mark.parametrize(
    ("kind", "told", "said"),
    [
        (
            "hf_100w",
            {"rf_watts": 100, "amps_tx": 3, "volts_max": 13.8},
            "100 W of 3 A at 13.8 V, which are 41.4 W",
        ),
        ("hf_100w", {"rf_watts": 100, "amps_tx": 8}, "100 W of 8 A at 15.9 V, which are 127 W"),
        (RADIO, {"rf_watts_low": 5, "amps_tx_low": 0.4}, "5 W of 0.4 A at 15.9 V, which are 6.36 W"),
    ],
)
def test_more_power_than_the_current_gives_is_asked_about(kind, told, said):
    got = thing(kind, **told)
    assert got.frame is not None
    [notice] = [notice for notice in got.notices if ", amps_tx" in notice]
    assert f": {said} (1 row). A transmitter sends out at most 70% of what it draws: check both." in notice


def test_what_a_radio_may_draw_is_not_asked_about():
    for kind, told in (
        ("hf_100w", {"rf_watts": 100, "amps_tx": 20, "volts_max": 13.8}),
        ("hf_qrp", {"rf_watts": 10, "amps_tx": 1.2, "volts_max": 13.8}),
        ("handheld", {"rf_watts": 5, "amps_tx": 1.4}),
        (RADIO, {"rf_watts": 50}),
    ):
        assert not thing(kind, **told).notices, (kind, told)


def test_several_that_measured_more_than_one_is_rated_for_may_have_been_measured_together():
    told = {"capacity_ah": 10, "tested_ah": 12}
    [notice] = thing("battery_lifepo4", **told, quantity=2).notices
    assert notice == (
        "tested_ah: 12 Ah for each of 2, rated 10 Ah (1 row). If they were measured together, write what one gave: 6."
    )
    assert not thing("battery_lifepo4", **told, quantity=1).notices, "one by itself may well give more"
    assert not thing("battery_lifepo4", capacity_ah=10, tested_ah=10, quantity=2).notices


def test_what_is_asked_about_tells_of_how_many_rows():
    head = "member,kit,item,kind,rf_watts,amps_tx,volts_max,capacity_ah,tested_ah,quantity\n"
    rows = "Q1ABC,bag,radio,hf_100w,100,3,13.8,,,\n" * 2 + "Q1ABC,bag,pack,battery_lifepo4,,,,10,12,2\n" * 3
    notices = upload.read("inventory.csv", (head + rows).encode()).notices
    (watts,) = [notice for notice in notices if ", amps_tx" in notice]
    (measured,) = [notice for notice in notices if notice.startswith("tested_ah: ")]
    assert "(2 rows)" in watts and "(3 rows)" in measured
