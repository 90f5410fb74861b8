"""Names that lead nowhere between files are found, once each, with the name that was probably meant."""

from __future__ import annotations

import pandas as pd
import pytest

from data import upload
from data.club_check import loose_ends

WHOLE = {
    "inventory": "member,kit,item,kind\nQ1AAA,Go Bag,big battery,battery\nQ1BBB,Car Box,lead,dc_lead\n",
    "members": "member\nQ1AAA\nQ1BBB\nQ1CCC\n",
    "kits": "member,kit\nQ1AAA,Go Bag\n",
    "rehearsals": "member,kit,date,stage\nQ1BBB,Car Box,2026-04-01,yard\n",
    "events": "event,starts,ends\nRiver Run,2027-04-25T05:15,2027-04-25T14:00\n",
    "posts": "event,post,post_type\nRiver Run,Ford,aid_station\nRiver Run,Mill,aid_station\n",
    "assignments": "event,post,member,kit\nRiver Run,Ford,Q1AAA,Go Bag\nRiver Run,Mill,Q1CCC,\n",
    "loans": "item,borrower,out,due\nclub coax,Q1BBB,2026-02-01,2026-03-01\n",
}


def club(**instead: str) -> dict[str, pd.DataFrame]:
    frames = {}
    for stem, text in {**WHOLE, **instead}.items():
        read = upload.read(f"{stem}.csv", text.encode())
        assert read.frame is not None, read.problems
        frames[stem] = read.frame
    return frames


def test_a_club_whose_names_all_lead_somewhere_has_none() -> None:
    assert loose_ends(club()) == []


def test_no_files_have_none() -> None:
    assert loose_ends({}) == []


@pytest.mark.parametrize(
    ("stem", "text", "said"),
    [
        (
            "posts",
            WHOLE["posts"] + "river rum,Gate,relay\n",
            'posts.csv line 4, event: "river rum" is not an event of events.csv. '
            'Write "River Run", or add the event to events.csv.',
        ),
        (
            "posts",
            "event,post,post_type,opens\nRiver Run,Ford,aid_station,2027-04-25T16:00\nRiver Run,Mill,aid_station,\n",
            'posts.csv line 2, opens: "2027-04-25T16:00" is not before 2027-04-25T14:00, when event River Run ends. '
            "Correct the hour or the day of opens and closes, or of what they belong to.",
        ),
        (
            "posts",
            "event,post,post_type,opens,closes\nRiver Run,Ford,aid_station,2027-03-25T06:00,2027-03-25T14:00\nRiver Run,Mill,aid_station,,\n",
            'posts.csv line 2, closes: "2027-03-25T14:00" is not after 2027-04-25T05:15, when event River Run begins. '
            "Correct the hour or the day of opens and closes, or of what they belong to.",
        ),
        (
            "assignments",
            "event,post,member,kit,to\nRiver Run,Ford,Q1AAA,Go Bag,2027-04-25T05:00\n",
            'assignments.csv line 2, to: "2027-04-25T05:00" is not after 2027-04-25T05:15, when post Ford begins. '
            "Correct the hour or the day of from and to, or of what they belong to.",
        ),
        (
            "assignments",
            "event,post,member,kit\nHill Ride,Nowhere,Q1AAA,Go Bag\n",
            'assignments.csv line 2, event: "Hill Ride" is not an event of events.csv. '
            "Correct the name, or add the event to events.csv.",
        ),
        (
            "assignments",
            "event,post,member,kit\nRiver Run,Fort,Q1AAA,Go Bag\n",
            'assignments.csv line 2, post: "Fort" is not a post of River Run. '
            'Write "Ford", or add the post to event "River Run" in posts.csv.',
        ),
        (
            "assignments",
            "event,post,member,kit\nRiver Run,Ford,Q1AAB,Go Bag\n",
            'assignments.csv line 2, member: "Q1AAB" is not a member whom any file lists. '
            'Write "Q1AAA", or add the member to members.csv.',
        ),
        (
            "assignments",
            "event,post,member,kit\nRiver Run,Ford,Q1AAA,Car Box\n",
            'assignments.csv line 2, kit: "Car Box" is not a kit in an inventory of Q1AAA. '
            "Correct the name, or send an inventory in which Q1AAA has this kit.",
        ),
        (
            "kits",
            "member,kit\nQ1AAA,go-bag\n",
            'kits.csv line 2, kit: "go-bag" is not a kit in an inventory of Q1AAA. '
            'Write "Go Bag", or send an inventory in which Q1AAA has this kit.',
        ),
        (
            "rehearsals",
            "member,kit,date,stage\nQ1CCC,Go Bag,2026-04-01,yard\n",
            'rehearsals.csv line 2, kit: "Go Bag" is not a kit in an inventory of Q1CCC. '
            "Correct the name, or send an inventory in which Q1CCC has this kit.",
        ),
        (
            "rehearsals",
            "member,kit,date,stage\nQ9ZZZ,Go Bag,2026-04-01,yard\n",
            'rehearsals.csv line 2, member: "Q9ZZZ" is not a member whom any file lists. '
            "Correct the name, or add the member to members.csv.",
        ),
        (
            "loans",
            "item,borrower,out,due\nclub coax,Q1BB,2026-02-01,2026-03-01\n",
            'loans.csv line 2, borrower: "Q1BB" is not a member whom any file lists. '
            'Write "Q1BBB", or add the member to members.csv.',
        ),
    ],
)
def test_a_name_that_leads_nowhere_is_said_once(stem: str, text: str, said: str) -> None:
    assert [str(problem) for problem in loose_ends(club(**{stem: text}))] == [said]


@pytest.mark.parametrize(
    ("opens", "closes", "told"),
    [
        ("2027-04-25T14:00", "", ["opens"]),  # when the event ends
        ("2027-04-26T13:59", "2027-04-26T15:00", []),
        ("2027-04-26T14:00", "2027-04-26T15:00", ["opens"]),  # a day after its end
        ("2027-04-24T04:00", "2027-04-24T05:16", []),
        ("2027-04-24T04:00", "2027-04-24T05:15", ["closes"]),  # a day before it begins
    ],
)
def test_hours_are_of_another_day_from_a_day_apart_on(opens: str, closes: str, told: list[str]) -> None:
    posts = f"{WHOLE['posts']}River Run,Gate,relay\n".splitlines()
    hours = ["opens,closes", ",", ",", f"{opens},{closes}"]
    frames = club(posts="".join(f"{row},{ends}\n" for row, ends in zip(posts, hours, strict=True)))
    assert [problem.column for problem in loose_ends(frames)] == told


def test_one_row_can_have_several() -> None:
    frames = club(assignments="event,post,member,kit\nRiver Run,Peak,Q9ZZZ,Go Bag\n")
    assert [problem.column for problem in loose_ends(frames)] == ["post", "member"]


def test_the_file_that_was_sent_is_named() -> None:
    read = upload.read(
        "who goes where.csv", b"event,post,member,kit\nRiver Run,Peak,Q1AAA,Go Bag\n", "assignments"
    )
    assert read.frame is not None
    (problem,) = loose_ends({**club(), "assignments": read.frame})
    assert (problem.file, problem.line) == ("who goes where.csv", 2)


def test_members_are_known_by_their_inventory_where_no_list_was_sent() -> None:
    frames = club()
    del frames["members"]
    assert [(problem.column, problem.value) for problem in loose_ends(frames)] == [("member", "Q1CCC")]
