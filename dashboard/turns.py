"""Work of seconds on pages: plans wait for their turn, so that nobody who asks for many keeps the rest waiting."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from dashboard import access, limits, replay

Made = TypeVar("Made")


def in_turn(make: Callable[[], Made]) -> Made:
    """What a piece of work of seconds gives, once it is its turn; the page says that it waits, or that too many do."""
    is_page = get_script_run_ctx(suppress_warning=True) is not None and not replay.given()
    me = access.person() if is_page else None
    try:
        with limits.PLANS.turn(me.name, _said) if me else limits.PLANS.turn(""):
            return make()
    except limits.BusyError as error:
        if not is_page:
            raise
        st.warning(str(error))
        st.stop()


@contextmanager
def _said() -> Iterator[limits.Look]:
    """Say that a plan waits; writing to the page stops the run of whoever has closed it or gone on."""
    place = st.empty()
    with st.spinner("Another plan is being worked out; yours is next …"):
        yield place.empty
