"""Rules: what a file says, and the sentences that it speaks in.

`load_rules` reads those of the project, `read_rule` one file. `sentence` and `fill` put the evidence of one judged row into
the words of a rule's header. How a rule is written stands in DEVELOPERS.md.
"""

from __future__ import annotations

import math
import re
import string
import tomllib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from functools import cache, partial
from itertools import combinations
from pathlib import Path
from typing import Any

from data import plain_words, schema
from rules import on_air
from rules.policy import LARGEST, Policy
from rules.verdicts import SEVERITIES, SUBJECTS

HERE = Path(__file__).parent
NOTHING_KNOWN = re.compile(r" \((?:[a-z ]+: not known(?:; |(?=\))))+\)")
"""Brackets that say of each of their figures that it is not known."""
NOTHING_SAID = (re.compile(r"about not known \w+ (?=more\b)"), re.compile(r"(?<=: )not known, "))
"""How much of something, and how many of a thing, where that is not known."""
FIGURE = re.compile(r"\{(\w+)(?::\.(\d)([f%]))?\}")
"""A figure in a sentence: its name, its digits after the point, and whether it is a percentage."""
RANGE = re.compile(r"(\{(\w+)(?::[^{}]*)?\}) to \{(\w+)(?::[^{}]*)?\}")
"""Two figures of a sentence between which something lies."""
MORE_DIGITS = 3
FIND_OUT = {
    "member": "Find out and write it down. If need be:",
    "coordinator": "Find out and have the coordinator write it down. If need be:",
}
"""What comes before the mending of what is not known, by who sends the file that tells it: it may be in order."""
LINES_OF = {
    "item": "inventory",
    "kit": "inventory",
    "post_kit": "inventory",
    "member": "members",
    "post": "posts",
    "event": "events",
    "club": "",
}
"""The file that the lines of a finding are of, by subject, unless the rule says another."""
FAMILIES = {
    "redundancy": "what if one thing breaks?",
    "spares": "is there a spare?",
    "connectors": "will it plug into the others?",
    "voltage": "do the voltages agree?",
    "power": "will the power last?",
    "wiring": "are wires and fuses right?",
    "batteries": "are the batteries looked after?",
    "rehearsal": "has it been tried?",
    "packing": "is it packed and labelled?",
    "carrying": "can it be carried?",
    "operator": "can the person hold the post?",
    "papers": "are the papers there?",
    "antenna": "will the signal get out?",
    "exposure": "is everyone far enough away?",
    "weather": "is it ready for the weather?",
    "coverage": "is every post covered?",
    "club": "is the club ready as a whole?",
}


DATE, NONE_SET = "date", "none set"
"""The unit of a parameter that is a day, as text ("2027-03-01"), and what is said of one that is not set ("")."""
MOST = {"min": 525_600, "h": 8_760, "d": 36_500}
"""The most of a figure by its unit: a year, of days a century."""


@dataclass(frozen=True)
class Param:
    """A number or word that a rule compares with; the policy can set another."""

    value: Any
    unit: str
    why: str
    source: str
    least: float = 0
    """The least that a policy may set."""

    @property
    def is_day(self) -> bool:
        """Whether it is a day, or none."""
        return self.unit == DATE

    def within(self, name: str) -> tuple[float, float]:
        """The least and the most that a policy may set, by the parameter's name: 3 written for a share of 3 % would let all pass."""
        return self.least, 1 if name.endswith("_share") else MOST.get(self.unit, LARGEST)


@dataclass(frozen=True)
class Rule:
    """One rule file: what its header says, and the select that judges."""

    name: str
    family: str
    title: str
    subject: str
    severity: str
    why: str
    not_met: str
    fix: str
    source: str
    sql: str
    not_known: str = ""
    told_by: str = "member"
    mended_by: str = "member"
    applies_to: str = ""
    lines_of: str = ""
    caution: str = ""
    param: Mapping[str, Param] = field(default_factory=dict)
    remedy: Mapping[str, str] = field(default_factory=dict)
    shared: Mapping[str, str] = field(default_factory=dict)
    """Parameters that are another rule's, which it names: a club that changes one changes it for both."""

    @property
    def file(self) -> str:
        """The file, by its stem, that the lines of its findings are of; none for the club."""
        return self.lines_of or LINES_OF[self.subject]

    def figures(self) -> dict[str, tuple[str, Param]]:
        """By name, each parameter and the rule that it belongs to: its own, and those of other rules that it shares."""
        own = {name: (self.name, param) for name, param in self.param.items()}
        return own | {name: (of, params()[of][name]) for name, of in self.shared.items()}

    def compared(self, policy: Policy) -> dict[str, Any]:
        """The value of each parameter by its name."""
        return {name: policy.value(of, name, param.value) for name, (of, param) in self.figures().items()}

    def values(self, policy: Policy, today: date) -> dict[str, Any]:
        """The values of the `$names` that the select uses."""
        known = self.compared(policy) | {"today": today}
        used = set(re.findall(r"\$(\w+)", self.sql))
        return {name: value for name, value in known.items() if name in used}


class RuleError(ValueError):
    """A rule file that does not keep the form; the message says which and what to write."""


def read_rule(path: Path) -> Rule:
    """Read one rule file: a TOML header in a comment, then one select.

    Raises
    ------
    RuleError
        The header is missing, is not TOML, lacks a field, or has a word that is not known or a value of another form.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RuleError(f"{path.name}: cannot be read as text: {error}.") from error
    head, closed, sql = text.removeprefix("/*").partition("*/")
    if not text.startswith("/*") or not closed:
        raise RuleError(f"{path.name}: no header. Begin the file with /* and the TOML header, then */.")
    try:
        header = tomllib.loads(head)
        for name, line in (("param", "[param.most]"), ("remedy", "[remedy]"), ("shared", "[shared]")):
            if not isinstance(header.setdefault(name, {}), dict):
                raise RuleError(f"{path.name}, {name}: not a table. Write it below a line like {line}.")
        header["param"] = {name: Param(**given) for name, given in header["param"].items()}
        rule = Rule(name=path.stem, family=path.parent.name, sql=sql.strip().rstrip(";"), **header)
    except (tomllib.TOMLDecodeError, TypeError) as error:
        raise RuleError(f"{path.name}: the header is not complete: {error}.") from error
    _check_values(path.name, rule)
    for value, allowed, what in (
        (rule.subject, SUBJECTS, "subject"),
        (rule.severity, SEVERITIES, "severity"),
        (rule.told_by, tuple(FIND_OUT), "told_by"),
        (rule.mended_by, tuple(FIND_OUT), "mended_by"),
        (rule.file, ("", *schema.FILES), "lines_of"),
    ):
        if value not in allowed:
            raise RuleError(
                f'{path.name}, {what}: "{value}" is not known. Write one of {", ".join(allowed)}.'
            )
    return rule


def _check_values(file: str, rule: Rule) -> None:
    """Hold the values of a header to their form: words where a sentence is made of them, a number or word to compare."""
    texts = [(one.name, getattr(rule, one.name)) for one in fields(rule) if one.type == "str"]
    texts += [(f"remedy.{name}", word) for name, word in rule.remedy.items()]
    texts += [(f"shared.{name}", of) for name, of in rule.shared.items()]
    for name, param in rule.param.items():
        texts += [
            (f"param.{name}.{one.name}", getattr(param, one.name))
            for one in fields(param)
            if one.type == "str"
        ]
        if not isinstance(param.value, str | int | float):
            raise RuleError(
                f"{file}, param.{name}.value: {param.value!r} is neither a number nor a word. Write one."
            )
        if param.is_day and not is_day_or_none(param.value):
            raise RuleError(f"{file}, param.{name}.value: {param.value!r} {NO_DAY}")
        if not isinstance(param.least, int | float):
            raise RuleError(f"{file}, param.{name}.least: {param.least!r} is no number. Write one.")
    for name, text in texts:
        if not isinstance(text, str):
            raise RuleError(f"{file}, {name}: {text!r} is not text. Put it in double quotes.")
    for name in ("title", "not_met", "fix"):
        if not getattr(rule, name).strip():
            raise RuleError(f"{file}, {name}: empty. Write what a member reads.")


NO_DAY = 'is no day. Write one in quotes, for example "2027-03-01", or "" for none.'


def is_day_or_none(value: object) -> bool:
    """Whether a value is text that says a day, or empty."""
    if not isinstance(value, str):
        return False
    try:
        return value == "" or date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


@cache
def load_rules() -> tuple[Rule, ...]:
    """Every rule of the project, by family in the order of FAMILIES, then by name."""
    return tuple(read_rule(path) for family in FAMILIES for path in sorted((HERE / family).glob("*.sql")))


@cache
def params() -> Mapping[str, Mapping[str, Param]]:
    """The parameters of each rule of the project."""
    return {rule.name: rule.param for rule in load_rules()}


def owners(rule: Rule) -> Mapping[str, Rule]:
    """The rule that sets each figure that a rule compares with, by the figure's name: the rule itself or one that shares it."""
    of = {one.name: one for one in load_rules()}
    return dict.fromkeys(rule.param, rule) | {name: of[owner] for name, owner in rule.shared.items()}


def is_clubs_own(rule: Rule) -> bool:
    """Whether a rule is a club's own, which may ask what none of the project asks."""
    return rule.name not in params()


class _Speaker(string.Formatter):
    """Fills a sentence from evidence; a value that is not known is spoken as `not known`, one that is no number as it is."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if value is None:
            return "not known"
        return str(super().format_field(value, format_spec if isinstance(value, int | float) else ""))


@cache
def evidence() -> Mapping[str, Mapping[str, str]]:
    """Each column that a rule returns: its label and its unit."""
    told: dict[str, dict[str, str]] = tomllib.loads((HERE / "evidence.toml").read_text("utf-8"))
    return told


def fill(rule: Rule, template: str, row: Mapping[str, Any], policy: Policy) -> str:
    """A template of the rule with its parameters and the evidence of one row put in.

    Of two figures in one unit that differ, each is given more digits until the greater reads greater. What is asked for at least
    is rounded up, what is allowed at most or is given down (`rounded`). A range whose ends are the same is said as one figure.
    """
    told = {name: plain_words.called(name, value) for name, value in {**rule.compared(policy), **row}.items()}
    fitted = _apart(rule, on_air.put_in(RANGE.sub(partial(_ranged, told), template), row), told)
    said = NOTHING_KNOWN.sub("", _Speaker().format(fitted, **told))
    for nothing in NOTHING_SAID:
        said = nothing.sub("", said)
    return said


def _ranged(told: Mapping[str, Any], ends: re.Match[str]) -> str:
    """A range of a template as one figure where both of its ends are the same."""
    low, high = told.get(ends[2]), told.get(ends[3])
    return ends[1] if isinstance(low, int | float) and low == high else ends[0]


def _apart(rule: Rule, template: str, told: Mapping[str, Any]) -> str:
    """The template, with as many digits as it takes to tell its figures apart."""
    alike: defaultdict[tuple[str, bool], dict[str, tuple[float, str]]] = defaultdict(dict)
    for name, digits, sort in FIGURE.findall(template):
        value = told.get(name)
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
            alike[_unit(rule, name), sort == "%"][name] = (value, digits)
    more: dict[str, int] = {}
    for (_, is_share), figures in alike.items():
        for less, most in combinations(sorted(figures, key=lambda name: figures[name][0]), 2):
            if not math.isclose(figures[less][0], figures[most][0], rel_tol=1e-9):
                tried = (
                    n
                    for n in range(MORE_DIGITS + 1)
                    if _shown(less, *figures[less], is_share, n) < _shown(most, *figures[most], is_share, n)
                )
                least = next(tried, 0)
                more |= {name: max(least, more.get(name, 0)) for name in (less, most)}

    def form(found: re.Match[str]) -> str:
        """The place of a figure in the template, or the figure itself where it is asked for."""
        name, digits, sort = found.groups()
        if not digits:
            return found[0]
        places = int(digits) + more.get(name, 0)
        if sort == "f" and name in alike[_unit(rule, name), False] and _way(name):
            return f"{rounded(name, told[name], places):.{places}f}"
        return f"{{{name}:.{places}{sort}}}"

    return FIGURE.sub(form, template)


def _unit(rule: Rule, name: str) -> str:
    """The unit of a figure in a sentence, differences of temperature as temperatures."""
    figures = rule.figures()
    unit = figures[name][1].unit if name in figures else evidence().get(name, {}).get("unit", "")
    return unit.removeprefix("°")


def _shown(name: str, value: float, digits: str, is_share: bool, more: int) -> float:
    """What is read of a figure with some more digits; one without a form is shown as it is."""
    read = 100 * value if is_share else value
    return rounded(name, read, int(digits) + more) if digits else read


def _way(name: str) -> str:
    """Whether a word of evidence is said rounded `up` or `down`; "" where it is to the nearest."""
    return evidence().get(name, {}).get("rounds", "")


def asked(row: Mapping[str, Any]) -> list[float]:
    """The figures of a row of evidence that are asked for at least."""
    return [value for name, value in row.items() if _way(name) == "up" and value is not None]


def rounded(name: str, value: float, places: int) -> float:
    """A figure of evidence as it is said: rounded up where it is asked for at least, so that who keeps to what they read has
    kept enough, down where it is allowed at most or is given, else to the nearest.
    """
    way = _way(name)
    if way == "up":
        return up(value, places)
    return 0.0 - up(-value, places) if way == "down" else round(value, places)


def up(value: float, places: int) -> float:
    """A figure rounded up at so many digits; what lies beyond a millionth of the last of them is the machine's."""
    scale: float = 10.0**places
    return math.ceil(round(value * scale, 6)) / scale


def unfilled(rule: Rule, template: str, policy: Policy) -> str:
    """A template of the rule apart from any finding: with its parameters put in, and … for what the evidence would tell."""
    figures = rule.figures()
    told = {name for _, name, _, _ in string.Formatter().parse(template) if name and name not in figures}
    return fill(rule, template, dict.fromkeys(told, "…"), policy).replace("……", "…")


def sentence(rule: Rule, row: Mapping[str, Any], policy: Policy) -> str:
    """What a member reads of one judged row: the rule's sentence for its answer."""
    if row["ok"]:
        return f"{row['subject']}: in order. ({rule.title}: no.)"
    return fill(rule, rule.not_known if row["ok"] is None else rule.not_met, row, policy)
