"""Columns of the files whose only reader is a rule: what is told arrives, and what cannot be read is said."""

from __future__ import annotations

import pandas as pd
import pytest

from data import upload
from data.club import connect, fill


def table(name: str, **files: str) -> pd.DataFrame:
    """A told table of the club, from the files as sent."""
    con = connect()
    frames: dict[str, pd.DataFrame] = {}
    for stem, text in files.items():
        read = upload.read(f"{stem}.csv", text.encode())
        assert read.frame is not None, [str(problem) for problem in read.problems]
        frames[stem] = read.frame
    fill(con, frames)
    return con.execute(f"select * from {name} order by line").df()


EVENTS = "event,starts,ends\nRide,2027-06-12T06:00,2027-06-12T18:00\n"


def test_a_post_says_whether_a_vehicle_stays() -> None:
    posts = "event,post,post_type,vehicle\nRide,Car,sag,yes\nRide,Hut,remote,no\nRide,Ford,aid_station,\n"
    told = table("post", events=EVENTS, posts=posts)["has_vehicle"]
    assert told.tolist()[:2] == [True, False] and pd.isna(told[2])


@pytest.mark.parametrize(
    ("stem", "text", "says"),
    [
        (
            "posts",
            "event,post,post_type,vehicle\nRide,Car,sag,a van\n",
            'posts.csv line 2, vehicle: "a van" is not yes or no. Write yes or no, or leave the cell empty.',
        ),
    ],
)
def test_what_cannot_be_read_is_said(stem: str, text: str, says: str) -> None:
    assert [str(problem) for problem in upload.read(f"{stem}.csv", text.encode()).problems] == [says]
