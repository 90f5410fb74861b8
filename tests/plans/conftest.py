"""Two kits and the market for them; a plan of the invented club."""

from __future__ import annotations

import pandas as pd
import pytest

from rules import engine
from rules.plans import purchases, staffing
from tests import small_club
from tests.conftest import RACE, TRAIL
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE, PACK

OFFERS = [
    {"offer": "20 Ah battery", "kind": "battery_lifepo4", "price_usd": 160.0, "dc_plug": "genderless_30", "capacity_ah": 20.0},
    {"offer": "50 Ah battery", "kind": "battery_lifepo4", "price_usd": 290.0, "dc_plug": "genderless_30", "capacity_ah": 50.0, "paid_by": "club", "available": 1},
    {"offer": "handheld", "kind": "handheld", "price_usd": 110.0},
    {"offer": "pack", "kind": "handheld_pack", "price_usd": 35.0},
    {"offer": "fuses", "kind": "fuse", "price_usd": 10.0, "paid_by": "club"},
    {"offer": "contacts", "kind": "connector_kit", "price_usd": 75.0, "paid_by": "club"},
]  # fmt: skip


@pytest.fixture(scope="session")
def two_kits() -> engine.Assessment:
    """Two kits that lack different things, one of them at a post."""
    foreign = MOBILE | {"dc_plug": "t_plug_male"}
    return small_club.assess(
        inventory=[
            *small_club.kit(
                "QA1BC", "Go box", MOBILE, BATTERY | {"capacity_ah": 6.0}, LEAD, FUSE, ANTENNA, COAX
            ),
            *small_club.kit("QB2CD", "Bag", HANDHELD, PACK, foreign, FUSE),
        ],
        events=[EVENT],
        posts=[{"event": "Ride", "post": "Ford", "post_type": "aid_station"}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Go box"}],
    )


@pytest.fixture(scope="session")
def offers() -> pd.DataFrame:
    return small_club.frame("offers", OFFERS)


@pytest.fixture(scope="session")
def market(two_kits: engine.Assessment, offers: pd.DataFrame) -> purchases.Market:
    return purchases.market(two_kits, offers)


@pytest.fixture(scope="session")
def all_bought(market: purchases.Market) -> purchases.Plan:
    """What is bought of it where there is money for all of it."""
    return purchases.plan(market.assessment, None, 2000, 10.0, market)


@pytest.fixture(scope="session")
def race_plan(assessment: engine.Assessment) -> staffing.Plan:
    """Who goes where at an event of the invented club."""
    return staffing.staff(assessment, RACE, seconds=300)


@pytest.fixture(scope="session")
def trail_plan(assessment: engine.Assessment) -> staffing.Plan:
    """The same at another of its events."""
    return staffing.staff(assessment, TRAIL, seconds=300)
