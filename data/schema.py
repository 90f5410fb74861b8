"""What members and coordinators send: one pandera model for each CSV file.

The models are the single description of the files. The reader (`data.upload`), the templates and the
documentation ask for the same facts as plain `Column` records. Ranges catch slips of the pen (a comma in the
wrong place, amperes in the volts column); they are wide on purpose and judge nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import pandas as pd
import pandera.pandas as pa
from pandera.engines.pandas_engine import DateTime

from data.forms import (
    Column,
    Order,
    date,
    done,
    in_words,
    member,
    moment,
    number,
    text,
    whole,
    word,
    words,
    yes_no,
)

CONDITIONS = ("ok", "faulty", "removed", "unknown")
CELL_SIZES = ("aaa", "aa", "c", "d", "9v", "cr2032", "cr2", "cr123a", "18650", "21700")


class Told(pa.DataFrameModel):
    """What every told row carries: where it stood."""

    line: int = pa.Field(ge=1, title="Line", description="Physical line in the file that was sent.")
    file: str = pa.Field(title="File", description="Name of the file that was sent.")

    class Config:
        """No column beyond those named."""

        strict = True
        ordered = False


class Attributes(Told):
    """What is known of a thing, owned or offered. Unknown cells stay empty."""

    bands: str = words("Bands", "Amateur bands, with spaces between.", "band")
    modes: str = words("Modes", "Modes, with spaces between.", "mode")
    dc_plug: str = word("DC plug", "Power plug on the thing itself.", "plug")
    dc_plug_far: str = word(
        "DC plug, far end",
        "Power plug at the far end of a lead, adapter or converter (its output side).",
        "plug",
    )
    rf_plug: str = word("Antenna plug", "Antenna plug on the thing itself.", "plug")
    rf_plug_far: str = word("Antenna plug, far end", "Plug at the far end of a coax or adapter.", "plug")
    volts_min: float = number(
        "Lowest volts",
        "Lowest volts a load accepts; for a source, what it delivers when empty, for a converter at least.",
        "V",
        0,
        600,
    )
    volts_max: float = number(
        "Highest volts",
        "Highest volts a load accepts; for a source, what it delivers when full, for a converter at most.",
        "V",
        0.1,
        600,
    )
    amps_tx: float = number("Transmit current", "Current while transmitting, at nominal volts.", "A", 0, 500)
    amps_rx: float = number("Receive current", "Current while receiving with audio.", "A", 0, 100)
    amps_idle: float = number("Standby current", "Current while waiting without audio.", "A", 0, 100)
    amps_rated: float = number(
        "Rated current",
        "Continuous rating of a source, lead or converter; rating of a fuse, or of that in a lead with one.",
        "A",
        0,
        1000,
    )
    rf_watts: float = number("Transmit power", "Power into the antenna socket.", "W", 0, 5000)
    solar_watts: float = number("Solar power", "Rated power of a solar panel.", "W", 0, 5000)
    capacity_ah: float = number(
        "Capacity", "Rated capacity of one piece; at the 20-hour rate for lead-acid.", "Ah", 0.01, 5000
    )
    chemistry: str = word("Chemistry", "What kind of battery it is.", "chemistry")
    cell_size: str = word(
        "Cell size",
        "Size of the loose cells that it runs on, or of spare cells themselves.",
        CELL_SIZES,
        aliases="cell_size",
    )
    wire_awg: float = number("Wire gauge", "Wire of a DC lead, American gauge.", "AWG", 0, 40)
    wire_mm2: float = number("Wire section", "Wire of a DC lead, copper cross-section.", "mm2", 0.01, 200)
    length_m: float = number(
        "Length",
        "One-way length of a lead or coax; of a wire or HF vertical antenna, from end to end.",
        "m",
        0,
        1000,
    )
    coax: str = word("Coax type", "Type of a coax.", "coax")
    gain_dbi: float = number("Antenna gain", "Gain over an isotropic antenna.", "dBi", -40, 40)
    weight_kg: float = number("Weight", "Weight of one piece.", "kg", 0, 5000)

    class Config:
        """A range reads from low to high."""

        metadata = {"orders": (Order("volts_min", "volts_max"),)}  # noqa: RUF012


class InventoryHead(Told):
    """The first columns of an inventory."""

    member: str = member("Member", "Call sign or member number of the one who keeps the thing.")
    kit: str = text("Kit", "Name of the bag or set; one member may have several.", required=True)
    item: str = text("Item", "The thing in the member's words.", required=True)
    kind: str = word("Kind", "What the thing is.", "kind", required=True)
    quantity: pd.Int64Dtype = whole(
        "Quantity",
        "How many alike; batteries side by side. Two in series are one battery with the volts of both.",
        1,
        10_000,
        default=1,
    )
    module: str = text(
        "Module", "Bag or box that can be taken or left alone; the kit when empty.", default_from="kit"
    )
    spare: pd.BooleanDtype = yes_no("Spare", "Carried as a spare, not in use.", default=False)
    condition: str = word(
        "Condition",
        "State of the thing; removed means taken out of the kit.",
        CONDITIONS,
        default="ok",
        aliases="condition",
    )


class Inventory(Attributes, InventoryHead):
    """inventory.csv: one row for each thing in a kit."""

    amps_tx_low: float = number(
        "Transmit current, low power", "Current while transmitting at the radio's low power.", "A", 0, 500
    )
    rf_watts_low: float = number(
        "Low transmit power", "Power into the antenna socket at the radio's low power.", "W", 0, 5000
    )
    charged: DateTime = done("Charged", "Day of the last full charge.")
    tested: DateTime = done("Tested", "Day of the last capacity or function test.")
    acquired: DateTime = done("Acquired", "Day or year it was bought new.", year_alone=True)
    expires: DateTime = date("Expires", "Day after which it must not be counted on.")
    tested_ah: float = number(
        "Tested capacity",
        "Capacity of one piece, measured on the day of the test; of several measured together, their share.",
        "Ah",
        0,
        5000,
    )
    stored_charge_pct: float = number(
        "Charge in store",
        "Charge at which a battery or pack is kept between events; 100 is full.",
        "%",
        0,
        100,
    )
    swr: float = number("SWR", "Worst standing wave ratio measured in the bands of the thing.", "", 1, 100)
    swr_tested: DateTime = done("SWR tested", "Day on which the standing wave ratio was measured.")
    polarity_checked: DateTime = done(
        "Polarity checked", "Day on which the polarity of the DC plug was checked."
    )
    polarity: str = word(
        "Polarity", "What the last check of the DC plug's polarity found.", ("ok", "reversed")
    )
    programmed: DateTime = done("Channels loaded", "Day on which the club's channels were loaded last.")
    set_by_hand: pd.BooleanDtype = yes_no(
        "Set by hand", "Frequency, offset and tone of the radio can be set in the field, without a computer."
    )
    pack_family: str = text(
        "Pack family",
        "Word of the club's own for handhelds and packs that fit each other, for example red; without one a thing fits all in its kit.",
    )
    serviced: DateTime = done("Serviced", "Day of the last service of a generator or other plant.")
    counted: DateTime = done("Counted", "Day on which the club last saw its own thing and counted it.")
    labelled: pd.BooleanDtype = yes_no("Labelled", "Carries a label with its owner.")
    fuse_at_m: float = number(
        "Fuse distance",
        "Distance of the fuse from the battery; on the line of a lead: it has that fuse in it.",
        "m",
        0,
        100,
    )
    owner: str = word("Owner", "Whose it is.", ("member", "club", "loan"))
    cost_usd: float = number("Cost", "What it would cost to replace one piece.", "USD", 0, 1_000_000)
    notes: str = text("Notes", "Anything else.")

    class Config:
        """Slips that only two cells together show."""

        metadata = {  # noqa: RUF012
            "orders": (
                Order("volts_min", "volts_max"),
                Order("amps_tx_low", "amps_tx"),
                Order("rf_watts_low", "rf_watts"),
                Order(
                    "tested_ah",
                    "capacity_ah",
                    factor=1.2,
                    mend="Write what one piece gave (half, where two were measured together), or mend its rating.",
                ),
                Order("acquired", "expires"),
            )
        }


class Members(Told):
    """members.csv: one row for each member."""

    member: str = member("Member", "Call sign or member number.")
    licence_class: str = word(
        "Licence class",
        "Class of the licence held.",
        (
            "none",
            "technician",
            "general",
            "advanced",
            "extra",
            "foundation",
            "intermediate",
            "full",
            "basic",
            "basic_honours",
        ),
        aliases="licence_class",
    )
    licence_expires: DateTime = date("Licence expires", "Last day of the licence.")
    roles: str = words(
        "Roles",
        "What the member is ready to do.",
        ("field", "net_control", "packet", "hf", "shadow", "solo", "logger"),
        aliases="roles",
    )
    carry_limit_kg: float = number("Carry limit", "Most the member wants to carry.", "kg", 0, 100)
    solo_ok: pd.BooleanDtype = yes_no("Alone", "Ready to work alone.")
    night_ok: pd.BooleanDtype = yes_no("Night", "Ready to work in the dark.")
    heat_limit_c: float = number("Heat limit", "Hottest air the member wants to work in.", "°C", -20, 60)
    cold_limit_c: float = number("Cold limit", "Coldest air the member wants to work in.", "°C", -60, 40)
    walk_limit_km: float = number("Walk limit", "Longest walk to a post the member wants.", "km", 0, 100)
    last_on_air: DateTime = done("Last on the air", "Day of the last contact or net.")
    on_air_12m: pd.Int64Dtype = whole("On the air", "Nets and check-ins in the last 12 months.", 0, 5000)
    events_12m: pd.Int64Dtype = whole("Events", "Events worked in the last 12 months.", 0, 366)
    first_aid_expires: DateTime = date("First aid expires", "Last day of the first-aid certificate.")
    id_expires: DateTime = date("Identity card expires", "Last day of the served agency's identity card.")
    vetting_expires: DateTime = date(
        "Background check expires",
        "Last day of the background check; the date only, nothing of what it found.",
    )
    waiver_expires: DateTime = date("Waiver expires", "Last day for which the volunteer's waiver is signed.")
    training: str = words("Training", "Courses passed, for example is100 is200.", ())
    training_expires: DateTime = date(
        "Training expires", "Day until which all courses listed hold; empty where they have no last day."
    )
    radio_by_heart: pd.BooleanDtype = yes_no(
        "Radio by heart",
        "Has shown that they set frequency, band, offset, tone, power and locks of their radio and change its battery without the manual.",
    )
    available: pd.BooleanDtype = yes_no("Available", "Can be asked this season.", default=True)
    notes: str = text("Notes", "Anything else.")

    class Config:
        """One row for each member."""

        unique = ["member"]  # noqa: RUF012
        metadata = {"orders": (Order("cold_limit_c", "heat_limit_c", strict=True),)}  # noqa: RUF012


class Kits(Told):
    """kits.csv: one row for each kit of a member."""

    member: str = member("Member", "Call sign or member number of the one who keeps the kit.")
    kit: str = text("Kit", "Name of the bag or set, as in the inventory.", required=True)
    purpose: str = text("Purpose", "What the kit is for.")
    hours: float = number("Planned hours", "Hours the kit is meant to run without mains.", "h", 0, 720)
    packed: DateTime = done("Packed", "Day on which it was last packed and checked.")
    list_printed: DateTime = done("List printed", "Day on which the packing list in the lid was printed.")
    last_used: DateTime = done("Last used", "Day of the last use.")
    restocked: DateTime = done("Restocked", "Day on which it was last restocked.")
    inspected: DateTime = done("Inspected", "Day of the last inspection by another member.")
    stored_min_c: float = number("Coldest in store", "Coldest it gets where the kit is kept.", "°C", -60, 60)
    stored_max_c: float = number("Hottest in store", "Hottest it gets where the kit is kept.", "°C", -60, 90)
    may_be_lent: pd.BooleanDtype = yes_no(
        "May be lent",
        "The whole kit may go to a post in another member's hands; a kit of club things alone may when empty.",
    )
    labelled: pd.BooleanDtype = yes_no(
        "Labelled", "Every bag and bag within it carries a mark of its owner that is no home address."
    )
    sturdy_container: pd.BooleanDtype = yes_no(
        "Sturdy container",
        "It is kept in a box, case or bag that keeps off rain and knocks, no plastic carrier bag.",
    )
    locked_off: pd.BooleanDtype = yes_no(
        "Locked off",
        "Its handhelds are packed so that none can switch on by itself: the pack taken off, or a guard over the switch.",
    )
    rf_evaluated: DateTime = done(
        "Exposure evaluated", "Day of the evaluation of radio-frequency exposure that is on file."
    )
    notes: str = text("Notes", "Anything else.")

    class Config:
        """One row for each kit."""

        unique = ["member", "kit"]  # noqa: RUF012
        metadata = {"orders": (Order("stored_min_c", "stored_max_c"),)}  # noqa: RUF012


class Rehearsals(Told):
    """rehearsals.csv: one row for each trial of a kit."""

    member: str = member("Member", "Call sign or member number of the one who tried the kit.")
    kit: str = text("Kit", "Name of the bag or set, as in the inventory.", required=True)
    date: DateTime = date("Date", "Day of the trial.", required=True)
    stage: str = word(
        "Stage",
        "How close to the real thing; drill: with the club, away from home.",
        ("bench", "room", "yard", "park", "drill", "site", "event"),
        required=True,
    )
    trips_back: pd.Int64Dtype = whole("Trips back", "Times someone had to go back for something.", 0, 100)
    missing: str = text("Missing", "What was missing; a semicolon between things.")
    hours_on_battery: float = number("Hours on battery", "Hours it ran without mains.", "h", 0, 720)
    event: str = text("Event", "Name of the event where it was used, as in events.csv.")
    post: str = text("Post", "Name of the post that it held there, as in posts.csv.")
    battery_left_pct: float = number(
        "Battery left", "Charge left in its batteries when it was switched off.", "%", 0, 100
    )
    faulty: str = text("Faulty", "What failed, as in the inventory; a semicolon between things.")
    setup_min: float = number(
        "Set-up time", "Minutes by the watch from the closed bag to the first call.", "min", 0, 1440
    )
    notes: str = text("Notes", "Anything else.")


class Events(Told):
    """events.csv: one row for each event."""

    event: str = text("Event", "Name of the event.", required=True)
    starts: DateTime = moment("Starts", "Local time at which the first post opens.", required=True)
    ends: DateTime = moment("Ends", "Local time at which the last post closes.", required=True)
    lat: float = number("Latitude", "North is positive.", "°", -90, 90)
    lon: float = number("Longitude", "East is positive.", "°", -180, 180)
    utc_offset_h: float = number(
        "Hours from UTC",
        "Local time less UTC when it starts; the time zone tells it too, and when clocks change.",
        "h",
        -12,
        14,
    )
    time_zone: str = text(
        "Time zone",
        "Whose clocks the event keeps, so that its hours are right where they change: area and city, for example America/Denver.",
    )
    temp_min_c: float = number("Coldest", "Coldest air expected.", "°C", -60, 60)
    temp_max_c: float = number("Hottest", "Hottest air expected.", "°C", -60, 60)
    minutes_to_care: float = number(
        "Minutes to care", "Minutes from the farthest post to care.", "min", 0, 10_000
    )
    public: pd.BooleanDtype = yes_no("Public", "The public can reach the posts.")
    storms_possible: pd.BooleanDtype = yes_no("Storms", "Thunderstorms are possible in that season.")
    shelter: str = text("Shelter", "Where posts that are reached by car go in a storm.")
    storm_watch: str = word(
        "Storm watch", "What tells that a storm comes.", ("weather_service", "radar", "spotters", "none")
    )
    briefed: DateTime = done("Briefed", "Day of the briefing; one to come counts once it is there.")
    channel: str = text("Channel", "Name of the channel on which the net runs.")
    channel_alternate: str = text("Alternate channel", "Channel to go to when the first one fails.")
    channel_simplex: str = text("Simplex channel", "Channel that needs no repeater.")
    action_starts: DateTime = moment(
        "Action starts",
        "Local time of what the posts are there for: the gun, the first float, the first message.",
    )
    packets_sent: DateTime = done(
        "Packets sent", "Day on which everyone who is sent had their assignment, map and channel plan."
    )
    id_asked: pd.BooleanDtype = yes_no(
        "Identity card", "The organiser asks for the agency's identity card; not when empty."
    )
    vetting_asked: pd.BooleanDtype = yes_no(
        "Background check", "The organiser asks for a background check; not when empty."
    )
    waiver_asked: pd.BooleanDtype = yes_no(
        "Waiver", "The organiser asks for a volunteer's waiver; not when empty."
    )
    training_asked: str = words(
        "Training asked", "Courses that the organiser asks for, for example is100; none when empty.", ()
    )
    notes: str = text("Notes", "Anything else.")

    class Config:
        """One row for each event."""

        unique = ["event"]  # noqa: RUF012
        metadata = {  # noqa: RUF012
            "orders": (
                Order("starts", "ends", strict=True),
                Order("action_starts", "ends", strict=True),
                Order("temp_min_c", "temp_max_c"),
            )
        }


class Posts(Told):
    """posts.csv: one row for each post of an event."""

    event: str = text("Event", "Name of the event, as in events.csv.", required=True)
    post: str = text("Post", "Name of the post.", required=True)
    post_type: str = word("Post type", "What the post does.", "post_type", required=True)
    site: str = text("Site", "Place where it stands; posts that stand at one place name it alike.")
    opens: DateTime = moment("Opens", "Local time; the start of the event when empty.")
    closes: DateTime = moment("Closes", "Local time; the end of the event when empty.")
    operators: pd.Int64Dtype = whole(
        "Operators", "People needed at once; from the post type when empty.", 0, 50
    )
    bands: str = words("Bands", "Amateur bands the post needs, all of them; any will do when empty.", "band")
    modes: str = words(
        "Modes",
        "Modes the post needs, all of them; any will do when empty, but not where it is for messages by data.",
        "mode",
    )
    rf_watts_min: float = number("Least power", "Least transmit power that reaches.", "W", 0, 5000)
    duty: str = word(
        "Duty",
        "How much of the time it transmits, of several radios the busiest; from the post type when empty.",
        "duty",
    )
    access: str = word(
        "Access",
        "How the post is reached; when empty on foot where its type is held on foot, else by car.",
        ("drive", "walk", "carry", "4x4"),
        aliases="access",
    )
    carry_limit_kg: float = number("Carry limit", "Most that one person can carry there.", "kg", 0, 1000)
    walk_km: float = number("Walk", "Walk from the nearest road.", "km", 0, 100)
    mains: pd.BooleanDtype = yes_no(
        "Mains", "Mains power is there, or a generator with fuel for all of the time."
    )
    rf_grade: str = word(
        "Radio path",
        "How well the post hears and is heard.",
        ("good", "marginal", "poor"),
        aliases="rf_grade",
    )
    mast_m: float = number("Mast height", "Height of the mast to be raised; 0 where none is.", "m", 0, 100)
    power_line_m: float = number("Power line", "Distance to the nearest power line.", "m", 0, 100_000)
    public_m: float = number("Public", "Distance of the antenna from people.", "m", 0, 100_000)
    cell_cover: pd.BooleanDtype = yes_no("Cell cover", "A cell phone works there.")
    beside_traffic: pd.BooleanDtype = yes_no("Beside traffic", "The post stands beside moving traffic.")
    rotation_h: float = number(
        "Change of seats", "Hours after which people there change seats.", "h", 0.25, 24
    )
    power_setting: str = word(
        "Power setting", "Power at which radios there transmit; high when empty.", ("high", "low")
    )
    vehicle: pd.BooleanDtype = yes_no("Vehicle", "A vehicle stays with the post for all of its time.")
    vehicles: pd.Int64Dtype = whole(
        "Vehicles", "How many vehicles with a 12 V socket stay so; one where only vehicle says yes.", 0, 100
    )
    check_in_min: float = number(
        "Check-in", "Minutes agreed from one check-in with net control to the next.", "min", 1, 1440
    )
    missed_check_in: str = in_words(
        "Missed check-in",
        "What net control does when a check-in does not come, and after how many minutes; in words.",
        "call twice, after 15 min send the sweep",
    )
    alert_path: str = word(
        "Other way to call",
        "A way to call for help from there that is not amateur radio, whoever brings it; none where there is none.",
        ("satellite_messenger", "agency_radio", "landline", "runner", "none"),
        aliases="alert_path",
    )
    shelter: str = text(
        "Shelter",
        "Where people there go in a storm, a building or a hard-top vehicle; none where there is none. "
        "When empty the event's counts, if the post is reached by car; a vehicle that stays is one too.",
    )
    notes: str = text("Notes", "Anything else.")

    class Config:
        """One row for each post."""

        unique = ["event", "post"]  # noqa: RUF012
        metadata = {"orders": (Order("opens", "closes", strict=True),)}  # noqa: RUF012


KIT_OWNER = member(
    "Kit of", "Whose kit it is where another lends it; the member's own when empty.", required=False
)


class Assignments(Told):
    """assignments.csv: who is at which post with which kit."""

    event: str = text("Event", "Name of the event, as in events.csv.", required=True)
    post: str = text("Post", "Name of the post, as in posts.csv.", required=True)
    member: str = member("Member", "Call sign or member number.")
    kit: str = text("Kit", "Kit the member brings, as in the inventory; empty for a helper without one.")
    kit_owner: str = KIT_OWNER
    from_: DateTime = moment("From", "Local time; when the post opens when empty.", alias="from")
    to: DateTime = moment("To", "Local time; when the post closes when empty.")
    travel_h: float = number("Travel", "Hours on the way from home to the post, one way.", "h", 0, 24)

    class Config:
        """A shift ends after it begins."""

        metadata = {"orders": (Order("from", "to", strict=True),)}  # noqa: RUF012


class OffersHead(Told):
    """The first columns of the price book."""

    offer: str = text("Offer", "What is offered.", required=True)
    kind: str = word("Kind", "What the thing is.", "kind", required=True)
    price_usd: float = number("Price", "Price of one piece.", "USD", 0, 1_000_000, required=True)
    available: pd.Int64Dtype = whole("Available", "How many can be had.", 0, 100_000)
    paid_by: str = word("Paid by", "Who would pay.", ("member", "club"))


class Offers(Attributes, OffersHead):
    """offers.csv: what can be bought."""


class Loans(Told):
    """loans.csv: club gear that is out with someone."""

    item: str = text(
        "Item",
        "The thing that is lent; a whole kit by its name, or as MEMBER/KIT where another or a thing has that name.",
        required=True,
    )
    borrower: str = member("Borrower", "Call sign or member number of the borrower.")
    out: DateTime = date("Out", "Day on which it left.", required=True)
    due: DateTime = date("Due", "Day by which it comes back.", required=True)
    back: DateTime = done("Back", "Day on which it came back.")
    condition_out: str = word("Condition out", "State when it left.", CONDITIONS, aliases="condition")
    condition_in: str = word("Condition in", "State when it came back.", CONDITIONS, aliases="condition")
    charged_in: pd.BooleanDtype = yes_no(
        "Charged in", "Its batteries came back charged; empty where it has none."
    )
    notes: str = text("Notes", "Anything else.")

    class Config:
        """A loan ends after it begins."""

        metadata = {"orders": (Order("out", "due"), Order("out", "back"))}  # noqa: RUF012


FILES: dict[str, type[Told]] = {
    "inventory": Inventory,
    "members": Members,
    "kits": Kits,
    "rehearsals": Rehearsals,
    "events": Events,
    "posts": Posts,
    "assignments": Assignments,
    "offers": Offers,
    "loans": Loans,
}

# Ending and unit of a column → those under which it may be sent instead, the factor and what is added then; exact by
# definition: the international foot, mile and pound.
OTHER_UNITS = {
    ("_m", "m"): ("_ft", "ft", 0.3048, 0.0),
    ("_km", "km"): ("_mi", "mi", 1.609344, 0.0),
    ("_kg", "kg"): ("_lb", "lb", 0.45359237, 0.0),
    ("_c", "°C"): ("_f", "°F", 5 / 9, -160 / 9),
}


@cache
def columns(stem: str) -> dict[str, Column]:
    """Columns of a file in the order of its template, without `line` and `file`."""
    fields = FILES[stem].to_schema().columns
    return {
        name: replace(field.metadata["column"], name=name) for name, field in fields.items() if field.metadata
    }


@dataclass(frozen=True)
class Converted:
    """A column in another unit: `to` is the contract's, whose number is `factor` times the written one, and `added`."""

    to: str
    unit: str
    factor: float
    added: float


@cache
def converted(stem: str) -> dict[str, Converted]:
    """Columns of a file that may be sent in another unit instead, by the name that they then have."""
    found = {}
    for name, column in columns(stem).items():
        for (ending, unit), (other, written, factor, added) in OTHER_UNITS.items():
            if column.unit == unit and name.endswith(ending):
                found[name.removesuffix(ending) + other] = Converted(name, written, factor, added)
    return found


@cache
def key(stem: str) -> tuple[str, ...]:
    """Columns that together name a row once; empty when rows may repeat."""
    return tuple(FILES[stem].to_schema().unique or ())


def column_list(stem: str) -> pd.DataFrame:
    """The columns of a file as people look them up: column, write, unit, when empty, what it is."""
    told = columns(stem).values()
    return pd.DataFrame(
        {
            "column": [column.name for column in told],
            "write": [column.to_write for column in told],
            "unit": [column.unit for column in told],
            "when empty": [column.when_empty for column in told],
            "what it is": [column.description for column in told],
        }
    )


def orders(stem: str) -> tuple[Order, ...]:
    """Pairs of columns that must stand in order within a row."""
    config = getattr(FILES[stem], "Config", None)
    found: tuple[Order, ...] = (getattr(config, "metadata", None) or {}).get("orders", ())
    return found


def empty(stem: str) -> pd.DataFrame:
    """A typed frame of the file without rows."""
    frame: pd.DataFrame = FILES[stem].empty()
    return frame.astype(dict.fromkeys(frame.columns[frame.dtypes == "datetime64[ns]"], "datetime64[us]"))
