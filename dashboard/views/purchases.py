"""Purchases: what closes most for the money, what a little more would bring, and what wears out by when."""

import streamlit as st

from dashboard import access, buying, charts, parts
from dashboard.money import UNTOLD
from dashboard.replay import drawn_once
from dashboard.sheets import purchases as sheet
from dashboard.standing import Standing
from rules.plans.purchases import buy_list_csv

STEP_USD = 100


@drawn_once
def to_buy(now: Standing, budget: int) -> None:
    """The plan for a budget."""
    found = buying.plan(now, budget)
    st.markdown(f"**{parts.plain(buying.plan_words(found))}**")
    st.markdown(
        f"Of that members pay {found.member_usd:,.0f} USD and the club {found.club_usd:,.0f} USD. "
        + (
            "Of the ways tried, no other pick closes more; that is proven."
            if found.is_proven
            else "Time ran out before it was proven; another pick may close more."
        )
    )
    st.text(buying.gap_words(now))
    parts.cautions(["charging", "wiring"])
    table = buying.buy_table(found)
    if table.empty:
        st.text("Nothing that closes a finding can be bought within this budget.")
    else:
        for column in ("what", "for whom", "closes"):
            table[column] = table[column].map(parts.breaking)
        with st.container(key="buying"):
            st.table(
                table,
                border="horizontal",
                height=parts.WINDOW_PX if len(table) > parts.SHOWN_ROWS else "content",
                hide_index=True,
                alt=f"What to buy for {budget} USD",
            )
        st.text("About: a planning estimate, not an offer.")


@drawn_once
def other_budgets(now: Standing, budget: int) -> None:
    """What a plan opens anew, and what more or less money would bring."""
    found = buying.plan(now, budget)
    if found.opened:
        st.markdown(
            "It brings new findings:\n" + "\n".join(f"- {parts.plain(text)}" for text in found.opened)
        )
    if found.untold:
        st.markdown(f"{UNTOLD}:\n" + "\n".join(f"- {parts.plain(text)}" for text in found.untold))
    st.subheader("what would more or less money bring?")
    points = buying.frontier(now)
    title = buying.frontier_title(points, budget)
    parts.chart(
        ("frontier", budget),
        lambda: charts.frontier(points, budget, title),
        key="frontier",
        alt=f"Gap closed by budget. {title}.",
    )


@st.fragment
def what_to_buy() -> None:
    """A budget, the plan for it, and what more or less money would bring."""
    access.require(access.Action.SEE_PURCHASES)
    now = parts.standing()
    st.header("what closes most for the money?")
    budget = st.slider(
        "budget, USD",
        0,
        buying.BUDGETS[-1],
        sheet.USUAL_USD,
        STEP_USD,
        key="budget",
        bind="query-params",
        format="%d USD",
    )
    asking = st.empty()
    if buying.MARKET not in now.kept:
        box = asking.container()
        box.markdown(
            "Every offer is tried on every kit that could use it, and judged by the same rules. "
            "That takes a while, once; after that the budget can be moved freely."
        )
        if not box.button("Work out what to buy", type="primary", key="work-out"):
            return
    with st.spinner("Trying every offer on every kit …"):
        found = buying.plan(now, budget)
    asking.empty()
    to_buy(now, budget)
    if found.lines:
        parts.download("Download the buy list as CSV", lambda: buy_list_csv(found), "buy-list.csv", "buy-csv")
        parts.sheet(
            "Download the buy list as PDF",
            lambda: sheet.buy_list(found, buying.due(now), now.assessment),
            "buy-list.pdf",
            "buy-pdf",
        )
    with st.spinner("Working out other budgets …"):
        points = buying.frontier(now)
    other_budgets(now, budget)
    parts.numbers_behind(
        lambda: points.rename(columns=buying.POINTS), "budgets", "frontier", ("frontier", budget)
    )


@drawn_once
def years(now: Standing) -> None:
    """What falls due in each year."""
    st.header("what will wear out, and when?")
    due = buying.due(now)
    if due.empty:
        st.text(f"Nothing is known to reach the end of its life within {buying.YEARS} years.")
        return
    title = buying.due_title(due)
    by_year = buying.by_year(due)
    if by_year.empty:
        st.text(f"{title}.")
        return
    parts.chart(
        ("due",),
        lambda: charts.replacements(by_year, title),
        key="due",
        alt=f"Replacements by year. {title}.",
    )


def wearing_out(now: Standing) -> None:
    """What reaches the end of its life within some years, and the table behind it."""
    years(now)
    due = buying.due(now)
    if not due.empty:
        has_chart = now.kept.once(("years are told",), lambda: bool(due["year"].notna().any()))
        parts.numbers_behind(lambda: due[buying.DUE], "replacements", "due", ("due",) if has_chart else None)


def show() -> None:
    access.require(access.Action.SEE_PURCHASES)
    now = parts.standing()
    st.title("What should the club buy?")
    if now.of("kit").empty:
        parts.nothing_yet("No kit is known yet.")
    what_to_buy()
    wearing_out(now)


show()
