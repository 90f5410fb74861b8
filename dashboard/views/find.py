"""Find members, kits, things, events, posts, rules and findings by words."""

import streamlit as st

from dashboard import access, parts, searching
from dashboard.access import Action


def show() -> None:
    me = access.require(Action.SEE_SEASON)
    now = parts.standing()
    st.title("Where is it?")
    if now.of("member").empty and now.of("event").empty:
        parts.how_to_begin("No member, kit or event is known yet, so there is little to find but rules.")
    words = st.text_input(
        "words to find",
        key="q",
        placeholder="a call sign, a thing, a post, a rule …",
        max_chars=searching.LONGEST,
        bind="query-params",
    )
    if not (words or "").strip():
        st.text("Write one or more words and press Enter. Everything that holds all of them is listed.")
        return
    found = searching.search(searching.index(now), words, access.sight(me))
    if not found:
        st.text("Nothing holds all of these words. Try fewer, or only the beginning of one.")
        return
    for group in found:
        name = searching.KINDS[group.kind]
        st.header(f"{name} ({group.count})")
        for number, entry in enumerate(group.entries):
            more = f" · {parts.plain(entry.more)}" if entry.more else ""
            with st.container(key=f"hit-{group.kind}-{number}"):
                st.page_link(
                    entry.page, label=f":green[{parts.plain(entry.title)}]{more}", query_params=entry.query
                )
        if group.count > len(group.entries):
            st.text(f"And {group.count - len(group.entries)} more {name}; write one more word.")


show()
