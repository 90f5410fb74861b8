"""Borrowing for one event: which spare, of which member or of the club's pool, closes which gap; slips and the log.

What can be lent: things that work, marked spare or owned by the club, in kits that are sent nowhere while the
loan would last, and not out on a loan already, by themselves or with their kit; of several pieces of one name those
that are not out. A loan is tried as a purchase is (`purchases`), with the thing as it stands in its owner's kit; of all
that close as much, those that open most posts are taken, and of these the fewest loans. What the lender's kit lacks
meanwhile is told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

import numpy as np
import pandas as pd

from data.items import FILLED
from rules.engine import Assessment
from rules.plans import trials
from rules.plans.choosing import Way
from rules.plans.offers import SHARED, Offer
from rules.plans.purchases.buy_list import untold
from rules.plans.purchases.settling import settle_one
from rules.plans.purchases.trying import Market, tried
from rules.plans.purchases.wanted import wanted_kinds
from rules.plans.trials import Key

MOST_A_THING = 1000
"""More pieces than one line of an inventory lends."""
DAYS_BEFORE, DAYS_AFTER = 2, 7
"""Days from handing out to the event, and from its end to the return; common practice."""
ALIKE = (
    "kind", "condition", "charged", "tested", "acquired", "expires", "tested_ah", "stored_charge_share", "wire_mm2",
    "fuse_at_m", "swr", "swr_tested", "polarity_checked", "polarity", "programmed", "is_set_by_hand", "cell_size", "serviced",
    "is_labelled", "pack_family", "amps_tx_low", "rf_watts_low", *FILLED,
)  # fmt: skip
"""What rules ask of a thing by itself: pieces that agree in all of it are judged as one."""
WORSE = {"ok": 0, "unknown": 1, "faulty": 2, "removed": 3}


@dataclass(frozen=True)
class Loan:
    """One loan slip. `lender` and `borrower` are MEMBER/KIT; `pieces` of the line `line` of the inventory."""

    item: str
    kind: str
    pieces: int
    owner: str
    lender: str
    line: int
    borrower: str
    event: str
    out: pd.Timestamp
    due: pd.Timestamp
    condition_out: str
    closes: tuple[str, ...]
    posts: tuple[str, ...]


@dataclass(frozen=True)
class Borrowing:
    """The loans for an event, with what they were promised to close and what the rules say once they are made.

    promised, judged : weight of the findings closed less those opened, at the event's kits. lender_lacks : what is
    not met in the lenders' kits meanwhile. untold : what blocks, asked anew, of which nobody knows whether it is met with
    them. left : what stays not met that a loan could have closed by its kind.
    """

    event: str
    loans: tuple[Loan, ...]
    promised: float
    judged: float
    is_proven: bool
    bound: float
    posts_opened: tuple[str, ...]
    lender_lacks: tuple[str, ...]
    untold: tuple[str, ...]
    left: tuple[str, ...]
    lendable: int = field(default=0)

    def slips(self) -> pd.DataFrame:
        """Rows as loans.csv takes them, one for each loan."""
        columns = ["item", "borrower", "out", "due", "back", "condition_out", "condition_in", "notes"]
        rows = [
            (
                loan.item, loan.borrower.split("/")[0], loan.out, loan.due, None, loan.condition_out, None,
                f"from {loan.lender} for {loan.event}",
            )
            for loan in self.loans
        ]  # fmt: skip
        return pd.DataFrame(rows, columns=columns)


def lendable(assessment: Assessment, event: str) -> pd.DataFrame:
    """Things that can be lent for an event: the columns of item, with member and kit; the club's own first."""
    item = assessment.table("item")
    kit = assessment.table("kit").set_index("kit_id")
    here = assessment.frame(
        """
        select distinct a.kit_id from assignment as a join event as e on e.event = $1
            and a.starts < date_trunc('day', e.ends) + to_days($3 + 1) and a.ends > date_trunc('day', e.starts) - to_days($2)
        where a.kit_id is not null
        """,
        [event, DAYS_BEFORE, DAYS_AFTER],
    )["kit_id"]  # fmt: skip
    out = assessment.table("loan")
    away = out.loc[out["back"].isna(), "item"].str.casefold().value_counts()
    is_lent = (item["owner"].eq("club").fillna(False) | item["is_spare"]) & item["condition"].eq("ok")
    is_lent &= ~item["kit_id"].isin({*here, *lent_whole(assessment)}) & ~item["kind"].isin(SHARED)
    found = item[is_lent].copy()
    found["member"], found["kit"] = found["kit_id"].map(kit["member"]), found["kit_id"].map(kit["kit"])
    found["owner"] = found["owner"].fillna("member")
    found = found.sort_values(["owner", "member", "line"], kind="stable")
    name, pieces = found["item"].str.casefold(), found["quantity"]
    gone = name.map(away).fillna(0).astype(int) - (pieces.groupby(name).cumsum() - pieces)
    found["quantity"] = pieces - gone.clip(lower=0).clip(upper=pieces)
    return found[found["quantity"] > 0].reset_index(drop=True)


def lent_whole(assessment: Assessment) -> set[int]:
    """Kits (kit_id) that the loan book lends to somebody whole."""
    return {kit for (kit,) in assessment.tuples("select kit_id from leave")}


def borrow(assessment: Assessment, event: str, seconds: float = 10.0) -> Borrowing:
    """The fewest loans that close the most weighted gap of the kits sent to an event.

    Raises
    ------
    LookupError
        There is no such event.
    """
    events = {str(row["event"]): row for row in assessment.table("event").to_dict("records")}
    if event not in events:
        known = ", ".join(sorted(events)) or "none is told"
        raise LookupError(f'"{event}" is not an event. Write one of: {known}.')
    when = events[event]
    things = lendable(assessment, event)
    alike = (
        things.groupby([*ALIKE], dropna=False, sort=False).ngroup() if len(things) else pd.Series(dtype=int)
    )
    first = things[~alike.duplicated()].reset_index(drop=True)
    pieces = things.groupby(alike)["quantity"].sum() if len(things) else pd.Series(dtype=int)
    book = tuple(
        Offer(
            number,
            str(row.item),
            str(row.kind),
            1.0,
            int(pieces[number]),
            "club" if row.owner == "club" else "member",
            1,
            False,
        )
        for number, row in enumerate(first.itertuples(index=False))
    )
    sent = assessment.table("assignment")
    sent = sent[sent["event_id"] == when["event_id"]]
    kits, posts = frozenset(sent["kit_id"].dropna().astype(int)), frozenset(sent["post_id"].astype(int))
    before = trials.standing(assessment)
    wanted = {kit: kinds for kit, kinds in wanted_kinds(assessment, before).items() if kit in kits}
    rows = first.drop(columns=["member", "kit"])
    of = tried(assessment, before, wanted, book, rows, kits, posts)
    chosen, applied = settle_one(of, float(len(things) * MOST_A_THING), seconds)
    out = pd.Timestamp(when["starts"]).normalize() - timedelta(days=DAYS_BEFORE)
    due = pd.Timestamp(when["ends"]).normalize() + timedelta(days=DAYS_AFTER)
    loans, lent = _handed_out(of, chosen.ways, things.assign(alike=alike), event, out, due)
    lacking = _lenders_lack(of, chosen.ways, lent, out, due)
    names = of.names("post")
    still = {
        key
        for key in of.before.not_met() - applied.closes
        if of.counts(key) and assessment.rules[key[0]].remedy.get("kind")
    }
    return Borrowing(
        event=event, loans=loans, promised=chosen.promised, judged=of.gap_of(applied.closes) - of.gap_of(applied.opens),
        is_proven=chosen.is_proven, bound=chosen.bound,
        posts_opened=tuple(sorted(names[a] for kind, a in applied.risen if kind == "post" and a in posts)),
        lender_lacks=of.spoken(lacking), untold=of.spoken(untold(of, applied.after)), left=of.spoken(still), lendable=len(things),
    )  # fmt: skip


def _handed_out(
    of: Market, ways: Sequence[Way], things: pd.DataFrame, event: str, out: pd.Timestamp, due: pd.Timestamp
) -> tuple[tuple[Loan, ...], dict[int, int]]:
    """A slip for each thing lent, the club's own first, and the pieces that each item gives."""
    posts, kits = of.names("post"), of.names("kit")
    lent: dict[int, int] = {}
    loans = []
    for way in sorted(ways, key=lambda way: kits[way.kit_id]):
        for number, count in way.uses:
            wanted = count
            for row in things[things["alike"] == number].to_dict("records"):
                one = int(row["item_id"])
                taken = min(wanted, int(row["quantity"]) - lent.get(one, 0))
                if taken > 0:
                    lent[one] = lent.get(one, 0) + taken
                    wanted -= taken
                    loans.append(
                        Loan(
                            str(row["item"]), str(row["kind"]), taken, str(row["owner"]), f"{row['member']}/{row['kit']}",
                            int(row["line"]), kits[way.kit_id], event, out, due, str(row["condition"]), of.spoken(way.closes),
                            tuple(sorted(posts[a] for a in way.posts if of.posts is None or a in of.posts)),
                        )
                    )  # fmt: skip
    return tuple(loans), lent


def _lenders_lack(
    of: Market, ways: Sequence[Way], lent: Mapping[int, int], out: pd.Timestamp, due: pd.Timestamp
) -> set[Key]:
    """What is not met in the lenders' kits while their things are away, at posts of those days alone."""
    changes = of.fitter.changes([(0, way.kit_id, way.uses) for way in ways])
    item = of.assessment.table("item").set_index("item_id", drop=False)
    kept = item.loc[list(lent)].copy()
    kept["quantity"] -= pd.Series(lent)
    changes.dropped = pd.DataFrame({"trial": 0, "item_id": list(lent)})
    left = kept[kept["quantity"] > 0].reset_index(drop=True)
    if len(left):
        left.insert(0, "trial", 0)
        changes.added = pd.concat([changes.added, left], ignore_index=True)
    lenders = set(kept["kit_id"])
    found = trials.standing(trials.whole(of.assessment, changes)).not_met() - of.before.not_met()
    post = of.assessment.table("post").set_index("post_id")
    is_then = post["opens"].lt(due + timedelta(days=1)) & post["closes"].gt(out)
    return {
        key
        for key in found
        if of.kits_of(key) & lenders and (key[1] not in ("post", "post_kit") or is_then[key[2]])
    }


def log(assessment: Assessment) -> pd.DataFrame:
    """The loan log, what is out first and of that the longest overdue.

    Returns
    -------
    DataFrame
        item, borrower, out, due, back, state (overdue, out, back late, back), days_over (days past due, until it came
        back or until the day of the review; 0 when in time), condition_out, condition_in, is_worse (came back in a
        worse condition; NULL while it is out or where a condition is not told), line.
    """
    loan = assessment.table("loan")
    for name in ("out", "due", "back"):
        loan[name] = pd.to_datetime(loan[name])
    until = loan["back"].fillna(pd.Timestamp(assessment.today))
    loan["days_over"] = (until - loan["due"]).dt.days.clip(lower=0)
    is_out, is_late = loan["back"].isna(), loan["days_over"] > 0
    loan["state"] = np.select([is_out & is_late, is_out, is_late], ["overdue", "out", "back late"], "back")
    before, after = loan["condition_out"].map(WORSE), loan["condition_in"].map(WORSE)
    loan["is_worse"] = (after > before).astype("boolean").mask(before.isna() | after.isna() | is_out)
    names = [
        "item", "borrower", "out", "due", "back", "state", "days_over", "condition_out", "condition_in", "is_worse", "line",
    ]  # fmt: skip
    order = loan.assign(home=~is_out).sort_values(["home", "days_over", "due"], ascending=[True, False, True])
    return order[names].reset_index(drop=True)
