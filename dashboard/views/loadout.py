"""Load-outs: what of a kit can stay at home for one post, and which spare of whom closes which gap at one event."""

import pandas as pd
import streamlit as st

from dashboard import access, buying, days, loadouts, parts, units
from dashboard.access import Action
from dashboard.edits import EditError
from dashboard.money import UNTOLD_LENT
from dashboard.names import file_name
from dashboard.sheets import loadout as sheets
from dashboard.standing import Standing

SECTIONS = {"take": "what can stay at home?", "borrow": "who can lend what?"}


def choose(now: Standing, me: access.Person) -> tuple[str, str] | None:
    """The kit and the post in question, as MEMBER/KIT and EVENT/POST."""
    kits = now.of("kit")
    kits = kits.loc[[me.may(Action.SEE_KIT, member) for member in kits["member"]]]
    if kits.empty:
        if parts.is_own_unsent(me, now):
            parts.none_sent(me)
        else:
            access.require(Action.SEE_KIT, me.member)
        return None
    left, right = st.columns(2)
    member = left.selectbox("member", sorted(set(kits["member"])), key="member", bind="query-params")
    kit = right.selectbox("kit", list(kits[kits["member"] == member]["kit"]), key="kit", bind="query-params")
    posts = now.of("post")
    left, right = st.columns(2)
    event = left.selectbox("event", now.events_with_posts(), key="event", bind="query-params")
    post = right.selectbox(
        "post", list(posts[posts["event"] == event]["post"]), key="post", bind="query-params"
    )
    return f"{member}/{kit}", f"{event}/{post}"


@st.fragment
def what_to_take() -> None:
    """The lightest modules for a post, what stays at home, and the packing list."""
    me = access.require(Action.SEE_EVENTS)
    now = parts.standing()
    st.header(SECTIONS["take"])
    chosen = choose(now, me)
    if chosen is None:
        return
    kit, post = chosen
    is_by_thing = st.toggle("each thing by itself, not whole bags", key="by_thing", bind="query-params")
    is_asked = st.button("Work out what to take", type="primary", key="work-out")
    if not is_asked and loadouts.key(kit, post, is_by_thing) not in now.kept:
        st.text("Bags, or things, are left out, and each choice is judged by the same rules.")
        return
    with st.spinner("Leaving things out …"):
        found = loadouts.loadout(now, kit, post, is_by_thing)
    if found.blocked:
        st.warning(found.blocked)
    st.markdown(
        f"**{parts.plain(units.said(loadouts.words(found)))}.** {parts.plain(units.said(found.proof))}"
    )
    if said := loadouts.carrying(found):
        st.text(units.said(said))
    parts.cautions(sheets.careful(found, now.assessment))
    parts.wrapped(loadouts.weighed(loadouts.modules(found)), "modules", f"Modules of {kit} for {post}")
    if found.lacks:
        st.markdown(
            "What the rules say against it there, as with the whole kit:\n"
            + "\n".join(f"- {text}" for text in loadouts.against(found))
        )
    if found.unweighed:
        st.text(f"No weight is known of: {', '.join(found.unweighed)}. Write it in the column weight_kg.")
    with st.expander(f"the packing list: {parts.many(len(found.packing), 'line')}"):
        parts.wrapped(loadouts.weighed(loadouts.packing(found)), "packing", "What goes along")
    parts.sheet(
        "Download the packing list as PDF",
        lambda: sheets.packing(found, now.assessment),
        f"{file_name(kit, post)}-packing.pdf",
        "packing-pdf",
    )


@st.fragment
def what_to_borrow() -> None:
    """The loans that close most for one event, their slips, and what the lenders lack meanwhile."""
    me = access.require(Action.LEND)
    now = parts.standing()
    st.header(SECTIONS["borrow"])
    event = st.selectbox("event", now.events, key="event", bind="query-params")
    is_asked = st.button("Work out the loans", type="primary", key="work-out-loans")
    if not is_asked and loadouts.borrowing_key(event) not in now.kept:
        st.text("Every spare, and all that is the club's, is tried at the kits that are sent to the event.")
        return
    with st.spinner("Trying every spare …"):
        found = loadouts.borrowing(now, event)
    st.markdown(f"**{parts.plain(loadouts.borrowing_words(found))}.**")
    st.text(
        "No other loans close more; that is proven."
        if found.is_proven
        else "Time ran out before it was proven; other loans may close more."
    )
    st.text(buying.gap_words(now))
    if found.loans:
        show_loans(now, found, me)
    for title, texts in (
        ("Posts that can be held with them", found.posts_opened),
        (UNTOLD_LENT, found.untold),
        ("What the lenders lack meanwhile", found.lender_lacks),
        ("What stays open although a loan could close it", found.left),
    ):
        if texts:
            with st.expander(f"{title.lower()}: {len(texts)}"):
                st.markdown("\n".join(f"- {parts.plain(text)}" for text in texts))


def in_words(loan: pd.Series) -> str:
    """A loan that is proposed in one line, which a phone does not cut."""
    pieces = f"{loan['pieces']} \N{MULTIPLICATION SIGN} " if loan["pieces"] > 1 else ""
    opens = f" Opens {parts.plain(loan['opens posts'])}." if loan["opens posts"] else ""
    return (
        f"**{pieces}{parts.plain(loan['what'])}**, {parts.plain(loan['whose'])}, from {parts.plain(loan['from'])} to "
        f"{parts.plain(loan['to'])}, {parts.plain(days.spoken(loan['out']))} to "
        f"{parts.plain(days.spoken(loan['due']))}. Closes {parts.plain(loan['closes'])}.{opens}"
    )


def show_loans(now: Standing, found: loadouts.Borrowing, me: access.Person) -> None:
    """The loans in words, on paper, and into the loan book."""
    parts.cautions(["charging", "exposure"])
    st.markdown("\n".join(f"- {in_words(row)}" for _, row in loadouts.loan_table(found).iterrows()))
    parts.sheet(
        "Download the loan slips as PDF",
        lambda: sheets.slips(found, now.assessment),
        f"{file_name(found.event)}-loan-slips.pdf",
        "slips-pdf",
    )
    if st.button("Write these loans into the loan book", key="book"):
        try:
            saved = loadouts.book(found, me.name)
        except EditError as error:
            st.error(parts.plain(error))
            return
        st.success(
            f"{parts.many(len(found.loans), 'loan')} written down, {parts.many(len(saved.changes), 'change')}."
        )
        st.page_link("views/lend.py", label=":green[see what is lent out]")


def show() -> None:
    me = access.require(Action.SEE_EVENTS)
    now = parts.standing()
    st.title("What can stay at home?")
    if now.of("kit").empty:
        parts.nothing_yet("No kit is known yet.")
    if now.of("post").empty:
        parts.no_event_yet("No post is known yet.")
    section = SECTIONS["take"]
    if me.may(Action.LEND):
        section = st.pills(
            "look at",
            list(SECTIONS.values()),
            default=section,
            required=True,
            key="look",
            bind="query-params",
        )
    if section == SECTIONS["borrow"]:
        what_to_borrow()
    else:
        what_to_take()


show()
