"""Who should go where: a plan on request, what it leaves open, and its way into the place of the assignments."""

from typing import Any

import pandas as pd
import streamlit as st

from dashboard import access, charts, days, parts, post_review, posts
from dashboard.edits import EditError
from dashboard.palette import CHANCES
from dashboard.replay import drawn_once
from dashboard.standing import Standing
from rules.plans.staffing import Plan

QUESTION = "who should go where?"
TIMES = [5, 10, 30, 60]  # seconds that may be spent on a plan
PLAN = {"kit_owner": "kit of", "travel_h": "on the way (h)", "leads": "leads", "is_locked": "stays as it is"}
SHIFT = {
    "starts": st.column_config.DatetimeColumn("from", format="D MMM HH:mm"),
    "ends": st.column_config.DatetimeColumn("to", format="D MMM HH:mm"),
    "from": st.column_config.DatetimeColumn("from", format="D MMM HH:mm"),
    "to": st.column_config.DatetimeColumn("to", format="D MMM HH:mm"),
}


def by_hand(event: str) -> None:
    """The way to the assignments of an event, row by row."""
    st.page_link(
        "views/lists.py",
        label=":green[change by hand who goes where]",
        query_params={"list": "who goes to which post", "event": event},
    )


def open_seats(uncovered: pd.DataFrame) -> None:
    """What a plan leaves open, and the cheapest change that would fill it or why none would, as `Plan.uncovered` has it."""
    told = posts.said_in_units(uncovered, "change", "why")
    st.markdown("\n".join(f"- {_open_seat(row)}" for row in told.to_dict("records")))


def _open_seat(row: dict[str, Any]) -> str:
    """One stretch of time for which people are wanted, in a line that wraps: a table would cut what to do."""
    is_one_day = row["from"].date() == row["to"].date()
    to = f"{row['to']:%H:%M}" if is_one_day else _moment(row["to"])
    critical = ", critical" if row["is_critical"] else ""
    people = parts.many(int(row["people_short"]), "person", "people")
    said = f"**{parts.plain(row['post'])}**, {_moment(row['from'])} to {to}: {people} short{critical}."
    if row["change"]:
        said += f" Cheapest change: {parts.plain(row['change'])}."
    return said + (f" Why: {parts.plain(row['why'])}." if row["why"] else "")


def _moment(at: pd.Timestamp) -> str:
    return f"{days.spoken(at)} {at:%H:%M}"


def asks(found: pd.DataFrame) -> None:
    """What is to be found out before a plan is known to hold, as `Plan.asks` has it."""
    told = posts.said_in_units(found, "ask")
    whose = ["" if pd.isna(name) else f", {parts.plain(name)}" for name in told["member"]]
    with_kit = ["" if pd.isna(row.kit) else f" with {parts.plain(_kit(row))}" for row in told.itertuples()]
    st.markdown(
        "\n".join(
            f"- **{parts.plain(row.post)}**{who}{kit}: {parts.plain(row.ask)}"
            for row, who, kit in zip(told.itertuples(), whose, with_kit, strict=True)
        )
    )


def _kit(row: Any) -> str:
    """A kit, and whose it is where another lends it."""
    return row.kit if pd.isna(row.kit_owner) else f"{row.kit} of {row.kit_owner}"


def blocked(found: Plan, now: Standing) -> None:
    """What the rules say still blocks a post with the plan put in, and what mends it, as `Plan.blocked` has it."""
    titles = set(found.blocked["title"])
    parts.cautions(parts.hazards(rule.family for rule in now.assessment.rules if rule.title in titles))
    told = posts.said_in_units(found.blocked, "why", "fix")
    st.markdown(
        "\n".join(
            f"- **{parts.plain(row.post)}**: {parts.plain(row.why.removeprefix(f'{found.event}/{row.post}: '))} "
            f"{parts.plain(row.fix)}"
            for row in told.itertuples()
        )
    )


@drawn_once
def planned(now: Standing, event: str, seconds: int, stays: tuple[int, ...]) -> None:
    """A plan that has been worked out: by hour, what stays open, what is to be found out, and how it compares."""
    found, beside = posts.plan(now, event, seconds, stays)
    told = now.assessment.table("post").sort_values("post_id")
    order = list(told[told["event"] == event]["post"])
    title = posts.plan_title(found, len(order))
    lanes = posts.lanes(found, order)
    headline = f"**{parts.plain(title)}.** " if lanes.empty else ""  # else it stands above the chart
    st.markdown(headline + parts.plain(posts.proof(found)))
    for note in found.notes:
        st.markdown(f"Note: {parts.plain(note)}")
    if not lanes.empty:
        parts.chart(
            posts.plan_key(event, seconds, stays),
            lambda: charts.timeline(lanes, title),
            key="timeline",
            alt=f"Staffing by post and hour. {title}.",
        )
        parts.legend(CHANCES)
    if not found.uncovered.empty:
        st.subheader("what stays open, and what would fill it?")
        open_seats(found.uncovered)
    if not found.blocked.empty:
        st.subheader("what still blocks a post?")
        st.text("The plan was put in and judged by the rules; this they say against a post all the same.")
        blocked(found, now)
    if not found.asks.empty:
        st.subheader("what is to be found out?")
        st.text("These posts are filled, but what is not known decides whether they can be held.")
        asks(found.asks)
    st.subheader("how does it compare with the assignments that are sent?")
    st.table(
        posts.beside_words(beside),
        border="horizontal",
        hide_index=True,
        alt="The plan beside the assignments that are sent",
    )
    with st.expander(f"the plan as a list: {parts.many(len(found.rows), 'row')}, and the reserve"):
        shown = found.rows.dropna(axis="columns", how="all").rename(columns=PLAN)
        st.dataframe(
            shown, hide_index=True, key="plan-rows", alt="The plan", column_config=SHIFT, placeholder=""
        )
        st.dataframe(
            found.reserve, hide_index=True, key="plan-reserve", alt="The reserve", column_config=SHIFT
        )


@st.fragment
def staffing_plan(event: str) -> None:
    """The best staffing on request: by hour, what stays open and what would fill it, beside the coordinator's own."""
    me = access.require(access.Action.SEE_EVENTS)
    if not access.plans_events(me):
        return
    now = parts.standing()
    st.header(QUESTION)
    if said := st.session_state.pop("plan-saved", ""):
        st.success(said)
        by_hand(event)
    st.markdown(
        "The plan covers critical posts first, then all others, sends the gear that a post must have, holds a reserve "
        "back, and asks as little as it can of anyone. Nothing is sent or changed by working it out."
    )
    left, right = st.columns([1, 2], vertical_alignment="bottom")
    seconds = left.selectbox("time for it, in seconds", TIMES, index=1, key="seconds")
    stays = what_stays(now, event)
    is_asked = right.button("Work out a plan", type="primary", key="work-out")
    if not is_asked and posts.plan_key(event, seconds, stays) not in now.kept:
        return
    with st.spinner("Judging every person and kit at every shift …"):
        found, _ = posts.plan(now, event, seconds, stays)
    planned(now, event, seconds, stays)
    with st.container(horizontal=True):
        parts.download(
            "Download the plan as assignments.csv",
            lambda: parts.csv(posts.as_assignments(found)),
            "assignments.csv",
            "plan-csv",
        )
        if not (found.rows.empty and found.uncovered.empty):
            parts.as_picture("the plan by hour", "timeline", posts.plan_key(event, seconds, stays))
    if me.may(access.Action.ASSIGN):
        take_over(found, me)


def what_stays(now: Standing, event: str) -> tuple[int, ...]:
    """Which of the assignments that are sent a plan may not touch, as places in `posts.sent`."""
    sent = posts.sent(now, event)
    if sent.empty:
        return ()
    said = [posts.sent_words(row) for _, row in sent.iterrows()]
    chosen = st.multiselect(
        "assignments that stay as they are", range(len(sent)), format_func=said.__getitem__, key=f"stays-{event}",
        placeholder="none: everyone may be sent elsewhere",
    )  # fmt: skip
    return tuple(sorted(chosen))


def take_over(found: Plan, me: access.Person) -> None:
    """Put a plan in the place of the event's assignments, as if it had been sent."""
    st.markdown(
        f"Saving the plan puts it in the place of every assignment of {parts.plain(found.event)}; what was sent "
        "before stays in the records and can be restored."
    )
    if not st.button("Save the plan as the assignments", key="save-plan", disabled=found.rows.empty):
        return
    try:
        saved = posts.save_plan(found, me.name)
    except EditError as error:
        st.error(parts.plain(error))
        return
    scores = post_review.scores_of(parts.standing(), found.event)
    st.session_state["plan-saved"] = (
        f"Saved: {parts.many(len(found.rows), 'assignment')}. Of {parts.many(len(scores), 'post')}, "
        f"{parts.standing_words(scores)} now."
        if len(saved.changes)
        else "Saved before: nothing was changed by it."
    )
    st.rerun()
