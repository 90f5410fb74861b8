"""Club gear that is lent: what is out and until when, what can be lent, and the rows that say so."""

from __future__ import annotations

from datetime import date

import pandas as pd

from dashboard import days
from dashboard.edits import EditError, Saved, save, with_row
from dashboard.standing import Standing
from rules.plans.loans import WORSE, lent_whole

LATE, SOON, OUT, YET = "late", "due soon", "out", "not out yet"
SOON_DAYS = 14
USUAL_DAYS = 28  # club loan policies: 2 to 4 weeks


def out(now: Standing) -> pd.DataFrame:
    """Loans that are not back, or not out yet, first due first: loan_id, item, borrower, out, due, days (left), state, condition_out."""
    loans = now.assessment.table("loan")
    loans = loans[loans["back"].isna()].sort_values(["due", "item"], ignore_index=True)
    left = (loans["due"] - pd.Timestamp(now.day)).dt.days
    loans["days"] = left
    is_yet = loans["out"] > pd.Timestamp(now.day)
    loans["state"] = [
        YET if yet else LATE if ahead < 0 else SOON if ahead <= SOON_DAYS else OUT
        for yet, ahead in zip(is_yet, left, strict=True)
    ]
    return loans[["loan_id", "item", "borrower", "out", "due", "days", "state", "condition_out"]]


def headline(loans: pd.DataFrame) -> str:
    """What is out, in one sentence."""
    late, yet = (int((loans["state"] == state).sum()) for state in (LATE, YET))
    gone = len(loans) - yet
    are = "1 thing is" if gone == 1 else f"{gone} things are"
    said = f"{are} lent out, {late or 'none'} of them late." if gone else "Nothing is lent out."
    return said + (f" {yet} more {'is' if yet == 1 else 'are'} promised and not out yet." if yet else "")


def of_the_club(inventory: pd.DataFrame) -> set[str]:
    """Names of the things that belong to the club."""
    return set(inventory[inventory["owner"].eq("club").fillna(False)]["item"])


def pool(now: Standing) -> dict[str, int]:
    """Things of the club that work and are not lent with their kit, each once: how many pieces it has, in and out."""
    item = now.assessment.table("item")
    item = item[~item["kit_id"].isin(lent_whole(now.assessment))]
    item = item[item["owner"].eq("club").fillna(False) & item["is_usable"] & item["condition"].eq("ok")]
    found = item.groupby(item["item"].str.casefold()).agg(item=("item", "first"), pieces=("quantity", "sum"))
    return {str(row.item): int(row.pieces) for row in found.itertuples()}


def can_be_lent(now: Standing) -> list[str]:
    """Those of the pool of which a piece is not out."""
    away = out(now)["item"].str.casefold().value_counts()
    return sorted(name for name, pieces in pool(now).items() if pieces > away.get(name.casefold(), 0))


def away(now: Standing) -> dict[int, str]:
    """With whom the things are that are lent out, by item_id; of those that are called alike how many are.

    The club's, if it has one of that name; else the only member's who has.
    """
    loans = out(now)
    loans = loans[loans["state"] != YET]
    item = now.assessment.table("item")
    item = item[item["owner"].ne("loan").fillna(True) & item["condition"].ne("removed")]
    item = item.assign(name=item["item"].str.casefold(), is_club=item["owner"].eq("club").fillna(False))
    found = {}
    for name, of_name in loans.groupby(loans["item"].str.casefold()):
        things = item[item["name"] == name]
        if things["is_club"].any():
            things = things[things["is_club"]]
        elif things["member_id"].nunique() > 1:
            continue
        who = ", ".join(f"{row.borrower}, due {days.spoken(row.due)}" for row in of_name.itertuples())
        pieces = int(things["quantity"].sum())
        some = f"{len(of_name)} of {pieces} " if len(of_name) < pieces else ""
        found |= dict.fromkeys(things["item_id"].tolist(), f"{some}lent to {who}")
    return found


def lend(
    item: str, borrower: str, today: date, due: date, condition: str, notes: str, by: str, pieces: int = 1
) -> Saved:
    """Write a loan of one of the pieces that the club has into the loan book.

    Raises
    ------
    EditError
        Each piece is out already, or it would be due before it leaves.
    """

    def book(loans: pd.DataFrame) -> pd.DataFrame:
        is_out = loans["back"].isna() & loans["item"].str.casefold().eq(item.casefold())
        if is_out.sum() >= pieces:
            with_whom = ", ".join(dict.fromkeys(loans.loc[is_out, "borrower"]))
            raise EditError(f"{item} is out already, with {with_whom}.")
        if due < today:
            raise EditError(f"due: {due} is before today. Write the day on which it comes back.")
        return with_row(
            "loans",
            loans,
            item=item,
            borrower=borrower,
            out=pd.Timestamp(today),
            due=pd.Timestamp(due),
            condition_out=condition,
            notes=notes.strip() or None,
        )

    return save({"loans": book}, "lent", by)


def bring_back(
    item: str,
    borrower: str,
    left: date,
    today: date,
    condition: str,
    notes: str,
    by: str,
    is_charged: bool | None = None,
) -> str:
    """Write into the loan book that a thing is back, and how it came back; where it does not work, also beside the thing.

    Parameters
    ----------
    is_charged : whether its batteries came back charged; None where it has none, or nobody says

    Returns
    -------
    str
        MEMBER/KIT whose list says so, or "" where it works or the list does not tell which one it is.

    Raises
    ------
    EditError
        There is no such loan any more.
    """

    def book(loans: pd.DataFrame) -> pd.DataFrame:
        is_it = (loans["item"] == item) & (loans["borrower"] == borrower) & loans["back"].isna()
        found = loans.index[is_it & (loans["out"] == pd.Timestamp(left))]
        if found.empty:
            raise EditError(f"{item} is not lent to {borrower} any more.")
        loans = loans.copy()
        loans.loc[found[0], "back"] = pd.Timestamp(today)
        loans.loc[found[0], "condition_in"] = condition
        if is_charged is not None:
            loans.loc[found[0], "charged_in"] = is_charged
        if notes.strip():
            before = loans.loc[found[0], "notes"]
            loans.loc[found[0], "notes"] = notes.strip() if pd.isna(before) else f"{before}; {notes.strip()}"
        return loans

    holder = ""

    def beside(inventory: pd.DataFrame) -> pd.DataFrame:
        nonlocal holder
        is_it = inventory["owner"].eq("club").fillna(False) & inventory["condition"].ne("removed")
        is_it &= inventory["item"].str.casefold().eq(item.casefold())
        if is_it.sum() != 1 or inventory.loc[is_it, "quantity"].iloc[0] > 1:
            return inventory.head(0)
        thing = inventory[is_it].iloc[0]
        holder = f"{thing['member']}/{thing['kit']}"
        rows = inventory[inventory["member"].eq(thing["member"]) & inventory["kit"].eq(thing["kit"])].copy()
        if WORSE[condition] > WORSE[thing["condition"]]:
            rows.loc[thing.name, "condition"] = condition
        return rows

    save({"loans": book} | ({} if condition == "ok" else {"inventory": beside}), "back", by)
    return holder
