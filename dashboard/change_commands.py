"""Commands on change: what an event was like after it, and what would be otherwise before it."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard import documents, folders, say
from dashboard.options import AsJson, Seconds, Today
from dashboard.plan_commands import Event, known, tell_open

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.whatif import Answer, Asked
    from rules.engine import Assessment


def after(folder: folders.Place, event: Event, as_json: AsJson = False, today: Today = None) -> None:
    """Show hours as predicted and as measured at an event, and the rows and duty profiles that should change."""
    from rules.plans import after as measured
    from rules.plans import report

    assessment, frames = folders.judged(folder, today, as_json)
    known(assessment, event)
    every = measured.observations(assessment)
    found = every[every["event"] == event]
    duties = measured.corrections(assessment, every)
    rows = report.still_listed(frames, event) if "rehearsals" in frames else None
    untold = report.untold(frames, event)
    if as_json:
        say.as_json(
            {
                "event": event,
                "observations": documents.rows(found),
                "rows": [] if rows is None else documents.rows(rows),
                "untold": documents.rows(untold),
                "duty": [
                    dataclasses.asdict(duty)
                    | {"is_enough": duty.is_enough, "is_off": duty.is_off, "reason": duty.reason}
                    for duty in duties
                ],
            }
        )
        return
    if len(found):
        _measured(event, found)
    else:
        say.line(f"Nobody has told how long a kit ran at {event}.")
    if len(untold):
        say.table(
            "Nobody has told yet how these did",
            ("post", "member", "kit", "planned h"),
            [(r["post"], r["member"], r["kit"], _figure(r["planned_h"])) for r in untold.to_dict("records")],
        )
    if rows is not None and len(rows):
        say.table(
            "What failed or was missing there and stands in the inventory as before",
            ("line", "member", "kit", "item", "condition", "should be"),
            [tuple(row) for row in rows.itertuples(index=False)],
        )
    for duty in duties:
        note = "" if duty.is_enough else f" Too few to change it: at least {duty.least:g} are needed."
        say.line(duty.reason + note)


def _measured(event: str, found: pd.DataFrame) -> None:
    say.table(
        f"Predicted and measured at {event}",
        ("post", "member", "kit", "ran h", "left %", "would last h", "predicted h", "on transmit %", "why not known"),
        [
            (
                r["post"], r["member"], r["kit"], _figure(r["hours"]), _figure(100 * r["left_share"]),
                _hours(r["lasts_low_h"], r["lasts_high_h"]), _hours(r["predicted_low_h"], r["predicted_high_h"]),
                _span(100 * r["measured_low_share"], 100 * r["measured_high_share"]), r["why"],
            )
            for r in found.to_dict("records")
        ],
    )  # fmt: skip


def _figure(value: float | None) -> str:
    value = documents.plain(value)
    return "?" if value is None else f"{value:.1f}"


def _hours(low: float | None, high: float | None) -> str:
    from rules import on_air

    ends = documents.plain(low), documents.plain(high)
    return "?" if None in ends else on_air.span(*ends, unit="")


def _span(low: float | None, high: float | None) -> str:
    ends = _figure(low), _figure(high)
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


Cold = Annotated[float | None, typer.Option("--temp-min", "--colder", metavar="C", help="Coldest air, °C.")]
Hot = Annotated[float | None, typer.Option("--temp-max", "--hotter", metavar="C", help="Hottest air, °C.")]
Hours = Annotated[
    str, typer.Option(metavar="H", help="Hours from opening to closing, or +2 for two more, -1 for one less.")
]
Duty = Annotated[str | None, typer.Option(metavar="WORD", help="Duty profile, a word of duty.csv.")]
Post = Annotated[
    str | None, typer.Option(metavar="POST", help="The post that --hours and --duty mean; else all.")
]
Absent = Annotated[
    list[str] | None, typer.Option(metavar="MEMBER", help="Who does not come; may be repeated.")
]
Broken = Annotated[
    list[str] | None,
    typer.Option(
        metavar="MEMBER/KIT",
        help="A kit that fails, or one piece of a thing of it as MEMBER/KIT/ITEM; may be repeated.",
    ),
]


def whatif(
    folder: folders.Place,
    event: Event,
    temp_min: Cold = None,
    temp_max: Hot = None,
    hours: Hours = "",
    duty: Duty = None,
    post: Post = None,
    absent: Absent = None,
    broken: Broken = None,
    seconds: Seconds = 10.0,
    as_json: AsJson = False,
    today: Today = None,
) -> None:
    """Show verdicts and staffing of an event before and after a change; without one, which single failure costs most."""
    from dashboard import whatif as words
    from rules.plans.whatif import ChangeError

    assessment, frames = folders.judged(folder, today, as_json)
    known(assessment, event)
    if post and not (hours or duty):
        raise folders.fail(
            "post: it says where other hours or another duty hold. Write --hours or --duty, too."
        )
    people = tuple(name.upper() for name in absent or ())
    asked = words.Asked(event, temp_min, temp_max, hours, duty, post, people, tuple(broken or ()))
    if not asked.words():
        _failures(frames, event, assessment, as_json)
        return
    with say.console(is_error=True).status("judging and staffing, before and after"):
        try:
            found = words.answer(frames, asked, assessment, seconds)
        except ChangeError as error:
            raise folders.fail(str(error)) from None
    _compared(asked, found, as_json)


def _compared(asked: Asked, found: Answer, as_json: bool) -> None:
    from dashboard import whatif as words

    if as_json:
        say.as_json(
            {
                "event": asked.event,
                "changes": asked.words(),
                "verdicts": documents.rows(found.verdicts),
                "staffing": documents.rows(found.staffing.measures),
                "moves": documents.rows(found.staffing.moves),
                "uncovered": documents.rows(found.staffing.uncovered),
            }
        )
        return
    say.line(f"{asked.event}, if {'; '.join(asked.words())}", "bold")
    say.line(f"{words.title(found.verdicts)}.")
    moved = found.verdicts[found.verdicts["is_worse"] | found.verdicts["is_better"]]
    if len(moved):
        say.table(
            "Verdicts that would change",
            ("what", "which", "before", "after"),
            [(r["subject_kind"], r["subject"], r["before"], r["after"]) for r in moved.to_dict("records")],
        )
    say.table(
        "The best staffing (lower is better)",
        ("measure", "before", "after"),
        [
            (r["objective"], f"{r['before']:g}", f"{r['after']:g}")
            for r in found.staffing.measures.to_dict("records")
        ],
    )
    said = words.moves_title(found.staffing.moves)
    if found.staffing.moves.empty:
        say.line(f"{said}.")
    else:
        say.table(
            said, ("post", "before", "after"), words.who_stands(found.staffing.moves).itertuples(index=False)
        )
    tell_open(found.staffing.uncovered, "What would stay open, and what would fill it?")


def _failures(frames: dict[str, pd.DataFrame], event: str, assessment: Assessment, as_json: bool) -> None:
    from dashboard import whatif as words
    from rules.plans import whatif as plans

    with say.console(is_error=True).status("failing one thing at a time"):
        table = plans.single_failures(frames, event, assessment)
    if as_json:
        say.as_json({"event": event, "failures": documents.rows(table)})
        return
    say.table(
        f"{words.failures_title(table, event)}.",
        ("what", "which", "posts lost", "posts worse"),
        words.ranked(table)[["what", "which", "posts lost", "posts worse"]].itertuples(index=False),
    )
