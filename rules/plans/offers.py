"""What things cost, for asks, sheets and plans alike: usual prices, and the price book.

The price book is what the club offers, and a planning price for what it does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from data import reference, schema
from rules.engine import Assessment
from rules.rule import Rule

SHARED = ("connector_kit", "fuse", "rf_adapter_kit")
"""Kinds of which a kit needs some pieces, not the whole assortment."""
ATTRIBUTES = frozenset(schema.Attributes.to_schema().columns) - {"line", "file"}


@dataclass(frozen=True)
class Offer:
    """One line of the price book; `pieces` are what one purchase gives to share out."""

    number: int
    offer: str
    kind: str
    price_usd: float
    available: int | None
    paid_by: str
    pieces: int
    is_estimate: bool
    attributes: Mapping[str, Any] = field(repr=False, hash=False, compare=False, default_factory=dict)

    @property
    def is_shared(self) -> bool:
        """Whether kits take pieces of it."""
        return self.kind in SHARED


def price_book(told: pd.DataFrame | None, kinds: Iterable[str]) -> tuple[Offer, ...]:
    """The club's offers, and for each of these kinds that none offers the planning price.

    Who pays is the member unless the offer says otherwise; planning prices of what is shared are the club's.
    """
    planning = reference.table("prices").set_index("kind")
    prices = {str(kind): float(price) for kind, price in planning["price_usd"].items()}
    pieces = {str(kind): int(number) for kind, number in planning["pieces"].items()}
    found: list[Offer] = []
    for row in [] if told is None else told.to_dict("records"):
        kind = str(row["kind"])
        available = None if pd.isna(row["available"]) else int(row["available"])
        paid_by = "member" if pd.isna(row["paid_by"]) else str(row["paid_by"])
        own = {str(name): row[name] for name in row if name in ATTRIBUTES and not pd.isna(row[name])}
        found.append(
            Offer(
                len(found), str(row["offer"]), kind, float(row["price_usd"]), available, paid_by,
                pieces.get(kind, 1) if kind in SHARED else 1, False, own,
            )
        )  # fmt: skip
    offered = {offer.kind for offer in found}
    labels = reference.kinds().set_index("kind")["label"]
    for kind in sorted((set(kinds) & prices.keys()) - offered):
        paid_by = "club" if kind in SHARED else "member"
        found.append(
            Offer(len(found), str(labels[kind]), kind, prices[kind], None, paid_by, pieces[kind], True)
        )
    return tuple(found)


@dataclass(frozen=True)
class Price:
    """What a thing of a kind costs: the usual range (USD), and the cheapest that a plan can take, told or estimated."""

    low_usd: float
    high_usd: float
    cheapest: Offer | None


def prices(assessment: Assessment) -> dict[str, Price]:
    """What a thing of each kind costs that has a usual price."""
    usual = reference.kinds().dropna(subset=["price_low_usd", "price_high_usd"])
    cheapest: dict[str, Offer] = {}
    for offer in price_book(assessment.table("offer"), usual["kind"]):
        if offer.available != 0 and (
            offer.kind not in cheapest or offer.price_usd < cheapest[offer.kind].price_usd
        ):
            cheapest[offer.kind] = offer
    rows = zip(usual["kind"], usual["price_low_usd"], usual["price_high_usd"], strict=True)
    return {str(kind): Price(float(low), float(high), cheapest.get(str(kind))) for kind, low, high in rows}


def remedy(rule: Rule, evidence: Mapping[str, Any]) -> str | None:
    """The kind of thing that mends a finding of a rule: named by it, or by the evidence under the name it gives."""
    named = rule.remedy.get("kind")
    return None if named is None else str(evidence.get(named) or named)
