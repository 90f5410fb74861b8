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
