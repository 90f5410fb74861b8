"""Agreement to how lists are kept, asked of whoever sends one, by file or on a page."""

from __future__ import annotations

import streamlit as st

from dashboard import access
from dashboard.standing import club
from data.people import Known

HOW_TO_AGREE = (
    "You have not agreed yet to how lists are kept. Sign in to the dashboard, read what is said on the page "
    "who may do what? and agree there; then send it again."
)
AGREED = ":green[you agreed to how lists are kept and who sees them: read it again, or withdraw]"


def is_given(known: Known) -> bool:
    """Whether someone agreed to the text in force; where nobody signs in, nobody is asked."""
    return not club().has_sign_in or club().people.has_agreed(known.person_id, access.CONSENT)


def has_agreed() -> bool:
    """Whether whoever looks at this page agreed to the text in force; true where nobody signs in."""
    known = access.signed_in()
    return known is None or is_given(known)


def asked() -> bool:
    """Whether they agreed or agree now: the text until they have, then where it can be read again and withdrawn."""
    if not has_agreed():
        st.text(access.CONSENT)
        return st.checkbox("I agree", key="agree")
    if access.signed_in() is not None:
        st.page_link("views/people.py", label=AGREED)
    return True


def noted() -> bool:
    """Whether they agreed or agree now, which is written down; asked by what puts a list in force."""
    if has_agreed():
        return True
    known = access.signed_in()
    if known is None or not st.session_state.get("agree"):
        return False
    club().people.agree(known.person_id, access.CONSENT)
    return True
