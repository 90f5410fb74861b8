"""Commands on people: which kit can hold which post, and who goes where."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Annotated, Any

import pandas as pd
import typer

from dashboard import documents, folders, say
from dashboard.options import AsJson, Seconds, Today

if TYPE_CHECKING:
    from rules.engine import Assessment
    from rules.plans.staffing import Plan

Event = Annotated[str, typer.Argument(metavar="EVENT", help="Name of an event, as in events.csv.")]
SPAN = "%a %H:%M"


def posts(folder: folders.Place, event: Event, as_json: AsJson = False, today: Today = None) -> None:
    """Show every post of an event with every available kit: can, with limits, cannot, not known."""
    from rules.plans.posts import ANSWERS, post_by_kit

    assessment, _ = folders.judged(folder, today, as_json)
    known(assessment, event)
    rows = post_by_kit(assessment, event)
    if as_json:
        say.as_json({"event": event, "posts": documents.rows(rows)})
        return
    counts: dict[str, Counter[str]] = {}
    for post, answer in zip(rows["post"], rows["answer"], strict=True):
        counts.setdefault(post, Counter())[answer] += 1
    say.table(
        f"Which kits can hold the posts of {event}?",
        ("post", *ANSWERS),
        [(post, *(tally[word] for word in ANSWERS)) for post, tally in counts.items()],
    )
    sent = rows[rows["is_assigned"]]
    say.table(
        "Those that are assigned",
        ("post", "member", "kit", "answer", "because of"),
        [
            (r["post"], r["member"], r["kit"], r["answer"], "; ".join(r["reasons"]))
            for r in sent.to_dict("records")
        ],
    )


def staff(
    folder: folders.Place,
    event: Event,
    seconds: Seconds = 10.0,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep the coordinator's assignments and fill the rest.")
    ] = False,
    as_json: AsJson = False,
    today: Today = None,
) -> None:
    """Plan who goes to which post of an event with which kit, and say what stays open."""
    from rules.plans import staffing

    assessment, frames = folders.judged(folder, today, as_json)
    known(assessment, event)
    locked = None
    if keep and "assignments" in frames:
        given = frames["assignments"]
        locked = given[given["event"] == event]
    with say.console(is_error=True).status(f"planning, at most {seconds:g} s"):
        plan = staffing.staff(assessment, event, locked=locked, seconds=seconds)
        beside = staffing.compare(plan, assessment)
    for note in plan.notes:
        say.error(note)
    if as_json:
        say.as_json(documents.staffing(plan, beside))
    else:
        _tell(plan, beside)


def known(assessment: Assessment, event: str) -> None:
    """End the command where nobody tells of the event or its posts."""
    from rules.plans.staffing import NoSuchEventError, wanted

    try:
        wanted(assessment, event)
    except NoSuchEventError as error:
        raise folders.fail(str(error)) from None


def _span(row: dict[str, Any]) -> str:
    return f"{row['from'].strftime(SPAN)} to {row['to'].strftime(SPAN)}"


def _kit(row: dict[str, Any]) -> str:
    if pd.isna(row["kit"]):
        return "-"
    return row["kit"] if pd.isna(row["kit_owner"]) else f"{row['kit']} of {row['kit_owner']}"


def _tell(plan: Plan, beside: pd.DataFrame) -> None:
    open_h = plan.values["hours open"]
    if plan.is_proven:
        proof = "no plan is better"
    elif not plan.gap:
        proof = "no plan is better with the kits that were tried in other hands"
    else:
        fewer = ", ".join(f"{gap:g} fewer {name}" for name, gap in plan.gap.items())
        proof = f"best found in the time; a better one may leave {fewer}"
    headline = "every hour is covered" if open_h == 0 else f"{open_h:g} person-hours stay open"
    if count := plan.blocked["post"].nunique():
        headline += f", {count} post{'' if count == 1 else 's'} blocked all the same"
    say.line(f"{plan.event}: {headline} ({proof}).", "bold")
    say.table(
        "Who goes where?",
        ("post", "when", "member", "kit", "answer"),
        [(r["post"], _span(r), r["member"], _kit(r), r["answer"]) for r in plan.rows.to_dict("records")],
    )
    say.table(
        "Who stands by?",
        ("member", "kit"),
        [(r["member"], r["kit"]) for r in plan.reserve.to_dict("records")],
    )
    tell_open(plan.uncovered, "What stays open, and what would fill it?")
    if len(plan.blocked):
        say.table(
            "What still blocks a post when the plan is put in?",
            ("post", "what", "how to put it right"),
            [(r["post"], r["why"], r["fix"]) for r in plan.blocked.to_dict("records")],
        )
    if len(plan.asks):
        say.table(
            "What is to be found out?",
            ("post", "member", "kit", "not known"),
            [
                (r["post"], "-" if pd.isna(r["member"]) else r["member"], _kit(r), r["ask"])
                for r in plan.asks.to_dict("records")
            ],
        )
    say.table(
        "Beside the coordinator's own assignments",
        ("measure", "plan", "coordinator"),
        [(r["measure"], f"{r['plan']:g}", f"{r['coordinator']:g}") for r in beside.to_dict("records")],
    )


def tell_open(uncovered: pd.DataFrame, title: str) -> None:
    """What stays open of a plan, why, and the cheapest change; nothing where nothing does."""
    if len(uncovered):
        say.table(
            title,
            ("post", "when", "people short", "why", "cheapest change"),
            [
                (r["post"], _span(r), r["people_short"], r["why"], r["change"])
                for r in uncovered.to_dict("records")
            ],
        )
