"""Records: who changed what and when, every file as it was sent, and how the club stood at any earlier version."""

import pandas as pd
import streamlit as st

from dashboard import access, charts, days, parts
from dashboard.access import Action
from dashboard.palette import VERDICTS
from dashboard.standing import Then, club
from data.database import StoreError
from rules.policy import PolicyError
from rules.rule import RuleError

NEWEST = 100  # changes on the page; the download has all
KINDS = ("club", "event", "post", "member", "kit")


def changes() -> pd.DataFrame:
    """Every change, and its download. Entries are only ever added."""
    st.header("who changed what, and when?")
    log = club().store.changes_log()
    if log.empty:
        st.text("Nothing has been changed yet.")
        return log
    st.text("Entries are only ever added. The number of the last one is the version of the club.")
    parts.wrapped(in_words(log.head(NEWEST)), "changes", "Changes, newest first")
    if len(log) > NEWEST:
        st.text(f"These are the newest {NEWEST} of {len(log)}; all of them are in the file below.")
    parts.download("Download the changes as CSV", lambda: parts.csv(log), "changes.csv", "changes-csv")
    return log


def in_words(log: pd.DataFrame) -> pd.DataFrame:
    """Changes as people read them."""
    return pd.DataFrame(
        {
            "what": log["what"] + [f": {detail}" if detail else "" for detail in log["detail"].fillna("")],
            "version": log["change_id"],
            "when (UTC)": log["at"].map(days.moment),
            "by": log["by"],
            "upload": ["" if pd.isna(number) else f"{number:.0f}" for number in log["upload_id"]],
        }
    )


def files() -> None:
    """Every file as it was sent."""
    st.header("which files were sent?")
    uploads = club().store.uploads()
    if uploads.empty:
        st.text("None yet.")
        return
    names = {row.upload_id: f"{row.upload_id}: {row.file}, by {row.by}" for row in uploads.itertuples()}
    number = st.selectbox(
        "file", list(names), format_func=names.get, index=None, key="one-file", placeholder="choose a file"
    )
    if number is not None:
        stem = uploads.set_index("upload_id").loc[number, "stem"]
        parts.download(
            "Download it as it was sent",
            lambda: club().store.payload(number)[1],
            f"{number}-{stem}.txt",  # a spreadsheet would work out what begins like a formula
            "one-file-download",
        )
    st.page_link("views/send.py", label=":green[bring an earlier file back]")


def rests_on(then: Then) -> str:
    """What the scores of a version rest on, in words."""
    policy = f"policy {then.policy_id}" if then.policy_id else "the standard policy"
    return (
        f"Version {then.standing.version} came about on {days.spoken(then.at)}, {then.at:%H:%M:%S} UTC. It is "
        f"judged here by the rules as they are today and by {policy}, which was in force; "
        f"ages are counted to {days.spoken(then.standing.day)}."
    )


def sameness(then: Then) -> str:
    """Whether the scores below are those of that moment, and why not where they are not."""
    if then.was is None:
        return "Nobody looked at this version while it was new, so there is no score to hold these against."
    if then.is_same:
        return "Every verdict and score is exactly what it was then."
    reasons = []
    if then.was.rules != then.rules:
        reasons.append("the rules have changed since")
    if then.unread:
        reasons.append(f"{parts.many(len(then.unread), 'file')} can no longer be read")
    return (
        "These are not the scores of then: "
        + parts.listed(reasons or ["rows that were in force then have been erased"])
        + "."
    )


def editions(then: Then) -> str:
    """By which edition of the rules the scores are worked out, and by which they were, to be held against a copy."""
    before = f"; then: {then.was.rules}" if then.was is not None and then.was.rules != then.rules else ""
    return f"Edition of the rules now: {then.rules}{before}."


def earlier(log: pd.DataFrame) -> None:
    """The scores of an earlier version, worked out again from its files, policy and day."""
    st.header("how did the club stand before?")
    if log.empty:
        st.text("There is no earlier version yet.")
        return
    version = st.number_input(
        "version", 1, int(log["change_id"].max()), int(log["change_id"].max()), key="version"
    )
    if not st.button("Work it out again", key="work-out"):
        return
    try:
        with st.spinner("Reading the files of that moment and judging them again …"):
            then = club().then(int(version))
    except (StoreError, PolicyError, RuleError) as error:
        st.error(parts.plain(str(error)))
        return
    st.text(rests_on(then))
    st.markdown(f"**{parts.plain(sameness(then))}**")
    st.caption(editions(then))
    scores = then.standing.scores
    shown = scores[scores["subject_kind"].isin(KINDS)]
    table = pd.DataFrame(
        {
            "subject": shown["subject"],
            "verdict": [VERDICTS[verdict].label for verdict in shown["verdict"]],
            "score": [charts.score_range(row.low, row.high) for row in shown.itertuples()],
            "kind": shown["subject_kind"],
        }
    )
    st.dataframe(table, hide_index=True, key="then", alt=f"Scores of version {version}")
    parts.download(
        "Download these scores as CSV", parts.csv(table), f"scores-of-version-{version}.csv", "then-csv"
    )


def show() -> None:
    access.require(Action.SEE_RECORDS)
    st.title("Who changed what?")
    log = changes()
    files()
    earlier(log)
    st.header("which policies were in force?")
    policies = club().store.policies()
    if policies.empty:
        st.text("Only the standard one.")
    else:
        parts.policies(policies, "policies")


show()
