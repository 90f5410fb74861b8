"""What a page says when something breaks: a sentence that tells what to do, and a number to find it in the log."""

from __future__ import annotations

import secrets

import duckdb
import streamlit as st

from dashboard import logs, parts
from dashboard.metrics import Metrics
from data import club
from data.database import StoreError
from rules.policy import PolicyError
from rules.rule import RuleError

NOT_ANSWERING = (
    "The club's database does not answer. What was in force before is untouched. Load this page again in a moment; "
    "if it stays so, stop Kit Muster and start it again."
)
UNUSABLE = (
    "The club's policy, or a rule of its own, can no longer be used, so nothing is judged; what was sent is kept. "
    "{said} Whoever may change the policy mends it on the page “what has the club decided?”, or the rule in its file."
)
BROKEN = (
    "This page could not be finished. What was in force before is untouched. Load it again; if it stays so, "
    "tell the coordinator the number below."
)


def says(error: Exception) -> str:
    """What whoever looks at the page can do."""
    if isinstance(error, StoreError):
        return str(error)
    if isinstance(error, duckdb.OutOfMemoryException):
        return club.TOO_LARGE
    if isinstance(error, PolicyError):
        return UNUSABLE.format(said=error.problems[0])
    if isinstance(error, RuleError):  # its text may hold what the database says of a row, the log has it
        return UNUSABLE.format(said=f"It is {str(error).partition(':')[0]}.")
    return NOT_ANSWERING if isinstance(error, duckdb.Error) else BROKEN


class Trouble:
    """Shows and writes down what broke on a page, in place of the framework's own message."""

    def __init__(self, metrics: Metrics) -> None:
        self._metrics = metrics

    def __call__(self, error: Exception) -> bool:
        """Say it on the page; True, for nothing more is to be said."""
        number = secrets.token_hex(4)
        logs.failed("page failed", error, number=number)
        self._metrics.failed("page")
        st.error(parts.plain(says(error)))
        st.text(f"number {number}")
        return True
