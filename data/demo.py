"""An invented club, written as the files its members would send.

Every call sign begins with Q, which is issued to nobody; every place is invented; prices and weights are
planning estimates. The rows are written the way volunteers write: some fill everything, many leave most
cells empty. `GAPS` names where each kind of gap can be seen.
"""

import csv
import random
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from data.demo_words import CATALOGUE, MEMBERS, OFFERS

Row = dict[str, Any]

COLUMNS: dict[str, str] = {
    "inventory": "member kit item kind quantity module spare condition bands modes dc_plug dc_plug_far rf_plug "
    "rf_plug_far volts_min volts_max amps_tx amps_rx amps_idle amps_rated rf_watts solar_watts "
    "capacity_ah chemistry wire_awg wire_mm2 length_m coax gain_dbi weight_kg charged tested "
    "acquired expires tested_ah swr swr_tested polarity_checked labelled fuse_at_m owner cost_usd "
    "notes",
    "members": "member licence_class licence_expires roles carry_limit_kg solo_ok night_ok heat_limit_c "
    "cold_limit_c walk_limit_km last_on_air on_air_12m events_12m first_aid_expires training "
    "available notes",
    "kits": "member kit purpose hours packed list_printed last_used restocked inspected notes",
    "rehearsals": "member kit date stage trips_back missing hours_on_battery notes",
    "events": "event starts ends lat lon utc_offset_h temp_min_c temp_max_c minutes_to_care public "
    "storms_possible shelter briefed notes",
    "posts": "event post post_type opens closes operators bands modes rf_watts_min duty access "
    "carry_limit_kg walk_km mains rf_grade mast_m power_line_m public_m cell_cover beside_traffic "
    "notes",
    "assignments": "event post member kit from to",
    "offers": "offer kind price_usd available paid_by bands dc_plug dc_plug_far rf_plug rf_plug_far "
    "volts_min volts_max amps_rated rf_watts solar_watts capacity_ah chemistry wire_awg length_m "
    "coax gain_dbi weight_kg",
    "loans": "item borrower out due back condition_out condition_in notes",
}

DATES = ("charged", "tested", "acquired", "expires", "swr_tested", "polarity_checked")
PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")
SHARE_TOLD = {"keen": 1.0, "usual": 0.45, "bare": 0.06}

# What lies in a bag of each sort: a kind, or a kind with what is particular about the piece.
Piece = str | tuple[str, Row]
HANDHELD: list[Piece] = [
    "handheld",
    "handheld_pack",
    ("handheld_pack", {"spare": "yes"}),
    "dry_cell_shell",
    "spare_cells",
    "handheld_dc_lead",
    "whip",
    "rf_pigtail",
    "speaker_mic",
    "earpiece",
    "charger_handheld",
    "headlamp",
    "hi_vis",
    "clipboard",
    "channel_list",
    "manual",
    "first_aid",
    "power_bank",
    "personal_pack",
    "case",
]
POWER: list[Piece] = [
    "battery_lifepo4",
    ("dc_lead", {"item": "fused battery lead 12 AWG"}),
    "fuse",
    ("fuse", {"item": "spare blade fuses 15 A", "spare": "yes", "quantity": 5}),
    "dc_block",
    "charger_lifepo4",
    "clip_lead",
    "socket_lead",
    "dc_adapter",
]
STATION: list[Piece] = [
    "handheld",
    "handheld_pack",
    ("handheld_pack", {"spare": "yes"}),
    "rf_pigtail",
    "mobile_vhf_uhf",
    "mic",
    *POWER,
    "coax",
    "rf_adapter",
    "mag_mount",
    "jpole",
    "headlamp",
    "spare_cells",
    "first_aid",
    "hi_vis",
    "clipboard",
    "channel_list",
    "manual",
    "tool_roll",
    "case",
    "personal_pack",
]
FULL: list[Piece] = [
    *STATION,
    "dry_cell_shell",
    "handheld_dc_lead",
    "whip",
    "charger_handheld",
    ("mic", {"item": "second hand microphone", "spare": "yes"}),
    ("battery_lifepo4", {"item": "second 20 Ah LiFePO4", "spare": "yes"}),
    ("dc_lead", {"item": "second fused lead, same as the first", "spare": "yes"}),
    ("coax", {"item": "10 m coax for the mast", "length_m": 10, "coax": "low_loss_400", "weight_kg": 1.6}),
    "rf_adapter_kit",
    "connector_kit",
    "mast_fibreglass",
    "mast_base",
    "guy_kit",
    "headset",
    "speaker_mic",
    "earpiece",
    "multimeter",
    "polarity_tester",
    "watt_meter",
    "lantern",
    "cones_tape",
    "dry_bags",
    "power_bank",
]
HF: list[Piece] = [
    "hf_100w",
    "mic",
    (
        "battery_lifepo4",
        {"item": "50 Ah LiFePO4 block", "capacity_ah": 50, "amps_rated": 50, "weight_kg": 6.2},
    ),
    ("dc_lead", {"item": "HF lead 8 AWG, fused", "wire_awg": 8, "length_m": 1.2, "amps_rated": 40}),
    ("fuse", {"item": "30 A blade fuse in the lead", "amps_rated": 30}),
    ("fuse", {"item": "spare 30 A blades", "amps_rated": 30, "spare": "yes", "quantity": 4}),
    "charger_lifepo4",
    "supply_30a",
    "tuner",
    "end_fed_wire",
    "dipole",
    ("coax", {"item": "15 m coax for HF", "length_m": 15, "coax": "rg8x", "weight_kg": 1.4}),
    "rf_adapter_kit",
    "mast_fibreglass",
    "guy_kit",
    "antenna_analyser",
    "multimeter",
    "headset",
    "laptop",
    "usb_pd_converter",
    "modem",
    "data_cable",
    "clipboard",
    "channel_list",
    "manual",
    "headlamp",
    "first_aid",
    "tool_roll",
    "case",
]
DIGITAL: list[Piece] = [
    "mobile_data",
    "handheld",
    "handheld_pack",
    ("handheld_pack", {"spare": "yes"}),
    *POWER,
    "laptop",
    "usb_pd_converter",
    "modem",
    "data_cable",
    "gps",
    "coax",
    "mag_mount",
    "base_vertical",
    "rf_adapter",
    "rf_adapter_kit",
    "headset",
    "lantern",
    "headlamp",
    "clipboard",
    "channel_list",
    "manual",
    "first_aid",
    "case",
]
RELAY: list[Piece] = [
    "crossband_node",
    "mobile_vhf_uhf",
    "mic",
    ("battery_lifepo4", {"item": "50 Ah LiFePO4", "capacity_ah": 50, "amps_rated": 50, "weight_kg": 6.2}),
    (
        "battery_lifepo4",
        {"item": "other 50 Ah LiFePO4", "capacity_ah": 50, "amps_rated": 50, "weight_kg": 6.2},
    ),
    "dc_lead",
    "fuse",
    ("fuse", {"item": "spare fuses", "spare": "yes", "quantity": 5}),
    "dc_block",
    "watt_meter",
    "solar_panel",
    "charge_controller_mppt",
    "base_vertical",
    "jpole",
    ("coax", {"item": "15 m thick coax", "length_m": 15, "coax": "low_loss_400", "weight_kg": 2.4}),
    "coax",
    "rf_adapter_kit",
    "mast_metal",
    "mast_base",
    "guy_kit",
    "cones_tape",
    "tool_roll",
    "fire_extinguisher",
    "shelter_set",
    "channel_list",
    "headlamp",
    "first_aid",
    "case",
]
CARRY: list[Piece] = [
    "handheld",
    ("handheld", {"item": "second dual-band handheld"}),
    "handheld_pack",
    ("handheld_pack", {"spare": "yes", "quantity": 3}),
    "dry_cell_shell",
    "spare_cells",
    "rf_pigtail",
    "whip",
    "jpole",
    ("coax", {"item": "4 m thin coax", "length_m": 4, "coax": "rg58", "weight_kg": 0.3}),
    ("battery_lifepo4", {"item": "6 Ah LiFePO4", "capacity_ah": 6, "amps_rated": 6, "weight_kg": 0.9}),
    "handheld_dc_lead",
    "yagi",
    "speaker_mic",
    "earpiece",
    "satellite_messenger",
    "power_bank",
    "headlamp",
    "first_aid",
    "trauma_pack",
    "hi_vis",
    "dry_bags",
    "clipboard",
    "channel_list",
    "personal_pack",
]
CAR: list[Piece] = [
    "mobile_data",
    "mic",
    "mag_mount",
    ("whip", {"item": "spare whip for the hatchback handheld"}),
    "handheld",
    "handheld_pack",
    ("handheld_pack", {"spare": "yes"}),
    "rf_pigtail",
    *POWER,
    "tracker",
    "gps",
    "rf_adapter",
    "headlamp",
    "hi_vis",
    "first_aid",
    "fire_extinguisher",
    "cones_tape",
    "clipboard",
    "channel_list",
    "tool_roll",
    "case",
]
POOL: list[Piece] = [
    ("handheld", {"owner": "club"}),
    ("handheld_pack", {"owner": "club", "quantity": 2}),
    ("charger_handheld", {"owner": "club"}),
    ("battery_agm", {"owner": "club"}),
    ("generator", {"owner": "club"}),
    ("power_station", {"owner": "club"}),
    ("inverter", {"owner": "club"}),
    ("boost_converter", {"owner": "club"}),
    ("buck_converter", {"owner": "club"}),
    ("charge_controller_pwm", {"owner": "club"}),
    ("charger_agm", {"owner": "club"}),
    ("hf_vertical", {"owner": "club"}),
    ("hf_qrp", {"owner": "club"}),
    ("fuse_holder", {"owner": "club", "quantity": 6}),
    ("fuse", {"owner": "club", "quantity": 20, "spare": "yes"}),
    ("rf_adapter_kit", {"owner": "club"}),
    ("connector_kit", {"owner": "club"}),
    ("coax", {"owner": "club", "quantity": 2}),
    ("shelter_set", {"owner": "club"}),
    ("lantern", {"owner": "club", "quantity": 2}),
]
SORTS: dict[str, list[Piece]] = {
    "handheld": HANDHELD,
    "station": STATION,
    "full": FULL,
    "hf": HF,
    "digital": DIGITAL,
    "relay": RELAY,
    "carry": CARRY,
    "car": CAR,
    "pool": POOL,
}
PURPOSE = {
    "handheld": "mile marker, shadow, second operator",
    "station": "aid station or shelter",
    "full": "net control or any fixed post",
    "hf": "HF messages",
    "digital": "packet and message forms",
    "relay": "cross-band relay on a hill",
    "carry": "carry-in posts and sweep",
    "car": "support vehicle",
    "pool": "lent out at events",
}


@dataclass(frozen=True)
class Bag:
    """One kit: whose it is, its sort, how much its owner writes down and what is particular about it.

    Dates in `change`, `add` and `about` are whole days from today.
    """

    member: str
    kit: str
    sort: str
    told: str = "usual"
    drop: tuple[str, ...] = ()
    no_spare: tuple[str, ...] = ()
    change: dict[str, Row] = field(default_factory=dict)
    add: tuple[tuple[str, Row], ...] = ()
    about: Row = field(default_factory=dict)
    practice: tuple[tuple[int, str, float | None], ...] | None = None


BAGS = (
    # Kits in good order.
    Bag("QA1BCD", "Command case A", "full", "keen"),
    Bag("QA1BCD", "Command case B", "full", "keen"),
    Bag("QA1BCD", "Small handheld bag", "handheld", "keen"),
    Bag("QA4FGK", "Ready station", "full", "keen"),
    Bag("QB2HJL", "Ready station", "full", "keen"),
    Bag("QB2HJL", "Belt pouch", "handheld", "keen"),
    Bag("QB7KMN", "Yellow case", "full", "keen"),
    Bag("QC3LPR", "Two-box set", "full", "keen"),
    Bag("QC8MRS", "Field office", "digital", "keen"),
    Bag("QC8MRS", "Field station", "full", "usual"),
    Bag("QD5NTV", "HF trunk", "hf", "keen"),
    Bag("QD5NTV", "Grey crate", "station"),
    Bag("QD9PVW", "Hill box", "relay", "keen"),
    Bag("QD9PVW", "Second hill box", "relay"),
    Bag("QE1RWX", "Light pack", "carry", "keen"),
    Bag("QE6SXZ", "Light pack", "carry"),
    Bag("QF2TZB", "Support car box", "car", "keen"),
    Bag("QF2TZB", "House station", "full"),
    Bag("QF7VBC", "Support car box", "car"),
    Bag("QF7VBC", "Event bag", "handheld"),
    Bag("QG4WCD", "Green tote", "full"),
    Bag("QG8XDF", "Ammo tin", "station"),
    Bag("QH3ZFG", "Message desk", "digital"),
    Bag("QH3ZFG", "Waist bag", "handheld"),
    # Kits that each show something missing or wrong.
    Bag("QH9BGH", "Blue crate", "station", drop=("handheld", "handheld_pack", "rf_pigtail")),
    Bag("QJ2CHJ", "Waist bag", "handheld", drop=("dry_cell_shell",), no_spare=("handheld_pack",)),
    Bag(
        "QJ7DJK",
        "Desk radio set",
        "station",
        drop=("battery_lifepo4", "dc_lead", "clip_lead", "socket_lead"),
        add=(("supply_30a", {}),),
    ),
    Bag("QK1FKL", "Go box", "station", drop=("jpole", "whip")),
    Bag(
        "QK6GLM",
        "Go box",
        "station",
        drop=("dc_adapter", "rf_adapter", "clip_lead", "spare_cells", "socket_lead"),
    ),
    Bag("QL3HMN", "Tote", "station", no_spare=("fuse",)),
    Bag(
        "QL8JNP",
        "Old faithful",
        "station",
        "keen",
        drop=("dc_adapter", "dc_block"),
        change={
            "mobile_vhf_uhf": {"dc_plug": "t_plug_male"},
            "battery_lifepo4": {
                "dc_plug": "spade_f2_male",
                "item": "12 Ah LiFePO4 with spade tabs",
                "capacity_ah": 12,
            },
            "dc_lead": {"dc_plug": "ring_m6", "dc_plug_far": "genderless_30"},
        },
    ),
    Bag("QM2KPR", "Shelf kit", "station", change={"dc_lead": {"polarity_checked": None}}),
    Bag("QM7LRS", "Rucksack", "station", "usual", drop=("clip_lead", "socket_lead", "dc_adapter")),
    Bag(
        "QN4MST",
        "Evening bag",
        "handheld",
        "keen",
        drop=("rf_pigtail",),
        change={"handheld": {"rf_plug": "sma_male"}, "whip": {"rf_plug": "sma_male"}},
    ),
    Bag("QN9PTV", "Blue bag", "station", drop=("coax", "mag_mount", "rf_adapter")),
    Bag(
        "QP1RVW",
        "Waist bag",
        "handheld",
        "keen",
        drop=("rf_pigtail",),
        add=(
            (
                "rf_adapter",
                {"item": "SMA to BNC adapter", "rf_plug": "sma_male", "rf_plug_far": "bnc_female"},
            ),
            ("rf_adapter", {"item": "BNC to SO-239 adapter", "rf_plug": "bnc_male", "rf_plug_far": "so239"}),
            ("rf_adapter", {"item": "double SO-239 joint", "rf_plug": "pl259", "rf_plug_far": "so239"}),
        ),
    ),
    Bag(
        "QP6SWX",
        "Paperless kit",
        "digital",
        "keen",
        drop=("usb_pd_converter", "clipboard"),
        change={"laptop": {"volts_min": 19, "volts_max": 20}},
    ),
    Bag(
        "QR2TXZ",
        "HF crate",
        "hf",
        "keen",
        drop=("battery_lifepo4", "charger_lifepo4"),
        add=(
            ("battery_agm", {"item": "35 Ah AGM", "capacity_ah": 35, "weight_kg": 10.8, "amps_rated": 25}),
            ("charger_agm", {}),
        ),
    ),
    Bag(
        "QR8VZB",
        "Small command box",
        "station",
        "keen",
        change={
            "battery_lifepo4": {
                "item": "7 Ah LiFePO4",
                "capacity_ah": 7,
                "amps_rated": 10,
                "tested_ah": 6.8,
                "weight_kg": 1,
            }
        },
    ),
    Bag(
        "QS3WBC",
        "Garage kit",
        "station",
        "usual",
        drop=("battery_lifepo4", "charger_lifepo4"),
        add=(
            (
                "battery_agm",
                {
                    "item": "old 26 Ah AGM",
                    "capacity_ah": 26,
                    "acquired": -2700,
                    "tested": None,
                    "tested_ah": None,
                    "charged": -300,
                },
            ),
            ("charger_agm", {}),
        ),
    ),
    Bag(
        "QS7XCD",
        "Glovebox set",
        "station",
        "keen",
        drop=("dc_lead", "battery_lifepo4", "fuse", "charger_lifepo4", "clip_lead"),
        change={"socket_lead": {"amps_rated": 10, "item": "lighter-socket lead, 10 A"}},
    ),
    Bag(
        "QT4ZDF",
        "Cupboard kit",
        "station",
        "keen",
        drop=("fuse", "fuse_holder"),
        change={
            "dc_lead": {"item": "battery lead, no fuse", "fuse_at_m": None, "notes": "fuse never fitted"}
        },
    ),
    Bag(
        "QT9BFG",
        "Boat bag",
        "station",
        "keen",
        change={"fuse": {"fuse_at_m": 1.4, "item": "15 A fuse, up at the radio end"}},
    ),
    Bag(
        "QV2CGH",
        "Truck kit",
        "station",
        "keen",
        change={
            "dc_lead": {"item": "thin lead 16 AWG", "wire_awg": 16, "amps_rated": 10, "length_m": 1},
            "fuse": {"item": "40 A fuse (all I had)", "amps_rated": 40},
        },
    ),
    Bag(
        "QV7DHJ",
        "Barn kit",
        "station",
        "keen",
        change={
            "dc_lead": {
                "item": "long lead 16 AWG to reach the truck",
                "wire_awg": 16,
                "length_m": 6,
                "amps_rated": 10,
            }
        },
    ),
    Bag(
        "QW1FJK",
        "Cellar box",
        "station",
        "usual",
        change={"battery_lifepo4": {"charged": -420}, "handheld_pack": {"charged": -200}},
    ),
    Bag(
        "QW6GKL",
        "Station",
        "station",
        "usual",
        change={"battery_lifepo4": {"tested": None, "tested_ah": None, "acquired": -1500}},
    ),
    Bag(
        "QW6GKL",
        "Weak one",
        "station",
        "keen",
        change={"battery_lifepo4": {"tested": -60, "tested_ah": 11.5, "acquired": -2400}},
    ),
    Bag(
        "QX3HLM",
        "Rover bag",
        "handheld",
        "keen",
        drop=("dry_cell_shell", "earpiece", "headset", "speaker_mic"),
        no_spare=("handheld_pack",),
        change={"handheld_pack": {"condition": "faulty", "notes": "case is swollen"}},
    ),
    Bag(
        "QX8JMN",
        "Mixed power box",
        "station",
        "keen",
        drop=("charger_lifepo4",),
        add=(("charger_agm", {"item": "lead-acid charger from the boat", "chemistry": "agm"}),),
    ),
    Bag("QZ2KNP", "New kit", "station", "usual", practice=()),
    Bag("QZ7LPR", "Bench kit", "handheld", "usual", practice=((-30, "bench", None),)),
    Bag("QA9MRS", "Plain box", "station", "usual", change={"*": {"labelled": "no"}}),
    Bag(
        "QB4NST",
        "Last year's box",
        "station",
        about={"list_printed": -800, "last_used": -60, "restocked": -240},
    ),
    Bag("QC5PTV", "One big bag", "station", change={"*": {"module": None}}),
    Bag(
        "QD3RVW",
        "Everything pack",
        "carry",
        "keen",
        add=(
            ("battery_lifepo4", {"item": "20 Ah LiFePO4 just in case", "capacity_ah": 20, "weight_kg": 2.6}),
            ("mobile_vhf_uhf", {"weight_kg": 1.6}),
            ("mast_fibreglass", {"weight_kg": 2.9}),
            ("shelter_set", {"item": "folding table and chair", "weight_kg": 7.5}),
        ),
        change={"personal_pack": {"weight_kg": 6}},
    ),
    Bag("QE4SWX", "Green bag", "handheld", drop=("channel_list", "clipboard", "manual")),
    Bag("QF5TXZ", "Mast set", "full", "keen", drop=("guy_kit", "mast_base"), add=(("mast_metal", {}),)),
    Bag(
        "QG2VZB",
        "Roof kit",
        "station",
        "keen",
        change={
            "coax": {"item": "25 m thin coax", "coax": "rg174", "length_m": 25},
            "jpole": {"swr": 3.4, "swr_tested": -40},
            "mag_mount": {"swr": None, "swr_tested": None},
        },
    ),
    Bag("QH5WBC", "Pocket kit", "handheld", "keen", drop=("whip", "rf_pigtail", "headlamp")),
    Bag("QJ4XCD", "Corner bag", "handheld", drop=("hi_vis",), change={"first_aid": {"expires": -150}}),
    Bag("QK3ZDF", "Parcel", "station", "bare", change={"*": dict.fromkeys(PLUGS)}),
    Bag(
        "QL5BFG",
        "Red box",
        "station",
        "bare",
        change={
            "battery_lifepo4": {
                "item": "LiFePO4 battery, label worn off",
                "capacity_ah": None,
                "amps_rated": None,
            }
        },
    ),
    Bag(
        "QM4CGH",
        "Foreign plugs",
        "station",
        "keen",
        change={
            "battery_lifepo4": {"dc_plug": "xt60_female"},
            "dc_lead": {"dc_plug": "xt60_male", "dc_plug_far": "xt60_female"},
            "mobile_vhf_uhf": {"dc_plug": "xt60_male"},
            "dc_block": {"dc_plug": "xt60_male", "dc_plug_far": "xt60_female"},
        },
    ),
    Bag("QM4CGH", "Walk bag", "carry", "usual", drop=("satellite_messenger", "personal_pack", "jpole")),
    Bag(
        "QN2DHJ",
        "Aging handhelds",
        "handheld",
        "keen",
        change={"handheld": {"acquired": -4400}, "handheld_pack": {"acquired": -2300}},
    ),
    Bag("QP3FJK", "Starter set", "handheld", "bare"),
    Bag("QR5GKL", "Starter set", "handheld", "bare"),
    Bag("QS1HLM", "Spare station", "station", "bare", about={"inspected": -900}),
    Bag("QA1BCD", "Club pool tote", "pool"),
)

# Where each gap can be seen: a member and kit, an event and post, or one of them.
GAPS: dict[str, dict[str, str]] = {
    "only one radio": {"member": "QH9BGH", "kit": "Blue crate"},
    "handheld without a spare pack": {"member": "QJ2CHJ", "kit": "Waist bag"},
    "no battery, mains only": {"member": "QJ7DJK", "kit": "Desk radio set"},
    "only one kind of antenna": {"member": "QK1FKL", "kit": "Go box"},
    "small parts without a second": {"member": "QK6GLM", "kit": "Go box"},
    "no spare fuse": {"member": "QL3HMN", "kit": "Tote"},
    "plugs that do not mate and no adapter": {"member": "QL8JNP", "kit": "Old faithful"},
    "polarity never checked": {"member": "QM2KPR", "kit": "Shelf kit"},
    "no lead for borrowed power": {"member": "QM7LRS", "kit": "Rucksack"},
    "antenna plug of the wrong gender": {"member": "QN4MST", "kit": "Evening bag"},
    "no coax": {"member": "QN9PTV", "kit": "Blue bag"},
    "stack of adapters on a handheld": {"member": "QP1RVW", "kit": "Waist bag"},
    "laptop without a converter": {"member": "QP6SWX", "kit": "Paperless kit"},
    "100 W HF on AGM without a booster": {"member": "QR2TXZ", "kit": "HF crate"},
    "battery too small for net control": {"member": "QR8VZB", "kit": "Small command box"},
    "old battery never tested": {"member": "QS3WBC", "kit": "Garage kit"},
    "50 W radio on a 10 A socket": {"member": "QS7XCD", "kit": "Glovebox set"},
    "no fuse": {"member": "QT4ZDF", "kit": "Cupboard kit"},
    "fuse far from the battery": {"member": "QT9BFG", "kit": "Boat bag"},
    "fuse above what the wire carries": {"member": "QV2CGH", "kit": "Truck kit"},
    "thin long lead": {"member": "QV7DHJ", "kit": "Barn kit"},
    "not charged": {"member": "QW1FJK", "kit": "Cellar box"},
    "capacity never measured": {"member": "QW6GKL", "kit": "Station"},
    "measured capacity low": {"member": "QW6GKL", "kit": "Weak one"},
    "swollen pack": {"member": "QX3HLM", "kit": "Rover bag"},
    "charger for another chemistry": {"member": "QX8JMN", "kit": "Mixed power box"},
    "never rehearsed": {"member": "QZ2KNP", "kit": "New kit"},
    "bench test only": {"member": "QZ7LPR", "kit": "Bench kit"},
    "nothing labelled": {"member": "QA9MRS", "kit": "Plain box"},
    "old contents list": {"member": "QB4NST", "kit": "Last year's box"},
    "not restocked": {"member": "QB4NST", "kit": "Last year's box"},
    "no modules": {"member": "QC5PTV", "kit": "One big bag"},
    "heavier than the owner carries": {"member": "QD3RVW", "kit": "Everything pack"},
    "no papers": {"member": "QE4SWX", "kit": "Green bag"},
    "mast without guys": {"member": "QF5TXZ", "kit": "Mast set"},
    "lossy coax": {"member": "QG2VZB", "kit": "Roof kit"},
    "bad match": {"member": "QG2VZB", "kit": "Roof kit"},
    "short antenna only": {"member": "QH5WBC", "kit": "Pocket kit"},
    "no light for a dark shift": {"member": "QH5WBC", "kit": "Pocket kit"},
    "no hi-vis beside traffic": {"member": "QJ4XCD", "kit": "Corner bag"},
    "first-aid kit expired": {"member": "QJ4XCD", "kit": "Corner bag"},
    "plugs not told": {"member": "QK3ZDF", "kit": "Parcel"},
    "capacity not told": {"member": "QL5BFG", "kit": "Red box"},
    "not the club's plug": {"member": "QM4CGH", "kit": "Foreign plugs"},
    "remote post without messenger or day pack": {"member": "QM4CGH", "kit": "Walk bag"},
    "past its planning life": {"member": "QN2DHJ", "kit": "Aging handhelds"},
    "not inspected this year": {"member": "QS1HLM", "kit": "Spare station"},
    "shadow without ear-piece": {"member": "QX3HLM", "kit": "Rover bag"},
    "licence expired": {"member": "QK3ZDF"},
    "first-aid certificate expired": {"member": "QJ4XCD"},
    "licence class without HF voice": {
        "member": "QC5PTV",
        "event": "High Sluice Exercise",
        "post": "Message gateway",
    },
    "training missing": {"member": "QP3FJK"},
    "long off the air": {"member": "QS1HLM"},
    "not signed off for net control": {
        "member": "QR8VZB",
        "event": "Barley Ford Half Marathon",
        "post": "Net control",
    },
    "alone at net control": {"event": "Barley Ford Half Marathon", "post": "Net control"},
    "beyond the member's cold limit": {"member": "QH5WBC", "event": "Tinder Lane Lantern Parade"},
    "at night against the member's wish": {"member": "QJ2CHJ", "event": "Tinder Lane Lantern Parade"},
    "alone at a remote post": {"event": "Gorse Hill Trail Run", "post": "Lambing Hut"},
    "carry above the post's limit": {
        "member": "QD3RVW",
        "kit": "Everything pack",
        "event": "Gorse Hill Trail Run",
        "post": "Skylark Saddle",
    },
    "further than the member walks": {
        "member": "QM4CGH",
        "kit": "Walk bag",
        "event": "Gorse Hill Trail Run",
        "post": "Lambing Hut",
    },
    "mast near a power line": {"event": "Gorse Hill Trail Run", "post": "Three Barns"},
    "public too close": {"event": "Barley Ford Half Marathon", "post": "Medical tent"},
    "poor coverage": {"event": "Gorse Hill Trail Run", "post": "Lambing Hut"},
    "coverage not known": {"event": "High Sluice Exercise", "post": "Shelter C"},
    "no lightning shelter": {"event": "Gorse Hill Trail Run"},
    "below freezing": {"event": "Tinder Lane Lantern Parade"},
    "no briefing date": {"event": "High Sluice Exercise"},
    "nobody there": {"event": "Barley Ford Half Marathon", "post": "Mile 11"},
    "hours without anyone": {"event": "Gorse Hill Trail Run", "post": "Old Sluice"},
    "shift over twelve hours": {"event": "High Sluice Exercise", "post": "Hospital"},
    "in two places at once": {"member": "QV2CGH", "event": "Barley Ford Half Marathon"},
    "long post without recharge": {
        "member": "QL5BFG",
        "kit": "Red box",
        "event": "High Sluice Exercise",
        "post": "Shelter B",
    },
    "kits of one post with different plugs": {"event": "High Sluice Exercise", "post": "Shelter A"},
    "one member's kits at most critical posts": {"member": "QA1BCD", "event": "Tinder Lane Lantern Parade"},
    "loan overdue": {"borrower": "QB4NST"},
    "pool without a mobile": {"member": "QA1BCD", "kit": "Club pool tote"},
}

# Name, (month, weekday, which one in the month), local start, hours, and the rest of the row.
EVENTS: tuple[tuple[str, tuple[int, int, int], str, float, Row], ...] = (
    (
        "Barley Ford Half Marathon",
        (4, 6, 4),
        "05:15",
        7.25,
        {
            "lat": 41.62,
            "lon": -93.88,
            "utc_offset_h": -5,
            "temp_min_c": 3,
            "temp_max_c": 17,
            "minutes_to_care": 12,
            "public": "yes",
            "storms_possible": "no",
            "shelter": "library and parked cars",
            "briefed": -8,
            "notes": "river path, every post within 100 m of a road",
        },
    ),
    (
        "Gorse Hill Trail Run",
        (9, 4, 1),
        "04:00",
        36,
        {
            "lat": 43.41,
            "lon": -90.87,
            "utc_offset_h": -5,
            "temp_min_c": 4,
            "temp_max_c": 29,
            "minutes_to_care": 75,
            "public": "yes",
            "storms_possible": "yes",
            "briefed": -5,
            "notes": "storms after lunch most years; no phones on the east side",
        },
    ),
    (
        "High Sluice Exercise",
        (10, 4, 2),
        "08:00",
        48,
        {
            "lat": 40.73,
            "lon": -95.12,
            "utc_offset_h": -5,
            "temp_min_c": 4,
            "temp_max_c": 21,
            "minutes_to_care": 25,
            "public": "no",
            "storms_possible": "yes",
            "shelter": "each shelter building",
        },
    ),
    (
        "Tinder Lane Lantern Parade",
        (12, 5, 1),
        "15:00",
        6.5,
        {
            "lat": 42.08,
            "lon": -94.31,
            "utc_offset_h": -6,
            "temp_min_c": -10,
            "temp_max_c": -1,
            "minutes_to_care": 6,
            "public": "yes",
            "storms_possible": "no",
            "shelter": "bank lobby",
            "briefed": -6,
            "notes": "dark from a quarter to five, dense crowd",
        },
    ),
)

MARATHON, TRAIL, EXERCISE, PARADE = (event[0] for event in EVENTS)

# Event, post, type, opening and closing in hours from the start (None: as the event), the rest of the row.
POSTS: tuple[tuple[str, str, str, float | None, float | None, Row], ...] = (
    (
        MARATHON,
        "Net control",
        "net_control",
        None,
        None,
        {"mains": "yes", "rf_grade": "good", "cell_cover": "yes"},
    ),
    (MARATHON, "Backup net control", "backup_net_control", None, None, {"mains": "no", "rf_grade": "good"}),
    (
        MARATHON,
        "Start and finish",
        "start_finish",
        0,
        7.25,
        {"operators": 2, "rf_grade": "good", "public_m": 4},
    ),
    (
        MARATHON,
        "Medical tent",
        "medical",
        0.5,
        7.25,
        {"mains": "no", "rf_grade": "good", "public_m": 1.2, "notes": "crowd barrier right behind the tent"},
    ),
    *(
        (
            MARATHON,
            f"Aid station {n}",
            "aid_station",
            1.0,
            6.5,
            {"access": "drive", "rf_grade": grade, "cell_cover": "yes"},
        )
        for n, grade in ((1, "good"), (2, "good"), (3, "marginal"), (4, "marginal"), (5, None))
    ),
    *(
        (
            MARATHON,
            f"Mile {n}",
            "mile_marker",
            1.5,
            5.0,
            {"access": "walk", "walk_km": 0.1, "beside_traffic": road},
        )
        for n, road in ((1, "yes"), (3, "yes"), (5, "no"), (7, None), (9, "yes"), (11, "yes"))
    ),
    (MARATHON, "Shadow of the race director", "shadow", 0.25, 7.25, {"access": "walk", "walk_km": 3}),
    (MARATHON, "Shadow of the medical lead", "shadow", 0.25, 7.25, {"access": "walk"}),
    (MARATHON, "Lead vehicle", "sag", 1.0, 4.5, {"notes": "borrowed pick-up, magnetic mount only"}),
    (MARATHON, "Sweep vehicle", "sag", 1.5, 7.0, {}),
    (
        TRAIL,
        "Net control",
        "net_control",
        None,
        None,
        {"mains": "yes", "rf_grade": "good", "cell_cover": "yes"},
    ),
    (
        TRAIL,
        "Bib desk",
        "digital",
        1,
        35,
        {"mains": "yes", "bands": "2m", "modes": "packet", "rf_grade": "good"},
    ),
    (TRAIL, "Quarry Gate", "aid_station", 1, 15, {"operators": 2, "rf_grade": "good", "cell_cover": "yes"}),
    (TRAIL, "Mill Track", "aid_station", 3, 19, {"operators": 2, "rf_grade": "marginal", "cell_cover": "no"}),
    (
        TRAIL,
        "Three Barns",
        "aid_station",
        4,
        20,
        {"operators": 2, "rf_grade": "marginal", "mast_m": 8, "power_line_m": 6, "cell_cover": "no"},
    ),
    (
        TRAIL,
        "Skylark Saddle",
        "remote",
        5,
        17,
        {
            "access": "carry",
            "carry_limit_kg": 11,
            "walk_km": 6.1,
            "rf_grade": "marginal",
            "mains": "no",
            "cell_cover": "no",
        },
    ),
    (
        TRAIL,
        "Lambing Hut",
        "remote",
        6,
        20,
        {
            "access": "carry",
            "carry_limit_kg": 14,
            "walk_km": 3.5,
            "rf_grade": "poor",
            "mains": "no",
            "cell_cover": "no",
        },
    ),
    (
        TRAIL,
        "Old Sluice",
        "aid_station",
        6,
        24,
        {"access": "4x4", "bands": "70cm", "rf_grade": "marginal", "cell_cover": "no"},
    ),
    (
        TRAIL,
        "Summit relay",
        "relay",
        0,
        36,
        {"access": "4x4", "walk_km": 0.8, "mains": "no", "rf_grade": "good", "mast_m": 6, "power_line_m": 60},
    ),
    (
        TRAIL,
        "Sweep east",
        "sweep",
        12,
        21,
        {"access": "walk", "operators": 2, "walk_km": 14, "cell_cover": "no"},
    ),
    (
        TRAIL,
        "Sweep west",
        "sweep",
        18,
        27,
        {"access": "walk", "operators": 2, "walk_km": 16, "cell_cover": "no"},
    ),
    (
        EXERCISE,
        "County centre",
        "net_control",
        None,
        None,
        {"mains": "yes", "rf_grade": "good", "cell_cover": "yes"},
    ),
    (EXERCISE, "Backup centre", "backup_net_control", None, None, {"mains": "yes"}),
    (EXERCISE, "Message desk", "digital", None, None, {"mains": "yes", "bands": "2m", "modes": "packet"}),
    (EXERCISE, "Shelter A", "shelter", None, None, {"operators": 2, "rf_grade": "good"}),
    (EXERCISE, "Shelter B", "shelter", None, None, {"operators": 2, "mains": "no", "rf_grade": "marginal"}),
    (EXERCISE, "Shelter C", "shelter", None, None, {"operators": 2}),
    (
        EXERCISE,
        "Hospital",
        "medical",
        None,
        None,
        {"mains": "yes", "rf_grade": "good", "notes": "roof antenna there, N plug"},
    ),
    (EXERCISE, "Survey car 1", "sag", 1, 11, {"notes": "agency vehicle, battery clips only"}),
    (EXERCISE, "Survey car 2", "sag", 25, 35, {"notes": "agency vehicle, battery clips only"}),
    (
        EXERCISE,
        "Message gateway",
        "digital",
        None,
        None,
        {
            "bands": "40m 80m",
            "modes": "ssb",
            "rf_watts_min": 50,
            "access": "4x4",
            "mains": "no",
            "mast_m": 10,
            "power_line_m": 80,
        },
    ),
    (
        PARADE,
        "Net control",
        "net_control",
        None,
        None,
        {"mains": "yes", "bands": "70cm", "rf_grade": "good", "cell_cover": "yes"},
    ),
    (PARADE, "Backup van", "backup_net_control", None, None, {"bands": "70cm", "mains": "no"}),
    *(
        (
            PARADE,
            f"Corner {n}",
            "mile_marker",
            0.5,
            6.0,
            {"access": "walk", "walk_km": 0.5, "bands": "70cm", "beside_traffic": "yes", "public_m": 1},
        )
        for n in range(1, 8)
    ),
    (PARADE, "Lost-child desk", "aid_station", 0.5, 6.5, {"access": "walk", "bands": "70cm", "mains": "yes"}),
    (PARADE, "Medical tent", "medical", 0.25, 6.5, {"bands": "70cm", "public_m": 6, "mains": "no"}),
    (PARADE, "Shadow of the marshal", "shadow", 0.5, 6.5, {"access": "walk", "walk_km": 4, "bands": "70cm"}),
)

# Promised places: event, post, member, kit, from and to in hours from the event's start (None: as the post).
PROMISED: tuple[tuple[str, str, str, str | None, float | None, float | None], ...] = (
    (MARATHON, "Net control", "QR8VZB", "Small command box", None, None),
    (MARATHON, "Medical tent", "QG2VZB", "Roof kit", None, None),
    (MARATHON, "Aid station 1", "QV2CGH", "Truck kit", None, None),
    (MARATHON, "Aid station 2", "QH9BGH", "Blue crate", None, None),
    (MARATHON, "Aid station 3", "QV7DHJ", "Barn kit", None, None),
    (MARATHON, "Sweep vehicle", "QV2CGH", "Truck kit", 5.0, 7.0),
    (MARATHON, "Mile 1", "QJ4XCD", "Corner bag", None, None),
    (MARATHON, "Mile 3", "QN4MST", "Evening bag", None, None),
    (MARATHON, "Shadow of the race director", "QX3HLM", "Rover bag", None, None),
    (MARATHON, "Shadow of the medical lead", "QP1RVW", "Waist bag", None, None),
    (MARATHON, "Lead vehicle", "QS7XCD", "Glovebox set", None, None),
    (TRAIL, "Skylark Saddle", "QD3RVW", "Everything pack", None, None),
    (TRAIL, "Skylark Saddle", "QE1RWX", "Light pack", None, None),
    (TRAIL, "Lambing Hut", "QM4CGH", "Walk bag", None, None),
    (TRAIL, "Old Sluice", "QT9BFG", "Boat bag", 6, 14),
    (TRAIL, "Three Barns", "QF5TXZ", "Mast set", 4, 12),
    (TRAIL, "Three Barns", "QT4ZDF", "Cupboard kit", 12, 20),
    (TRAIL, "Summit relay", "QD9PVW", "Hill box", 0, 12),
    (TRAIL, "Summit relay", "QG4WCD", "Green tote", 12, 24),
    (TRAIL, "Summit relay", "QD9PVW", "Second hill box", 24, 36),
    (EXERCISE, "Hospital", "QW1FJK", "Cellar box", 0, 16),
    (EXERCISE, "Hospital", "QX8JMN", "Mixed power box", 16, 32),
    (EXERCISE, "Hospital", "QB2HJL", "Ready station", 32, 48),
    (EXERCISE, "Message gateway", "QD5NTV", "HF trunk", 0, 12),
    (EXERCISE, "Message gateway", "QC5PTV", "One big bag", 12, 24),
    (EXERCISE, "Message gateway", "QR2TXZ", "HF crate", 24, 36),
    (EXERCISE, "Message gateway", "QD5NTV", "HF trunk", 36, 48),
    (EXERCISE, "Shelter A", "QM4CGH", "Foreign plugs", 0, 12),
    (EXERCISE, "Shelter A", "QB7KMN", "Yellow case", 0, 12),
    (EXERCISE, "Shelter A", "QL8JNP", "Old faithful", 12, 24),
    (EXERCISE, "Shelter A", "QN9PTV", "Blue bag", 12, 24),
    (EXERCISE, "Shelter A", "QM4CGH", "Foreign plugs", 24, 36),
    (EXERCISE, "Shelter A", "QB7KMN", "Yellow case", 24, 36),
    (EXERCISE, "Shelter B", "QL5BFG", "Red box", 0, 12),
    (EXERCISE, "Shelter B", "QL5BFG", "Red box", 24, 36),
    (EXERCISE, "Shelter B", "QS3WBC", "Garage kit", 12, 24),
    (EXERCISE, "Shelter B", "QS3WBC", "Garage kit", 36, 48),
    (PARADE, "Net control", "QA1BCD", "Command case A", None, None),
    (PARADE, "Net control", "QA4FGK", None, None, None),
    (PARADE, "Backup van", "QA1BCD", "Command case B", None, None),
    (PARADE, "Medical tent", "QC3LPR", "Two-box set", None, None),
    (PARADE, "Corner 1", "QH5WBC", "Pocket kit", None, None),
    (PARADE, "Corner 2", "QJ2CHJ", "Waist bag", None, None),
)
UNSTAFFED = {(MARATHON, "Mile 11"), (PARADE, "Corner 7")}
OPERATORS = {"net_control": 2, "remote": 2, "medical": 2}
SUITED = {
    "net_control": ("full",),
    "backup_net_control": ("full", "station"),
    "aid_station": ("station", "full"),
    "mile_marker": ("handheld",),
    "medical": ("full", "station"),
    "start_finish": ("full", "station"),
    "shadow": ("handheld",),
    "sag": ("car", "station"),
    "digital": ("digital", "hf"),
    "shelter": ("station", "full"),
    "sweep": ("carry", "handheld"),
}

# Item, borrower, days from today: out, due, back (None: still out), condition out and in, notes.
LOANS: tuple[tuple[str, str, int, int, int | None, str, str | None, str | None], ...] = (
    (
        "club AGM 35 Ah, number 2",
        "QB4NST",
        -120,
        -80,
        None,
        "ok",
        None,
        "said he would bring it to the meeting",
    ),
    ("club mag-mount", "QP3FJK", -60, -32, None, "ok", None, None),
    ("club dual-band handheld 1", "QR5GKL", -14, 14, None, "ok", None, "until his own arrives"),
    ("club dual-band handheld 2", "QP3FJK", -20, 8, None, "ok", None, None),
    ("club HF vertical", "QC5PTV", -200, -180, -181, "ok", "ok", None),
    ("club generator", "QG4WCD", -95, -93, -92, "ok", "ok", "returned with an empty tank"),
    ("antenna analyser", "QG2VZB", -45, -31, -30, "ok", "ok", None),
    ("crimper and contacts", "QM7LRS", -75, -61, -40, "ok", "ok", "late, sorry"),
    ("10 m mast", "QF5TXZ", -230, -216, -214, "ok", "faulty", "one clamp cracked"),
    ("30 A supply", "QJ7DJK", -33, -5, None, "ok", None, None),
    ("watt meter", "QW6GKL", -10, 4, None, "ok", None, None),
    ("first-aid kit B", "QE6SXZ", -50, -48, -48, "ok", "ok", None),
)


def coming(today: date, month: int, weekday: int, which: int) -> date:
    """Return the next `which`-th `weekday` (Monday 0) of `month` that is at least ten days after `today`."""
    for year in (today.year, today.year + 1):
        first = date(year, month, 1)
        day = first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (which - 1))
        if day >= today + timedelta(days=10):
            break
    return day


def _told_pieces(bag: Bag) -> list[tuple[str, Row]]:
    """Return the kinds that lie in the bag, each with what is particular about it."""
    pieces = [(piece, {}) if isinstance(piece, str) else piece for piece in SORTS[bag.sort]]
    kept = [
        (kind, dict(own))
        for kind, own in pieces
        if kind not in bag.drop and not (kind in bag.no_spare and own.get("spare") == "yes")
    ]
    for kind, own in kept:
        own.update(bag.change.get("*", {}))
        # What is particular about the part in use does not hold for the spare beside it.
        if own.get("spare") != "yes":
            own.update(bag.change.get(kind, {}))
    return kept + [(kind, dict(own)) for kind, own in bag.add]


def _inventory(rng: random.Random) -> list[Row]:
    rows = []
    for bag in BAGS:
        share = SHARE_TOLD[bag.told]
        for kind, own in _told_pieces(bag):
            words, weight_kg, cost_usd, life_years, facts = CATALOGUE[kind]
            row: Row = {"member": bag.member, "kit": bag.kit, "item": rng.choice(words), "kind": kind}
            for column, value in facts.items():
                likely = {"capacity_ah": 0.93, "chemistry": 0.8}.get(
                    column, 0.7 if column in PLUGS else share
                )
                if rng.random() < max(share, likely if bag.told == "usual" else share):
                    row[column] = value
            age_days = -rng.randint(60, int(life_years * 365 * 0.6))
            extras: Row = {
                "weight_kg": round(weight_kg * rng.uniform(0.95, 1.05), 2),
                "cost_usd": round(cost_usd * rng.uniform(0.8, 1.2)),
                "acquired": age_days,
                "labelled": "yes",
                "condition": "ok",
                "owner": "member",
                "module": _module(kind),
            }
            if any(str(facts.get(plug, "")).startswith("genderless") for plug in PLUGS):
                extras["polarity_checked"] = -rng.randint(20, 300)
            if "capacity_ah" in facts:
                extras["charged"] = -rng.randint(2, 20)
                if kind.startswith("battery"):
                    extras["tested"] = -rng.randint(20, 250)
                    capacity = own.get("capacity_ah", facts["capacity_ah"])
                    extras["tested_ah"] = round(capacity * rng.uniform(0.94, 1.0), 1) if capacity else None
            if "gain_dbi" in facts:
                extras["swr"] = round(rng.uniform(1.1, 1.8), 1)
                extras["swr_tested"] = -rng.randint(20, 250)
            if kind in ("first_aid", "trauma_pack", "fire_extinguisher"):
                extras["expires"] = rng.randint(400, 900)
            if bag.sort == "pool":
                extras["owner"] = "club"
            row.update({c: v for c, v in extras.items() if rng.random() < share})
            if "tested_ah" in row and "tested" not in row:
                del row["tested_ah"]
            row.update(own)
            rows.append(row)
    return rows


def _module(kind: str) -> str:
    for start, module in (
        (
            ("battery", "charger", "dc_", "clip", "socket", "fuse", "solar", "charge", "supply", "watt"),
            "power",
        ),
        (
            (
                "coax",
                "rf_",
                "whip",
                "mag_",
                "jpole",
                "base_",
                "yagi",
                "end_",
                "dipole",
                "hf_v",
                "mast",
                "guy",
            ),
            "antenna",
        ),
        (("first", "trauma", "hi_vis", "cones", "fire", "headlamp", "lantern"), "safety"),
        (("clipboard", "channel", "manual"), "papers"),
        (("personal", "dry_bags"), "personal"),
    ):
        if kind.startswith(start):
            return module
    return "radio"


def _members(rng: random.Random) -> list[Row]:
    rows = []
    for call, licence, roles, fixed in MEMBERS:
        keen = any(bag.member == call and bag.told == "keen" for bag in BAGS)
        row: Row = {
            "member": call,
            "licence_class": licence,
            "licence_expires": rng.randint(500, 3300),
            "roles": roles,
            "last_on_air": -rng.randint(3, 60),
        }
        options: Row = {
            "carry_limit_kg": rng.choice((8, 10, 12, 14, 16)),
            "solo_ok": rng.choice(("yes", "yes", "no")),
            "night_ok": "yes",
            "heat_limit_c": rng.choice((30, 32, 35)),
            "cold_limit_c": rng.choice((-15, -18, -20)),
            "walk_limit_km": rng.choice((2, 5, 8, 15)),
            "on_air_12m": rng.randint(6, 48),
            "events_12m": rng.randint(1, 6),
            "first_aid_expires": rng.randint(400, 800),
            "training": "is100 is200 is700 is800" if keen else "is100 is700",
        }
        row.update({c: v for c, v in options.items() if rng.random() < (0.97 if keen else 0.6)})
        rows.append(row | fixed)
    return rows


def _kits(rng: random.Random) -> list[Row]:
    rows = []
    for bag in BAGS:
        row: Row = {"member": bag.member, "kit": bag.kit, "purpose": PURPOSE[bag.sort]}
        used = rng.randint(20, 200)
        options: Row = {
            "hours": {"handheld": 8, "hf": 24, "relay": 24}.get(bag.sort, 12),
            "packed": -rng.randint(5, 18),
            "list_printed": -rng.randint(20, 300),
            "last_used": -used,
            "restocked": -used + rng.randint(1, 15),
            "inspected": -rng.randint(40, 300),
        }
        share = {"keen": 1.0, "usual": 0.7, "bare": 0.2}[bag.told]
        row.update({c: v for c, v in options.items() if rng.random() < share})
        rows.append(row | bag.about)
    return rows


def _rehearsals(rng: random.Random) -> list[Row]:
    rows: list[Row] = []
    for bag in BAGS:
        practice = bag.practice
        if practice is None:
            steps = {
                "keen": ("room", "yard", "park", "event"),
                "usual": ("yard", "park"),
                "bare": ("bench",),
            }[bag.told]
            first = -rng.randint(200, 330)
            hours = {"keen": 12.5, "usual": 3.0, "bare": None}[bag.told]
            practice = tuple(
                (first + 45 * n, stage, hours if n == len(steps) - 1 else None)
                for n, stage in enumerate(steps)
            )
        for day, stage, hours_on_battery in practice:
            trips = rng.choice((0, 0, 0, 1, 2))
            missing = (
                rng.choice(("pen", "the adapter for the pigtail", "spare cells", "tape")) if trips else None
            )
            rows.append(
                {
                    "member": bag.member,
                    "kit": bag.kit,
                    "date": day,
                    "stage": stage,
                    "trips_back": trips,
                    "missing": missing,
                    "hours_on_battery": hours_on_battery,
                }
            )
    return rows


def _assignments(rng: random.Random, starts: dict[str, datetime], hours: dict[str, float]) -> list[Row]:
    """Place the promised people, then fill the other posts with whoever is free and has a kit that suits."""
    places = {
        (event, post): (0.0 if opens is None else opens, hours[event] if closes is None else closes)
        for event, post, _, opens, closes, _ in POSTS
    }
    rows: list[Row] = []
    busy: dict[tuple[str, str], list[tuple[float, float]]] = {}

    def place(
        event: str, post: str, member: str, kit: str | None, begin: float | None, end: float | None
    ) -> None:
        opens, closes = places[event, post]
        window = (opens if begin is None else begin, closes if end is None else end)
        busy.setdefault((event, member), []).append(window)
        row: Row = {"event": event, "post": post, "member": member, "kit": kit}
        if begin is not None:
            row["from"] = _stamp(starts[event], window[0])
            row["to"] = _stamp(starts[event], window[1])
        rows.append(row)

    for promise in PROMISED:
        place(*promise)
    done = UNSTAFFED | {promise[:2] for promise in PROMISED}
    roster = [call for call, _, _, fixed in MEMBERS if fixed.get("available") != "no"]
    rng.shuffle(roster)
    for event, post, post_type, _, _, told in POSTS:
        if (event, post) in done:
            continue
        opens, closes = places[event, post]
        shifts = max(1, -int(-(closes - opens) // 9))
        step = (closes - opens) / shifts
        for number in range(shifts):
            begin, end = opens + number * step, opens + (number + 1) * step
            for seat in range(told.get("operators", OPERATORS.get(post_type, 1))):
                sorts = SUITED[post_type] if seat == 0 else ("handheld", *SUITED[post_type])
                free = [
                    member
                    for member in roster
                    if all(end + 6 <= a or begin - 6 >= b for a, b in busy.get((event, member), []))
                ]
                if not free:
                    continue
                kits = {member: _suited(member, sorts) for member in free}
                member = min(
                    free,
                    key=lambda who: (
                        kits[who] is None,
                        len(busy.get((event, who), [])),
                        sum(who == other for _, other in busy),
                    ),
                )
                whole = shifts == 1
                place(event, post, member, kits[member], None if whole else begin, None if whole else end)
    order = {(event, post): n for n, (event, post, *_) in enumerate(POSTS)}
    return sorted(rows, key=lambda row: (order[row["event"], row["post"]], row.get("from", "")))


def _suited(member: str, sorts: tuple[str, ...]) -> str | None:
    own = [bag for bag in BAGS if bag.member == member and bag.sort in sorts]
    return min(own, key=lambda bag: sorts.index(bag.sort)).kit if own else None


def _stamp(start: datetime, hours: float) -> str:
    return (start + timedelta(minutes=round(hours * 60))).strftime("%Y-%m-%dT%H:%M")


def rows(today: date | None = None) -> dict[str, list[Row]]:
    """Return the club's rows by file stem; the same for the same `today`."""
    today = today or date.today()
    rng = random.Random(20)
    starts: dict[str, datetime] = {}
    hours: dict[str, float] = {}
    events: list[Row] = []
    for event, (month, weekday, which), clock, length, told in EVENTS:
        day = coming(today, month, weekday, which)
        starts[event] = datetime.fromisoformat(f"{day}T{clock}")
        hours[event] = length
        row = {
            "event": event,
            "starts": _stamp(starts[event], 0),
            "ends": _stamp(starts[event], length),
        } | told
        if "briefed" in told:
            row["briefed"] = (day + timedelta(days=told["briefed"])).isoformat()
        events.append(row)
    posts = [
        {"event": event, "post": post, "post_type": post_type}
        | {"opens": None if opens is None else _stamp(starts[event], opens)}
        | {"closes": None if closes is None else _stamp(starts[event], closes)}
        | told
        for event, post, post_type, opens, closes, told in POSTS
    ]
    names = COLUMNS["loans"].split()
    return {
        "inventory": [_dated(row, today) for row in _inventory(rng)],
        "members": [_dated(row, today) for row in _members(rng)],
        "kits": [_dated(row, today) for row in _kits(rng)],
        "rehearsals": [_dated(row, today) for row in _rehearsals(rng)],
        "events": sorted(events, key=lambda row: str(row["starts"])),
        "posts": posts,
        "assignments": _assignments(rng, starts, hours),
        "offers": [
            {"offer": o, "kind": k, "price_usd": p, "available": n, "paid_by": by} | t
            for o, k, p, n, by, t in OFFERS
        ],
        "loans": [_dated(dict(zip(names, loan, strict=True)), today) for loan in LOANS],
    }


DAYS = {
    *DATES,
    *("licence_expires", "last_on_air", "first_aid_expires"),
    *("packed", "list_printed", "last_used", "restocked", "inspected"),
    *("date", "out", "due", "back"),
}


def _dated(row: Row, today: date) -> Row:
    """Turn days from today into dates."""
    return {
        column: (today + timedelta(days=value)).isoformat() if column in DAYS and value is not None else value
        for column, value in row.items()
    }


def write(folder: Path, today: date | None = None) -> list[Path]:
    """Write the invented club into `folder`, one CSV per table, and return the paths.

    Parameters
    ----------
    folder : made if it is not there; files of the same name are replaced.
    today : the day that charge dates, licences and events are told from; by default the present day.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for stem, table in rows(today).items():
        path = folder / f"{stem}.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, COLUMNS[stem].split(), lineterminator="\n")
            writer.writeheader()
            writer.writerows(table)
        paths.append(path)
    return paths
