"""What things cost, for asks, sheets and plans alike: usual prices, and the price book.

The price book is what the club offers, and a planning price for what it does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import ceil
from typing import Any

import pandas as pd

from data import reference, schema
from rules.engine import Assessment
from rules.rule import Rule

SHARED = ("connector_kit", "fuse", "rf_adapter_kit")
"""Kinds of which a kit needs some pieces, not the whole assortment."""
SIZES = ("capacity_wh", "amps_rated", "rf_watts")
"""What a remedy may ask of a thing beside its kind, each by a word of evidence; Wh of several pieces add up."""
MOST_PIECES = 4
"""Of one offer that are named together; who needs more needs another battery."""
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
    """What a thing of a kind costs: the usual range (USD), and what a plan can take, told or estimated, cheapest first.

    `sizes` are the SIZES of each offer, as told or as usual for the kind, energy as its chemistry gives it out; NaN
    where there is none.
    """

    low_usd: float
    high_usd: float
    offers: tuple[Offer, ...] = ()
    sizes: tuple[Mapping[str, float], ...] = field(default=(), repr=False)

    @property
    def cheapest(self) -> Offer | None:
        """The cheapest, however small."""
        return self.offers[0] if self.offers else None

    def enough(self, asked: Mapping[str, float]) -> tuple[Offer, int] | None:
        """The cheapest that is as large as asked (of SIZES), and how many pieces of it; None where none is."""
        found = [
            (offer, pieces)
            for offer, sizes in zip(self.offers, self.sizes, strict=True)
            if (pieces := _pieces(sizes, asked))
            and pieces <= min(MOST_PIECES, offer.available or MOST_PIECES)
        ]
        return min(found, key=lambda pick: (pick[0].price_usd * pick[1], pick[1]), default=None)


def _pieces(sizes: Mapping[str, float], asked: Mapping[str, float]) -> int:
    """How many pieces of a thing are as large as asked; 0 where no number of them is, or nobody knows."""
    if any(not sizes[size] >= least for size, least in asked.items() if size != "capacity_wh"):
        return 0
    short_wh = asked.get("capacity_wh", 0.0)
    if short_wh <= 0:
        return 1
    return ceil(short_wh / sizes["capacity_wh"]) if sizes["capacity_wh"] > 0 else 0


def prices(assessment: Assessment) -> dict[str, Price]:
    """What a thing of each kind costs that has a usual price."""
    usual = reference.kinds().dropna(subset=["price_low_usd", "price_high_usd"])
    of_kind = usual.set_index("kind").to_dict("index")
    chemistry = assessment.table("chemistry")
    share = {str(name): float(usable) for name, usable in chemistry[["chemistry", "usable_share"]].to_numpy()}
    book: dict[str, list[Offer]] = {}
    for offer in sorted(
        price_book(assessment.table("offer"), usual["kind"]), key=lambda offer: offer.price_usd
    ):
        if offer.available != 0:
            book.setdefault(offer.kind, []).append(offer)
    return {
        str(kind): Price(
            float(row["price_low_usd"]), float(row["price_high_usd"]), tuple(offers := book.get(str(kind), [])),
            tuple(_sizes({str(name): told for name, told in row.items()} | {**offer.attributes}, share) for offer in offers),
        )
        for kind, row in of_kind.items()
    }  # fmt: skip


def _sizes(thing: Mapping[str, Any], share: Mapping[str, float]) -> dict[str, float]:
    """The SIZES of a thing."""
    wh = thing["capacity_ah"] * (thing["volts_min"] + thing["volts_max"]) / 2
    return {
        "capacity_wh": float(wh) * share.get(thing["chemistry"], 1.0),
        **{size: float(thing[size]) for size in SIZES if size != "capacity_wh"},
    }


def asked(rule: Rule, evidence: Mapping[str, Any]) -> dict[str, float]:
    """How large a thing must be that mends a finding of a rule, as far as its evidence says so."""
    named = {size: evidence.get(rule.remedy.get(size, "")) for size in SIZES}
    return {size: float(least) for size, least in named.items() if least is not None}


def remedy(rule: Rule, evidence: Mapping[str, Any]) -> str | None:
    """The kind of thing that mends a finding of a rule: named by it, or by the evidence under the name it gives.

    Where the kind hangs on what is found (a pack for a handheld, a battery for what else), the evidence says it
    under `mending_kind`.
    """
    named = rule.remedy.get("kind")
    return None if named is None else str(evidence.get("mending_kind") or evidence.get(named) or named)
