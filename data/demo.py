"""An invented club, written as the files its members would send.

Every call sign begins with Q, which is issued to nobody; every place is invented; prices, weights and lives
are planning estimates. The rows are written the way volunteers write: some fill everything, many leave most
cells empty. What stays the same from day to day stands in `data/demo/*.csv`, its dates as whole days from
today and its times as hours from the start of the event; `BAGS` says what is particular about each kit and
`GAPS` where each kind of gap can be seen.
"""

import csv
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from data import schema

Row = dict[str, Any]

SOURCES = Path(__file__).parent / "demo"
STEMS = ("inventory", "members", "kits", "rehearsals", "events", "posts", "assignments", "offers", "loans")

# Share of the optional cells that a member fills.
SHARE_TOLD = {"keen": 1.0, "usual": 0.45, "bare": 0.06}
# What most people know of their things, whatever else they leave out.
WELL_KNOWN = {
    "capacity_ah": 0.93,
    "chemistry": 0.8,
    "dc_plug": 0.7,
    "dc_plug_far": 0.7,
    "rf_plug": 0.7,
    "rf_plug_far": 0.7,
}
PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")

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
# Sorts of kit that suit a post, best first, and how many people sit there when the post does not say.
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
# The sign-off that a post asks for.
ROLE = {
    "net_control": "net_control",
    "backup_net_control": "net_control",
    "shadow": "shadow",
    "digital": "packet",
    "sweep": "solo",
}
SEATS = {"net_control": 2, "remote": 2, "medical": 2}
UNSTAFFED = {("Barley Ford Half Marathon", "Mile 11"), ("Tinder Lane Lantern Parade", "Corner 7")}
# Which packs fit whose handheld: the word of a member is found by the letters of the call sign.
PACK_FAMILIES = ("red", "blue", "green", "red", "grey", "blue", "red")
LONGEST_SHIFT_H = 9
REST_H = 6

REHEARSED = {"keen": ("room", "yard", "park", "event"), "usual": ("yard", "park"), "bare": ("bench",)}
HOURS_ON_BATTERY = {"keen": 12.5, "usual": 3.0, "bare": None}
# What was told of the trail run a year ago, by kit: the post that it held, and the charge left in per cent.
TRAIL_RUN = {
    ("QA1BCD", "Command case B"): ("Quarry Gate", 44),
    ("QA4FGK", "Ready station"): ("Mill Track", 48),
    ("QB7KMN", "Yellow case"): ("Three Barns", 41),
    ("QC3LPR", "Two-box set"): ("Old Sluice", 55),
}
# What was told of the walk that is over, by kit: the post, hours on battery and the charge left in per cent. Two kits
# were there of which nobody has told yet.
WALK = "Willow Loop Walk"
WALK_TOLD: dict[tuple[str, str], tuple[str, float, int]] = {
    ("QB7KMN", "Yellow case"): ("Start and finish", 6.0, 71),
    ("QE1RWX", "Light pack"): ("Owl Stile", 4.5, 80),
}
FORGOTTEN = ("pen", "the adapter for the pigtail", "spare cells", "tape")
MODULES = {
    "power": "battery charger dc clip socket fuse solar charge supply watt",
    "antenna": "coax rf whip mag jpole base yagi end dipole mast guy tuner",
    "safety": "first trauma hi cones fire headlamp lantern satellite",
    "papers": "clipboard channel manual",
    "personal": "personal dry",
}


@dataclass(frozen=True)
class Bag:
    """One kit: whose it is, its sort, how much its owner writes down and what is particular about it.

    Dates in `change`, `add`, `about` and `practice` are whole days from today. `change` holds for the parts
    in use, `*` for every part; `no_spare` takes the spares of a kind out; `practice` is (day, stage, hours on
    battery), None for what is usual.
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


BIG_BATTERY = {
    "battery_lifepo4": {
        "item": "50 Ah LiFePO4",
        "capacity_ah": 50,
        "amps_rated": 50,
        "tested_ah": 49.2,
        "weight_kg": 6.2,
    }
}
BAGS = (
    # Kits in good order.
    Bag(
        "QA1BCD",
        "Command case A",
        "full",
        "keen",
        change=BIG_BATTERY,
    ),
    Bag("QA1BCD", "Command case B", "full", "keen"),
    Bag("QA1BCD", "Small handheld bag", "handheld", "keen"),
    Bag("QA4FGK", "Ready station", "full", "keen"),
    Bag(
        "QB2HJL",
        "Ready station",
        "full",
        "keen",
        change=BIG_BATTERY,
    ),
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
    Bag("QF2TZB", "House station", "full", about={"may_be_lent": "yes"}),
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
    Bag(
        "QL3HMN",
        "Tote",
        "station",
        no_spare=("fuse",),
        practice=((-500, "yard", None), (-430, "park", 3.0)),
    ),
    Bag(
        "QL8JNP",
        "Old faithful",
        "station",
        "keen",
        drop=("dc_adapter", "dc_block", "clip_lead", "socket_lead"),
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
        about={"stored_min_c": -15, "stored_max_c": 45},
    ),
    Bag(
        "QV2CGH",
        "Truck kit",
        "station",
        "keen",
        change={
            "dc_lead": {"item": "thin lead 16 AWG", "wire_awg": 16, "amps_rated": 40, "length_m": 1},
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
                "amps_rated": 15,
            }
        },
    ),
    Bag(
        "QW1FJK",
        "Cellar box",
        "station",
        "usual",
        change={"battery_lifepo4": {"charged": -420}, "handheld_pack": {"charged": -200}},
        about={"stored_min_c": 8, "stored_max_c": 22},
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
        change={"channel_list": {"acquired": -800}},
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
    Bag(
        "QM4CGH",
        "Walk bag",
        "carry",
        "usual",
        drop=("satellite_messenger", "personal_pack", "jpole"),
        change={
            "first_aid": {"condition": "removed", "notes": "lent out at the fair"},
            "handheld_pack": {"acquired": -1300},
        },
        practice=((-240, "bench", None), (-200, "yard", 3.0)),
    ),
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
    Bag("QA1BCD", "Club pool tote", "pool", change={"*": {"counted": -400}}),
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
    "not rehearsed for a year": {"member": "QL3HMN", "kit": "Tote"},
    "remote post before a trial away from home": {"member": "QM4CGH", "kit": "Walk bag"},
    "no first-aid kit at the post": {"member": "QM4CGH", "kit": "Walk bag"},
    "pack nearing its age": {"member": "QM4CGH", "kit": "Walk bag"},
    "bench test only": {"member": "QZ7LPR", "kit": "Bench kit"},
    "nothing labelled": {"member": "QA9MRS", "kit": "Plain box"},
    "old contents list": {"member": "QB4NST", "kit": "Last year's box"},
    "old channel list": {"member": "QB4NST", "kit": "Last year's box"},
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
    "beyond the member's heat limit": {"member": "QT9BFG", "event": "Gorse Hill Trail Run"},
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
    "kept in frost": {"member": "QT9BFG", "kit": "Boat bag"},
    "identity card expired": {"member": "QB4NST", "event": "High Sluice Exercise", "post": "Survey car 2"},
    "day too long with the drive": {"member": "QW1FJK", "event": "High Sluice Exercise", "post": "Hospital"},
    "seats changed too seldom": {"event": "Barley Ford Half Marathon", "post": "Net control"},
    "no channel without a repeater": {"event": "Gorse Hill Trail Run"},
    "generator not serviced": {"member": "QA1BCD", "kit": "Club pool tote"},
    "club things not counted": {"member": "QA1BCD", "kit": "Club pool tote"},
    "loan overdue": {"borrower": "QB4NST"},
    "pool without a mobile": {"member": "QA1BCD", "kit": "Club pool tote"},
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
            writer = csv.DictWriter(file, list(schema.columns(stem)), lineterminator="\n")
            writer.writeheader()
            writer.writerows(table)
        paths.append(path)
    return paths


def rows(today: date | None = None) -> dict[str, list[Row]]:
    """Return the club's rows by file stem, empty cells left out; the same rows for the same `today`."""
    today = today or date.today()
    chance = random.Random(20)
    events = [_event(row, today) for row in _source("events")]
    starts = {row["event"]: datetime.fromisoformat(row["starts"]) for row in events}
    tables = {
        "inventory": [thing for bag in BAGS for thing in _things(bag, chance)],
        "members": [_member(row, chance) for row in _source("members")],
        "kits": [_kit(bag, chance) for bag in BAGS],
        "rehearsals": [practice for bag in BAGS for practice in _rehearsals(bag, chance)]
        + _walk_told(starts[WALK], today),
        "events": sorted(events, key=lambda row: str(row["starts"])),
        "posts": _source("posts"),
        "assignments": _assignments(chance),
        "offers": _source("offers"),
        "loans": _source("loans"),
    }
    return {
        stem: [
            {column: _cell(stem, column, value, row, today, starts) for column, value in row.items()}
            for row in tables[stem]
        ]
        for stem in STEMS
    }


def coming(today: date, month: int, weekday: int, which: int) -> date:
    """Return the next `which`-th `weekday` (Monday 0) of `month` that is at least ten days after `today`."""
    for year in (today.year, today.year + 1):
        first = date(year, month, 1)
        day = first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (which - 1))
        if day >= today + timedelta(days=10):
            break
    return day


def last(today: date, weekday: int) -> date:
    """Return the last `weekday` (Monday 0) that is at least four weeks before `today`."""
    day = today - timedelta(days=28)
    return day - timedelta(days=(day.weekday() - weekday) % 7)


@cache
def _read(name: str) -> tuple[Row, ...]:
    with (SOURCES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple({column: cell for column, cell in row.items() if cell} for row in csv.DictReader(file))


def _source(name: str) -> list[Row]:
    return [dict(row) for row in _read(name)]


def _cell(stem: str, column: str, value: Any, row: Row, today: date, starts: dict[str, datetime]) -> Any:
    """Turn whole days from today into a date and hours from the event's start into a moment."""
    form = schema.columns(stem)[column].form
    if value is None or stem == "events":
        return value
    if form in (schema.DATE, schema.YEAR_OR_DATE):
        return (today + timedelta(days=int(value))).isoformat()
    if form == schema.MOMENT:
        return _stamp(starts[row["event"]] + timedelta(hours=float(value)))
    return value


def _stamp(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")


def _event(told: Row, today: date) -> Row:
    month, weekday, which, hours = (told.pop(name, None) for name in ("month", "weekday", "which", "hours"))
    is_over = month is None
    day = last(today, int(weekday)) if is_over else coming(today, int(month), int(weekday), int(which))
    start = datetime.fromisoformat(f"{day}T{told['starts']}")
    told |= {"starts": _stamp(start), "ends": _stamp(start + timedelta(hours=float(hours)))}
    if "briefed" in told:
        told["briefed"] = (day + timedelta(days=int(told["briefed"]))).isoformat()
    return told


def _pieces(bag: Bag) -> list[tuple[str, Row]]:
    """Return the kinds that lie in the bag, each with what is particular about the piece."""
    kept = []
    for own in _source("sorts"):
        sort, kind, is_spare = own.pop("sort"), own.pop("kind"), own.get("spare") == "yes"
        if sort != bag.sort or kind in bag.drop or (kind in bag.no_spare and is_spare):
            continue
        own |= bag.change.get("*", {})
        if not is_spare:
            own |= bag.change.get(kind, {})
        kept.append((kind, own))
    return [*kept, *((kind, bag.change.get("*", {}) | own) for kind, own in bag.add)]


def _things(bag: Bag, chance: random.Random) -> list[Row]:
    words = {row["kind"]: row for row in _read("words")}
    share = SHARE_TOLD[bag.told]
    things = []
    for kind, own in _pieces(bag):
        usual = dict(words[kind])
        del usual["kind"]
        thing: Row = {
            "member": bag.member,
            "kit": bag.kit,
            "item": chance.choice(usual.pop("words").split("|")),
            "kind": kind,
        }
        age_days = -chance.randint(60, int(float(usual.pop("life_years")) * 365 * 0.6))
        told = {
            "weight_kg": round(float(usual.pop("each_kg")) * chance.uniform(0.95, 1.05), 2),
            "cost_usd": round(float(usual.pop("each_usd")) * chance.uniform(0.8, 1.2)),
            "acquired": age_days,
            "labelled": "yes",
            "condition": "ok",
            "owner": "member",
            "module": _module(kind),
            **usual,
            **_upkeep(kind, usual | own, chance),
        }
        for column, value in told.items():
            known = max(share, WELL_KNOWN.get(column, 0.0)) if bag.told == "usual" else share
            if chance.random() < known:
                thing[column] = value
        if "tested" not in thing:
            thing.pop("tested_ah", None)
        if kind in ("handheld", "handheld_pack") and bag.told != "bare":
            thing["pack_family"] = PACK_FAMILIES[sum(map(ord, bag.member)) % len(PACK_FAMILIES)]
        things.append(thing | own)
    return things


def _upkeep(kind: str, told: Row, chance: random.Random) -> Row:
    """Return what somebody who looks after a thing of this kind would write of it."""
    upkeep: Row = {}
    if any(str(told.get(plug, "")).startswith("genderless") for plug in PLUGS):
        upkeep["polarity_checked"] = -chance.randint(20, 300)
    if told.get("capacity_ah"):
        upkeep["charged"] = -chance.randint(2, 20)
        if kind.startswith("battery"):
            upkeep["tested"] = -chance.randint(20, 250)
            upkeep["tested_ah"] = round(float(told["capacity_ah"]) * chance.uniform(0.94, 1.0), 1)
    if "gain_dbi" in told:
        upkeep["swr"] = round(chance.uniform(1.1, 1.8), 1)
        upkeep["swr_tested"] = -chance.randint(20, 250)
    if kind in ("first_aid", "trauma_pack", "fire_extinguisher"):
        upkeep["expires"] = chance.randint(400, 900)
    return upkeep


def _module(kind: str) -> str:
    first = kind.split("_")[0]
    return next((module for module, kinds in MODULES.items() if first in kinds.split()), "radio")


def _member(own: Row, chance: random.Random) -> Row:
    is_keen = any(bag.member == own["member"] and bag.told == "keen" for bag in BAGS)
    usual: Row = {
        "carry_limit_kg": chance.choice((8, 10, 12, 14, 16)),
        "solo_ok": chance.choice(("yes", "yes", "no")),
        "night_ok": "yes",
        "heat_limit_c": chance.choice((30, 32, 35)),
        "cold_limit_c": chance.choice((-15, -18, -20)),
        "walk_limit_km": chance.choice((2, 5, 8, 15)),
        "on_air_12m": chance.randint(6, 48),
        "events_12m": chance.randint(1, 6),
        "first_aid_expires": chance.randint(400, 800),
        "training": "is100 is200 is700 is800" if is_keen else "is100 is700",
    }
    told = _some(usual, 0.97 if is_keen else 0.6, chance)
    told |= {"licence_expires": chance.randint(500, 3300), "last_on_air": -chance.randint(3, 60)} | own
    return {column: None if value == "-" else value for column, value in told.items()}


def _kit(bag: Bag, chance: random.Random) -> Row:
    used = chance.randint(20, 200)
    usual: Row = {
        "hours": {"handheld": 8, "hf": 24, "relay": 24}.get(bag.sort, 12),
        "packed": -chance.randint(5, 18),
        "list_printed": -chance.randint(20, 300),
        "last_used": -used,
        "restocked": -used + chance.randint(1, 15),
        "inspected": -chance.randint(40, 300),
    }
    told = _some(usual, {"keen": 1.0, "usual": 0.7, "bare": 0.2}[bag.told], chance)
    return {"member": bag.member, "kit": bag.kit, "purpose": PURPOSE[bag.sort]} | told | bag.about


def _some(row: Row, share: float, chance: random.Random) -> Row:
    return {column: value for column, value in row.items() if chance.random() < share}


def _rehearsals(bag: Bag, chance: random.Random) -> list[Row]:
    stages = REHEARSED[bag.told]
    first = -chance.randint(200, 330)
    usual = [(first + 45 * n, stage, None) for n, stage in enumerate(stages[:-1])]
    usual_last = (first + 45 * len(usual), stages[-1], HOURS_ON_BATTERY[bag.told])
    found = []
    for day, stage, hours in (*usual, usual_last) if bag.practice is None else bag.practice:
        trips = chance.choice((0, 0, 0, 1, 2))
        row: Row = {"member": bag.member, "kit": bag.kit, "date": day, "stage": stage, "trips_back": trips}
        if trips:
            row["missing"] = chance.choice(FORGOTTEN)
        if stage == "event" and (bag.member, bag.kit) in TRAIL_RUN:
            post, left = TRAIL_RUN[bag.member, bag.kit]
            row |= {"event": "Gorse Hill Trail Run", "post": post, "battery_left_pct": left}
        found.append(row | {"hours_on_battery": hours})
    return found


def _walk_told(start: datetime, today: date) -> list[Row]:
    """What members have told of the walk that is over."""
    return [
        {
            "member": member, "kit": kit, "date": (start.date() - today).days, "stage": "event", "trips_back": 0,
            "event": WALK, "post": post, "hours_on_battery": hours, "battery_left_pct": left,
        }
        for (member, kit), (post, hours, left) in WALK_TOLD.items()
    ]  # fmt: skip


def _assignments(chance: random.Random) -> list[Row]:
    """Place the promised people, then fill the other posts with whoever is free and has a kit that suits.

    `from` and `to` are hours from the event's start, left out where a person stays as long as the post.
    """
    hours = {row["event"]: float(row["hours"]) for row in _read("events")}
    promised: dict[tuple[str, str], list[Row]] = {}
    busy: dict[tuple[str, str], list[tuple[float, float]]] = {}
    windows = {
        (post["event"], post["post"]): (
            float(post.get("opens", 0)),
            float(post.get("closes", hours[post["event"]])),
        )
        for post in _read("posts")
    }
    for row in _source("assignments"):
        place = row["event"], row["post"]
        promised.setdefault(place, []).append(row)
        if row["event"] == WALK:
            continue  # it is over, and tires nobody
        begin, end = (
            float(row.get(name, usual)) for name, usual in zip(("from", "to"), windows[place], strict=True)
        )
        busy.setdefault((row["event"], row["member"]), []).append((begin, end))
    roster = [row["member"] for row in _read("members") if row.get("available") != "no"]
    chance.shuffle(roster)
    found: list[Row] = []
    for post in _read("posts"):
        place = post["event"], post["post"]
        if place in promised or place in UNSTAFFED:
            found += promised.get(place, [])
            continue
        opens, closes = windows[place]
        shifts = int(-(-(closes - opens) // LONGEST_SHIFT_H))
        step = (closes - opens) / shifts
        for shift in range(shifts):
            begin, end = opens + shift * step, opens + (shift + 1) * step
            for seat in range(int(post.get("operators", SEATS.get(post["post_type"], 1)))):
                sorts = SUITED[post["post_type"]] if seat == 0 else ("handheld", *SUITED[post["post_type"]])
                free = [who for who in roster if _is_free(busy.get((place[0], who), []), begin, end)]
                if not free:
                    continue
                role = ROLE.get(post["post_type"], "field") if seat == 0 else "field"
                who = min(free, key=_by_fitness(role, sorts, busy, place[0]))
                busy.setdefault((place[0], who), []).append((begin, end))
                row = {
                    "event": place[0],
                    "post": place[1],
                    "member": who,
                    "kit": next((bag.kit for bag in _suited(who, sorts)), None),
                }
                found.append(row if shifts == 1 else row | {"from": begin, "to": end})
    return found


def _is_free(windows: list[tuple[float, float]], begin: float, end: float) -> bool:
    return all(end + REST_H <= begins or begin - REST_H >= ends for begins, ends in windows)


def _by_fitness(
    role: str, sorts: tuple[str, ...], busy: dict[tuple[str, str], list[tuple[float, float]]], event: str
) -> Callable[[str], tuple[bool, bool, int, int, int]]:
    """Return a sorting key for members: with a kit that suits, signed off, fewest shifts here, best kit."""
    roles = {row["member"]: row.get("roles", "").split() for row in _read("members")}

    def key(who: str) -> tuple[bool, bool, int, int, int]:
        rank = min((sorts.index(bag.sort) for bag in _suited(who, sorts)), default=len(sorts))
        elsewhere = sum(len(windows) for (_, other), windows in busy.items() if other == who)
        return rank == len(sorts), role not in roles[who], len(busy.get((event, who), [])), rank, elsewhere

    return key


def _suited(member: str, sorts: tuple[str, ...]) -> list[Bag]:
    """Return the member's kits of these sorts, best first."""
    own = (bag for bag in BAGS if bag.member == member and bag.sort in sorts)
    return sorted(own, key=lambda bag: sorts.index(bag.sort))
