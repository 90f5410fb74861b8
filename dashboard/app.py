"""The pages of the dashboard and the way between them."""

import streamlit as st

from dashboard import access, parts, units
from dashboard.access import Action
from dashboard.parts import STATIC
from dashboard.standing import club

st.set_page_config(page_title="Kit Muster", page_icon="/app/static/favicon.png", layout="wide")
st.html(STATIC / "pages.css")
st.logo("/app/static/logo.svg", size="large", icon_image="/app/static/mark.svg")
me = access.person()


def shown_to(*actions: Action) -> str:
    """Whether a page stands in the navigation: for whom it holds something to do. The page itself asks again."""
    return "visible" if me is not None and any(me.may(action, me.member) for action in actions) else "hidden"


SECTIONS = {
    "the club": [
        st.Page("views/season.py", title="is the club ready?", default=True),
        st.Page("views/find.py", title="where is it?", url_path="find"),
    ],
    "my kit": [
        st.Page("views/kit.py", title="what should I fix first?", url_path="kit"),
        st.Page(
            "views/mine.py",
            title="what is in my kit?",
            url_path="mine",
            visibility=shown_to(Action.SEND_KIT),
        ),
        st.Page(
            "views/send.py",
            title="send a kit list",
            url_path="send",
            visibility=shown_to(Action.SEND_KIT, Action.ASSIGN, Action.LEND),
        ),
        st.Page(
            "views/loadout.py",
            title="what can stay at home?",
            url_path="loadout",
            visibility=shown_to(Action.SEE_KIT, Action.LEND),
        ),
    ],
    "events": [
        st.Page("views/events.py", title="who can hold which post?", url_path="events"),
        st.Page("views/whatif.py", title="what if something changes?", url_path="whatif"),
        st.Page(
            "views/after.py", title="how did it go?", url_path="after", visibility=shown_to(Action.REPORT)
        ),
    ],
    "gear and money": [
        st.Page(
            "views/inspect.py",
            title="inspection day",
            url_path="inspect",
            visibility=shown_to(Action.INSPECT),
        ),
        st.Page(
            "views/lend.py", title="what is lent out?", url_path="lend", visibility=shown_to(Action.LEND)
        ),
        st.Page(
            "views/purchases.py",
            title="what should the club buy?",
            url_path="purchases",
            visibility=shown_to(Action.SEE_PURCHASES),
        ),
    ],
    "how it works": [
        st.Page("views/start.py", title="how do I start?", url_path="start"),
        st.Page("views/rulebook.py", title="what is looked at, and why?", url_path="rules"),
        st.Page("views/policy.py", title="what has the club decided?", url_path="policy"),
        st.Page("views/people.py", title="who may do what?", url_path="people"),
        st.Page(
            "views/records.py",
            title="who changed what?",
            url_path="records",
            visibility=shown_to(Action.SEE_RECORDS),
        ),
    ],
}
page = st.navigation(SECTIONS, position="sidebar" if me is not None else "hidden", expanded=True)
if me is not None and access.signed_in() is not None:
    with st.sidebar:
        st.text(f"{me.name}, {me.role}")
        st.button("Sign out", on_click=access.sign_out, key="sign-out")
if me is not None:
    with st.sidebar:
        units.choose()
if me is not None:
    for said in club().set_aside:
        st.warning(parts.out_of_force(said, me.may(Action.SET_POLICY)))
page.run()
