"""The pages of the dashboard and the way between them."""

from urllib.parse import parse_qs

import streamlit as st
from streamlit.navigation.page import StreamlitPage
from streamlit.runtime.scriptrunner import get_script_run_ctx

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


def keep_what_a_link_asks_for(shown: StreamlitPage) -> None:
    """Whose kit, which one, which event: the framework drops these where the page before had a choice of that name too."""
    before, st.session_state["shown"] = st.session_state.get("shown", shown.url_path), shown.url_path
    run = get_script_run_ctx()
    if before == shown.url_path or run is None:
        return
    for name, asked in parse_qs(run.query_string).items():
        if name in LED_TO and name not in st.query_params:
            st.session_state[name] = asked[-1]


LED_TO = ("member", "kit", "event")
SECTIONS = {
    "the club": [
        st.Page("views/season.py", title="is the club ready?", default=True),
        page("find", "where is it?"),
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
keep_what_a_link_asks_for(chosen)
chosen.run()
