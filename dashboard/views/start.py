"""The first run: look around in an invented club, or begin with one's own."""

import streamlit as st

from dashboard import access, first_run, parts
from dashboard.access import Action


def load() -> None:
    """Put the invented club into this empty store."""
    me = access.require(Action.SEND_CLUB)
    try:
        st.session_state["demo_rows"] = first_run.load_demo(me.name)
    except first_run.NotEmptyError as error:
        st.session_state["demo_wrong"] = str(error)


def begun() -> None:
    """Where to go in a club that has lists."""
    if rows := st.session_state.pop("demo_rows", 0):
        st.success(f"The invented club is in: {parts.many(rows, 'row')}. Nobody and nothing in it is real.")
        st.text(
            "Its files are called invented-… in the list of what was sent. To begin with your own club, "
            "start the dashboard with another database: kitmuster serve --db my-club.duckdb"
        )
    else:
        st.text("This club has lists already.")
    st.page_link("views/season.py", label=":green[is the club ready?]")
    st.page_link("views/mine.py", label=":green[what is in my kit?]")


def show() -> None:
    me = access.require(Action.SEE_SEASON)
    st.title("How do I start?")
    if wrong := st.session_state.pop("demo_wrong", ""):
        st.error(parts.plain(wrong))
    if not first_run.is_empty():
        begun()
        return
    st.markdown("Nothing was sent to this club yet. Look around in an invented one, or begin with your own.")
    may = me.may(Action.SEND_CLUB)
    with st.grid(min_column_width=320):
        with st.container(border=True, key="demo-club"):
            st.subheader("look around in an invented club")
            st.text(
                "Members with kits, events and posts that nobody is real in. It goes into this database, "
                "which is empty, and is marked as invented."
            )
            st.button("Load the invented club", key="load-demo", on_click=load, disabled=not may)
        with st.container(border=True, key="blank-club"):
            st.subheader("begin with your own club")
            st.markdown(
                "1. Write down who is in the club.\n"
                "1. Fill in one kit, or have every member send a list of theirs.\n"
                "1. Add an event and its posts, to see who can hold which."
            )
            if may:
                st.page_link(
                    "views/mine.py", label=":green[1. the members]", query_params={"list": "members"}
                )
            st.page_link("views/mine.py", label=":green[2. fill in a kit]")
            st.page_link("views/send.py", label=":green[2. or send a file; blank lists are there too]")
            if may:
                st.page_link("views/mine.py", label=":green[3. the events]", query_params={"list": "events"})
    if not may:
        st.text(f"As {me.role}, you may not load the invented club. Ask the coordinator.")


show()
