"""What nobody told is asked about, and what somebody wrote of nothing is nothing: small clubs through the whole review."""

from __future__ import annotations

import pandas as pd
import pytest

from data import schema, upload
from tests import small_club

ASKED = (
    "little_room_from_the_antenna", "mast_reaches_the_power_line", "mast_unmarked_among_the_public",
    "no_alternate_channel", "no_complete_station", "no_shelter_from_lightning", "too_close_to_the_public",
)  # fmt: skip
KIT = (
    "member,kit,item,kind\nQA1BC,bag,set,mobile_vhf_uhf\nQA1BC,bag,antenna,jpole\nQA1BC,bag,cable,coax\n"
    "QA1BC,bag,pole,mast_fibreglass\n"
)


def answers(event: str, post: str = "", kit: str = KIT) -> dict[str, str]:
    """What the rules ASKED answer on a kit at the post of an event; of each the header and the cells after the name."""
    names, values = (event + "\n").split("\n")[:2]
    told = {
        "inventory": kit,
        "events": f"event,starts,ends{names}\nRide,2027-06-12T06:00,2027-06-12T18:00{values}\n",
        "posts": "event,post,post_type{}\nRide,Ford,aid_station{}\n".format(*(post + "\n").split("\n")[:2]),
        "assignments": "event,post,member,kit\nRide,Ford,QA1BC,bag\n",
    }
    return {found.rule: found.status for found in small_club.read(**told).answers(*ASKED)}


@pytest.mark.parametrize(
    ("public", "answer"), [(",yes", "not met"), (",", "not known"), (",no", None)], ids=["yes", "blank", "no"]
)
def test_whether_the_public_comes_is_asked_where_the_antenna_is_near(public: str, answer: str | None) -> None:
    found = answers(f",public\n{public}", ",public_m,mast_m\n,0.3,6")
    for rule in ("too_close_to_the_public", "mast_unmarked_among_the_public"):
        assert found.get(rule) == answer, rule
    assert "little_room_from_the_antenna" not in found, "said twice"
    assert answers(f",public\n{public}", ",public_m\n,2.5").get("little_room_from_the_antenna") == answer


def test_how_near_people_come_is_asked_where_it_may_block() -> None:
    found = answers(",public\n,yes", ",public_m\n,")
    assert (found["too_close_to_the_public"], "little_room_from_the_antenna" in found) == ("not known", False)
    assert "too_close_to_the_public" not in answers(",public\n,no", ",public_m\n,")


@pytest.mark.parametrize(
    ("mast", "answer"), [(",", "not known"), (",0", None), (",6", "not met")], ids=["blank", "0", "6"]
)
def test_of_a_mast_that_is_brought_the_power_line_is_asked(mast: str, answer: str | None) -> None:
    assert answers("", f",power_line_m,mast_m\n,4{mast}").get("mast_reaches_the_power_line") == answer


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("vest", "vest"), ("safety vest", "vest"), ("Reflective Vest", "vest"), ("hi-vis vest", "vest"),
        ("hi vis", "hi_vis"), ("class 2 vest", "hi_vis"), ("class 1 vest", "reflective_sash"),
    ],
)  # fmt: skip
def test_a_vest_is_of_class_2_only_where_its_kind_says_so(written: str, kind: str) -> None:
    read = upload.read("inventory.csv", f"member,kit,item,kind\nQA1BC,Bag,orange,{written}\n".encode())
    assert read.frame is not None and read.frame["kind"].tolist() == [kind]


def test_no_shelter_is_no_shelter_however_it_is_written_and_one_that_is_not_known_is_not_known() -> None:
    told = dict.fromkeys(("none", "No", " n/a ", "-", "..."), "not met") | {"school": "met"}
    told |= dict.fromkeys(("?", "TBD", "Unknown"), "not known")
    club = small_club.read(
        events="event,starts,ends,storms_possible,shelter\n"
        + "".join(f"Ride {at},2027-06-12T06:00,2027-06-12T18:00,yes,{said}\n" for at, said in enumerate(told))
        + "Walk,2027-06-12T06:00,2027-06-12T18:00,yes,school\n",
        posts="event,post,post_type,shelter\n"
        + "".join(
            f"Ride {at},Ford,aid_station,\nWalk,{at},aid_station,{said}\n" for at, said in enumerate(told)
        ),
    )
    found = {one.subject: one.status for one in club.answers("no_shelter_from_lightning")}
    assert found == {f"Walk/{at}": answer for at, answer in enumerate(told.values())} | {
        f"Ride {at}/Ford": "met" if said == "school" else "not met" for at, said in enumerate(told)
    }


def test_the_shelter_of_an_event_is_that_of_posts_that_are_reached_by_car() -> None:
    club = small_club.read(
        events="event,starts,ends,storms_possible,shelter\nRide,2027-06-12T06:00,2027-06-12T18:00,yes,school\n",
        posts="event,post,post_type,access,vehicle,shelter\nRide,Ford,aid_station,,,\nRide,Mill,aid_station,drive,,barn\n"
        "Ride,Hut,remote,,,\nRide,Hill,aid_station,carry,,\nRide,Lane,aid_station,walk,,\nRide,Top,relay,4x4,,\n"
        "Ride,Rover,shadow,,,\nRide,Car,remote,,yes,\nRide,Barn,remote,,,barn\n",
    )
    assert club.table("post").set_index("post")["shelter"].dropna().to_dict() == {
        "Ford": "school", "Mill": "barn", "Barn": "barn",
    }  # fmt: skip
    found = {one.subject: one.status for one in club.answers("no_shelter_from_lightning")}
    asked = {f"Ride/{post}": "not known" for post in ("Hut", "Hill", "Lane", "Top", "Rover")}
    assert found == asked | {f"Ride/{post}": "met" for post in ("Ford", "Mill", "Car", "Barn")}


@pytest.mark.parametrize(
    ("net", "backup", "answer"),
    [
        ("library", "library", "not met"),
        ("-", "-", "not known"),
        ("none", "library", "not known"),
        ("library", "school", "met"),
    ],
)
def test_a_place_that_is_not_named_is_no_place(net: str, backup: str, answer: str) -> None:
    posts = [
        {"event": "Ride", "post": "Net", "post_type": "net_control", "site": net},
        {"event": "Ride", "post": "Backup", "post_type": "backup_net_control", "site": backup},
    ]
    sent = [{"event": "Ride", "post": "Backup", "member": "QA1BC"}]
    club = small_club.assess(events=[small_club.EVENT], posts=posts, assignments=sent)
    assert [one.status for one in club.answers("no_backup_net_control")] == [answer]


def test_a_channel_that_there_is_not_is_none() -> None:
    told = ",channel,channel_alternate,channel_simplex\n,north,{},west"
    assert answers(told.format("none"))["no_alternate_channel"] == "not met"
    assert answers(told.format("south"))["no_alternate_channel"] == "met"


def test_where_the_number_of_batteries_is_asked_it_is_said_how_a_pair_in_series_is_written() -> None:
    """Two of 6 V and 100 Ah in one row stand side by side and fit no radio of 12 V; as one battery of 12 V they do."""
    assert "side by side" in schema.columns("inventory")["quantity"].description
    kit = (
        "member,kit,item,kind,quantity,volts_min,volts_max,capacity_ah,amps_rated,dc_plug,dc_plug_far\n"
        "QA1BC,bag,set,mobile_vhf_uhf,1,,,,,genderless_30,\nQA1BC,bag,batteries,battery_agm,{},30,genderless_30,\n"
        "QA1BC,bag,lead,dc_lead,1,,,,30,genderless_30,genderless_30\nQA1BC,bag,cable,coax,1,,,,,,\n"
        "QA1BC,bag,antenna,jpole,1,,,,,,\n"
    )
    found = [answers("", kit=kit.format(pair)) for pair in ("2,5.9,6.5,100", "1,11.8,13,100")]
    assert [one["no_complete_station"] for one in found] == ["not met", "met"]


@pytest.mark.parametrize(
    ("post_type", "access", "answer"),
    [
        ("aid_station", "drive", "not known"), ("sag", None, "not known"), ("mile_marker", "walk", "not known"),
        ("aid_station", "carry", None), ("aid_station", "4x4", None), ("net_control", "drive", None),
    ],
)  # fmt: skip
def test_traffic_is_asked_where_neither_the_post_type_nor_the_way_there_says_that_there_is_none(
    post_type: str, access: str | None, answer: str | None
) -> None:
    post = {"event": "Ride", "post": "Ford", "post_type": post_type, "access": access}
    sent = {"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}
    club = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", small_club.HANDHELD),
        events=[small_club.EVENT],
        posts=[post],
        assignments=[sent],
    )
    for rule in ("no_hi_vis_beside_traffic", "no_first_aid_beside_traffic"):
        assert [one.status for one in club.answers(rule)] == ([answer] if answer else []), rule


GOOD = '[post_type.{}]\nrf_grade = "good"\n'


@pytest.mark.parametrize("post_type", ["aid_station", "net_control", "relay"])
def test_coverage_is_asked_wherever_nobody_said_unless_the_club_says_it_of_the_sort_of_post(
    post_type: str,
) -> None:
    bag = small_club.kit("QA1BC", "Bag", small_club.HANDHELD, small_club.ANTENNA)
    post = {"event": "Ride", "post": "Ford", "post_type": post_type}
    sent = {"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}
    for policy, answer in (("", ["not known"]), (GOOD.format(post_type), [])):
        club = small_club.assess(
            policy, inventory=bag, events=[small_club.EVENT], posts=[post], assignments=[sent]
        )
        assert [one.status for one in club.answers("no_way_out_of_a_poor_place")] == answer


SOUND = {
    "the evening before": ({}, {"from": "2027-04-24 08:00", "to": "2027-04-24 12:00"}),
    "as usual": ({}, {}),
}
CANNOT_BE: dict[str, tuple[dict[str, str], dict[str, str], tuple[int, int], str, str]] = {
    "late": ({}, {"from": "2027-04-25 15:00"}, (1, 0), "its hours are not those of Ford", ""),
    "early": ({}, {"to": "2027-04-25 05:00"}, (1, 0), "its hours are not those of Ford", ""),
    "opens late": ({"opens": "2027-04-25 16:00"}, {}, (0, 0), "no post Ford at opens late", "its hours are not those of opens late"),
    "elsewhere": ({"event": "Rid"}, {}, (0, 0), "no post Ford at elsewhere", "no event Rid"),
    "a month before": (
        {"opens": "2027-03-25 06:00", "closes": "2027-03-25 12:00"}, {}, (0, 0),
        "no post Ford at a month before", "its hours are not those of a month before",
    ),
    "another kit": ({}, {"kit": "Bog"}, (1, 1), "no kit Bog of QA1BC", ""),
}  # fmt: skip
"""By event: what differs of its post, and of whoever is sent; whether the post, and the assignment, count; what is said of each."""


def of_one_bag(rows: dict[str, tuple[dict[str, str], dict[str, str]]]) -> small_club.Club:
    """Events with a post each, to which the same bag is sent."""
    hours = ("opens", "closes", "from", "to")

    def timed(row: dict[str, str]) -> dict[str, object]:
        return {name: pd.Timestamp(value) if name in hours else value for name, value in row.items()}

    return small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", small_club.MOBILE),
        events=[small_club.EVENT | {"event": event, "lat": 44.1, "lon": -71.6, "utc_offset_h": -5.0} for event in rows],
        posts=[{"event": event, "post": "Ford", "post_type": "remote"} | timed(post) for event, (post, _) in rows.items()],
        assignments=[
            {"event": event, "post": "Ford", "member": "QA1BC", "kit": "Bag"} | timed(sent) for event, (_, sent) in rows.items()
        ],
    )  # fmt: skip


def test_a_row_whose_hours_or_names_cannot_be_counts_for_nothing_and_is_said() -> None:
    club = of_one_bag(SOUND | {event: (post, sent) for event, (post, sent, *_) in CANNOT_BE.items()})
    assert len(club.scores()), "and the rest is judged"
    counted = dict.fromkeys(SOUND, (1, 1)) | {
        event: counts for event, (_, _, counts, *_) in CANNOT_BE.items()
    }
    posts = club.table("post")
    sent = posts.merge(club.table("assignment"), on="post_id")
    assert {
        event: (sum(posts["event"] == event), sum(sent["event"] == event)) for event in counted
    } == counted
    assert (len(posts), len(sent)) == tuple(map(sum, zip(*counted.values(), strict=True)))
    (found,) = club.answers("rows_that_count_for_nothing")
    said = [
        f"{stem}.csv line {line}: {words}"
        for at, stem in enumerate(("assignments", "posts"))
        for line, (*_, of_sent, of_post) in enumerate(CANNOT_BE.values(), 2 + len(SOUND))
        if (words := (of_sent, of_post)[at])
    ]
    strays = club.rows("select concat(file, ' line ', line, ': ', why) from stray order by file, line, why")
    assert [text for (text,) in strays] == said
    assert found.status == "not met" and found.evidence["left_out"] == "; ".join([*said[:5], "…"])


def test_of_rows_that_can_be_nothing_is_said() -> None:
    (found,) = of_one_bag(SOUND).answers("rows_that_count_for_nothing")
    assert found.status == "met" and not found.evidence.get("left_out")
