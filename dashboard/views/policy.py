"""The club's policy: what it has decided, what a change would do before it is saved, and who changed what and why."""

from collections.abc import Iterable, Sequence
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import access, charts, parts
from dashboard.palette import VERDICTS
from dashboard.standing import Standing, club
from data import plain_words
from rules.policy import OF_REFERENCE, STANDARD, PolicyError
from rules.rule import RuleError

EXAMPLE = """# Write only what the club changes; everything else stands as in the standard policy.
# allow = ["not_labelled"]
# [rules.no_second_radio]
# least = 1
# [weight]
# advice = 0.5
# [duty.post]
# tx_share = 0.10
# rx_share = 0.30
# idle_share = 0.60
# [chemistry.agm]
# usable_share = 0.7
# [post_type.aid_station]
# operators = 2
"""


def moved(before: Standing, after: Standing) -> pd.DataFrame:
    """Kits, members, posts and events whose verdict a policy would change, with verdict and score now and then."""
    columns = ["subject_kind", "subject", "verdict", "low", "high"]
    both = before.scores[columns].merge(
        after.scores[columns], on=["subject_kind", "subject"], suffixes=("_now", "_then")
    )
    both = both[(both["verdict_now"] != both["verdict_then"]) & (both["subject_kind"] != "item")]
    told = {"which": both["subject"], "what": both["subject_kind"]}
    for when in ("now", "then"):
        told[when] = both[f"verdict_{when}"].map(lambda word: VERDICTS[word].label)
        ranges = zip(both[f"low_{when}"], both[f"high_{when}"], strict=True)
        told[f"score {when}"] = [charts.score_range(low, high) for low, high in ranges]
    return pd.DataFrame(told).reset_index(drop=True)


def counts(before: Standing, after: Standing) -> pd.DataFrame:
    """How many kits have each verdict now and then."""
    rows = [
        (
            f"{mark.shape} {word}",
            *(int((standing.of("kit")["verdict"] == word).sum()) for standing in (before, after)),
        )
        for word, mark in VERDICTS.items()
    ]
    return pd.DataFrame(rows, columns=["kits", "now", "then"])


def club_words(before: Standing, after: Standing) -> str:
    """The score of the club now and then; empty where there is none."""
    now, then = ([charts.score_range(row.low, row.high) for row in standing.of("club").itertuples()]
                 for standing in (before, after))  # fmt: skip
    if not now:
        return ""
    return f"The club as a whole scores {now[0]} of 100 now, " + (
        "and as much then." if now == then else f"and {then[0]} then."
    )


def in_policy_words(told: pd.DataFrame, table: str, columns: Iterable[str]) -> pd.DataFrame:
    """What counts now of a reference table: each word by its name, and its figures as they are written in a policy."""
    names = plain_words.labels(table)
    figures = [
        ", ".join(f"{name} = {_in_toml(row[name])}" for name in columns if not pd.isna(row[name]))
        for row in told.to_dict("records")
    ]
    words = [f"{names.get(word, word)} ({word})" for word in told[table]]
    return pd.DataFrame({table.replace("_", " "): words, "what counts now, as a policy writes it": figures})


def _in_toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def refusal(problems: Sequence[str]) -> str:
    """What is wrong with a policy, in Markdown."""
    said = [f"Nothing can be shown or saved yet: {parts.many(len(problems), 'problem')}."]
    said += [f"- {parts.plain(problem)}" for problem in problems[: parts.SHOWN_PROBLEMS]]
    more = len(problems) - parts.SHOWN_PROBLEMS
    return "\n".join([*said, *([f"- and {more} more"] if more > 0 else [])])


def preview(text: str) -> bool:
    """Show what the text would do; whether it can be saved."""
    try:
        then = club().preview(text)
    except PolicyError as error:
        st.error(refusal(error.problems))
        return False
    except RuleError as error:
        st.error(parts.plain(str(error)))
        return False
    try:
        now = parts.standing()
    except (PolicyError, RuleError):
        st.text("What this changes cannot be shown: the policy in force can no longer be used.")
        return True
    changed = moved(now, then)
    st.subheader("what would change?")
    st.markdown(
        f"{parts.many(len(changed), 'verdict')} would change." if len(changed) else "No verdict would change."
    )
    st.text(club_words(now, then))
    st.dataframe(counts(now, then), hide_index=True, key="policy-counts", alt="Kits by verdict, now and then")
    if len(changed):
        parts.wrapped(changed, "policy-moved", "Verdicts that would change")
    return True


def save(text: str) -> None:
    me = access.require(access.Action.SET_POLICY)
    try:
        club().set_policy(text, me.name, st.session_state["policy-why"])
    except ValueError as error:
        st.session_state["policy-refused"] = str(error)
    else:
        st.session_state.pop("policy-preview", None)
        st.session_state["policy-saved"] = True


def look(text: str) -> None:
    st.session_state["policy-preview"] = text


def saved() -> None:
    """Where to go once a policy is in force."""
    st.success("The policy is in force: every page, sheet and score counts with it from now on.")
    st.page_link("views/season.py", label=":green[is the club ready?]")
    st.page_link("views/events.py", label=":green[who can hold which post?]")


def edit() -> None:
    st.header("change it")
    proposed = st.session_state.pop("policy-proposed", None)
    if proposed:
        st.session_state["policy-text"], st.session_state["policy-why"] = proposed
        st.session_state["policy-preview"] = proposed[0]
    elif "policy-text" not in st.session_state:
        st.session_state["policy-text"] = club().store.policy() or EXAMPLE
    text = st.text_area("the club's policy (TOML)", height=260, key="policy-text")
    st.button("Show what would change", on_click=look, args=(text,), key="policy-look")
    if st.session_state.get("policy-preview") == text and preview(text):
        st.text_input("why", key="policy-why", placeholder="for example: net control runs on mains this year")
        st.button("Put it in force", type="primary", on_click=save, args=(text,), key="policy-save")
        if refused := st.session_state.pop("policy-refused", ""):
            st.error(parts.plain(refused))


def show() -> None:
    me = access.require(access.Action.SEE_RULES)
    st.title("What has the club decided?")
    st.markdown(
        "What the rules compare with, how much a finding counts (weight), what is taken where nothing is written down "
        "(facts), how much of the time a station transmits, listens and rests (duty), what batteries give and ask "
        "(chemistry), what posts ask (post_type) and how much power modes take (mode) are usual values that a club may change. "
        "What is written here replaces them: an empty text goes back to the standard policy, that of an earlier one "
        "(it stands below) back to that."
    )
    st.page_link(
        "views/rulebook.py", label=":green[each rule, what it compares with, and a form to change it]"
    )
    if st.session_state.pop("policy-saved", False):
        saved()
    if me.may(access.Action.SET_POLICY):
        edit()
    else:
        st.code(club().store.policy(), language="toml", wrap_lines=True)
    st.header("who changed it, and why?")
    history = club().store.policies()
    if history.empty:
        st.text("Nobody yet: the standard policy is in force.")
    else:
        parts.policies(history, "policy-history")
    now = st.expander("what counts now for batteries, posts and modes", key="policy-now", on_change="rerun")
    if now.open:
        for table, columns in OF_REFERENCE.items():
            with now:
                parts.wrapped(
                    in_policy_words(parts.standing().assessment.table(table), table, columns),
                    f"policy-{table}",
                    f"What counts now, by {table.replace('_', ' ')}",
                )
    with st.expander("the standard policy"):
        st.code(STANDARD.read_text("utf-8"), language="toml", wrap_lines=True)


show()
