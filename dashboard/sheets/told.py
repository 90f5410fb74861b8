"""What sheets read of a club: rows, days and amounts as people write them, asks with their cost, cautions."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import nan
from typing import Any
from urllib.parse import urlencode, urlsplit

import pandas as pd

from dashboard import units
from dashboard.cautions import CAUTIONS, HAZARDS
from dashboard.palette import ANSWERS, VERDICTS, Mark
from dashboard.sheets.paper import Code, SheetError
from rules import on_air
from rules.engine import Assessment, Finding
from rules.plans.offers import Price, asked, prices, remedy
from rules.rule import params
from rules.score import next_steps

BASE = "http://localhost:8501"
CHANNELS = {"channel": "net", "channel_alternate": "if it fails", "channel_simplex": "simplex"}
FOR_EVER = 36525
"""Days. A policy may write more of them than a date can count."""


def rows(assessment: Assessment, sql: str, *values: object) -> list[dict[str, Any]]:
    """Rows of a select over the club; what is not known is None."""
    found = assessment.con.cursor().execute(sql, list(values))
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def one(assessment: Assessment, what: str, sql: str, *values: object) -> dict[str, Any]:
    """The one row that a sheet is about.

    Raises
    ------
    SheetError
        There is none.
    """
    found = rows(assessment, sql, *values)
    if not found:
        named = " / ".join(str(value) for value in values)
        raise SheetError(
            f'{what}: "{named}" is not there. Write it as it stands in the files that were sent.'
        )
    return found[0]


def within(assessment: Assessment, rule: str) -> timedelta:
    """The days within which a rule asks for something (`within_days`), as the club's policy has them."""
    asked = assessment.policy.value(rule, "within_days", params()[rule]["within_days"].value)
    return timedelta(days=min(int(asked), FOR_EVER))


def day(value: date | datetime | None) -> str:
    """A date as year-month-day, which nobody reads two ways."""
    return "not known" if value is None else f"{value:%Y-%m-%d}"


def moment(value: datetime | None) -> str:
    """A date with its weekday and time of day."""
    return "not known" if value is None else f"{value:%a %Y-%m-%d %H:%M}"


def amount(value: float | None, unit: str, digits: int = 0) -> str:
    """A number with its unit, as the reader wants them."""
    if value is None:
        return "not known"
    figure, unit = units.told(value, unit)
    return f"{figure:.{digits}f} {unit}"


def figure(value: float, unit: str) -> str:
    """A figure with its unit, to one decimal place at most."""
    told, unit = units.told(value, unit)
    return f"{round(float(told), 1):g} {unit}"


def weather(coldest: float | None, hottest: float | None) -> str:
    """The temperatures between which a day lies."""
    if coldest is None or hottest is None:
        return "not known"
    (low, unit), (high, _) = units.told(coldest, "°C"), units.told(hottest, "°C")
    return f"{low:.0f} to {high:.0f} {unit}"


def shelter(post: Mapping[str, Any]) -> str:
    """Where people at a post go in a storm: the place that is told, or the vehicle that stays."""
    if post["has_vehicle"] and post["shelter"] in (None, "none"):
        return "the vehicle that stays"
    return post["shelter"] or "not known"


def many(count: int, noun: str) -> str:
    """A count with its noun: `1 kit`, `2 kits`."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def lasts(sent: Mapping[str, Any]) -> str:
    """How long the kit of someone who is sent lasts there: only the least where nobody tells what else may feed it."""
    if sent["is_on_mains"]:
        return "mains"
    if sent["untold"] and sent["runtime_low_h"] is not None:
        return on_air.at_least(sent["runtime_low_h"], nan if sent["need_h"] is None else sent["need_h"])
    return lasts_alone(sent)


def lasts_alone(sent: Mapping[str, Any]) -> str:
    """How long a kit lasts on what it holds, beside the hours that are asked of it."""
    need_h = nan if sent["need_h"] is None else sent["need_h"]
    return hours(sent["runtime_low_h"], sent["runtime_high_h"], need_h)


def shift_needs(sent: Mapping[str, Any]) -> str:
    """The hours that are asked of a kit, those at other posts on the same charge with them, as they are said beside those that it lasts."""
    given = [sent[name] for name in ("runtime_low_h", "runtime_high_h") if sent[name] is not None]
    if sent["need_h"] is None:
        return "not known"
    elsewhere = " with other posts" if sent.get("elsewhere_h") else ""
    return on_air.asked(sent["need_h"], *given) + elsewhere


def is_short(sent: Mapping[str, Any]) -> bool:
    """Whether the kit of someone who is sent may end before the shift, by what is known to feed it."""
    low, need = sent["runtime_low_h"], sent["need_h"]
    return not sent["is_on_mains"] and low is not None and need is not None and low < need


def hours(low: float | None, high: float | None, need: float = nan) -> str:
    """A range of hours on the air (h), beside those that are asked for."""
    return "not known" if low is None or high is None else on_air.span(low, high, need=need)


def needed(hours: float | None) -> str:
    """Hours (h) that are asked for at least, rounded up."""
    return "not known" if hours is None else on_air.asked(hours)


def from_to(starts: datetime, ends: datetime) -> str:
    """Two moments; the second day is named only where it is another."""
    return f"{moment(starts)} to " + (f"{ends:%H:%M}" if starts.date() == ends.date() else moment(ends))


def turn(starts: datetime, ends: datetime) -> str:
    """Two moments by weekday and time of day; the second day is named only where it is another."""
    later = "" if starts.date() == ends.date() else f"{ends:%a} "
    return f"{starts:%a %H:%M} to {later}{ends:%H:%M}"


def channels(event: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The channels of an event by what they are for, those that are told."""
    return [(use, event[column]) for column, use in CHANNELS.items() if event[column]]


def clocks(
    event: Mapping[str, Any],
    starts: datetime,
    ends: datetime,
    spoken: Callable[[datetime], str] = "{:%a %Y-%m-%d}".format,
) -> str:
    """How clocks change within hours of an event: `go back from 03:00 to 02:00 on Sun 2026-10-25`; "" where they do not."""
    change = event["clocks_change"]
    if pd.isna(change) or not starts < change <= ends:
        return ""
    gained = timedelta(minutes=int(event["clock_after_min"] - event["clock_min"]))
    first, then = change - max(gained, timedelta()), change - max(-gained, timedelta())
    way = "back" if gained < timedelta() else "forward"
    return f"go {way} from {first:%H:%M} to {then:%H:%M} on {spoken(first)}"


def mark_of(finding: Finding) -> Mark:
    """The mark of a finding: its severity, or not known, or met."""
    return ANSWERS[finding.severity if finding.status == "not met" else finding.status]


def verdicts(assessment: Assessment, kind: str) -> dict[str, Mark]:
    """The verdict of every subject of one kind, by subject."""
    return {
        row["subject"]: VERDICTS[row["verdict"]]
        for row in rows(
            assessment,
            "select subject, verdict from score join subject using (subject_kind, subject_id) where subject_kind = ?",
            kind,
        )
    }


def bearing(assessment: Assessment, event: str, sent: Iterable[dict[str, Any]]) -> dict[str, list[Finding]]:
    """By post of an event, what blocks or limits it, or is not known: of itself, its people and their kits; worst first.

    Parameters
    ----------
    sent : who is sent where, with post, member, owner and kit
    """
    found: dict[str, list[Finding]] = {}
    for finding in assessment.findings("s.event = ? and s.post is not null and j.severity_no < 2", [event]):
        found.setdefault(str(finding.post), []).append(finding)
    theirs = assessment.findings(
        "j.subject_kind in ('item', 'kit', 'member') and s.member is not null and j.severity_no < 2"
    )
    for row in sent:
        own = found.setdefault(row["post"], [])
        own += [
            f
            for f in theirs
            if (
                f.member == row["member"]
                if f.kit is None
                else (f.member, f.kit) == (row["owner"], row["kit"])
            )
        ]
    for own in found.values():
        own.sort(key=lambda f: (f.severity != "blocks", f.status == "not known"))
    return found


def warned(hazards: Iterable[str]) -> list[str]:
    """The cautions of these hazards, in a fixed order, each once."""
    asked = set(hazards)
    return [text for hazard, text in CAUTIONS.items() if hazard in asked]


def dangers(families: Iterable[str]) -> set[str]:
    """What to be careful of where findings of these families are mended."""
    return {hazard for family in families for hazard in HAZARDS.get(family, ())}


def address(base: str, page: str, **asked: str) -> str:
    """Address of a page of the dashboard; of the page alone where the whole is too long for a code that prints well.

    Raises
    ------
    SheetError
        The base is no http or https address.
    """
    if not re.fullmatch(r"https?://[^\s/?#]+(/[^\s?#]*)?", base):
        raise SheetError(f'address: "{base}" is not one. Write it like {BASE}.')
    whole = f"{base.rstrip('/')}/{page}?{urlencode(asked)}"
    if len(whole.encode()) > 600:
        return f"{base.rstrip('/')}/{page}"
    return whole


def is_of_this_machine(base: str) -> bool:
    """Whether an address leads everyone who opens it to their own machine."""
    return urlsplit(base).hostname in ("localhost", "127.0.0.1", "::1")


def code(base: str, page: str, side_mm: float = 26, **asked: str) -> Code | None:
    """A code that leads to a page; None where it would lead a telephone to the telephone itself.

    Raises
    ------
    SheetError
        The base is no http or https address.
    """
    whole = address(base, page, **asked)
    return None if is_of_this_machine(base) else Code(whole, side_mm)


# --- asks ---


@dataclass(frozen=True)
class Ask:
    """One thing that a member is asked to mend or tell: what, why, how, and what it costs."""

    finding: Finding
    cost: str
    cautions: list[str]


def cost(price: Price, wanted: Mapping[str, float]) -> str:
    """What a thing costs, in words: the usual range, the cheapest in the club's price book, and who can share it.

    Parameters
    ----------
    wanted : how large it must be, as `rules.plans.offers.asked` says; several are named where one is too small
    """
    low, high, cheapest, pick = price.low_usd, price.high_usd, price.cheapest, price.enough(wanted)
    said = [f"usually {low:.0f} to {high:.0f} USD" if low < high else f"usually {low:.0f} USD"]
    if pick and not pick[0].is_estimate:
        offer, pieces = pick
        which = "cheapest that is large enough" if wanted else "cheapest"
        what = offer.offer if pieces == 1 else f"{pieces} times {offer.offer}"
        said.append(f"{which} in the club's price book: {what}, {offer.price_usd * pieces:.0f} USD")
    elif not pick and cheapest and not cheapest.is_estimate:
        said.append("nothing in the club's price book is large enough")
    if cheapest and cheapest.is_shared:
        said.append(f"{cheapest.pieces} pieces, to share with others")
    return "; ".join(said)


def asks(assessment: Assessment, member: str, count: int = 3) -> list[Ask]:
    """What to ask of a member first, with cost and cautions.

    Raises
    ------
    SheetError
        Nobody of this name was sent.
    """
    one(assessment, "member", "select member from member where member = ?", member)
    priced, rules = prices(assessment), {rule.name: rule for rule in assessment.rules}
    given = []
    for finding in next_steps(assessment, member, count):
        is_bought = finding.status == "not met"
        kind = remedy(rules[finding.rule], finding.evidence) if is_bought else None
        price = priced.get(kind or "")
        wanted = asked(rules[finding.rule], finding.evidence)
        given.append(Ask(finding, cost(price, wanted) if price else "", warned(dangers([finding.family]))))
    return given
