"""The pages of the dashboard and the way between them."""

from urllib.parse import parse_qs, urlsplit

import streamlit as st
from streamlit.navigation.page import StreamlitPage
from streamlit.runtime.state import get_session_state

from dashboard import access, parts, units
from dashboard.access import Action
from dashboard.parts import STATIC
from dashboard.standing import club

st.set_page_config(page_title="Kit Muster", page_icon="/app/static/favicon.png", layout="wide")
st.html(STATIC / "pages.css")
st.logo("/app/static/logo.svg", size="large", icon_image="/app/static/mark.svg")
me = access.person()


def page(view: str, title: str, *actions: Action, at: str | None = None) -> StreamlitPage:
    """A page, which stands in the navigation for whom it holds something to do. The page itself asks again."""
    is_shown = not actions or (me is not None and any(me.may(action, me.member) for action in actions))
    seen = "visible" if is_shown else "hidden"
    return st.Page(f"views/{view}.py", title=title, url_path=at, visibility=seen)


def put_into_the_address(shown: StreamlitPage) -> None:
    """What a link asks for of LED_TO, rather than what the page before had chosen, also where it is the same page.

    A browser adds to what a link asks for what was chosen before, and where the link leads to the page on which it
    stands it leaves the address as it is.
    """
    before, st.session_state["shown"] = st.session_state.get("shown"), shown.url_path
    there = parse_qs(urlsplit(st.context.url or "").query)
    with get_session_state().query_params() as address:
        for name in LED_TO:
            asked = address.get_all(name)
            if len(asked) > 1 or (asked and before == shown.url_path and there.get(name) != asked):
                address.set_corrected_value(name, asked[0], "string_value")
        address.set_initial_query_params_from_current()  # what choices begin with


def leave_in_the_address() -> None:
    """Keep what is chosen of LED_TO for the next page, or let go of it on a page that asks for none of it.

    The framework would drop it where the next page has such a choice too, even if a link asks for it.
    """
    with get_session_state().query_params() as address:
        drawn = [choice for name in LED_TO if (choice := address.get_binding_for_param(name))]
        for choice in drawn:
            address.unbind_widget(choice.widget_id)
        gone = [] if drawn else [name for name in LED_TO if name in address]
        for name in gone[1:]:
            address.discard_param_no_forward_msg(name)
        for name in gone[:1]:
            address.remove_param(name)  # tells the browser, of all of them


LED_TO = ("member", "kit", "event", "list")  # whose kit, which one, which event, which list of the club
SECTIONS = {
    "the club": [
        st.Page("views/season.py", title="is the club ready?", default=True),
        page("find", "where is it?"),
        page("lists", "what is in the club's lists?", Action.SEND_CLUB, Action.ASSIGN, Action.LEND),
    ],
    "my kit": [
        page("kit", "what should I fix first?"),
        page("mine", "what is in my kit?", Action.SEND_KIT),
        page("send", "send a kit list", Action.SEND_KIT, Action.ASSIGN, Action.LEND),
        page("loadout", "what can stay at home?", Action.SEE_KIT, Action.LEND),
    ],
    "events": [
        page("events", "who can hold which post?"),
        page("whatif", "what if something changes?"),
        page("after", "how did it go?", Action.REPORT),
    ],
    "gear and money": [
        page("inspect", "inspection day", Action.INSPECT),
        page("lend", "what is lent out?", Action.LEND),
        page("purchases", "what should the club buy?", Action.SEE_PURCHASES),
    ],
    "how it works": [
        page("start", "how do I start?"),
        page("rulebook", "what is looked at, and why?", at="rules"),
        page("policy", "what has the club decided?"),
        page("people", "who may do what?"),
        page("records", "who changed what?", Action.SEE_RECORDS),
    ],
}
chosen = st.navigation(SECTIONS, position="sidebar" if me is not None else "hidden", expanded=True)
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
put_into_the_address(chosen)
chosen.run()
leave_in_the_address()
