"""Columns of the files whose only reader is a rule: what is told arrives, and what cannot be read is said."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from data import forms, reference, schema, upload
from data.club import connect, fill
from tests import small_club


def table(name: str, **files: str) -> pd.DataFrame:
    """A told table of the club, from the files as sent."""
    con = connect()
    frames: dict[str, pd.DataFrame] = {}
    for stem, text in files.items():
        read = upload.read(f"{stem}.csv", text.encode())
        assert read.frame is not None, [str(problem) for problem in read.problems]
        frames[stem] = read.frame
    fill(con, frames)
    return con.execute(f"select * from {name} order by line").df()


EVENTS = "event,starts,ends\nRide,2027-06-12T06:00,2027-06-12T18:00\n"


def test_a_post_says_whether_a_vehicle_stays() -> None:
    posts = (
        "event,post,post_type,vehicle,vehicles\nRide,Car,sag,yes,\nRide,Hut,remote,no,\nRide,Ford,aid_station,,\n"
        "Ride,Mill,aid_station,,2\nRide,Gate,aid_station,,0\n"
    )
    told = table("post", events=EVENTS, posts=posts)[["has_vehicle", "vehicles"]]
    assert told["has_vehicle"].tolist()[:2] == [True, False] and pd.isna(told["has_vehicle"][2])
    assert told["has_vehicle"].tolist()[3:] == [True, False] and told["vehicles"].tolist()[3:] == [2, 0]


def test_a_post_is_held_in_a_vehicle_by_its_type_or_as_a_sweep_that_is_driven() -> None:
    posts = (
        "event,post,post_type,vehicle,vehicles,access\nRide,Car,sag,,,\nRide,Broom,sweep,yes,,\nRide,Wagon,sweep,,1,drive\n"
        "Ride,Path,sweep,yes,,walk\nRide,Foot,sweep,no,,\nRide,Last,sweep,,,\nRide,Ford,aid_station,yes,,\n"
    )
    told = table("post", events=EVENTS, posts=posts).set_index("post")[["is_vehicle", "is_on_foot", "access"]]
    assert {post: tuple(said) for post, *said in told.itertuples()} == {
        "Car": (True, False, "drive"), "Broom": (True, False, "drive"), "Wagon": (True, False, "drive"),
        "Path": (False, True, "walk"), "Foot": (False, True, "walk"), "Last": (False, True, "walk"),
        "Ford": (False, False, "drive"),
    }  # fmt: skip


def test_a_post_says_what_follows_a_missed_check_in_and_how_else_help_is_called() -> None:
    posts = (
        "event,post,post_type,missed_check_in,alert_path\n"
        "Ride,Hut,remote,call twice then send the sweep,Agency radio\nRide,Ford,aid_station,,\n"
    )
    told = table("post", events=EVENTS, posts=posts)[["missed_check_in", "alert_path"]]
    assert told.loc[0].tolist() == ["call twice then send the sweep", "agency_radio"]
    assert told.loc[1].isna().all()


def test_words_as_people_write_them_are_read_and_told() -> None:
    posts = "event,post,post_type,access,rf_grade,alert_path\nRide,Ford,aid_station,by car,bad,satellite\n"
    members = "member,licence_class,roles\nQA1BC,Tech,ncs log keeper\n"
    read = upload.read("members.csv", members.encode())
    assert 'licence_class: "Tech" read as "technician" (1 row).' in read.notices
    told = table("post", events=EVENTS, posts=posts).loc[0]
    assert told[["access", "rf_grade", "alert_path"]].tolist() == ["drive", "poor", "satellite_messenger"]
    member = table("member", members=members).loc[0]
    assert member[["licence_class", "roles"]].tolist() == ["technician", "net_control logger"]
    for column in ("licence_class", "roles", "access", "rf_grade", "alert_path"):
        stem = "members" if column in ("licence_class", "roles") else "posts"
        listed = schema.columns(stem)[column].words
        assert set(reference.aliases(column).values()) == set(listed), column


def test_a_member_says_until_when_what_organisers_ask_for_holds() -> None:
    members = (
        "member,vetting_expires,waiver_expires,training,training_expires\n"
        "QA1BC,2027-12-31,2027-06-30,is100,2028-01-31\nQB2CD,,,is100,\n"
    )
    told = table("member", members=members)[["vetting_expires", "waiver_expires", "training_expires"]]
    assert [f"{day:%Y-%m-%d}" for day in told.loc[0]] == ["2027-12-31", "2027-06-30", "2028-01-31"]
    assert told.loc[1].isna().all()


def test_who_knows_their_radio_how_long_a_set_up_took_and_whether_a_loan_came_back_charged() -> None:
    members = "member,radio_by_heart\nQA1BC,yes\nQB2CD,no\nQC3DE,\n"
    told = table("member", members=members)["has_radio_by_heart"]
    assert told.tolist()[:2] == [True, False] and pd.isna(told[2])
    inventory = "member,kit,item,kind\nQA1BC,box,set,handheld\n"
    rehearsals = (
        "member,kit,date,stage,setup_min\nQA1BC,box,2026-05-01,yard,31.5\nQA1BC,box,2026-06-01,park,\n"
    )
    told = table("rehearsal", inventory=inventory, rehearsals=rehearsals)["setup_min"]
    assert told[0] == 31.5 and pd.isna(told[1])
    head = "item,borrower,out,due,back,charged_in\n"
    days = "QA1BC,2026-01-01,2026-01-20,2026-01-18"
    told = table("loan", loans=f"{head}one,{days},no\ntwo,{days},yes\nthree,{days},\n")["is_charged_in"]
    assert told.tolist()[:2] == [False, True] and pd.isna(told[2])


def test_an_event_says_what_is_asked_and_when_its_action_starts() -> None:
    events = (
        "event,starts,ends,action_starts,packets_sent,vetting_asked,waiver_asked\n"
        "Ride,2027-06-12T06:00,2027-06-12T18:00,2027-06-12T07:30,2026-06-05,no,yes\n"
        "Walk,2027-07-12T06:00,2027-07-12T18:00,,,,\n"
    )
    told = table("event", events=events)
    names = ["action_starts", "packets_sent", "is_vetting_asked", "is_waiver_asked"]
    assert told.loc[0, names].tolist() == [
        pd.Timestamp("2027-06-12 07:30"),
        pd.Timestamp("2026-06-05"),
        False,
        True,
    ]
    assert told.loc[1, names].isna().all()


def test_where_a_post_stands_and_what_tells_of_a_storm() -> None:
    events = "event,starts,ends,storm_watch\nRide,2027-06-12T06:00,2027-06-12T18:00,Weather service\n"
    posts = "event,post,post_type,site\nRide,Net,net_control,the library\nRide,Ford,aid_station,\n"
    assert table("event", events=events)["storm_watch"].tolist() == ["weather_service"]
    told = table("post", events=events, posts=posts)["site"]
    assert told[0] == "the library" and pd.isna(told[1])


def test_an_aid_station_far_from_cars_and_phones_needs_two_ways() -> None:
    posts = (
        "event,post,post_type,access,cell_cover\nRide,Ford,aid_station,,no\nRide,Hill,aid_station,carry,yes\n"
        "Ride,Lane,aid_station,walk,no\nRide,Path,aid_station,walk,\nRide,Gate,aid_station,walk,yes\n"
        "Ride,Top,aid_station,4x4,no\nRide,Mile,mile_marker,carry,no\nRide,Tent,medical,,yes\n"
    )
    told = table("post", events=EVENTS, posts=posts)
    assert told.loc[told["needs_two_ways"], "post"].tolist() == ["Hill", "Lane", "Path", "Tent"]


def test_a_thing_says_its_cells_its_polarity_and_its_channels() -> None:
    inventory = (
        "member,kit,item,kind,cell_size,polarity,programmed,set_by_hand\n"
        "QA1BC,box,lamp,headlamp,Triple A,,,\nQA1BC,box,lead,dc_lead,,reversed,,\n"
        "QA1BC,box,set,mobile_vhf_uhf,,,2027-02-01,no\nQA1BC,box,walkie,handheld,,,,\n"
    )
    told = table("item", inventory=inventory).set_index("item")
    assert told["cell_size"].dropna().to_dict() == {"lamp": "aaa"}
    assert told["polarity"].dropna().to_dict() == {"lead": "reversed"}
    assert told["programmed"].dropna().to_dict() == {"set": pd.Timestamp("2027-02-01")}
    assert told["is_set_by_hand"].dropna().to_dict() == {"set": False}


def test_what_is_told_of_a_thing_stands_in_the_column_of_its_name() -> None:
    """Each column with a value of its own: one that stood in the place of another would not be seen by most rules."""
    number = iter(range(1, 100))
    told: dict[str, object] = {"member": "QA1BC", "kit": "box", "item": "thing", "kind": "dc_lead"}
    for name, column in schema.columns("inventory").items():
        if column.form in (forms.DATE, forms.YEAR_OR_DATE):
            told[name] = pd.Timestamp(2020, 1, next(number))
        elif pd.api.types.is_float_dtype(schema.empty("inventory")[name]):
            told[name] = float(next(number))
    told |= {"set_by_hand": True, "labelled": False, "spare": True, "quantity": 7, "owner": "club"}
    con = connect()
    fill(con, {"inventory": small_club.frame("inventory", [told])})
    (row,) = con.execute("from item").df().to_dict("records")
    own = {"set_by_hand": "is_set_by_hand", "labelled": "is_labelled", "spare": "is_spare"}
    share = {"stored_charge_share": told.pop("stored_charge_pct") / 100}
    assert len(told) > 30
    for name, value in {**{own.get(name, name): value for name, value in told.items()}, **share}.items():
        if name not in ("member", "kit"):
            assert row[name] == value, name


@pytest.mark.parametrize(
    ("column", "kind", "told"),
    [
        ("cell_size", "spare_cells", "cell_word"),
        ("polarity", "dc_lead", "polarity_word"),
        ("condition", "handheld", "condition_word"),
    ],
)
def test_each_word_that_a_file_may_hold_is_one_of_the_table(column: str, kind: str, told: str) -> None:
    words = schema.columns("inventory")[column].words
    rows = "".join(f"QA1BC,box,{word},{kind},{word}\n" for word in words)
    found = table("item", inventory=f"member,kit,item,kind,{column}\n{rows}")[column]
    assert found.tolist() == list(words)
    assert connect().execute(f"select unnest(enum_range(null::{told}))").df().iloc[:, 0].tolist() == list(
        words
    )


@pytest.mark.parametrize(
    ("stem", "text", "says"),
    [
        (
            "inventory",
            "member,kit,item,kind,cell_size\nQA1BC,box,lamp,headlamp,AAAA\n",
            'inventory.csv line 2, cell_size: "AAAA" is not a known word for cell size. Did you mean aaa? Write a word of: aaa, aa, c, d, 9v, cr2032, '
            "cr2, cr123a, 18650, 21700, or leave the cell empty.",
        ),
        (
            "inventory",
            "member,kit,item,kind,polarity\nQA1BC,box,lead,dc_lead,wrong\n",
            'inventory.csv line 2, polarity: "wrong" is not a known word for polarity. Write a word of: ok, reversed, or leave the cell empty.',
        ),
        (
            "inventory",
            "member,kit,item,kind,programmed\nQA1BC,box,set,mobile_vhf_uhf,spring\n",
            'inventory.csv line 2, programmed: "spring" is not a date of the form year-month-day. Write the date as year-month-day, for example '
            "2026-07-31, or leave the cell empty.",
        ),
        (
            "posts",
            "event,post,post_type,alert_path\nRide,Hut,remote,carrier pigeon\n",
            'posts.csv line 2, alert_path: "carrier pigeon" is not a known word for alert path. Write a word of: satellite_messenger, agency_radio, '
            "landline, runner, none, or leave the cell empty.",
        ),
        (
            "events",
            "event,starts,ends,action_starts\nRide,2027-06-12T06:00,2027-06-12T18:00,2072-06-12T07:00\n",
            'events.csv line 2, action_starts: "2072-06-12T07:00" is not before ends (2027-06-12T18:00). Mend one of the two cells.',
        ),
        (
            "posts",
            "event,post,post_type,missed_check_in\nRide,Hut,remote,15\n",
            'posts.csv line 2, missed_check_in: "15" is no answer in words. Write it in words, for example: call twice, after 15 min send '
            "the sweep, or leave the cell empty.",
        ),
        (
            "posts",
            "event,post,post_type,vehicle\nRide,Car,sag,a van\n",
            'posts.csv line 2, vehicle: "a van" is not yes or no. Write yes or no, or leave the cell empty.',
        ),
        (
            "posts",
            "event,post,post_type,vehicle,vehicles\nRide,Car,sag,yes,2\nRide,Hut,remote,no,2\nRide,Ford,remote,no,0\n",
            'posts.csv line 3, vehicles: "2" is not what vehicle says (no). Keep one of the two cells.',
        ),
    ],
)
def test_what_cannot_be_read_is_said(stem: str, text: str, says: str) -> None:
    assert [str(problem) for problem in upload.read(f"{stem}.csv", text.encode()).problems] == [says]


DONE = "QA1BC,box,battery,battery_agm,{charged},{tested},15,{acquired},2030-01-01\n"
DONE_HEAD = "member,kit,item,kind,charged,tested,tested_ah,acquired,expires\n"


@pytest.mark.parametrize("is_frame", [True, False])
def test_a_day_to_come_on_which_something_was_done_is_not_known(is_frame: bool) -> None:
    days = ["2026-11-29", "2026-11-30", "2026-12-01", "2028-12-31", ""]
    text = DONE_HEAD + "".join(DONE.format(charged=day, tested=day, acquired=day) for day in days)
    read = upload.read("inventory.csv", text.encode())
    assert read.table is not None and read.frame is not None
    con = connect()
    fill(con, {"inventory": read.frame if is_frame else read.table}, date(2026, 11, 29))
    told = con.execute("select charged, tested, acquired, expires, tested_ah from item order by line").df()
    for column in ("charged", "tested", "acquired"):
        assert told[column].notna().tolist() == [True, True, False, False, False], (
            "tomorrow is today east of here"
        )
    assert told["expires"].notna().all() and told["tested_ah"].eq(15).all()


def test_the_day_of_the_review_says_which_days_are_to_come() -> None:
    inventory = "member,kit,item,kind,charged\nQA1BC,box,battery,battery_agm,2027-02-28\n"
    members = "member,last_on_air\nQA1BC,2027-02-27\n"
    frames = {
        stem: upload.read(f"{stem}.csv", text.encode()).frame
        for stem, text in {"inventory": inventory, "members": members}.items()
    }

    def said(today: date) -> list[str]:
        told = small_club.Club(frames, today=today).answers("left_twice_too_long", "long_off_the_air")
        return [one.status for one in told]

    assert said(date(2027, 3, 1)) == ["met", "met"]
    assert said(date(2026, 11, 29)) == ["not known", "not known"]


def test_a_briefing_that_is_planned_counts_once_it_is_over() -> None:
    text = "event,starts,ends,briefed\nBrook Walk,2027-03-06T08:00,2027-03-06T14:00,2027-03-01\n"
    frames = {"events": upload.read("events.csv", text.encode()).frame}

    def said(today: date) -> list[str]:
        told = small_club.Club(frames, today=today).answers("briefing_not_held")
        return [one.sentence for one in told if one.status != "met"]

    assert said(date(2027, 2, 20)) == ["Brook Walk: no briefing that was held is written down."]
    assert said(date(2027, 3, 1)) == []


def test_what_may_be_to_come_is_not_taken_as_done() -> None:
    done = {name for stem in schema.FILES for name, column in schema.columns(stem).items() if column.is_done}
    days = {
        name for stem in schema.FILES for name, column in schema.columns(stem).items()
        if column.form in (forms.DATE, forms.YEAR_OR_DATE)
    }  # fmt: skip
    to_come = {name for name in days if name.endswith("expires")} | {"due", "out", "date"}
    assert days - done == to_come
