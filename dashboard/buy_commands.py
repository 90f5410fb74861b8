"""Commands on gear: what to buy, what to take to a post, what to borrow for an event."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import pandas as pd
import typer

from dashboard import documents, folders, say
from dashboard.money import FORECAST, UNTOLD, UNTOLD_LENT, forecast, spent
from dashboard.options import AsJson, Seconds, Today

if TYPE_CHECKING:
    from rules.plans.purchases import Plan

STEPS = (0.1, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0)
"""Shares of the budget that the frontier is shown for."""


def _proof(is_proven: bool, promised: float, bound: float) -> str:
    """What is known of how good a plan is."""
    if is_proven:
        return "no pick of what was tried closes more"
    more = bound - promised
    ending = f"; at most {more:.0f} points more could be closed" if more >= 1 else ""
    return f"best found in the time, not proven{ending}"


def buy(
    folder: folders.Place,
    budget: Annotated[float, typer.Option(min=0, help="Money to spend (USD), whoever pays.")],
    paid_by: Annotated[
        str | None, typer.Option(metavar="WHO", help="Only what the member, or the club, would pay.")
    ] = None,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the buy list to this file.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Write the printed buy list to this file.")
    ] = None,
    as_json: AsJson = False,
    seconds: Seconds = 10.0,
    today: Today = None,
) -> None:
    """What to buy for the money: offers, for whom, what each closes, and what wears out in three years."""
    from rules.plans import purchases, replacements

    if paid_by not in (None, "member", "club"):
        raise typer.BadParameter(f'"{paid_by}" is not known. Write member or club.')
    assessment, frames = folders.judged(folder, today, as_json)
    offers = frames.get("offers")
    with say.console(is_error=True).status("trying offers on every kit …") as progress:
        of = purchases.market(assessment, offers, paid_by)
        progress.update(f"{of.ways_tried} ways tried; working out other budgets …")
        steps = purchases.frontier(of, [round(share * budget, 2) for share in STEPS], seconds)
        progress.update("choosing, and judging the club with it bought …")
        plan = purchases.plan(assessment, offers, budget, seconds, of)
        worn = replacements.replacements(assessment)
    if csv:
        _write(csv, purchases.buy_list_csv(plan))
    if pdf:
        from dashboard.sheets.purchases import buy_list

        _write(pdf, buy_list(plan, worn, assessment))
    if as_json:
        steps_and_worn = {"frontier": documents.rows(steps), "replacements": documents.rows(worn)}
        say.as_json(documents.purchases(plan) | steps_and_worn)
        return
    _buy_list(plan, steps, worn, assessment.policy.weight)


def _write(path: Path, payload: bytes) -> None:
    """A file, or the end of the command with what to do."""
    try:
        path.write_bytes(payload)
    except OSError as error:
        raise folders.fail(f"{path}: {error.strerror}. Name a file that can be written to.") from None


def _buy_list(plan: Plan, steps: pd.DataFrame, worn: pd.DataFrame, weight: Mapping[str, float]) -> None:
    """Print the buy list, readiness against money and the replacement forecast."""
    say.line(
        f"{spent(plan)} of {plan.budget_usd:,.0f} USD (members pay {plan.member_usd:,.0f}, the club {plan.club_usd:,.0f}) "
        f"close {plan.judged:g} of {plan.gap:g} points, as judged with it bought; posts that can be held: "
        f"{plan.posts_before} before, {plan.posts_after} after.",
        "bold",
    )
    counted = ", ".join(f"{severity} {points:g}" for severity, points in weight.items())
    say.line(
        f"Points of the weighted gap: what is not met counts by its severity ({counted}), what comes new against it."
    )
    say.line(
        f"{plan.ways_tried} ways of equipping a kit tried; {_proof(plan.is_proven, plan.promised, plan.bound)}."
    )
    _lines(plan)
    _listed("New findings that come with it", plan.opened)
    _listed(UNTOLD, plan.untold)
    _listed("Kits that become ready", plan.kits_ready)
    _listed("Posts that can be held", plan.posts_opened)
    _frontier(steps)
    _replacements(worn)


def _listed(title: str, texts: Collection[str]) -> None:
    """Some lines under a title, where there are any."""
    if texts:
        say.line(f"{title}:", "bold")
        for text in texts:
            say.line(f"    {text}")


def _lines(plan: Plan) -> None:
    """What to buy, a line for each thing."""
    say.table(
        "What to buy",
        ("units", "offer", "for", "paid by", "USD", "price is", "closes", "opens the post"),
        [
            (
                line.units,
                line.offer,
                line.for_whom,
                line.paid_by,
                f"{line.cost_usd:g}",
                "an estimate" if line.is_estimate else "an offer",
                "; ".join(line.closes),
                "; ".join(line.posts),
            )
            for line in plan.lines
        ],
    )


def _frontier(steps: pd.DataFrame) -> None:
    """What other budgets would bring; `steps` as `purchases.frontier` has it."""
    say.table(
        "Readiness against money",
        ("budget USD", "spent USD", "points closed", "share", "kits made ready", "posts opened", "proven"),
        [
            (
                f"{row['budget_usd']:g}",
                f"{row['spent_usd']:g}",
                f"{row['gap_closed']:g}",
                f"{row['gap_share']:.0%}",
                row["kits_ready"],
                row["posts_opened"],
                "yes" if row["is_proven"] else "best found in the time",
            )
            for row in steps.to_dict("records")
        ],
    )


def _replacements(worn: pd.DataFrame) -> None:
    """What wears out by the year, and of how much nobody knows; `worn` as `replacements` has it."""
    say.table("To replace within three years", FORECAST, forecast(worn))
    if unknown := int(worn["year"].isna().sum()):
        say.line(
            f"Things of which nobody knows when they wear out: {unknown}; write the day on which each was bought in “acquired”."
        )


def loadout(
    folder: folders.Place,
    kit: Annotated[str, typer.Argument(metavar="MEMBER/KIT", help="The kit.")],
    post: Annotated[str, typer.Argument(metavar="EVENT/POST", help="The post it goes to.")],
    by_thing: Annotated[
        bool, typer.Option("--by-thing", help="Let each thing stay at home by itself, not whole bags.")
    ] = False,
    as_json: AsJson = False,
    seconds: Seconds = 20.0,
    today: Today = None,
) -> None:
    """The lightest modules of a kit that still meet a post, what stays at home, and the packing list."""
    from rules.plans.loadout import loadout as lightest

    assessment, _ = folders.judged(folder, today, as_json)
    try:
        with say.console(is_error=True).status("leaving modules out"):
            found = lightest(assessment, kit, post, seconds, is_by_thing=by_thing)
    except LookupError as error:
        raise _not_there(error) from None
    if as_json:
        told = {name: value for name, value in vars(found).items() if name not in ("take", "stay", "packing")}
        parts = {
            name: [dataclasses.asdict(module) for module in getattr(found, name)] for name in ("take", "stay")
        }
        known = {"is_proven": found.is_proven, "gap_kg": found.gap_kg}
        say.as_json(told | known | parts | {"packing": found.packing.to_dict("records")})
        return
    beside = f" with {found.beside_kg:g} kg in other kits" if found.beside_kg else ""
    limit = (
        f", to carry at most {found.carry_limit_kg:g} kg{beside}" if found.carry_limit_kg is not None else ""
    )
    say.line(f"{found.kit} at {found.post}: {found.weight_kg:g} kg of {found.whole_kg:g} kg{limit}.", "bold")
    say.line(found.proof)
    if found.blocked:
        say.line(found.blocked, "bold")
    say.table(
        f"{found.part.capitalize()}s",
        (found.part, "kg", "pieces", ""),
        [
            (module.module, f"{module.weight_kg:g}", module.items, word)
            for word, modules in (("take", found.take), ("stays at home", found.stay))
            for module in modules
        ],
    )
    if found.lacks:
        say.line("What the rules say against it, as with the whole kit:", "bold")
        for text in found.lacks:
            say.line(f"    {text}")
    if found.unweighed:
        say.line(f"No weight is known of: {', '.join(found.unweighed)}.")
    say.table(
        "Packing list",
        ("module", "pieces", "item", "kg"),
        [
            (row["module"], row["quantity"], row["item"], f"{row['weight_kg']:g}")
            for row in found.packing.to_dict("records")
        ],
    )


def borrow(
    folder: folders.Place,
    event: Annotated[str, typer.Argument(metavar="EVENT", help="The event, as in events.csv.")],
    as_json: AsJson = False,
    seconds: Seconds = 10.0,
    today: Today = None,
) -> None:
    """Which spare, of which member or of the club's pool, closes which gap for one event; and the loan log."""
    from rules.plans import loans

    assessment, _ = folders.judged(folder, today, as_json)
    try:
        with say.console(is_error=True).status("trying loans"):
            found = loans.borrow(assessment, event, seconds)
    except LookupError as error:
        raise _not_there(error) from None
    log = loans.log(assessment)
    if as_json:
        told: dict[str, Any] = {name: value for name, value in vars(found).items() if name != "loans"}
        slips = [dataclasses.asdict(loan) for loan in found.loans]
        say.as_json(told | {"loans": slips, "log": log.to_dict("records")})
        return
    say.line(
        f"{_loans(len(found.loans))} {found.judged:g} points of gap at {event}, as judged with them made; "
        f"{_proof(found.is_proven, found.promised, found.bound)}.",
        "bold",
    )
    say.table(
        "Loan slips",
        ("pieces", "item", "from", "owner", "to", "out", "due", "closes"),
        [
            (
                loan.pieces,
                f"{loan.item} (line {loan.line})",
                loan.lender,
                loan.owner,
                loan.borrower,
                loan.out.date(),
                loan.due.date(),
                "; ".join(loan.closes),
            )
            for loan in found.loans
        ],
    )
    _listed("Posts that can be held with them", found.posts_opened)
    _listed(UNTOLD_LENT, found.untold)
    _listed("What the lenders lack meanwhile", found.lender_lacks)
    out = log[log["back"].isna()]
    say.table(
        "Out on loan",
        ("item", "with", "due", "days over", "condition"),
        [
            (row["item"], row["borrower"], row["due"].date(), row["days_over"], row["condition_out"] or "-")
            for row in out.to_dict("records")
        ],
    )


def _loans(count: int) -> str:
    return "1 loan closes" if count == 1 else f"{count or 'No'} loans close"


def _not_there(error: LookupError) -> typer.Exit:
    return folders.fail(str(error.args[0]))
