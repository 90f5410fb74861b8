"""The invented club: complete, fresh, well-formed, and with every gap that it says it shows."""

import csv
from collections import Counter
from collections.abc import Callable
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

import data
from data import demo, demo_kits, upload
from data.club import read_folder
from rules import engine
from rules.plans import report
from rules.plans.offers import SHARED
from rules.verdicts import VERDICTS

TODAY = date(2027, 2, 10)
Row = dict[str, str | None]
CRITICAL = {"net_control", "backup_net_control", "medical", "start_finish", "relay", "remote"}


class Club:
    """The demo club's rows, looked up by what a gap names."""

    def __init__(self, tables: dict[str, list[Row]], place: dict[str, str]) -> None:
        self.tables = tables
        self.place = place

    def rows(self, stem: str, *kinds: str, **wanted: str) -> list[Row]:
        """Rows of a table that agree with the place wherever the table has its columns."""
        return [
            row
            for row in self.tables[stem]
            if all(row.get(name) == value for name, value in (self.place | wanted).items() if name in row)
            and (not kinds or row["kind"] in kinds)
        ]

    def things(self, *kinds: str) -> list[Row]:
        return self.rows("inventory", *kinds)

    def one(self, stem: str, *kinds: str) -> Row:
        (row,) = self.rows(stem, *kinds)
        return row

    def in_use(self, kind: str) -> Row:
        (row,) = (thing for thing in self.things(kind) if thing.get("spare") != "yes")
        return row

    def weight_kg(self) -> float:
        return sum(float(row["weight_kg"]) * int(row["quantity"] or 1) for row in self.things())

    def windows(self) -> list[tuple[datetime, datetime]]:
        """From and to of every assignment at the place."""
        events = {row["event"]: row for row in self.tables["events"]}
        posts = {(row["event"], row["post"]): row for row in self.tables["posts"]}
        found = []
        for row in self.rows("assignments"):
            event, post = events[row["event"]], posts[row["event"], row["post"]]
            begin = row.get("from") or post.get("opens") or event["starts"]
            end = row.get("to") or post.get("closes") or event["ends"]
            found.append((datetime.fromisoformat(begin), datetime.fromisoformat(end)))
        return sorted(found)


def days(cell: str) -> int:
    """Whole days from the demo's day to a date."""
    return (date.fromisoformat(cell) - TODAY).days


RADIOS = ("handheld", "mobile_vhf_uhf", "mobile_data", "hf_100w")
ANTENNAS = ("whip", "mag_mount", "jpole", "base_vertical")

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
    "licence class without HF voice": {"member": "QC5PTV", "event": "High Sluice Exercise", "post": "Message gateway"},
    "training missing": {"member": "QP3FJK"},
    "long off the air": {"member": "QS1HLM"},
    "not signed off for net control": {"member": "QR8VZB", "event": "Barley Ford Half Marathon", "post": "Net control"},
    "alone at net control": {"event": "Barley Ford Half Marathon", "post": "Net control"},
    "beyond the member's cold limit": {"member": "QH5WBC", "event": "Tinder Lane Lantern Parade"},
    "beyond the member's heat limit": {"member": "QT9BFG", "event": "Gorse Hill Trail Run"},
    "at night against the member's wish": {"member": "QJ2CHJ", "event": "Tinder Lane Lantern Parade"},
    "alone at a remote post": {"event": "Gorse Hill Trail Run", "post": "Lambing Hut"},
    "carry above the post's limit": {"member": "QD3RVW", "kit": "Everything pack", "event": "Gorse Hill Trail Run", "post": "Skylark Saddle"},
    "further than the member walks": {"member": "QM4CGH", "kit": "Walk bag", "event": "Gorse Hill Trail Run", "post": "Lambing Hut"},
    "mast near a power line": {"event": "Gorse Hill Trail Run", "post": "Three Barns"},
    "public too close": {"event": "Barley Ford Half Marathon", "post": "Medical tent"},
    "poor coverage": {"event": "Gorse Hill Trail Run", "post": "Lambing Hut"},
    "coverage not known": {"event": "High Sluice Exercise", "post": "Shelter C"},
    "no lightning shelter": {"event": "Gorse Hill Trail Run", "post": "Skylark Saddle"},
    "below freezing": {"event": "Tinder Lane Lantern Parade"},
    "no briefing date": {"event": "High Sluice Exercise"},
    "nobody there": {"event": "Barley Ford Half Marathon", "post": "Mile 11"},
    "hours without anyone": {"event": "Gorse Hill Trail Run", "post": "Old Sluice"},
    "shift over twelve hours": {"event": "High Sluice Exercise", "post": "Hospital"},
    "in two places at once": {"member": "QV2CGH", "event": "Barley Ford Half Marathon"},
    "long post without recharge": {"member": "QL5BFG", "kit": "Red box", "event": "High Sluice Exercise", "post": "Shelter B"},
    "kits of one post with different plugs": {"event": "High Sluice Exercise", "post": "Shelter A"},
    "one member's kits at most critical posts": {"member": "QA1BCD", "event": "Tinder Lane Lantern Parade"},
    "kept in frost": {"member": "QT9BFG", "kit": "Boat bag"},
    "pack kept full while idle": {"member": "QP1RVW", "kit": "Waist bag"},
    "lead battery kept half charged": {"member": "QS3WBC", "kit": "Garage kit"},
    "identity card expired": {"member": "QB4NST", "event": "High Sluice Exercise", "post": "Survey car 2"},
    "day too long with the drive": {"member": "QW1FJK", "event": "High Sluice Exercise", "post": "Hospital"},
    "seats changed too seldom": {"event": "Barley Ford Half Marathon", "post": "Net control"},
    "no channel without a repeater": {"event": "Gorse Hill Trail Run"},
    "generator not serviced": {"member": "QA1BCD", "kit": "Club pool tote"},
    "club things not counted": {"member": "QA1BCD", "kit": "Club pool tote"},
    "loan overdue": {"borrower": "QB4NST"},
    "lead found reversed": {"member": "QX8JMN", "kit": "Mixed power box"},
    "spare cells of another size": {"member": "QM2KPR", "kit": "Shelf kit"},
    "one pencil to write with": {"member": "QN4MST", "kit": "Evening bag"},
    "channels of an earlier year": {"member": "QB4NST", "kit": "Last year's box"},
    "old channels, and nothing set by hand": {"member": "QT9BFG", "kit": "Boat bag"},
    "background check over": {"member": "QN9PTV", "event": "High Sluice Exercise", "post": "Shelter A"},
    "waiver over": {"member": "QF7VBC", "event": "Barley Ford Half Marathon", "post": "Mile 7"},
    "training over": {"member": "QX8JMN", "event": "High Sluice Exercise", "post": "Hospital"},
    "packets not sent": {"event": "High Sluice Exercise"},
    "nothing said of a missed check-in": {"event": "Gorse Hill Trail Run", "post": "Lambing Hut"},
    "car not there an hour before the gun": {"event": "Barley Ford Half Marathon", "post": "Lead vehicle"},
    "loan for forty days": {"borrower": "QR5GKL"},
    "not charged in the week before": {"member": "QB2HJL", "kit": "Ready station", "event": "Old Weir Open Day", "post": "Radio table"},
    "relay box where packet is asked": {"member": "QD9PVW", "kit": "Hill box", "event": "High Sluice Exercise", "post": "Message desk"},
    "pool without a mobile": {"member": "QA1BCD", "kit": "Club pool tote"},
    "back from a loan uncharged": {"borrower": "QC8MRS"},
    "slow set-up": {"member": "QF5TXZ", "kit": "Mast set"},
    "no roster at the backup": {"event": "Tinder Lane Lantern Parade", "post": "Backup van"},
    "tall mast for one": {"event": "Gorse Hill Trail Run", "post": "Three Barns"},
    "radio not known by heart": {"member": "QP3FJK", "event": "Barley Ford Half Marathon", "post": "Mile 3"},
    "one light for two": {"event": "Tinder Lane Lantern Parade", "post": "Corner 4"},
}  # fmt: skip

SHOWN: dict[str, Callable[[Club], bool]] = {
    "only one radio": lambda c: len(c.things(*RADIOS)) == 1,
    "handheld without a spare pack": lambda c: (
        len(c.things("handheld_pack")) == len(c.things("handheld")) == 1 and not c.things("dry_cell_shell")
    ),
    "no battery, mains only": lambda c: (
        bool(c.things("supply_30a")) and not c.things("battery_lifepo4", "battery_agm")
    ),
    "only one kind of antenna": lambda c: len(c.things(*ANTENNAS)) == 1,
    "small parts without a second": lambda c: all(
        len(c.things(kind)) == 1 for kind in ("dc_lead", "coax", "rf_pigtail", "mic")
    ),
    "no spare fuse": lambda c: [t.get("spare") for t in c.things("fuse")] == [None],
    "plugs that do not mate and no adapter": lambda c: (
        c.in_use("battery_lifepo4")["dc_plug"] == "spade_f2_male"
        and c.in_use("dc_lead")["dc_plug"] == "ring_m6"
        and not c.things("dc_adapter")
    ),
    "polarity never checked": lambda c: c.in_use("dc_lead")["polarity_checked"] is None,
    "no lead for borrowed power": lambda c: not c.things("clip_lead", "socket_lead", "dc_adapter"),
    "antenna plug of the wrong gender": lambda c: (
        c.in_use("handheld")["rf_plug"] == c.in_use("whip")["rf_plug"] == "sma_male"
        and not c.things("rf_pigtail", "rf_adapter")
    ),
    "no coax": lambda c: bool(c.things("jpole")) and not c.things("coax", "mag_mount"),
    "stack of adapters on a handheld": lambda c: (
        len(c.things("rf_adapter")) > 2 and not c.things("rf_pigtail")
    ),
    "laptop without a converter": lambda c: (
        float(c.in_use("laptop")["volts_min"]) > 15.9
        and not c.things("usb_pd_converter", "buck_converter", "boost_converter", "inverter")
    ),
    "100 W HF on AGM without a booster": lambda c: (
        bool(c.things("hf_100w")) and bool(c.things("battery_agm")) and not c.things("boost_converter")
    ),
    # 35 % at 11 A, 35 % at 0.6 A, 30 % at 0.4 A while the post is open, from 90 % of the capacity.
    "battery too small for net control": lambda c: (
        0.9 * sum(float(row["capacity_ah"]) for row in c.things("battery_lifepo4"))
        < (0.35 * 11 + 0.35 * 0.6 + 0.3 * 0.4) * 7.25
    ),
    "old battery never tested": lambda c: (
        days(c.one("inventory", "battery_agm")["acquired"]) < -730
        and c.one("inventory", "battery_agm")["tested"] is None
    ),
    "50 W radio on a 10 A socket": lambda c: (
        float(c.in_use("mobile_vhf_uhf")["amps_tx"]) > float(c.in_use("socket_lead")["amps_rated"])
        and not c.things("clip_lead", "dc_lead")
    ),
    "no fuse": lambda c: bool(c.things("battery_lifepo4")) and not c.things("fuse", "fuse_holder"),
    "fuse far from the battery": lambda c: float(c.in_use("fuse")["fuse_at_m"]) > 1,
    "fuse above what the wire carries": lambda c: (
        float(c.in_use("fuse")["amps_rated"]) > wire_of(c.in_use("dc_lead"))["ampacity_a"]
    ),
    # Out and back at 11 A loses more than 3 % of 13.8 V; copper has 17.241 ohm mm2/km.
    "thin long lead": lambda c: (
        2 * float(c.in_use("dc_lead")["length_m"]) / 1000 * 17.241 / wire_of(c.in_use("dc_lead"))["mm2"] * 11
        > 0.03 * 13.8
    ),
    "not charged": lambda c: days(c.in_use("battery_lifepo4")["charged"]) < -365,
    "capacity never measured": lambda c: c.in_use("battery_lifepo4")["tested_ah"] is None,
    "measured capacity low": lambda c: (
        float(c.in_use("battery_lifepo4")["tested_ah"])
        < 0.8 * float(c.in_use("battery_lifepo4")["capacity_ah"])
    ),
    "swollen pack": lambda c: (
        c.one("inventory", "handheld_pack")["condition"] == "faulty"
        and "swollen" in c.one("inventory", "handheld_pack")["notes"]
    ),
    "charger for another chemistry": lambda c: (
        c.one("inventory", "charger_agm")["chemistry"] == "agm"
        and not c.things("charger_lifepo4", "battery_agm")
    ),
    "never rehearsed": lambda c: not c.rows("rehearsals"),
    "bench test only": lambda c: {row["stage"] for row in c.rows("rehearsals")} == {"bench"},
    "nothing labelled": lambda c: {row["labelled"] for row in c.things()} == {"no"},
    "old contents list": lambda c: days(c.one("kits")["list_printed"]) < -365,
    "not restocked": lambda c: c.one("kits")["restocked"] < c.one("kits")["last_used"],
    "no modules": lambda c: {row["module"] for row in c.things()} == {None},
    "heavier than the owner carries": lambda c: (
        c.weight_kg() > 1.25 * float(c.rows("members")[0]["carry_limit_kg"])
    ),
    "no papers": lambda c: not c.things("clipboard", "channel_list", "manual"),
    "mast without guys": lambda c: bool(c.things("mast_metal")) and not c.things("guy_kit"),
    "lossy coax": lambda c: c.in_use("coax")["coax"] == "rg174" and float(c.in_use("coax")["length_m"]) >= 20,
    "bad match": lambda c: float(c.in_use("jpole")["swr"]) > 2,
    "short antenna only": lambda c: bool(c.things("handheld")) and not c.things(*ANTENNAS),
    "no light for a dark shift": lambda c: not c.things("headlamp", "lantern"),
    "no hi-vis beside traffic": lambda c: (
        not c.things("hi_vis") and any(post.get("beside_traffic") == "yes" for post in posts_of(c))
    ),
    "first-aid kit expired": lambda c: days(c.one("inventory", "first_aid")["expires"]) < 0,
    "plugs not told": lambda c: not any(row.get(plug) for row in c.things() for plug in demo.PLUGS),
    "capacity not told": lambda c: c.in_use("battery_lifepo4")["capacity_ah"] is None,
    "not the club's plug": lambda c: (
        {c.in_use(kind)["dc_plug"][:4] for kind in ("battery_lifepo4", "dc_lead", "mobile_vhf_uhf")}
        == {"xt60"}
    ),
    "remote post without messenger or day pack": lambda c: (
        not c.things("satellite_messenger", "personal_pack")
        and any(post["post_type"] == "remote" for post in posts_of(c))
    ),
    "old channel list": lambda c: days(c.one("inventory", "channel_list")["acquired"]) < -400,
    "not rehearsed for a year": lambda c: max(days(row["date"]) for row in c.rows("rehearsals")) < -365,
    "remote post before a trial away from home": lambda c: (
        {row["stage"] for row in c.rows("rehearsals")} <= {"bench", "room", "yard"}
        and any(post["post_type"] == "remote" for post in posts_of(c))
    ),
    "no first-aid kit at the post": lambda c: c.one("inventory", "first_aid")["condition"] == "removed",
    "pack nearing its age": lambda c: -5 * 365 < days(c.in_use("handheld_pack")["acquired"]) < -3 * 365,
    "past its planning life": lambda c: days(c.in_use("handheld")["acquired"]) < -10 * 365,
    "not inspected this year": lambda c: days(c.one("kits")["inspected"]) < -365,
    "shadow without ear-piece": lambda c: (
        not c.things("earpiece", "headset") and any(post["post_type"] == "shadow" for post in posts_of(c))
    ),
    "licence expired": lambda c: days(c.one("members")["licence_expires"]) < 0,
    "first-aid certificate expired": lambda c: days(c.one("members")["first_aid_expires"]) < 0,
    "licence class without HF voice": lambda c: (
        c.one("members")["licence_class"] == "technician"
        and "ssb" in c.one("posts")["modes"]
        and bool(c.rows("assignments"))
    ),
    "training missing": lambda c: c.one("members")["training"] is None,
    "long off the air": lambda c: (
        days(c.one("members")["last_on_air"]) < -90 and int(c.one("members")["on_air_12m"]) == 0
    ),
    "not signed off for net control": lambda c: (
        "net_control" not in c.one("members")["roles"].split()
        and c.one("posts")["post_type"] == "net_control"
        and bool(c.rows("assignments"))
    ),
    "alone at net control": lambda c: len(c.rows("assignments")) == 1,
    "beyond the member's cold limit": lambda c: (
        float(c.one("members")["cold_limit_c"]) > float(c.one("events")["temp_min_c"])
        and bool(c.rows("assignments"))
    ),
    "beyond the member's heat limit": lambda c: (
        float(c.one("members")["heat_limit_c"]) < float(c.one("events")["temp_max_c"])
        and bool(c.rows("assignments"))
    ),
    "at night against the member's wish": lambda c: (
        c.one("members")["night_ok"] == "no" and c.windows()[-1][1].hour >= 21
    ),
    "alone at a remote post": lambda c: len(c.rows("assignments")) == 1,
    "carry above the post's limit": lambda c: (
        c.weight_kg() > float(c.one("posts")["carry_limit_kg"]) and bool(c.rows("assignments"))
    ),
    "further than the member walks": lambda c: (
        float(c.one("members")["walk_limit_km"]) < float(c.one("posts")["walk_km"])
        and bool(c.rows("assignments"))
    ),
    "mast near a power line": lambda c: (
        float(c.one("posts")["power_line_m"]) < float(c.one("posts")["mast_m"]) + 3
    ),
    "public too close": lambda c: float(c.one("posts")["public_m"]) < 2,
    "poor coverage": lambda c: c.one("posts")["rf_grade"] == "poor",
    "coverage not known": lambda c: c.one("posts").get("rf_grade") is None,
    "no lightning shelter": lambda c: (
        c.one("events")["storms_possible"] == "yes" and c.one("posts")["shelter"] == "none"
    ),
    "below freezing": lambda c: float(c.one("events")["temp_min_c"]) < 0,
    "no briefing date": lambda c: not c.one("events").get("briefed"),
    "nobody there": lambda c: bool(c.rows("posts")) and not c.rows("assignments"),
    "hours without anyone": lambda c: c.windows()[-1][1] < datetime.fromisoformat(c.one("posts")["closes"]),
    "shift over twelve hours": lambda c: max(end - begin for begin, end in c.windows()) > timedelta(hours=12),
    "in two places at once": lambda c: overlaps(c.windows()),
    "long post without recharge": lambda c: (
        c.one("posts")["mains"] == "no"
        and c.windows()[-1][1] - c.windows()[0][0] > timedelta(hours=24)
        and not c.things("solar_panel")
    ),
    "kits of one post with different plugs": lambda c: (
        len({battery_plug(c, row) for row in c.rows("assignments")}) > 1
    ),
    "one member's kits at most critical posts": lambda c: critical_share(c) > 1 / 3,
    "kept in frost": lambda c: (
        float(c.one("kits")["stored_min_c"] or 0) < 0 and bool(c.things("battery_lifepo4"))
    ),
    "pack kept full while idle": lambda c: (
        float(c.in_use("handheld_pack")["stored_charge_pct"] or 0) == 100
        and max(days(day) for day in [c.one("kits")["last_used"], *(r["date"] for r in c.rows("rehearsals"))])
        < -60
    ),
    "lead battery kept half charged": lambda c: (
        float(c.in_use("battery_agm")["stored_charge_pct"] or 100) <= 50
    ),
    "identity card expired": lambda c: (
        days(c.one("members")["id_expires"]) < 0 and c.one("events")["id_asked"] == "yes"
    ),
    "day too long with the drive": lambda c: (
        (c.windows()[0][1] - c.windows()[0][0]) / timedelta(hours=1)
        + 2 * float(c.one("assignments")["travel_h"])
        > 16
    ),
    "seats changed too seldom": lambda c: float(c.one("posts")["rotation_h"]) > 4,
    "no channel without a repeater": lambda c: (
        bool(c.one("events")["channel"]) and not c.one("events").get("channel_simplex")
    ),
    "generator not serviced": lambda c: days(c.one("inventory", "generator")["serviced"]) < -92,
    "club things not counted": lambda c: all(
        thing["counted"] and days(thing["counted"]) < -365 for thing in c.things()
    ),
    "loan overdue": lambda c: any(row["back"] is None and days(row["due"]) < 0 for row in c.rows("loans")),
    "lead found reversed": lambda c: "reversed" in {row["polarity"] for row in c.things()},
    "spare cells of another size": lambda c: (
        c.in_use("headlamp")["cell_size"] not in {row["cell_size"] for row in c.things("spare_cells")}
    ),
    "one pencil to write with": lambda c: c.one("inventory", "pens")["quantity"] == "1",
    "channels of an earlier year": lambda c: days(c.in_use("mobile_vhf_uhf")["programmed"]) < -400,
    "old channels, and nothing set by hand": lambda c: (
        c.in_use("mobile_vhf_uhf")["set_by_hand"] == "no"
        and days(c.in_use("mobile_vhf_uhf")["programmed"]) < -400
    ),
    "background check over": lambda c: (
        c.one("events")["vetting_asked"] == "yes"
        and days(c.one("members")["vetting_expires"]) < 0
        and bool(c.rows("assignments"))
    ),
    "waiver over": lambda c: (
        c.one("events")["waiver_asked"] == "yes"
        and days(c.one("members")["waiver_expires"]) < 0
        and bool(c.rows("assignments"))
    ),
    "training over": lambda c: (
        set(c.one("events")["training_asked"].split()) <= set(c.one("members")["training"].split())
        and days(c.one("members")["training_expires"]) < 0
        and bool(c.rows("assignments"))
    ),
    "packets not sent": lambda c: not c.one("events").get("packets_sent"),
    "nothing said of a missed check-in": lambda c: (
        bool(c.one("posts")["check_in_min"]) and not c.one("posts").get("missed_check_in")
    ),
    "car not there an hour before the gun": lambda c: (
        c.windows()[0][0] + timedelta(hours=1) > datetime.fromisoformat(c.one("events")["action_starts"])
    ),
    "loan for forty days": lambda c: any(
        row["back"] is None and days(row["due"]) - days(row["out"]) == 40 and days(row["due"]) > 0
        for row in c.rows("loans")
    ),
    "not charged in the week before": lambda c: (
        0 < days(c.one("events")["starts"][:10]) <= 7
        and min(days(row["charged"]) for row in c.things() if row["charged"]) <= -7
        and bool(c.rows("assignments"))
    ),
    "relay box where packet is asked": lambda c: (
        "packet" in c.one("posts")["modes"]
        and not any("packet" in (row["modes"] or "") for row in c.things())
        and bool(c.rows("assignments"))
    ),
    "pool without a mobile": lambda c: (
        {row["owner"] for row in c.things()} == {"club"} and not c.things("mobile_vhf_uhf")
    ),
    "back from a loan uncharged": lambda c: any(
        row["charged_in"] == "no"
        and any(
            thing["item"] == row["item"] and thing["charged"] < row["back"]
            for thing in c.tables["inventory"]
            if thing["owner"] == "club"
        )
        for row in c.rows("loans")
    ),
    "slow set-up": lambda c: (
        float(max(c.rows("rehearsals"), key=lambda row: row["date"])["setup_min"] or 0) > 40
    ),
    "no roster at the backup": lambda c: bool(c.rows("assignments")) and not pieces_at(c, "roster"),
    "tall mast for one": lambda c: float(c.one("posts")["mast_m"]) > 6 and not overlaps(c.windows()),
    "radio not known by heart": lambda c: (
        c.one("members")["radio_by_heart"] == "no" and bool(c.rows("assignments"))
    ),
    "one light for two": lambda c: len(c.rows("assignments")) == 2 and pieces_at(c, "headlamp") == 1,
}


def wire_of(lead: Row) -> dict[str, float]:
    """What the project holds of the lead's gauge."""
    with (Path(data.__file__).parent / "reference" / "wire.csv").open(encoding="utf-8", newline="") as file:
        (row,) = (row for row in csv.DictReader(file) if float(row["awg"]) == float(lead["wire_awg"]))
    return {name: float(row[name]) for name in ("mm2", "ampacity_a")}


def posts_of(club: Club) -> list[Row]:
    """Posts that the place's member and kit are sent to."""
    sent = {(row["event"], row["post"]) for row in club.rows("assignments")}
    return [row for row in club.tables["posts"] if (row["event"], row["post"]) in sent]


def pieces_at(club: Club, kind: str) -> int:
    """How many of a kind lie in the kits that are sent to the place."""
    sent = {(row["kit_owner"] or row["member"], row["kit"]) for row in club.rows("assignments")}
    return sum(
        int(row["quantity"] or 1)
        for row in club.tables["inventory"]
        if row["kind"] == kind and (row["member"], row["kit"]) in sent
    )


def overlaps(windows: list[tuple[datetime, datetime]]) -> bool:
    return any(later[0] < earlier[1] for earlier, later in pairwise(windows))


def battery_plug(club: Club, assignment: Row) -> str | None:
    things = [
        row
        for row in club.tables["inventory"]
        if (row["member"], row["kit"], row["kind"])
        == (assignment["member"], assignment["kit"], "battery_lifepo4")
    ]
    return things[0].get("dc_plug")


def critical_share(club: Club) -> float:
    event = club.place["event"]
    critical = {
        row["post"] for row in club.tables["posts"] if row["event"] == event and row["post_type"] in CRITICAL
    }
    kits = [
        row["member"]
        for row in club.tables["assignments"]
        if row["event"] == event and row["post"] in critical and row.get("kit")
    ]
    return kits.count(club.place["member"]) / len(kits)


def written(folder: Path, today: date) -> dict[str, list[Row]]:
    """The club's cells as they stand in the files, None where empty."""
    found = {}
    for path in demo.write(folder, today):
        with path.open(encoding="utf-8", newline="") as file:
            found[path.stem] = [
                {name: cell or None for name, cell in row.items()} for row in csv.DictReader(file)
            ]
    return found


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Row]]:
    return written(tmp_path_factory.mktemp("club"), TODAY)


@pytest.mark.parametrize("gap", GAPS)
def test_gap_is_shown(tables: dict[str, list[Row]], gap: str) -> None:
    assert SHOWN[gap](Club(tables, GAPS[gap]))


def test_every_gap_has_its_check() -> None:
    assert set(SHOWN) == set(GAPS)


@pytest.mark.parametrize("gap", [gap for gap, place in GAPS.items() if set(place) == {"member", "kit"}])
def test_kit_in_good_order_does_not_show_the_gap(tables: dict[str, list[Row]], gap: str) -> None:
    """A check that any kit passes would show nothing."""
    sound = {"member": "QB7KMN", "kit": "Yellow case"}
    if gap == "heavier than the owner carries":
        sound = {"member": "QE1RWX", "kit": "Light pack"}
    try:
        is_shown = SHOWN[gap](Club(tables, sound))
    except ValueError:
        is_shown = False  # The part that would be at fault is not in the kit.
    assert not is_shown


def test_club_is_of_the_promised_size(tables: dict[str, list[Row]]) -> None:
    assert len(tables["members"]) >= 44
    assert len(tables["kits"]) >= 64
    assert len(tables["inventory"]) >= 1600
    assert len(tables["events"]) == 6
    assert 45 <= len(tables["posts"]) <= 60
    assert len(tables["offers"]) >= 40


def test_same_day_gives_the_same_bytes(tmp_path: Path) -> None:
    first = [path.read_bytes() for path in demo.write(tmp_path / "a", TODAY)]
    second = [path.read_bytes() for path in demo.write(tmp_path / "b", TODAY)]
    assert first == second
    assert len(first) == 9


@pytest.mark.parametrize(
    "today", [date(2026, 11, 25), date(2027, 4, 20), date(2028, 2, 29), date(2031, 12, 4)]
)
def test_dates_are_fresh_on_any_day(tmp_path: Path, today: date) -> None:
    tables = written(tmp_path, today)
    starts = [datetime.fromisoformat(row["starts"]).date() for row in tables["events"]]
    assert starts == sorted(starts)
    assert timedelta(days=28) <= today - starts[0] < timedelta(days=35)
    assert timedelta(days=1) <= starts[1] - today <= timedelta(days=7)
    assert all(timedelta(days=10) <= day - today <= timedelta(days=376) for day in starts[2:])
    told = [row["charged"] for row in tables["inventory"] if row["charged"]]
    assert max(told) < today.isoformat()
    assert max(told) > (today - timedelta(days=7)).isoformat()


def test_events_fall_in_their_season(tables: dict[str, list[Row]]) -> None:
    starts = {row["event"]: datetime.fromisoformat(row["starts"]) for row in tables["events"]}
    assert starts["Tinder Lane Lantern Parade"].strftime("%b %a") == "Dec Sat"
    assert starts["Barley Ford Half Marathon"].strftime("%b %a") == "Apr Sun"


def test_the_walk_is_over_and_told_of_in_part(tmp_path: Path) -> None:
    """So that a report can be filled in and saved, beside what was told already."""
    demo.write(tmp_path, TODAY)
    frames = read_folder(tmp_path).frames
    assert report.has_begun(frames["events"].query("event == @demo.WALK").iloc[0], TODAY)
    lines = report.sheet(frames, demo.WALK).set_index("kit")["hours_on_battery"]
    assert set(lines.dropna().index) == {kit for _, kit in demo.WALK_TOLD} and lines.isna().sum() == 2
    assert set(report.untold(frames, demo.WALK)["kit"]) == {"Ready station", "Belt pouch"}


@pytest.mark.parametrize(
    ("today", "day"),
    [
        (date(2027, 4, 1), date(2027, 4, 25)),
        (date(2027, 4, 16), date(2028, 4, 23)),
        (date(2027, 4, 15), date(2027, 4, 25)),
    ],
)
def test_coming_leaves_ten_days(today: date, day: date) -> None:
    assert demo.coming(today, 4, 6, 4) == day


def test_every_file_is_read_without_a_problem(tmp_path: Path) -> None:
    for path in demo.write(tmp_path, TODAY):
        read = upload.read(path.name, path.read_bytes())
        assert read.stem == path.stem
        assert read.problems == []
        assert read.notices == []


def test_files_agree_with_each_other(tmp_path: Path) -> None:
    demo.write(tmp_path, TODAY)
    told = read_folder(tmp_path)
    assert told.problems == []
    assert told.notices == []


def test_call_signs_begin_with_a_letter_issued_to_nobody(tables: dict[str, list[Row]]) -> None:
    names = {
        row[column]
        for table in tables.values()
        for row in table
        for column in ("member", "borrower")
        if column in row
    }
    assert names == {row["member"] for row in tables["members"]}
    # A digit stands third, so none reads as a Q code or a word.
    assert all(name[0] == "Q" and name[2].isdigit() and name.isalnum() for name in names)


def test_kits_in_the_lists_are_in_the_inventory(tables: dict[str, list[Row]]) -> None:
    held = {(row["member"], row["kit"]) for row in tables["inventory"]}
    assert held == {(row["member"], row["kit"]) for row in tables["kits"]}
    sent = [row for row in tables["assignments"] if row["kit"]]
    assert {(row["kit_owner"] or row["member"], row["kit"]) for row in sent} <= held


def test_only_those_who_are_double_booked_are_double_booked(tables: dict[str, list[Row]]) -> None:
    sent: dict[tuple[str, str], set[str]] = {}
    for row in tables["assignments"]:
        sent.setdefault((row["event"], row["member"]), set()).add(row["post"])
    booked = {
        (event, member)
        for (event, member), posts in sent.items()
        if len(posts) > 1 and overlaps(Club(tables, {"event": event, "member": member}).windows())
    }
    assert booked == {("Barley Ford Half Marathon", "QV2CGH"), ("High Sluice Exercise", "QD5NTV")}


def test_what_several_kits_share_is_paid_by_the_club(tables: dict[str, list[Row]]) -> None:
    assert {row["paid_by"] for row in tables["offers"] if row["kind"] in SHARED} == {"club"}


def test_members_write_as_unevenly_as_members_do(tables: dict[str, list[Row]]) -> None:
    told = {bag.told: [] for bag in demo_kits.BAGS}
    for bag in demo_kits.BAGS:
        rows = [row for row in tables["inventory"] if (row["member"], row["kit"]) == (bag.member, bag.kit)]
        told[bag.told].append(sum(cell is not None for row in rows for cell in row.values()) / len(rows))
    assert max(told["bare"]) < min(told["keen"])
    assert len({row["item"] for row in tables["inventory"]}) >= 150


def test_the_club_is_half_prepared(tmp_path: Path) -> None:
    """A wall of one colour teaches nothing: every verdict has its share, and events differ in how much of them holds."""
    demo.write(tmp_path, TODAY)
    assessed = engine.assess(read_folder(tmp_path).frames, today=TODAY)
    scored = assessed.con.cursor()
    for kind, holds in (("post", (0.35, 0.6)), ("kit", (0.45, 0.7))):
        rows = scored.execute(
            "select verdict, count(*) from score where subject_kind = ? group by all", [kind]
        )
        counts: dict[str, int] = dict(rows.fetchall())
        share = {word: counts.get(word, 0) / sum(counts.values()) for word in VERDICTS}
        assert min(share["not ready"], share["not known"]) > 0.08
        assert share["ready"] > 0.05
        assert share["ready with limits"] > 0.1
        assert holds[0] < share["ready"] + share["ready with limits"] < holds[1]
    held = scored.execute(
        "select event, count(*) filter (verdict like 'ready%') / count(*) from score "
        "join subject using (subject_kind, subject_id) where subject_kind = 'post' group by event order by 2"
    ).fetchall()
    assert len({round(share, 1) for _, share in held}) >= 4
    assert held[-1][1] > 0.9


def test_posts_that_are_not_ready_are_so_for_different_reasons(tmp_path: Path) -> None:
    demo.write(tmp_path, TODAY)
    assessed = engine.assess(read_folder(tmp_path).frames, today=TODAY)
    blocked = assessed.findings("j.subject_kind in ('post', 'post_kit') and not j.ok and j.severity_no = 0")
    posts = Counter((f.event, f.post) for f in blocked)
    often = Counter(rule for rule, _, _ in {(f.rule, f.event, f.post) for f in blocked})
    assert len(often) >= 15
    assert max(often.values()) <= 0.5 * len(posts)


def test_rules_that_speak_of_little_things_are_heard_in_the_invented_club(tmp_path: Path) -> None:
    demo.write(tmp_path, TODAY)
    assessed = engine.assess(read_folder(tmp_path).frames, today=TODAY)
    heard = {f.rule for f in assessed.findings("not j.ok")}
    assert {
        "loan_condition_not_noted", "gear_on_loan_elsewhere", "dry_cells_alone", "no_first_aid_beside_traffic",
        "fuse_smaller_than_the_load", "inspected_too_late", "kit_without_the_mode", "loan_for_too_long",
        "not_charged_before_the_event",
    } <= heard  # fmt: skip
