"""The command that lists the rules, or shows one whole."""

from __future__ import annotations

import dataclasses
import difflib
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard import folders, say
from dashboard.options import AsJson

if TYPE_CHECKING:
    from rules.rule import Rule


def rules(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One rule, to be shown whole.")] = None,
    as_json: AsJson = False,
) -> None:
    """List the rules by family, or show one whole."""
    from rules.rule import FAMILIES, load_rules

    known = {rule.name: rule for rule in load_rules()}
    if name is None:
        if as_json:
            say.as_json({"rules": [_rule_document(rule) for rule in known.values()]})
            return
        for family, question in FAMILIES.items():
            rows = [(r.name, r.severity, r.subject, r.title) for r in known.values() if r.family == family]
            if rows:
                say.table(f"{family}: {question}", ("rule", "severity", "judges", "says"), rows)
        return
    asked = name.removesuffix(".sql").rpartition("/")[2]
    if asked not in known:
        near = difflib.get_close_matches(asked, known, n=3, cutoff=0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else "`kitmuster rules` lists them."
        raise folders.fail(f'"{name}" is not a rule. {hint}')
    if as_json:
        say.as_json(_rule_document(known[asked]))
    else:
        _show(known[asked])


def _rule_document(rule: Rule) -> dict[str, Any]:
    return {field.name: getattr(rule, field.name) for field in dataclasses.fields(rule)} | {
        "param": {name: dataclasses.asdict(param) for name, param in rule.param.items()},
        "remedy": dict(rule.remedy),
    }


def _show(rule: Rule) -> None:
    """Print a rule whole: what it says, what it compares with, where it comes from, how it judges."""
    from rules.rule import FAMILIES, NONE_SET, owners

    say.line(rule.title, "bold")
    fields = {
        "rule": rule.name,
        "family": f"{rule.family}: {FAMILIES[rule.family]}",
        "judges": rule.subject,
        "severity": rule.severity,
        "why": rule.why,
        "applies to": rule.applies_to,
        "says": rule.not_met,
        "if not known": rule.not_known,
        "fix": rule.fix,
        "caution": rule.caution,
        "source": rule.source,
    }
    for label, text in fields.items():
        if text:
            say.line(f"{label:<13}{text}")
    for name, owner in owners(rule).items():
        param = owner.param[name]
        unit = "" if param.unit == "1" or param.is_day else f" {param.unit}"
        where = "" if owner is rule else f", set at {owner.name}"
        say.line(f"${name} = {str(param.value) or NONE_SET}{unit}{where}: {param.why} ({param.source})")
    say.line()
    for text in rule.sql.splitlines():
        say.line(text)
