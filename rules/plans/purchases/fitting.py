"""What a way of equipping a kit changes: rows that are added, plugs that are exchanged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pandas as pd

from data import reference
from rules.engine import Assessment
from rules.plans import trials
from rules.plans.choosing import Uses
from rules.plans.offers import SHARED, Offer
from rules.plans.purchases.wanted import Wanted
from rules.plans.shares import Lacking
from rules.plans.trials import Changes, Key

STATION = "station"
STATION_ROLES = frozenset(
    (
        "radio",
        "source",
        "pack",
        "lead",
        "converter",
        "charger",
        "solar",
        "antenna",
        "coax",
        "rf_adapter",
        "computer",
    )
)
DATED = frozenset(("first_aid", "trauma_pack", "fire_extinguisher"))
"""Kinds that bear a last day (past_its_expiry): a new piece is good for the planning life of its kind."""
SLOTS = 64
"""More than there are blade-fuse ratings, or plugs of antennas; room for the new pieces of one offer in one kit."""


class Fitter:
    """Turns ways of equipping kits into changed rows."""

    def __init__(
        self, assessment: Assessment, offers: Sequence[Offer], wanted: Wanted, lacking: Lacking,
        rows: pd.DataFrame | None,
    ) -> None:  # fmt: skip
        self.offers = offers
        self.kit = assessment.table("kit").set_index("kit_id").assign(no=lambda kit: range(len(kit)))
        self.role = reference.kinds().set_index("kind")["role"].to_dict()
        asked = assessment.tuples("select item_id, kit_id, line from item")
        self.kit_of_item: dict[int, int] = {item_id: kit_id for item_id, kit_id, _ in asked}
        self.next_item = max((item_id for item_id, _, _ in asked), default=0) + 1
        self.next_line = max((line for _, _, line in asked), default=1) + 1
        if rows is None:
            rows = trials.filled([self._told(offer, assessment) for offer in offers])
        self.rows = rows
        self.adapters = lacking.adapters
        self.asking = {kit_id: kinds.get("connector_kit", set()) for kit_id, kinds in wanted.items()}
        self.contacts = {
            kit_id: [*sorted(asking), *sorted(set(lacking.contacts.get(kit_id, ())) - asking)]
            for kit_id, asking in self.asking.items()
        }
        self.plug_of = self._club_plugs(assessment)
        self.least_fuses = self._least_fuses(assessment)
        self.short_fuses = self._spare_fuses(assessment)
        self.ratings = sorted(
            {amps for short in self.short_fuses.values() for amps in short}
            | {amps for offer in offers if (amps := self._in_use(offer)) is not None}
        )

    @staticmethod
    def _told(offer: Offer, assessment: Assessment) -> dict[str, Any]:
        """A new piece: acquired, and charged or loaded where it can be, on the day of the review."""
        today = pd.Timestamp(assessment.today)
        is_store = offer.attributes.get("capacity_ah") is not None or offer.kind.startswith(
            ("battery", "handheld_pack")
        )
        kind = "rf_adapter" if offer.kind == "rf_adapter_kit" else offer.kind
        life = (
            pd.DateOffset(years=int(reference.kinds().set_index("kind")["life_years"][offer.kind]))
            if offer.kind in DATED
            else None
        )
        return {
            "line": 1, "file": "offers", "member": "OFFER", "kit": str(offer.number), "item": offer.offer, "kind": kind,
            "quantity": 1, "module": None, "spare": False, "condition": "ok", "acquired": today,
            "expires": today + life if life else None, "charged": today if is_store else None, "programmed": today, "owner": "club" if offer.paid_by == "club" else "member",
            "cost_usd": offer.price_usd, **offer.attributes,
        }  # fmt: skip

    def _club_plugs(self, assessment: Assessment) -> dict[int, str]:
        """Plug of the club's family that each item would get: the smallest that carries its current."""
        family = next(
            (
                rule.compared(assessment.policy)["club_family"]
                for rule in assessment.rules
                if "club_family" in rule.figures() and rule.remedy.get("kind") == "connector_kit"
            ),
            "genderless",
        )
        plugs = reference.table("connectors")
        plugs = plugs[plugs["family"] == family].sort_values("rating_a")
        current = dict(assessment.tuples("select item_id, greatest(amps_tx, amps_rated) from item"))
        rated = list(zip(plugs["plug"].tolist(), plugs["rating_a"].tolist(), strict=True))
        usual = rated[min(1, len(rated) - 1)][0]
        plug_of = {}
        for item_id in {one for items in self.contacts.values() for one in items}:
            amps = current[item_id]
            fit = [plug for plug, most in rated if amps is not None and most >= amps]
            plug_of[item_id] = usual if usual in fit or not fit else fit[0]
        return plug_of

    @staticmethod
    def _least_fuses(assessment: Assessment) -> int:
        """Spare pieces that a rule asks for of each fuse rating in use."""
        return next(
            (
                int(assessment.policy.value(rule.name, "least", rule.param["least"].value))
                for rule in assessment.rules
                if rule.remedy.get("kind") == "fuse" and "least" in rule.param
            ),
            0,
        )

    def _spare_fuses(self, assessment: Assessment) -> dict[int, dict[float, int]]:
        """Pieces that each kit lacks of each fuse rating in use."""
        rows = assessment.tuples(
            "select kit_id, amps_rated, $least - coalesce(sum(quantity) filter (is_spare), 0) as short from item "
            "where role = 'fuse' and is_usable and amps_rated is not null "
            "group by kit_id, amps_rated having short > 0 and not bool_and(is_spare) order by kit_id, amps_rated",
            {"least": self.least_fuses},
        )
        found: dict[int, dict[float, int]] = {}
        for kit_id, amps, short in rows:
            found.setdefault(kit_id, {})[amps] = int(short)
        return found

    def _in_use(self, offer: Offer) -> float | None:
        """The rating (A) of a fuse that comes with an offer and is in use from then on; None where none does."""
        if offer.kind == "fuse" or self.role[offer.kind] != "fuse":
            return None
        amps = self.rows["amps_rated"].iloc[offer.number]
        return None if pd.isna(amps) else float(amps)

    def with_spares(self, kit_id: int, uses: Uses) -> list[Uses]:
        """A way together with each offer of fuses that gives spares of the ratings that it brings into use in a kit.

        None where it brings no new one, or the kit lacks spares of those that it has as well.
        """
        new = {self._in_use(self.offers[number]) for number, _ in uses} - {None}
        if not new or not self.least_fuses or self.short_fuses.get(kit_id):
            return []
        return [
            (*uses, (offer.number, len(new) * self.least_fuses))
            for offer in self.offers
            if offer.kind == "fuse"
            and offer.available != 0
            and all(offer.attributes.get("amps_rated") in (None, amps) for amps in new)
        ]

    def kit_of(self, item_id: int) -> int:
        """The kit of an item that is there or would be new."""
        if item_id in self.kit_of_item:
            return self.kit_of_item[item_id]
        return int(self.kit.index[(item_id - self.next_item) // (len(self.offers) * SLOTS)])

    def offer_of(self, key: Key) -> int | None:
        """The number of the offer that a finding on a new item is about."""
        if key[1] != "item" or key[2] in self.kit_of_item:
            return None
        return (key[2] - self.next_item) // SLOTS % len(self.offers)

    def group_of(self, uses: Uses) -> str:
        """STATION for what plugs together and may change each other's worth; else the kind, as for the club's adapters."""
        kind = self.offers[uses[0][0]].kind
        if kind == "rf_adapter_kit":
            return kind
        return STATION if kind in SHARED or self.role[kind] in STATION_ROLES else kind

    def pieces(self, kit_id: int, offer: Offer) -> list[int]:
        """How many pieces of a shared offer are worth trying on a kit: those its own findings ask for, and all."""
        if offer.kind == "fuse":
            counts = {sum(self._fuses(kit_id, offer).values())}
        elif offer.kind == "connector_kit":
            counts = {len(self.asking.get(kit_id, ())), len(self.contacts.get(kit_id, ()))}
        else:
            counts = {len(self.adapters.get(kit_id, ()))}
        return sorted(counts - {0})

    def _fuses(self, kit_id: int, offer: Offer) -> dict[float, int]:
        rating = offer.attributes.get("amps_rated")
        short = self.short_fuses.get(kit_id, {})
        return {amps: number for amps, number in short.items() if rating in (None, amps)}

    def changes(self, numbered: Iterable[tuple[int, int, Uses]]) -> Changes:
        """The rows of trials (trial, kit_id, uses)."""
        added: list[dict[str, Any]] = []
        replugged: list[tuple[int, int, str]] = []
        for trial, kit_id, uses in numbered:
            new_fuses = {
                amps: self.least_fuses
                for number, _ in uses
                if (amps := self._in_use(self.offers[number])) is not None
            }
            for number, count in uses:
                offer = self.offers[number]
                if offer.kind == "connector_kit":
                    items = self.contacts[kit_id][:count]
                    replugged += [(trial, one, self.plug_of[one]) for one in items]
                else:
                    added += [
                        {"trial": trial, "kit_id": kit_id, "number": number, **new}
                        for new in self._new(kit_id, offer, count, new_fuses)
                    ]
        made = Changes()
        if replugged:
            made.replugged = pd.DataFrame(replugged, columns=["trial", "item_id", "dc_plug"])
        if added:
            made.added = self._added(pd.DataFrame(added))
        return made

    def _new(
        self, kit_id: int, offer: Offer, count: int, new_fuses: Mapping[float, int]
    ) -> list[dict[str, Any]]:
        """The new things of an offer in a kit, each with its slot and what it has of its own.

        `new_fuses`: spare pieces wanted of each rating that comes into use with what is bought beside it.
        """
        if offer.kind == "fuse":
            return [
                {
                    "slot": 1 + self.ratings.index(amps),
                    "quantity": pieces,
                    "is_spare": True,
                    "amps_rated": amps,
                }
                for amps, pieces in (self._fuses(kit_id, offer) or new_fuses).items()
            ]
        if offer.kind == "rf_adapter_kit":
            return [
                {"slot": 1 + place, "quantity": 1, "is_spare": False, "rf_plug": near, "rf_plug_far": far}
                for place, (near, far) in enumerate(self.adapters[kit_id][:count])
            ]
        return [{"slot": 0, "quantity": count, "is_spare": False}]

    def _added(self, picked: pd.DataFrame) -> pd.DataFrame:
        """Rows of the table item; a new thing has the same number in every trial of the kit and in the whole copy."""
        rows = self.rows.iloc[picked["number"].to_numpy()].reset_index(drop=True)
        for name in ("kit_id", "quantity", "is_spare"):
            rows[name] = picked[name]
        kit = self.kit.loc[picked["kit_id"]]
        rows["member_id"], rows["module"] = kit["member_id"].to_numpy(), kit["kit"].to_numpy()
        for name in {"amps_rated", "rf_plug", "rf_plug_far"} & set(picked.columns):
            rows[name] = picked[name].where(picked[name].notna(), rows[name])
        place = kit["no"].to_numpy() * len(self.offers) + picked["number"]
        slot = place * SLOTS + picked["slot"]
        rows["item_id"], rows["line"] = self.next_item + slot, self.next_line + slot
        rows.insert(0, "trial", picked["trial"])
        return rows
