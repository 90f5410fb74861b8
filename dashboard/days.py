"""Dates as pages say them, in sentences and in tables: 6 Sep 2026. Files, paper and editors write 2026-09-06."""

from __future__ import annotations

from datetime import date, datetime

import streamlit as st

DAY = "D MMM YYYY"
MOMENT = "D MMM YYYY, HH:mm"


def spoken(day: date) -> str:
    """A day in a sentence."""
    return f"{day.day} {day:%b %Y}"


def moment(at: datetime) -> str:
    """A moment in a sentence or in a table that is read: `6 Sep 2026, 14:30`."""
    return f"{spoken(at)}, {at:%H:%M}"


def column(title: str) -> object:
    """Settings of a column of days in a table."""
    return st.column_config.DateColumn(title, format=DAY)


def moments(title: str) -> object:
    """Settings of a column of moments in a table."""
    return st.column_config.DatetimeColumn(title, format=MOMENT)
