"""What the page of load-outs says: what to take to a post and what stays, and who can lend what for an event."""

from __future__ import annotations

import pandas as pd

from dashboard import parts, units
from dashboard.edits import Saved, save
from dashboard.palette import ANSWERS
from dashboard.standing import Standing
from dashboard.turns import in_turn
from data import plain_words, schema
from rules.plans import loadout as lightest
from rules.plans import loans
from rules.plans.loadout import LoadOut
from rules.plans.loans import Borrowing

SECONDS = 20.0  # for one load-out, and for the loans of one event
TAKE, STAY = "● take", "○ stays at home"


def key(kit: str, post: str, is_by_thing: bool = False) -> tuple[str, str, str, bool]:
    """Under which a load-out is kept."""
    return "loadout", kit, post, is_by_thing


def loadout(now: Standing, kit: str, post: str, is_by_thing: bool = False) -> LoadOut:
    """The lightest modules, or things, of MEMBER/KIT for EVENT/POST."""
    return now.kept.once(
        key(kit, post, is_by_thing),
        lambda: in_turn(
            lambda: lightest.loadout(now.assessment, kit, post, SECONDS, is_by_thing=is_by_thing)
        ),
    )


def modules(found: LoadOut) -> pd.DataFrame:
    """One row per module, or per thing: its name, what becomes of it, pieces, weight_kg."""
    rows = [
        (module.module, word, module.items, module.weight_kg)
        for word, which in ((TAKE, found.take), (STAY, found.stay))
        for module in which
    ]
    return pd.DataFrame(rows, columns=[found.part, "what", "pieces", "weight_kg"])


def packing(found: LoadOut) -> pd.DataFrame:
    """One row per thing that goes along: item, module, kind, quantity, weight_kg, line."""
    told = found.packing.assign(kind=found.packing["kind"].map(plain_words.kinds()))
    return told[["item", "module", "kind", "quantity", "weight_kg", "line"]]


def weighed(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows with their weight_kg in words, in the reader's unit."""
    told = [units.told(weight, "kg") for weight in rows["weight_kg"]]
    said = ["not known" if pd.isna(figure) else f"{figure:.2f} {unit}" for figure, unit in told]
    return rows.assign(weight_kg=said).rename(columns={"weight_kg": "weight"})


def words(found: LoadOut) -> str:
    """What a load-out saves, in one sentence."""
    saved = found.whole_kg - found.weight_kg
    if not found.stay:
        said = "Everything is needed" if found.is_proven else "Nothing was found that can stay at home"
        return f"{said}: {found.whole_kg:.1f} kg"
    stay = (
        "to leave at home, as with all of it the kit does not hold the post"
        if found.is_freed
        else "can stay at home"
    )
    return (
        f"{parts.many(len(found.stay), found.part)} of {len(found.stay) + len(found.take)} {stay}: "
        f"{found.weight_kg:.1f} kg go along, {saved:.1f} kg stay"
    )


def carrying(found: LoadOut) -> str:
    """How the weight stands to what may be carried; "" where nothing is carried on foot."""
    if found.carry_limit_kg is None:
        return ""
    is_over = found.carried_kg > found.carry_limit_kg
    beside = f"{found.beside_kg:.1f} kg of them in other kits, " if found.beside_kg else ""
    return (
        f"{'■ Too heavy' if is_over else '● Light enough'}: {found.carried_kg:.1f} kg are to be carried, "
        f"{beside}at most {found.carry_limit_kg:g} kg."
    )


def against(found: LoadOut) -> list[str]:
    """What the rules say against it at the post, as Markdown: shape, word and title of each."""
    said = (text.split(": ", 1) for text in found.lacks)
    return [f"{parts.inked(ANSWERS[severity])}: {parts.plain(title)}" for severity, title in said]


# --- borrowing ---


def borrowing(now: Standing, event: str) -> Borrowing:
    """The fewest loans that close the most for the kits that are sent to an event."""
    return now.kept.once(
        borrowing_key(event), lambda: in_turn(lambda: loans.borrow(now.assessment, event, SECONDS))
    )


def borrowing_key(event: str) -> tuple[str, str]:
    """Under which the loans of an event are kept."""
    return "borrowing", event


def loan_table(found: Borrowing) -> pd.DataFrame:
    """One row per loan: pieces, what, whose, from, to, out, due, closes, opens posts."""
    rows = [
        (
            loan.pieces, loan.item, "the club's" if loan.owner == "club" else "a member's spare", loan.lender, loan.borrower,
            loan.out, loan.due, "; ".join(loan.closes), "; ".join(loan.posts),
        )
        for loan in found.loans
    ]  # fmt: skip
    names = ["pieces", "what", "whose", "from", "to", "out", "due", "closes", "opens posts"]
    return pd.DataFrame(rows, columns=names)


def borrowing_words(found: Borrowing) -> str:
    """What the loans bring, in one sentence; as judged on a copy of the club."""
    if not found.loans:
        return f"No loan closes anything: {parts.many(found.lendable, 'thing')} can be lent for this event"
    ending = "s" if len(found.loans) == 1 else ""
    said = [f"close{ending} {found.judged:g} points of the weighted gap"]
    if found.posts_opened:
        said.append(f"open{ending} {parts.many(len(found.posts_opened), 'post')}")
    return f"{parts.many(len(found.loans), 'loan')} {parts.listed(said)}"


def book(found: Borrowing, by: str) -> Saved:
    """Write the loans into the loan book, a row for each piece.

    Raises
    ------
    EditError
        A row would be refused as a file.
    """

    def with_slips(told: pd.DataFrame) -> pd.DataFrame:
        empty = schema.empty("loans")
        slips = found.slips().loc[lambda rows: rows.index.repeat([loan.pieces for loan in found.loans])]
        new = slips.reindex(columns=empty.columns).assign(line=0, file="").astype(empty.dtypes)
        return pd.concat([told, new], ignore_index=True)

    return save({"loans": with_slips}, f"loans-{found.event}", by)
