"""An invented club, written as the files its members would send.

Every call sign begins with Q, which is issued to nobody; every place is invented; prices, weights and lives
are planning estimates. The rows are written the way volunteers write: some fill everything, many leave most
cells empty. What stays the same from day to day stands in `data/demo/*.csv`, its dates as whole days from
today and its times as hours from the start of the event; `data/demo_kits.py` holds what is particular about each
kit.
"""

import csv
import random
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from data import forms, schema
from data.demo_kits import BAGS, PLUGS, WRITTEN_LAST, Bag, Row

SOURCES = Path(__file__).parent / "demo"
STEMS = ("inventory", "members", "kits", "rehearsals", "events", "posts", "assignments", "offers", "loans")

# Share of the optional cells that a member fills.
SHARE_TOLD = {"keen": 1.0, "usual": 0.45, "bare": 0.06}
# What most people know of their things, whatever else they leave out.
WELL_KNOWN = {
    "capacity_ah": 0.93,
    "charged": 0.93,
    "chemistry": 0.8,
    "dc_plug": 0.7,
    "dc_plug_far": 0.7,
    "rf_plug": 0.7,
    "rf_plug_far": 0.7,
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
ONE_PENCIL = ("QN4MST", "Evening bag")
# Which packs fit whose handheld: the word of a member is found by the letters of the call sign.
PACK_FAMILIES = ("red", "blue", "green", "red", "grey", "blue", "red")
# What keen people have measured at their radios' low power.
LOW_POWER: dict[str, Row] = {
    "handheld": {"amps_tx_low": 0.7, "rf_watts_low": 1},
    "mobile_vhf_uhf": {"amps_tx_low": 4.7, "rf_watts_low": 5},
}
# What runs on loose cells, and the size that most of it takes.
CELLS = {"headlamp": "aa", "dry_cell_shell": "aa", "spare_cells": "aa"}
LOADED = ("handheld", "mobile_vhf_uhf", "mobile_data", "crossband_node")
REHEARSED = {"keen": ("room", "yard", "park", "event"), "usual": ("yard", "drill"), "bare": ("bench",)}
# Minutes of a set-up: each goes quicker than the one before.
TIMED = {"yard": 48, "park": 34, "drill": 30, "event": 26}
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
# Minutes more than others take: a push-up mast without a base to stand it on.
SLOW = {("QF5TXZ", "Mast set"): 30}
FAILED = {("QS7XCD", "Glovebox set"): "headlamp"}
FORGOTTEN = ("pen", "the adapter for the pigtail", "spare cells", "tape")
MODULES = {
    "power": "battery charger dc clip socket fuse solar charge supply watt",
    "antenna": "coax rf whip mag jpole base yagi end dipole mast guy tuner",
    "safety": "first trauma hi cones fire headlamp lantern satellite",
    "papers": "clipboard channel manual",
    "personal": "personal dry",
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
    events = [_event(row, today) for row in _source("events")]
    starts = {row["event"]: datetime.fromisoformat(row["starts"]) for row in events}
    tables = {
        "inventory": [thing for bag in BAGS for thing in _things(bag)]
        + [thing for bag in BAGS for thing in _small_things(bag)]
        + [dict(thing) for thing in WRITTEN_LAST],
        "members": [_member(row) for row in _source("members")],
        "kits": [_kit(bag) for bag in BAGS],
        "rehearsals": [practice for bag in BAGS for practice in _rehearsals(bag)]
        + _walk_told(starts[WALK], today),
        "events": sorted(events, key=lambda row: str(row["starts"])),
        "posts": _source("posts"),
        "assignments": _source("assignments"),
        "offers": _source("offers"),
        "loans": _source("loans"),
    }
    _put_back(tables["kits"], tables["rehearsals"])
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


def within_a_week(today: date, weekday: int) -> date:
    """Return the first `weekday` (Monday 0) after `today`."""
    return today + timedelta(days=1 + (weekday - today.weekday() - 1) % 7)


def last(today: date, weekday: int) -> date:
    """Return the last `weekday` (Monday 0) that is at least four weeks before `today`."""
    day = today - timedelta(days=28)
    return day - timedelta(days=(day.weekday() - weekday) % 7)


def _chance(*names: str) -> random.Random:
    """Chance that is the same whatever else stands in the club."""
    return random.Random("/".join(names))


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
    if form in (forms.DATE, forms.YEAR_OR_DATE):
        return (today + timedelta(days=int(value))).isoformat()
    if form == forms.MOMENT:
        return _stamp(starts[row["event"]] + timedelta(hours=float(value)))
    return value


def _stamp(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")


def _event(told: Row, today: date) -> Row:
    month, weekday, which, hours = (told.pop(name, None) for name in ("month", "weekday", "which", "hours"))
    action_h = told.pop("action", None)
    if month:
        day = coming(today, int(month), int(weekday), int(which))
    else:
        day = within_a_week(today, int(weekday)) if which else last(today, int(weekday))
    start = datetime.fromisoformat(f"{day}T{told['starts']}")
    told |= {"starts": _stamp(start), "ends": _stamp(start + timedelta(hours=float(hours)))}
    if action_h:
        told["action_starts"] = _stamp(start + timedelta(hours=float(action_h)))
    for name in ("briefed", "packets_sent"):
        if name in told:
            told[name] = (day + timedelta(days=int(told[name]))).isoformat()
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


def _things(bag: Bag) -> list[Row]:
    chance = _chance("things", bag.member, bag.kit)
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
        letters = sum(map(ord, bag.member))
        if kind in ("handheld", "handheld_pack") and bag.told != "bare":
            thing["pack_family"] = PACK_FAMILIES[letters % len(PACK_FAMILIES)]
        if bag.told == "keen" or (bag.told == "usual" and letters % 4):
            if kind in CELLS:
                thing["cell_size"] = CELLS[kind]
            if kind in LOADED:
                thing["programmed"] = -30 - letters % 270
        if bag.told == "keen":
            thing |= LOW_POWER.get(kind, {})
            if "polarity_checked" in thing:
                thing["polarity"] = "ok"
            if kind in LOADED:
                thing["set_by_hand"] = "yes"
            if kind in ("first_aid", "trauma_pack"):
                thing["tested"] = -(thing["expires"] % 120)
        things.append(thing | own)
    return things


def _small_things(bag: Bag) -> list[Row]:
    """Return what was written at the end of a list: what lies under keen people's clip, and gloves; the club's trailer."""
    if bag.sort == "pool":
        trailer = {"item": "box trailer for the net control table", "kind": "trailer", "serviced": -60}
        return [{"member": bag.member, "kit": bag.kit, "owner": "club", "counted": -400} | trailer]
    if bag.told != "keen" or "clipboard" not in (kind for kind, _ in _pieces(bag)):
        return []
    whose = {"member": bag.member, "kit": bag.kit, "labelled": "yes", "owner": "member"}
    found = [
        {
            "item": "licence copy and photo card",
            "kind": "licence_copy",
            "module": "papers",
            "weight_kg": 0.02,
        },
        {"item": "map of the county", "kind": "map", "module": "papers", "weight_kg": 0.1},
    ]
    written = [("pens and a pencil", "pens", 3)]
    if bag.sort not in ("handheld", "carry"):
        written += [("blank log sheets", "log_forms", 10), ("blank message forms", "message_forms", 10)]
    for item, kind, usual in written:
        is_short = kind == "pens" and (bag.member, bag.kit) == ONE_PENCIL
        found.append(
            {
                "item": item,
                "kind": kind,
                "quantity": 1 if is_short else usual,
                "module": "papers",
                "weight_kg": 0.005,
            }
        )
    if bag.sort in ("handheld", "carry"):
        found.append({"item": "thin gloves", "kind": "gloves", "module": "safety", "weight_kg": 0.04})
    return [whose | thing for thing in found]


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
    if kind in ("first_aid", "trauma_pack", "fire_extinguisher", "satellite_messenger"):
        upkeep["expires"] = chance.randint(400, 900)
    return upkeep


def _module(kind: str) -> str:
    first = kind.split("_")[0]
    return next((module for module, kinds in MODULES.items() if first in kinds.split()), "radio")


def _member(own: Row) -> Row:
    chance = _chance("member", own["member"])
    is_keen = any(bag.member == own["member"] and bag.told == "keen" for bag in BAGS)
    usual: Row = {
        "carry_limit_kg": chance.choice((8, 10, 12, 14, 16)),
        "night_ok": "yes",
        "heat_limit_c": chance.choice((30, 32, 35)),
        "cold_limit_c": chance.choice((-15, -18, -20)),
        "walk_limit_km": chance.choice((2, 5, 8, 15)),
        "on_air_12m": chance.randint(6, 48),
        "events_12m": chance.randint(1, 6),
        "first_aid_expires": chance.randint(400, 800),
        "training": "is100 is200 is700 is800" if is_keen else "is100 is700",
    }
    told = _some(usual, 0.97 if is_keen else 0.85, chance)
    told |= {
        "solo_ok": "yes",
        "licence_expires": chance.randint(500, 3300),
        "last_on_air": -chance.randint(3, 60),
        "radio_by_heart": "yes" if is_keen or sum(map(ord, own["member"])) % 3 else None,
    } | own
    return {column: None if value == "-" else value for column, value in told.items()}


def _kit(bag: Bag) -> Row:
    chance = _chance("kit", bag.member, bag.kit)
    used = chance.randint(20, 85 if bag.told == "keen" else 200)
    usual: Row = {
        "hours": {"handheld": 8, "hf": 24, "relay": 24}.get(bag.sort, 12),
        "packed": -chance.randint(5, 18),
        "list_printed": -chance.randint(20, 300),
        "last_used": -used,
        "restocked": -used + chance.randint(1, 15),
        "inspected": -chance.randint(40, 300),
    }
    told = _some(usual, {"keen": 1.0, "usual": 0.7, "bare": 0.2}[bag.told], chance)
    if bag.told == "keen":
        told |= {
            "labelled": "yes",
            "sturdy_container": "yes",
            "locked_off": "yes",
            "rf_evaluated": told["inspected"] - 14,
        }
    return {"member": bag.member, "kit": bag.kit, "purpose": PURPOSE[bag.sort]} | told | bag.about


def _put_back(kits: list[Row], rehearsals: list[Row]) -> None:
    """Whoever restocks after a use did so after the last event too: within five days."""
    for kit in kits:
        held = [
            int(row["date"])
            for row in rehearsals
            if row["stage"] == "event" and (row["member"], row["kit"]) == (kit["member"], kit["kit"])
        ]
        restocked, used = kit.get("restocked"), kit.get("last_used")
        if (
            held
            and restocked is not None
            and int(restocked) < max(held)
            and int(restocked) >= int(used or restocked)
        ):
            kit |= {"last_used": max(held), "restocked": max(held) + 5}


def _some(row: Row, share: float, chance: random.Random) -> Row:
    return {column: value for column, value in row.items() if chance.random() < share}


def _rehearsals(bag: Bag) -> list[Row]:
    chance = _chance("rehearsals", bag.member, bag.kit)
    stages, letters = REHEARSED[bag.told], sum(map(ord, bag.member))
    first = -chance.randint(200, 330)
    usual = [(first + 45 * n, stage, None) for n, stage in enumerate(stages[:-1])]
    usual_last = (first + 45 * len(usual), stages[-1], HOURS_ON_BATTERY[bag.told])
    found = []
    for day, stage, hours in (*usual, usual_last) if bag.practice is None else bag.practice:
        trips = chance.choice((0, 0, 0, 1, 2))
        row: Row = {"member": bag.member, "kit": bag.kit, "date": day, "stage": stage, "trips_back": trips}
        if trips:
            row["missing"] = chance.choice(FORGOTTEN)
        if bag.told == "keen" and bag.sort != "handheld" and stage in TIMED:
            row["setup_min"] = TIMED[stage] + letters % 5 + SLOW.get((bag.member, bag.kit), 0)
        if stage == "event" and (bag.member, bag.kit) in TRAIL_RUN:
            post, left = TRAIL_RUN[bag.member, bag.kit]
            row |= {"event": "Gorse Hill Trail Run", "post": post, "battery_left_pct": left}
        found.append(row | {"hours_on_battery": hours})
    if (bag.member, bag.kit) in FAILED:
        max(found, key=lambda row: row["date"])["faulty"] = FAILED[bag.member, bag.kit]
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
