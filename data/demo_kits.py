"""The kits of the invented club: what is particular about each.

Call signs begin with Q, which is issued to nobody.
"""

from dataclasses import dataclass, field
from typing import Any

Row = dict[str, Any]

PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")


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
LIGHT_EACH: dict[str, Row] = {"headlamp": {"quantity": 2}}
BAGS = (
    # Kits in good order.
    Bag("QA1BCD", "Command case A", "full", "keen", change=BIG_BATTERY),
    Bag("QA1BCD", "Command case B", "full", "keen"),
    Bag(
        "QA1BCD",
        "Small handheld bag",
        "handheld",
        "keen",
        add=(("handheld", {"item": "the old handheld"}), ("handheld_pack", {}), ("whip", {}), ("jpole", {})),
    ),
    Bag("QA4FGK", "Ready station", "full", "keen", change=LIGHT_EACH),
    Bag("QB2HJL", "Ready station", "full", "keen", change=BIG_BATTERY | LIGHT_EACH, about={"inspected": -12}),
    Bag("QB2HJL", "Belt pouch", "handheld", "keen"),
    Bag("QB7KMN", "Yellow case", "full", "keen"),
    Bag("QC3LPR", "Two-box set", "full", "keen", change=LIGHT_EACH),
    Bag("QC8MRS", "Field office", "digital", "keen", change=BIG_BATTERY),
    Bag("QC8MRS", "Field station", "full", "keen"),
    Bag("QD5NTV", "HF trunk", "hf", "keen"),
    Bag("QD5NTV", "Grey crate", "station", "keen"),
    Bag("QD9PVW", "Hill box", "relay", "keen"),
    Bag("QD9PVW", "Second hill box", "relay", about={"may_be_lent": "yes"}),
    Bag("QE1RWX", "Light pack", "carry", "keen"),
    Bag("QE6SXZ", "Light pack", "carry", "keen"),
    Bag("QF2TZB", "Support car box", "car", "keen", change={"mobile_data": {"set_by_hand": "no"}}),
    Bag("QF2TZB", "House station", "full", "keen", change=LIGHT_EACH, about={"may_be_lent": "yes"}),
    Bag("QF7VBC", "Support car box", "car", "keen"),
    Bag("QF7VBC", "Event bag", "handheld"),
    Bag("QG4WCD", "Green tote", "full", "keen", change=LIGHT_EACH),
    Bag("QG8XDF", "Ammo tin", "station", "keen"),
    Bag("QH3ZFG", "Message desk", "digital"),
    Bag("QH3ZFG", "Waist bag", "handheld", change={"handheld_pack": {"charged": -9}}),
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
        change={"battery_lifepo4": {"charged": None}},
        practice=((-500, "yard", None), (-430, "drill", 3.0)),
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
    Bag(
        "QM2KPR",
        "Shelf kit",
        "station",
        change={
            "dc_lead": {"polarity_checked": None},
            "headlamp": {"cell_size": "aaa"},
            "handheld_pack": {"charged": None},
        },
    ),
    Bag(
        "QM7LRS",
        "Rucksack",
        "station",
        "usual",
        drop=("clip_lead", "socket_lead", "dc_adapter"),
        change={"battery_lifepo4": {"charged": None}},
    ),
    Bag(
        "QN4MST",
        "Evening bag",
        "handheld",
        "keen",
        drop=("rf_pigtail",),
        change={
            "handheld": {"rf_plug": "sma_male"},
            "whip": {"rf_plug": "sma_male"},
            "first_aid": {"condition": "removed", "notes": "in the car since summer"},
        },
    ),
    Bag("QN9PTV", "Blue bag", "station", drop=("coax", "mag_mount", "rf_adapter")),
    Bag(
        "QP1RVW",
        "Waist bag",
        "handheld",
        "keen",
        drop=("rf_pigtail",),
        change={"handheld_pack": {"stored_charge_pct": 100}},
        add=(
            (
                "rf_adapter",
                {"item": "SMA to BNC adapter", "rf_plug": "sma_male", "rf_plug_far": "bnc_female"},
            ),
            ("rf_adapter", {"item": "BNC to SO-239 adapter", "rf_plug": "bnc_male", "rf_plug_far": "so239"}),
            ("rf_adapter", {"item": "double SO-239 joint", "rf_plug": "pl259", "rf_plug_far": "so239"}),
        ),
        about={"last_used": -150, "restocked": -140},
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
            (
                "battery_agm",
                {
                    "item": "35 Ah AGM",
                    "capacity_ah": 35,
                    "weight_kg": 10.8,
                    "amps_rated": 25,
                    "stored_charge_pct": 100,
                },
            ),
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
                    "stored_charge_pct": 50,
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
            "dc_lead": {"item": "battery lead, no fuse", "fuse_at_m": None, "notes": "fuse never fitted"},
            "dc_block": {"condition": "removed", "notes": "lent on"},
        },
    ),
    Bag(
        "QT9BFG",
        "Boat bag",
        "station",
        "keen",
        change={
            "fuse": {"fuse_at_m": 1.4, "item": "15 A fuse, up at the radio end"},
            "mobile_vhf_uhf": {"set_by_hand": "no", "programmed": -480},
        },
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
        change={"dc_adapter": {"polarity": "reversed", "polarity_checked": -12}},
        add=(("charger_agm", {"item": "lead-acid charger from the boat", "chemistry": "agm"}),),
    ),
    Bag(
        "QZ2KNP",
        "New kit",
        "station",
        "usual",
        change={
            "battery_lifepo4": {
                "item": "12 Ah LiFePO4",
                "capacity_ah": 12,
                "amps_rated": 12,
                "weight_kg": 1.6,
            },
            "charger_lifepo4": {"item": "20 A charger, it was on offer", "amps_rated": 20},
        },
        practice=(),
    ),
    Bag(
        "QZ7LPR",
        "Bench kit",
        "handheld",
        "usual",
        change={"hi_vis": {"quantity": 2}},
        practice=((-30, "bench", None),),
    ),
    Bag(
        "QA9MRS", "Plain box", "station", "usual", change={"*": {"labelled": "no"}}, about={"labelled": "no"}
    ),
    Bag(
        "QB4NST",
        "Last year's box",
        "station",
        change={"channel_list": {"acquired": -800}, "mobile_vhf_uhf": {"programmed": -800, "amps_tx": 13}},
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
    Bag(
        "QE4SWX",
        "Green bag",
        "handheld",
        drop=("channel_list", "clipboard", "manual"),
        change={"hi_vis": {"quantity": 2}, "first_aid": {"expires": 500}},
    ),
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
    Bag(
        "QH5WBC",
        "Pocket kit",
        "handheld",
        "keen",
        drop=("whip", "rf_pigtail", "headlamp"),
        change={"handheld_pack": {"stored_charge_pct": 40}},
    ),
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
    Bag("QP3FJK", "Starter set", "handheld", "bare", change={"handheld_pack": {"charged": -260}}),
    Bag("QR5GKL", "Starter set", "handheld", "bare"),
    Bag("QS1HLM", "Spare station", "station", "bare", about={"inspected": -900}),
    Bag("QA1BCD", "Club pool tote", "pool", change={"*": {"counted": -400}}),
)

# What members wrote at the end of their lists.
WRITTEN_LAST: tuple[Row, ...] = (
    {
        "member": "QV2CGH", "kit": "Truck kit", "item": "club mag-mount", "kind": "mag_mount", "owner": "club",
        "counted": -400, "notes": "for the roof of the truck",
    },
    {"member": "QF7VBC", "kit": "Event bag", "item": "old handheld for a helper", "kind": "handheld", "quantity": 2},
    {"member": "QC3LPR", "kit": "Two-box set", "item": "who is where, printed for each event", "kind": "roster"},
)  # fmt: skip
