"""Parts of a page that are drawn once for everyone who is to see the same, and sent again as they were.

The framework keeps what was drawn while a cached function ran and sends it again without running it. It can keep no
widget and no download, and what a drawing looked at besides its arguments would be kept as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from contextvars import ContextVar
from functools import wraps
from typing import Any, ParamSpec

import streamlit as st

from dashboard import units

# Parts kept at once, longest unasked goes first; 4 kB each as a rule, 0.8 MB the largest of 300 members.
PARTS = 400

Given = ParamSpec("Given")
_given: ContextVar[tuple[Any, ...] | None] = ContextVar("given", default=None)


def drawn_once(draw: Callable[Given, None]) -> Callable[Given, None]:
    """A part of a page that follows from its arguments and the reader's units alone, drawn once for equal ones.

    Arguments are words, numbers, tuples of these, and what says by `drawn_as` all that a drawing may take from it: how
    the club stands, who looks, what they may see. Whoever draws gets the reader's rights as an argument or not at all:
    asking for them while something is drawn is an error.

    Raises
    ------
    TypeError
        An argument is none of these, or the drawing takes something from the function around it.
    """
    if draw.__closure__:
        raise TypeError(f"{draw.__qualname__} takes from around it what no argument says")

    @wraps(draw)
    def again(*args: Given.args, **kwargs: Given.kwargs) -> None:
        code = draw.__code__
        where = code.co_filename, code.co_qualname
        given = [_said(one) for one in args], [(name, _said(one)) for name, one in kwargs.items()]
        _kept(  # by name: of arguments by place the framework looks up the names, every time
            said=repr((where, given, units.is_us())), _draw=lambda: draw(*args, **kwargs), _args=args
        )

    return again


def given() -> tuple[Any, ...]:
    """What the part was given that is being drawn once; nothing where none is."""
    return _given.get() or ()


def refuse(what: str) -> None:
    """Stop where something is asked for that may be otherwise when a drawing is sent again.

    Raises
    ------
    RuntimeError
        Something is being drawn once for many.
    """
    if _given.get() is not None:
        raise RuntimeError(
            f"This is drawn once for many readers: ask {what} before, and give it as an argument."
        )


@st.cache_resource(max_entries=PARTS, show_spinner=False)
def _kept(said: str, _draw: Callable[[], None], _args: tuple[Any, ...]) -> None:
    """Draw, or send again what was drawn under the same words."""
    before = _given.set(_args)
    try:
        _draw()
    finally:
        _given.reset(before)


def _said(one: Any) -> Hashable:
    """What stands for an argument."""
    if hasattr(one, "drawn_as"):
        return type(one).__name__, one.drawn_as
    if one is None or isinstance(one, str | int | float):
        return one
    if isinstance(one, tuple):
        return tuple(_said(part) for part in one)
    raise TypeError(f"a {type(one).__name__} does not say what is drawn of it")
