"""What things cost, as told or as estimated, and what wears out."""

from __future__ import annotations

import pandas as pd
import pytest

from data import reference
from rules.plans import replacements
from rules.plans.offers import asked, price_book, prices
from rules.rule import load_rules
from tests import small_club
from tests.plans.conftest import OFFERS
from tests.small_club import HANDHELD, PACK


def test_planning_prices_are_estimates_within_the_range_of_the_kind() -> None:
    kinds = reference.kinds().set_index("kind")
    prices = reference.table("prices").set_index("kind")
    assert set(prices["basis"]) == {"estimate"}
    assert (prices["price_usd"] >= kinds["price_low_usd"].loc[prices.index]).all()
    assert (prices["price_usd"] <= kinds["price_high_usd"].loc[prices.index]).all()
    assert (prices["pieces"] >= 1).all()


def test_every_remedy_has_a_price() -> None:
    kinds = {rule.remedy["kind"] for rule in load_rules() if "kind" in rule.remedy}
    assert kinds - {"item_kind"} <= set(reference.table("prices")["kind"])


def test_an_offer_goes_before_the_planning_price(offers: pd.DataFrame) -> None:
    book = price_book(offers, ["handheld", "whip"])
    assert [(o.offer, o.is_estimate) for o in book if o.kind == "handheld"] == [("handheld", False)]
    assert [(o.price_usd, o.is_estimate) for o in book if o.kind == "whip"] == [(25.0, True)]
    assert [o.number for o in book] == list(range(len(book)))


def test_what_wears_out_and_what_has_no_date() -> None:
    life = float(reference.kinds().set_index("kind").loc["handheld_pack", "life_years"])
    bought = pd.Timestamp("2024-06-01")
    club_ = small_club.assess(
        inventory=small_club.kit(
            "QA1BC", "Bag", PACK | {"acquired": bought, "quantity": 2}, PACK | {"item": "new", "acquired": pd.Timestamp("2027-02-01")},
            HANDHELD | {"cost_usd": 200.0}, PACK | {"item": "old", "acquired": pd.Timestamp("2010-01-01")},
            PACK | {"item": "gone", "condition": "removed", "acquired": bought},
        ),
        offers=OFFERS,
    )  # fmt: skip
    found = replacements.replacements(club_).set_index("item")
    assert set(found.index) == {"handheld_pack", "handheld", "old"}
    assert found.loc["handheld_pack", "due"] == (bought + pd.Timedelta(days=life * 365.25)).normalize()
    assert (
        found.loc["handheld_pack", "cost_usd"] == 70 and found.loc["handheld_pack", "price_from"] == "offer"
    )
    assert found.loc["old", "year"] == 2027
    assert found.loc["old", ["low_usd", "high_usd"]].tolist() == [35, 35], "an offer is no range"
    assert pd.isna(found.loc["handheld", "due"]) and pd.isna(found.loc["handheld", "year"])
    assert found.loc["handheld", "price_usd"] == 200 and found.loc["handheld", "price_from"] == "told"
    assert "new" in set(replacements.replacements(club_, years=6)["item"])
    alone = small_club.assess(
        inventory=small_club.kit(
            "QA1BC", "Bag", PACK | {"acquired": pd.Timestamp("2010-01-01"), "quantity": 2}
        )
    )
    usual = reference.kinds().set_index("kind").loc["handheld_pack"]
    (one,) = replacements.replacements(alone).to_dict("records")
    assert (one["low_usd"], one["high_usd"]) == (2 * usual["price_low_usd"], 2 * usual["price_high_usd"])
    assert one["low_usd"] < one["cost_usd"] < one["high_usd"] and one["price_from"] == "estimate"
    told = next(f for f in club_.findings() if f.rule == "replacement_not_foreseen")
    assert told.evidence["due_usd"] == found.loc[found["year"].notna(), "cost_usd"].sum()


BATTERIES = [
    {"offer": "6 Ah", "kind": "battery_lifepo4", "price_usd": 75.0, "capacity_ah": 6.0, "amps_rated": 6.0, "chemistry": "lifepo4"},
    {"offer": "20 Ah", "kind": "battery_lifepo4", "price_usd": 160.0, "capacity_ah": 20.0, "amps_rated": 20.0, "chemistry": "lifepo4"},
    {"offer": "100 Ah", "kind": "battery_lifepo4", "price_usd": 900.0, "capacity_ah": 100.0, "amps_rated": 100.0,
     "chemistry": "lifepo4", "available": 0},
]  # fmt: skip


@pytest.mark.parametrize(
    ("wanted", "pick"),
    [
        ({}, ("6 Ah", 1)),
        ({"capacity_wh": 60.0}, ("6 Ah", 1)),
        ({"capacity_wh": 100.0}, ("6 Ah", 2)),
        ({"capacity_wh": 200.0}, ("20 Ah", 1)),
        ({"capacity_wh": 900.0}, ("20 Ah", 4)),
        ({"capacity_wh": 2000.0}, None),
        ({"amps_rated": 15.0}, ("20 Ah", 1)),
        ({"amps_rated": 40.0}, None),
    ],
)
def test_the_cheapest_that_is_large_enough_is_named_or_several_of_it(wanted, pick) -> None:
    club_ = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", HANDHELD), offers=BATTERIES)
    found = prices(club_)["battery_lifepo4"].enough(wanted)
    assert (found and (found[0].offer, found[1])) == pick


def test_how_large_a_thing_must_be_is_what_the_evidence_says() -> None:
    rules = {rule.name: rule for rule in load_rules()}
    assert asked(rules["runs_out_before_the_shift_ends"], {"short_wh": 120.0}) == {"capacity_wh": 120.0}
    assert asked(rules["runs_out_before_the_shift_ends"], {"short_wh": None}) == {}
    assert asked(rules["weaker_than_the_peak"], {"peak_a": 20.0, "item_kind": "dc_lead"}) == {
        "amps_rated": 20.0
    }
    assert asked(rules["no_multimeter"], {}) == {}


def test_what_wears_out_again_within_the_years_falls_due_again() -> None:
    bought = pd.Timestamp("2027-01-01")
    club_ = small_club.assess(
        inventory=small_club.kit(
            "QA1BC", "Bag", {"kind": "channel_list", "acquired": bought}, {"kind": "clipboard", "cost_usd": 5.0},
            PACK | {"item": "old", "acquired": pd.Timestamp("2010-01-01"), "cost_usd": 30.0, "quantity": 2},
        )
    )  # fmt: skip
    found = replacements.replacements(club_)
    assert reference.kinds().set_index("kind").loc["channel_list", "life_years"] == 1
    lists = found[found["item"] == "channel_list"]
    assert lists["due"].tolist() == [bought + pd.Timedelta(days=365 * times) for times in (1, 2, 3)]
    assert lists["year"].tolist() == [2028, 2028, 2029] and lists["cost_usd"].nunique() == 1
    (old,) = found[found["item"] == "old"].to_dict("records")
    assert old["due"].year < 2027 and old["year"] == 2027 and old["cost_usd"] == 60
    told = next(f for f in club_.findings() if f.rule == "replacement_not_foreseen")
    assert told.evidence["due_usd"] == found.loc[found["year"].notna(), "cost_usd"].sum()
