"""Loans: what club gear is out, what is late, lending a thing and taking it back."""

from datetime import timedelta

import pandas as pd
import streamlit as st

from dashboard import access, days, edits, lending, parts
from dashboard.access import Action
from dashboard.names import file_name
from dashboard.palette import LOANS
from dashboard.sheets import loan as slip
from dashboard.standing import Standing

CHARGED = {None: None, "charged": True, "not charged": False}


def condition_of(question: str, key: str) -> str:
    """How a thing is, as the one who hands it over says."""
    return st.segmented_control(
        question, list(slip.CONDITIONS), format_func=slip.CONDITIONS.get, key=key, required=True, default="ok"
    )


def done(said: str) -> None:
    """Remember what was done for the next run, and run."""
    st.session_state["lend_done"] = said
    st.rerun()


def when(days_left: int) -> str:
    """How long until a thing is due, or since when it should be back."""
    if days_left == 0:
        return "today"
    count = parts.many(abs(days_left), "day")
    return f"{count} late" if days_left < 0 else f"in {count}"


def in_words(loan: pd.Series) -> str:
    """A loan that is not back in one line, which a phone does not cut."""
    condition = slip.CONDITIONS.get(loan["condition_out"])
    went = f", {condition}" if condition else ""
    left = parts.plain(days.spoken(loan["out"]))
    return (
        f"{parts.inked(LOANS[loan['state']])} · **{parts.plain(loan['item'])}** · {parts.plain(loan['borrower'])} · "
        f"due {parts.plain(days.spoken(loan['due']))}, {when(loan['days'])} · "
        + (f"goes out on {left}" if loan["state"] == lending.YET else f"out since {left}{went}")
    )


def what_is_out(now: Standing, loans: pd.DataFrame) -> None:
    st.header("what is out?")
    if loans.empty:
        return
    st.markdown("\n".join(f"- {in_words(row)}" for _, row in loans.iterrows()))
    parts.download(
        "Download what is out as CSV",
        lambda: parts.csv(loans.drop(columns="loan_id")),
        "lent-out.csv",
        "loans-csv",
    )


def take_back(now: Standing, loans: pd.DataFrame, by: str) -> None:
    st.header("bring something back, or print its slip")
    if loans.empty:
        st.text("Nothing is out.")
        return
    names = {row.loan_id: f"{row.item}, {row.borrower}" for row in loans.itertuples()}
    chosen = st.selectbox(
        "loan", list(names), index=None, format_func=names.get, key="loan", placeholder="choose a loan"
    )
    if chosen is None:
        return
    row = loans[loans["loan_id"] == chosen].iloc[0]
    parts.cautions(slip.CARE)
    parts.sheet(
        "Download the loan slip as PDF",
        lambda: slip.slip(now.assessment, int(chosen)),
        f"{file_name('loan', row['item'], row['borrower'])}.pdf",
        "slip",
    )
    if row["state"] == lending.YET:
        st.text("It has not gone out yet. If it is not wanted after all, take it out of the list of loans.")
        st.page_link(
            "views/lists.py", label=":green[the list of loans]", query_params={"list": "loans of club gear"}
        )
        return
    with st.form("back", border=True):
        condition = condition_of("how did it come back?", "condition_in")
        charge = st.segmented_control(
            "its batteries, if it has any", ["charged", "not charged"], key="charged_in"
        )
        notes = st.text_input("notes", key="back_notes", max_chars=200)
        if st.form_submit_button("It is back", type="primary"):
            try:
                holder = lending.bring_back(
                    row["item"],
                    row["borrower"],
                    row["out"].date(),
                    now.day,
                    condition,
                    notes,
                    by,
                    CHARGED[charge],
                )
            except edits.EditError as error:
                st.error(parts.plain(error))
            else:
                said = f"{row['item']} is back from {row['borrower']}, {slip.CONDITIONS[condition]}."
                if condition != "ok":
                    said += (
                        f" The list of {holder} no longer says that it works."
                        if holder
                        else " Write it beside the thing in the list of its kit, under “Condition”; until then it counts as there."
                    )
                done(said)


def lend(now: Standing, me: access.Person) -> None:
    st.header("lend something of the club's")
    things = lending.can_be_lent(now)
    if not things:
        st.text(
            "Nothing of the club's can be lent. Write club under “Owner” beside what is the club's, in the kit that "
            "holds it; what is faulty or lent out already is not offered."
        )
        if me.may(Action.SEND_KIT):
            st.page_link("views/mine.py", label=":green[what is in my kit?]")
        return
    parts.cautions(slip.CARE)
    with st.form("lend", border=True):
        item = st.selectbox("thing", things, index=None, key="lend_item", placeholder="choose a thing")
        members = sorted(now.of("member")["subject"])
        borrower = st.selectbox(
            "borrower", members, index=None, key="lend_to", placeholder="choose who takes it"
        )
        due = st.date_input(
            "due back",
            now.day + timedelta(days=lending.USUAL_DAYS),
            key="lend_due",
            min_value=now.day,
            format="YYYY-MM-DD",
        )
        condition = condition_of("how does it go out?", "condition_out")
        notes = st.text_input("notes", key="lend_notes", max_chars=200)
        if st.form_submit_button("Lend it", type="primary"):
            if not item or not borrower:
                st.error("Choose the thing and who takes it.")
                return
            try:
                lending.lend(item, borrower, now.day, due, condition, notes, me.name, lending.pool(now)[item])
            except edits.EditError as error:
                st.error(parts.plain(error))
            else:
                done(
                    f"{item} is lent to {borrower} until {days.spoken(due)}. It counts for them from when their list "
                    "holds it, by this name and with loan under “Owner”. Its slip can be printed below."
                )


def show() -> None:
    me = access.require(Action.LEND)
    now = parts.standing()
    st.title("What is lent out?")
    if said := st.session_state.pop("lend_done", ""):
        st.success(parts.plain(said))
    loans = lending.out(now)
    st.markdown(f"**{lending.headline(loans)}**")
    what_is_out(now, loans)
    if not loans.empty:
        st.page_link(
            "views/lists.py",
            label=":green[all loans, as a list]",
            query_params={"list": "loans of club gear"},
        )
    take_back(now, loans, me.name)
    lend(now, me)


show()
