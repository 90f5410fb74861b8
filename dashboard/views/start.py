"""The first run: look around in an invented club, take it out again, or begin with one's own."""

import streamlit as st

from dashboard import access, first_run, parts
from dashboard.access import Action
from dashboard.standing import club
from data.database import StoreError

NEXT = {
    "members": ("members", "who is in the club"),
    "events": ("events", "the events"),
    "posts": ("posts of an event", "their posts"),
    "assignments": ("who goes to which post", "who is sent where"),
}


def load() -> None:
    """Put the invented club into this empty store."""
    me = access.require(Action.SEND_CLUB)
    try:
        st.session_state["demo_rows"] = first_run.load_demo(me.name)
    except first_run.NotEmptyError as error:
        st.session_state["demo_wrong"] = str(error)


def remove() -> None:
    """Take the invented club out, after a copy of everything."""
    me = access.require(Action.SEND_CLUB)
    if not st.session_state.get("demo_sure"):
        return
    try:
        st.session_state["demo_gone"] = first_run.remove_demo(me.name)
    except StoreError as error:
        st.session_state["demo_wrong"] = str(error)


def gone(done: first_run.Removed) -> None:
    """What became of the invented club."""
    st.success("The invented club is gone. The pages show your own club from now on.")
    if done.left:
        own = [f"{parts.many(rows, 'row')} of {stem}" for stem, rows in done.left.items()]
        st.text(f"What is your own stays: {parts.listed(own)}.")
    if done.copy:
        st.text(f"Everything as it was before is in the copy {done.copy}, in the folder backups.")


def begun(me: access.Person) -> None:
    """Where to go in a club that has lists, and the way out of the invented one."""
    rows, has_demo = st.session_state.pop("demo_rows", 0), first_run.has_demo()
    if rows:
        st.success(f"The invented club is in: {parts.many(rows, 'row')}. Nobody and nothing in it is real.")
    else:
        st.text("The invented club is in this database." if has_demo else "This club has lists already.")
    st.page_link("views/season.py", label=":green[is the club ready?]")
    st.page_link("views/kit.py", label=":green[what should I fix first?]")
    if me.may(Action.SEND_KIT, me.member):
        parts.ways_to_send(me.member)
    may = me.may(Action.SEND_CLUB)
    if may:
        what_next()
    if has_demo and may:
        with st.container(border=True, key="demo-out"):
            st.subheader("looked around? begin for real")
            st.text(
                "The invented club goes out of every list, with all that was changed of it. Members, kits and events "
                "that you have added yourself stay. A copy of everything is made first."
            )
            is_sure = st.checkbox("Yes, take the invented club out", key="demo_sure")
            st.button("Remove the invented club", key="remove-demo", on_click=remove, disabled=not is_sure)


def what_next() -> None:
    """The lists that are not there yet, which tell who can hold which post."""
    frames = club().store.frames()
    missing = [told for stem, told in NEXT.items() if frames[stem].empty]
    if missing:
        st.text("To see who can hold which post, these are not there yet:")
    for name, said in missing:
        st.page_link("views/lists.py", label=f":green[{said}]", query_params={"list": name})


def show() -> None:
    me = access.require(Action.SEE_SEASON)
    st.title("How do I start?")
    if wrong := st.session_state.pop("demo_wrong", ""):
        st.error(parts.plain(wrong))
    if done := st.session_state.pop("demo_gone", None):
        gone(done)
    may = me.may(Action.SEND_CLUB)
    if not first_run.is_empty():
        begun(me)
        return
    st.markdown("There is nothing in this club yet. Look around in an invented one, or begin with your own.")
    with st.grid(min_column_width=320):
        with st.container(border=True, key="demo-club"):
            st.subheader("look around in an invented club")
            st.text(
                "Members, kits, events and posts, none of them real. It goes into this database, "
                "which is empty, and is marked as invented."
            )
            st.button("Load the invented club", key="load-demo", on_click=load, disabled=not may)
        with st.container(border=True, key="blank-club"):
            st.subheader("begin with your own club")
            st.text("One kit is enough to begin with: what it lacks is told at once.")
            parts.ways_to_send(me.member)
            if may:
                what_next()
    if not may:
        st.text(f"As {me.called}, you may not load the invented club. Ask the coordinator.")


show()
