"""The rule book: every rule in words, why it matters, what it compares with, where it comes from."""

import re
from datetime import date

import pandas as pd
import streamlit as st

from dashboard import access, evidence_tables, parts, units
from dashboard.palette import ANSWERS
from dashboard.standing import Standing, club
from rules.policy import with_allowed, with_rule
from rules.rule import FAMILIES, NONE_SET, Rule, load_rules, owners, unfilled
from rules.verdicts import SEVERITIES

EVERY = "every question"
NAME = re.compile(r"[a-z]+(?:_[a-z]+)+")  # of another rule, as the words of a rule point to it


def said(now: Standing, text: str) -> str:
    """Words of a rule for the reader: in their units, and other rules by their titles."""
    titles = {rule.name: f"“{rule.title}”" for rule in now.assessment.rules}
    return units.said(NAME.sub(lambda found: titles.get(found[0], found[0]), text))


def compared(now: Standing, rule: Rule) -> pd.DataFrame:
    """What a rule compares with under the club's policy, in the reader's units."""
    rows = []
    for name, owner in owners(rule).items():
        told = owner.param[name]
        value, unit = units.told(now.assessment.policy.value(owner.name, name, told.value), told.unit)
        shown = f"{value:.4g}" if unit != told.unit else str(value) or NONE_SET
        unit = "" if unit == "1" or told.is_day else unit
        rows.append((name_of(owner, name), shown, unit, units.said(told.why), told.source))
    return pd.DataFrame(rows, columns=["compares with", "value", "unit", "why", "source"])


def name_of(rule: Rule, name: str) -> str:
    """What a parameter is called, without its unit."""
    return evidence_tables.evidence_label(name).removesuffix(f" ({rule.param[name].unit})")


def shared(now: Standing, rule: Rule) -> None:
    """Which figures a rule shares with others, and where these are set."""
    looked_at = {one.name for one in now.assessment.rules}
    for name, owner in owners(rule).items():
        if owner is not rule:
            st.markdown(
                f"The figure *{parts.plain(name_of(owner, name))}* is set at **{parts.plain(owner.title)}**, for both rules."
            )
            if owner.name in looked_at:
                st.page_link(
                    "views/rulebook.py",
                    label=":green[go to where it is set]",
                    query_params={"rule": owner.name},
                )
            else:
                st.text(
                    f"The club does not look at that rule. Its policy sets the figure below [rules.{owner.name}]."
                )
    for other in now.assessment.rules:
        if names := [name_of(rule, name) for name, of in other.shared.items() if of == rule.name]:
            st.markdown(
                f"The rule **{parts.plain(other.title)}** compares with *{parts.plain(', '.join(names))}* too: "
                "what is changed here is changed for both."
            )


def propose(text: str) -> None:
    """Take a changed policy to its page, where what it would do is shown before it is saved."""
    access.require(access.Action.SET_POLICY)
    st.session_state["policy-proposed"] = text, ""
    st.switch_page("views/policy.py")


def change(now: Standing, rule: Rule) -> None:
    """What the club may decide of a rule: what it compares with, and whether it is looked at."""
    with st.expander("decide otherwise for this club"):
        policy, written = now.assessment.policy, club().store.policy()
        if rule.param:
            with st.form(f"change-{rule.name}", border=False):
                given = {name: setting(rule, name, policy.value(rule.name, name, told.value))
                         for name, told in rule.param.items()}  # fmt: skip
                if st.form_submit_button("See what this would change"):
                    standard = {name: told.value for name, told in rule.param.items()}
                    propose(with_rule(written, rule.name, given, standard))
        st.text(
            "A rule that is not looked at counts in no verdict, score or sheet of this club. What it warns of stays."
        )
        if st.button("See what not looking at it would change", key=f"allow-{rule.name}"):
            propose(with_allowed(written, rule.name, True))


def setting(rule: Rule, name: str, value: object) -> object:
    """One parameter of a rule, to be written anew in the unit of the rule."""
    unit, why = rule.param[name].unit, parts.plain(rule.param[name].why)
    called, key = name_of(rule, name), f"param-{rule.name}-{name}"
    if rule.param[name].is_day:
        chosen = st.date_input(
            called, date.fromisoformat(str(value)) if value else None, key=key, format="YYYY-MM-DD", help=why
        )
        return chosen.isoformat() if isinstance(chosen, date) else ""
    called = f"{called} ({unit})" if unit not in ("", "1") else called
    if isinstance(value, int | float):
        step = 1.0 if isinstance(rule.param[name].value, int) else None
        written = st.number_input(called, value=float(value), step=step, key=key, format="%g", help=why)
        return int(written) if float(written).is_integer() else written
    return st.text_input(called, value=str(value), key=key, help=why)


def not_looked_at(now: Standing, may_change: bool) -> None:
    """The rules that the club does not look at, and the way back."""
    titles = {rule.name: rule.title for rule in load_rules()}
    for name in now.assessment.policy.allow:
        with st.container(border=True, key=f"allowed-{name}"):
            st.markdown(f"The club does not look at **{parts.plain(titles.get(name, name))}**.")
            if may_change and st.button("See what looking at it again would change", key=f"look-at-{name}"):
                propose(with_allowed(club().store.policy(), name, False))


def judged(rule: Rule) -> str:
    """What a rule judges, in words; at a post a person where it rests on what is told of them or of where they are sent, else a kit."""
    if rule.subject != "post_kit":
        return rule.subject
    return "person at their post" if rule.file in ("members", "assignments") else "kit at its post"


def show_rule(now: Standing, rule: Rule, may_change: bool) -> None:
    counts = now.tally[now.tally["rule"] == rule.name].iloc[0]
    with st.container(border=True, key="one-rule"):
        st.header(parts.plain(rule.title))
        st.markdown(
            f"{parts.inked(ANSWERS[rule.severity])} · {FAMILIES.get(rule.family, rule.family)} · "
            f"judges each {judged(rule)}"
        )
        st.markdown(
            f"Not met {counts['not_met']} times, not known {counts['not_known']} times, "
            f"met {counts['met']} times."
        )
        words = {
            "Why": rule.why,
            "To mend it": rule.fix,
            "Applies to": rule.applies_to,
            "Caution": rule.caution,
            "Source": rule.source,
        }
        for label, text in words.items():
            if text:
                told = said(now, unfilled(rule, text, now.assessment.policy))
                st.markdown(f"**{label}.** {parts.plain(told[0].upper() + told[1:])}")
        if rule.param or rule.shared:
            with st.container(key="params"):
                st.table(
                    compared(now, rule).map(parts.plain),
                    border="horizontal",
                    hide_index=True,
                    alt=f"Parameters of {rule.title}",
                )
            shared(now, rule)
        with st.expander("how it is worked out"):
            st.text(f"Its name in files, in the policy and for programs is {rule.name}.")
            st.code(rule.sql, language="sql", wrap_lines=True)
        parts.cautions(parts.hazards([rule.family]))
        if may_change:
            change(now, rule)


def show() -> None:
    may_change = access.require(access.Action.SEE_RULES).may(access.Action.SET_POLICY)
    now = parts.standing()
    st.title("What is looked at, and why?")
    rules = {rule.name: rule for rule in now.assessment.rules}
    st.markdown(
        f"{parts.many(len(rules), 'rule')} judge the club. A rule that *blocks* makes what it judges not ready, "
        "one that *limits* makes it ready with limits, and *advice* only counts in the score."
    )
    not_looked_at(now, may_change)
    asked = st.query_params.get("rule")
    if asked in rules and st.session_state.get("asked_rule") != asked:
        st.session_state["asked_rule"] = st.session_state["rule_name"] = asked
        st.session_state["rule_family"], st.session_state["rule_severity"] = EVERY, []
    left, right = st.columns(2)
    families = [family for family in FAMILIES if any(rule.family == family for rule in rules.values())]
    family = left.selectbox(
        "question", [EVERY, *families], format_func=lambda name: FAMILIES.get(name, name), key="rule_family"
    )
    severities = right.multiselect("severity", SEVERITIES, key="rule_severity", placeholder="every severity")
    chosen = [
        rule
        for rule in rules.values()
        if family in (EVERY, rule.family) and (not severities or rule.severity in severities)
    ]
    if not chosen:
        st.text("No rule fits. Choose another question or severity.")
        return
    if st.session_state.get("rule_name") not in [rule.name for rule in chosen]:
        st.session_state["rule_name"] = chosen[0].name
    name = st.selectbox(
        "rule", [rule.name for rule in chosen], format_func=lambda name: rules[name].title, key="rule_name"
    )
    st.query_params["rule"] = name
    st.session_state["asked_rule"] = name
    show_rule(now, rules[name], may_change)
    st.header("every rule of this choice")
    table = now.tally[now.tally["rule"].isin([rule.name for rule in chosen])]
    table = table[["title", "severity", "not_met", "not_known", "met", "family"]].assign(
        severity=table["severity"].map(lambda word: ANSWERS[word].label)
    )
    parts.wrapped(
        table.drop(columns="family").rename(columns={"not_met": "not met", "not_known": "not known"}),
        "rules",
        "Rules and how often they are met",
    )
    parts.download("Download the rules as CSV", parts.csv(table), "rules.csv", "rules-csv")


show()
