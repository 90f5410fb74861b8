"""The commands `kitmuster sheets` and `kitmuster calendar`: paper and a calendar from a folder of CSV files."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard import folders, say
from dashboard.names import file_name
from dashboard.options import AsJson, Policy, Today

if TYPE_CHECKING:
    import pandas as pd

    from rules.engine import Assessment
    from rules.plans.purchases import Plan

NAMES = (
    "lid", "inspection", "tags", "asks", "packet", "packing", "loans", "season", "findings", "calendar",
    "ics-204", "ics-205", "ics-205a", "ics-211", "ics-214", "ics-217a", "ics-218",
)  # fmt: skip
Make = Callable[[], bytes]


def _sheets(
    assessment: Assessment, priced: pd.DataFrame | None, paper: str | None, base: str
) -> Iterator[tuple[str, str, Make]]:
    """Every sheet of a club: what it is called by `--only`, its file, and how to make it."""
    from dashboard.sheets import asks, dates, event, exports, forms, kit, loan, of_event, packing, season

    kits = assessment.tuples("select member, kit from kit order by member, kit")
    yield "season", "season.pdf", lambda: season.review(assessment, _to_buy(assessment, priced), paper)
    yield "tags", "inspection-tags.pdf", partial(kit.tags, assessment, kits, paper, base)
    yield "findings", "findings.csv", lambda: exports.findings_csv(assessment.findings())
    yield "asks", "asks.csv", partial(exports.asks_csv, assessment)
    yield "calendar", "calendar.ics", partial(dates.calendar, assessment)
    yield "ics-217a", "ics-217a.pdf", partial(forms.form, assessment, "217A", paper=paper)
    for member, name in kits:
        at, of = f"kits/{file_name(member, name)}", (assessment, member, name, paper, base)
        yield "lid", f"{at}-lid.pdf", partial(kit.lid, *of)
        yield "inspection", f"{at}-inspection.pdf", partial(kit.inspection, *of)
    for (member,) in assessment.tuples("select member from member order by member"):
        at = f"members/{file_name(member)}-asks"
        yield "asks", f"{at}.pdf", partial(asks.asks, assessment, member, paper, base)
        yield "asks", f"{at}.txt", lambda member=member: asks.letter(assessment, member, base).encode()
    for (name,) in assessment.tuples("select event from event order by event_id"):
        at = f"events/{file_name(name)}"
        yield "packet", f"{at}/packet.pdf", partial(event.packet, assessment, name, paper)
        for number in of_event.FORMS:
            form = f"ics-{number.lower()}"
            yield form, f"{at}/{form}.pdf", partial(forms.form, assessment, number, name, paper)
    for number, name, post, member in assessment.tuples(
        "select assignment_id, event, post, member from assignment join post using (post_id) join member using (member_id) "
        "order by assignment_id"
    ):
        at = f"events/{file_name(name)}/packing-{file_name(member, post)}"
        yield "packing", f"{at}.pdf", partial(packing.packing, assessment, number, paper)
    for number, item, borrower in assessment.tuples(
        "select loan_id, item, borrower from loan where back is null order by loan_id"
    ):
        at = f"loans/{file_name(item, borrower)}"
        yield "loans", f"{at}.pdf", partial(loan.slip, assessment, number, paper)


def _to_buy(assessment: Assessment, priced: pd.DataFrame | None) -> Plan:
    """The plan of purchases for the budget that the dashboard begins with."""
    from dashboard.sheets.purchases import USUAL_USD
    from rules.plans import purchases

    return purchases.plan(assessment, priced, USUAL_USD)


def _apart(path: str, taken: set[str]) -> str:
    """A file name that no other sheet has: a number is added where two names look alike."""
    stem, dot, ending = path.rpartition(".")
    number = 1
    while path in taken:
        number += 1
        path = f"{stem}-{number}{dot}{ending}"
    taken.add(path)
    return path


def sheets(
    folder: folders.Place,
    out: Annotated[
        Path, typer.Argument(metavar="OUT", help="Folder to write the sheets to; made if not there.")
    ],
    paper: Annotated[
        str | None, typer.Option(metavar="SIZE", help="A4 or letter; without it letter with --us, else A4.")
    ] = None,
    only: Annotated[
        str | None, typer.Option(metavar="NAME", help=f"Only one sort of sheet: {', '.join(NAMES)}.")
    ] = None,
    base: Annotated[
        str,
        typer.Option(
            "--address",
            metavar="URL",
            help="Address at which others reach the dashboard, for the codes on kits; none are printed without it.",
        ),
    ] = "http://localhost:8501",
    in_us: Annotated[
        bool, typer.Option("--us", help="Weights, distances and temperatures in lb, ft, mi and °F.")
    ] = False,
    policy: Policy = None,
    today: Today = None,
    as_json: AsJson = False,
) -> None:
    """Print everything on paper: lid lists, packing lists, asks, event packets, inspections, loans, forms.

    Exit code: 0 written, 1 the files have problems, 2 the folder cannot be read or the sheets cannot be written.
    """
    from dashboard import units
    from dashboard.sheets import told
    from dashboard.sheets.paper import Page, SheetError

    if only is not None and only.lower() not in NAMES:
        raise folders.fail(f'only: "{only}" is not a sheet. Write one of {", ".join(NAMES)}.')
    try:
        Page(paper)
        told.address(base, "kit")
    except SheetError as error:
        raise folders.fail(str(error)) from None
    assessment, frames = folders.judged(folder, today, as_json, policy)
    taken: set[str] = set()
    try:
        with units.chosen(in_us), say.console(is_error=True).status("writing") as status:
            for name, path, make in _sheets(assessment, frames.get("offers"), paper, base):
                if only is None or name == only.lower():
                    path = _apart(path, taken)
                    status.update(f"writing {say.printable(path)}")
                    (out / path).parent.mkdir(parents=True, exist_ok=True)
                    (out / path).write_bytes(make())
    except OSError as error:
        raise folders.fail(f"{out}: {error.strerror}. Name a folder that can be written to.") from None
    if as_json:
        say.as_json({"written": sorted(taken)})
    else:
        say.line(f"{told.many(len(taken), 'file')} written to {out}")


def calendar(
    folder: folders.Place,
    out: Annotated[Path, typer.Argument(metavar="OUT.ics", help="The calendar file to write.")],
    member: Annotated[
        str | None, typer.Option(metavar="MEMBER", help="Only what concerns this member.")
    ] = None,
    policy: Policy = None,
    today: Today = None,
    as_json: AsJson = False,
) -> None:
    """Write the club's days as a calendar file: charge rounds, inspections, expiries, events.

    Exit code: 0 written, 1 the files have problems, 2 the folder cannot be read or the file cannot be written.
    """
    from dashboard.sheets import dates
    from dashboard.sheets.paper import SheetError

    assessment = folders.judged(folder, today, as_json, policy)[0]
    try:
        made = dates.calendar(assessment, member.upper() if member else None)
        out.write_bytes(made)
    except SheetError as error:
        raise folders.fail(str(error)) from None
    except OSError as error:
        raise folders.fail(f"{out}: {error.strerror}. Name a file that can be written.") from None
    if as_json:
        say.as_json({"written": [out.name], "entries": made.count(b"BEGIN:VEVENT")})
    else:
        say.line(f"{_entries(made)} written to {out}")


def _entries(made: bytes) -> str:
    """How many entries a calendar file holds, in words."""
    count = made.count(b"BEGIN:VEVENT")
    return "1 entry" if count == 1 else f"{count} entries"
