"""A way out of a place with poor coverage: an HF radio that is no station calls nobody, nor does a relay that nobody runs."""

from typing import Any

import pytest

from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, LEAD, MOBILE

MAIN = (MOBILE, BATTERY | {"amps_rated": 40.0}, LEAD | {"amps_rated": 30.0}, FUSE, COAX, ANTENNA)
HF_RADIO = {
    "kind": "hf_100w",
    "dc_plug": "genderless_30",
    "rf_plug": "so239",
    "amps_tx": 22.0,
    "bands": "40m 80m 6m",
}
DIPOLE = {"kind": "dipole", "rf_plug": "so239", "bands": "80m 40m"}
HF_COAX = COAX | {"item": "HF coax"}


def way_out(*things: dict[str, Any], relay: str = "", bands: str | None = "2m 70cm") -> str:
    """The answer on a kit at a post with poor coverage; at the relay post stands another person, with a kit or without."""
    posts = [{"event": "Ride", "post": "Ford", "rf_grade": "poor", "bands": "2m"}]
    sent = [{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}]
    if relay:
        posts.append({"event": "Ride", "post": "Hill", "post_type": "relay", "bands": bands})
        sent.append(
            {"event": "Ride", "post": "Hill", "member": "QB2CD"} | ({"kit": "Node"} if relay == "kit" else {})
        )
    club = small_club.assess(
        inventory=[*small_club.kit("QA1BC", "Bag", *things), *small_club.kit("QB2CD", "Node", *MAIN)],
        events=[EVENT],
        posts=posts,
        assignments=sent,
    )
    (answer,) = {one.status for one in club.answers("no_way_out_of_a_poor_place") if one.post == "Ford"}
    return answer


@pytest.mark.parametrize(
    ("added", "answer"),
    [
        ((HF_RADIO,), "not met"),
        ((HF_RADIO, ANTENNA | {"item": "another", "bands": "6m"}, HF_COAX), "not met"),
        ((HF_RADIO, DIPOLE, HF_COAX), "met"),
        ((HF_RADIO, DIPOLE | {"bands": "6m"}, HF_COAX), "not met"),
    ],
    ids=["no antenna", "antenna for VHF", "whole", "dipole for 6 m"],
)
def test_an_hf_radio_is_a_way_out_on_a_whole_station(added: tuple[dict[str, Any], ...], answer: str) -> None:
    assert way_out(*MAIN, *added) == answer


def test_a_relay_is_a_way_out_where_somebody_brings_a_kit_to_it() -> None:
    assert way_out(*MAIN, relay="kit") == "met"
    assert way_out(*MAIN, relay="kit", bands="70cm") == "not met"
    assert way_out(*MAIN, relay="kit", bands=None) == "not known"
    assert way_out(*MAIN, relay="person") == "not met"
    assert way_out(*MAIN) == "not met"


HELD = (small_club.HANDHELD, small_club.PACK, {"kind": "whip"})
PIGTAIL = {"kind": "rf_pigtail"}
MOUNT = {"kind": "mag_mount", "bands": "2m 70cm"}
CLIPS = {"kind": "clip_lead", "dc_plug": "clips", "dc_plug_far": "genderless_30"}
AT_THE_EDGE: dict[str, tuple[tuple[dict[str, Any], ...], str, str, str]] = {
    "mobile": ((*MAIN, MOUNT), "met", "met", "met"),
    "HF set": ((*HELD, HF_RADIO, DIPOLE, HF_COAX, BATTERY, LEAD, FUSE), "not met", "not met", "not met"),
    "unfed mobile": ((*HELD, MOBILE, MOUNT), "not met", "not met", "not met"),
    "mobile on the vehicle": ((*HELD, MOBILE, MOUNT, CLIPS), "not met", "not met", "met"),
    "J-pole on a pigtail": ((*HELD, PIGTAIL, COAX, ANTENNA), "not met", "met", "not met"),
    "J-pole that nothing joins": ((*HELD, ANTENNA), "not met", "not met", "not met"),
}
"""By kit: its things, and the answers at a post on 2 m with marginal coverage that a car reaches, at one on foot, and in a SAG vehicle."""


def test_at_the_edge_of_coverage_an_antenna_counts_that_joins_a_station_on_the_band() -> None:
    posts = {"Ford": "aid_station", "Path": "shadow", "Car": "sag"}
    club = small_club.assess(
        inventory=[
            row for kit, (things, *_) in AT_THE_EDGE.items() for row in small_club.kit("QA1BC", kit, *things)
        ],
        events=[EVENT],
        posts=[
            {"event": "Ride", "post": post, "post_type": sort, "rf_grade": "marginal", "bands": "2m"}
            for post, sort in posts.items()
        ],
        assignments=[
            {"event": "Ride", "post": post, "member": "QA1BC", "kit": kit}
            for post in posts
            for kit in AT_THE_EDGE
        ],
    )
    weak, mobile = "antenna_weak_for_the_place", "vehicle_post_without_a_mobile"
    found = {(one.rule, one.post, one.kit): one.status for one in club.answers(weak, mobile)}
    assert {
        kit: [found[(*at, kit)] for at in ((weak, "Ford"), (weak, "Path"), (mobile, "Car"))]
        for kit in AT_THE_EDGE
    } == {kit: answers for kit, (_, *answers) in AT_THE_EDGE.items()}
