"""The plan of purchases: what to buy for whom, what each line closes and opens, and readiness against money."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from rules.engine import Assessment
from rules.plans.choosing import Chosen, Way
from rules.plans.offers import Offer
from rules.plans.purchases.settling import Applied, settle_many, settle_one
from rules.plans.purchases.trying import BATTERY, HOLDER, Market, is_ready, market
from rules.plans.shares import NONE
from rules.plans.tables import frame_csv
from rules.plans.trials import Answers, Key

BLOCKS = "blocks"
BESIDE = ("fuse", HOLDER)
"""Kinds that may be bought for the battery, or the holder, that comes into use beside them."""


@dataclass(frozen=True)
class Line:
    """One line of the buy list. `for_whom` is the kit, or for what is shared every kit with its pieces."""

    offer: str
    kind: str
    units: int
    for_whom: str
    paid_by: str
    price_usd: float
    cost_usd: float
    is_estimate: bool
    closes: tuple[str, ...]
    opens: tuple[str, ...]
    posts: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """What to buy, what it was promised to close and what the rules say once it is applied.

    is_proven : no pick of the ways tried closes more; else `bound` says how much more there may be at most.
    promised, judged : weighted gap closed; gap : the weighted gap before.
    untold : findings that block, asked anew, of which nobody knows whether they are met with it bought.
    """

    budget_usd: float
    spent_usd: float
    member_usd: float
    club_usd: float
    gap: float
    promised: float
    judged: float
    bound: float
    is_proven: bool
    ways_tried: int
    lines: tuple[Line, ...]
    closed: tuple[str, ...]
    opened: tuple[str, ...]
    untold: tuple[str, ...]
    kits_ready: tuple[str, ...]
    posts_opened: tuple[str, ...]
    posts_before: int
    posts_after: int
    ways: tuple[Way, ...] = field(repr=False, default=())


def plan(
    assessment: Assessment, offers: pd.DataFrame | None, budget_usd: float, seconds: float = 10.0,
    of: Market | None = None,
) -> Plan:  # fmt: skip
    """What to buy within a budget (USD), whoever pays; promised figures are those judged on a copy of the whole club.

    Parameters
    ----------
    offers
        The told frame of offers.csv, or None for planning prices alone.
    seconds
        Time for choosing and judging; after that the best plan so far with its bound.
    of
        The market of this club, where it is at hand already.

    Raises
    ------
    ValueError
        The budget is not a number of at least 0.
    """
    if not 0 <= budget_usd < np.inf:
        raise ValueError(f"budget: {budget_usd:g} is not an amount of money. Write USD, for example 1500.")
    of = of or market(assessment, offers)
    return _told(of, budget_usd, *settle_one(of, budget_usd, seconds))


def _told(of: Market, budget_usd: float, chosen: Chosen, applied: Applied) -> Plan:
    """The plan in words."""
    lines = _lines(of, chosen.ways, applied)
    kits, post_names = of.names("kit"), of.names("post")
    paid = {
        who: to_the_cent(line.cost_usd for line in lines if line.paid_by == who) for who in ("member", "club")
    }
    return Plan(
        budget_usd=budget_usd, spent_usd=to_the_cent(paid.values()), member_usd=paid["member"], club_usd=paid["club"],
        gap=of.gap, promised=chosen.promised, judged=of.gap_of(applied.closes) - of.gap_of(applied.opens),
        bound=chosen.bound, is_proven=chosen.is_proven, ways_tried=of.ways_tried, lines=lines,
        closed=of.spoken(applied.closes), opened=of.spoken(applied.opens),
        untold=of.spoken(untold(of, applied.after)),
        kits_ready=tuple(sorted(kits[a] for kind, a in applied.risen if kind == "kit")),
        posts_opened=tuple(sorted(post_names[a] for kind, a in applied.risen if kind == "post")),
        posts_before=_posts_ready(of.before), posts_after=_posts_ready(applied.after),
        ways=chosen.ways,
    )  # fmt: skip


def untold(of: Market, after: Answers) -> list[Key]:
    """What blocks, and is asked anew with things added, of which nobody knows whether it is met."""
    new = after.keys() - after.not_met() - of.before.keys()
    return [key for key in new if of.assessment.rules[key[0]].severity == BLOCKS and of.counts(key)]


def _posts_ready(answers: Answers) -> int:
    posts = answers.verdicts[answers.verdicts["subject_kind"] == "post"]
    return sum(map(is_ready, posts["verdict"]))


# --- lines ---


class _Part(NamedTuple):
    """What one kit gets of one offer, and what that brings."""

    kit_id: int
    number: int
    pieces: int
    closes: frozenset[Key]
    opens: frozenset[Key]
    posts: frozenset[int]


def _lines(of: Market, ways: Sequence[Way], applied: Applied) -> tuple[Line, ...]:
    """The buy list: one line per kit and offer, and one per assortment for all who share it."""
    kits, posts = of.names("kit"), of.names("post")
    lines, shared = [], dict[int, list[_Part]]()
    for part in _with_joint_posts(of, _parts(of, ways, applied), applied):
        offer = of.offers[part.number]
        if offer.is_shared:
            shared.setdefault(part.number, []).append(part)
        else:
            lines.append(
                _line(
                    of,
                    offer,
                    part.pieces,
                    kits[part.kit_id],
                    part.closes,
                    part.opens,
                    map(posts.get, part.posts),
                )
            )
    for number, parts in sorted(shared.items()):
        offer = of.offers[number]
        taken = sum(part.pieces for part in parts)
        units = whole_units(offer, taken)
        pieces = ", ".join(f"{kits[part.kit_id]} {part.pieces}" for part in parts)
        left = units * offer.pieces - taken
        whom = f"shared, pieces for: {pieces}" + (f"; {left} left for the pool" if left else "")
        closes = frozenset().union(*(part.closes for part in parts))
        opens = frozenset().union(*(part.opens for part in parts))
        here = {posts[a] for part in parts for a in part.posts}
        lines.append(_line(of, offer, units, whom, closes, opens, here))
    return tuple(lines)


def whole_units(offer: Offer, pieces: int) -> int:
    """How many of a shared offer give so many pieces."""
    return -(-pieces // offer.pieces)


def _parts(of: Market, ways: Sequence[Way], applied: Applied) -> list[_Part]:
    """What each kit gets of each offer, in the order of kits; of what closes the club's share every part that helps."""
    alone = {(way.kit_id, way.uses): way.closes for way in of.ways if len(way.uses) == 1}
    helped = {share.rule_no: share for share in of.shares if share.key in applied.closes}
    kits = of.names("kit")
    found = []
    for way in sorted(ways, key=lambda way: kits[way.kit_id]):
        singly = [alone.get((way.kit_id, (use,)), frozenset()) for use in way.uses]
        joint = way.closes - frozenset().union(*singly)
        for_club = {
            helped[rule_no].key
            for rule_no, more in way.plugs
            if rule_no in helped and helped[rule_no].surely(more) > helped[rule_no].surely(NONE)
        }
        fused = joint.union(
            *(
                one
                for (number, _), one in zip(way.uses, singly, strict=True)
                if of.offers[number].kind.startswith((BATTERY, HOLDER))
            )
        )
        for (number, count), single in zip(way.uses, singly, strict=True):
            is_beside = of.offers[number].kind in BESIDE and not single
            closes = ((fused if is_beside else single | joint) & way.closes) & applied.closes
            opens = frozenset(
                key for key in way.opens & applied.opens if of.fitter.offer_of(key) in (None, number)
            )
            mine = for_club if of.offers[number].is_shared or len(way.uses) == 1 else set()
            posts = frozenset(post for post in way.posts if ("post", post) in applied.risen)
            found.append(_Part(way.kit_id, number, count, closes | mine, opens, posts))
    return found


def _with_joint_posts(of: Market, parts: Sequence[_Part], applied: Applied) -> list[_Part]:
    """The parts; a post that only several of them open together is told with each that closes what blocks there."""
    told = {post for part in parts for post in part.posts}
    left = {number for kind, number in applied.risen if kind == "post"} - told
    found = []
    for part in parts:
        blockers = [key for key in part.closes if of.assessment.rules[key[0]].severity == BLOCKS]
        here = {
            post
            for post in left & of.posts_of.get(part.kit_id, set())
            if any(key[1] in ("item", "kit") or key[2] == post for key in blockers)
        }
        found.append(part._replace(posts=part.posts | here))
    return found


def _line(
    of: Market,
    offer: Offer,
    units: int,
    whom: str,
    closes: Iterable[Key],
    opens: Iterable[Key],
    posts: Iterable[Any],
) -> Line:
    return Line(
        offer.offer, offer.kind, units, whom, offer.paid_by, offer.price_usd, to_the_cent([units * offer.price_usd]), offer.is_estimate,
        of.spoken(closes), of.spoken(opens), tuple(sorted(posts)),
    )  # fmt: skip


# --- other budgets, export ---


def frontier(of: Market, budgets: Iterable[float], seconds: float = 10.0) -> pd.DataFrame:
    """Readiness against money: the best pick for each budget (USD), within `seconds` in all.

    All picks are judged together, each on copies of the kits that it changes and of all whom they meet. Where a larger
    budget was judged to close less than a smaller one, which happens only without proof, the smaller one's pick stands.

    Returns
    -------
    DataFrame
        budget_usd, spent_usd, gap_closed (weight, as judged), gap_share, kits_ready and posts_opened (that were not
        ready and are), is_proven, bound.
    """
    told = sorted(set(budgets))
    rows: list[dict[str, Any]] = []
    for budget, (chosen, effect) in zip(told, settle_many(of, told, seconds), strict=True):
        value = of.gap_of(effect.closes) - of.gap_of(effect.opens)
        if rows and value < rows[-1]["gap_closed"]:
            rows.append(rows[-1] | {"budget_usd": budget, "is_proven": False, "bound": chosen.bound})
            continue
        rows.append(
            {
                "budget_usd": budget, "spent_usd": spent(of, chosen.ways), "gap_closed": value,
                "gap_share": value / of.gap if of.gap else 0.0,
                "kits_ready": sum(kind == "kit" for kind, _ in effect.risen),
                "posts_opened": sum(kind == "post" for kind, _ in effect.risen),
                "is_proven": chosen.is_proven, "bound": chosen.bound,
            }
        )  # fmt: skip
    return pd.DataFrame(rows)


def spent(of: Market, ways: Sequence[Way]) -> float:
    """Money (USD) for ways, with whole units of what is shared."""
    taken: dict[int, int] = {}
    for way in ways:
        for number, count in way.uses:
            taken[number] = taken.get(number, 0) + count
    return to_the_cent(
        whole_units(of.offers[n], count) * of.offers[n].price_usd for n, count in taken.items()
    )


def to_the_cent(amounts: Iterable[float]) -> float:
    """The sum of amounts of money (USD), in whole cents."""
    return round(sum(amounts), 2)


def buy_list_csv(of: Plan) -> bytes:
    """The buy list as CSV, UTF-8 with byte-order mark; no cell begins a formula."""
    frame = pd.DataFrame([vars(line) for line in of.lines], columns=list(Line.__dataclass_fields__))
    for name in ("closes", "opens", "posts"):
        frame[name] = frame[name].map("; ".join)
    frame["price_from"] = frame.pop("is_estimate").map({True: "planning estimate", False: "offer"})
    return frame_csv(frame)
