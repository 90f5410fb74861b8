"""A club of two people, one kit and two posts."""

from __future__ import annotations

import pandas as pd

from data import upload
from rules import engine
from tests.small_club import TODAY

CLUB = {
    "inventory.csv": """member,kit,item,kind,quantity,capacity_ah,chemistry,rf_watts,bands,dc_plug,dc_plug_far,rf_plug,rf_plug_far,volts_min,volts_max,amps_tx,amps_rx,amps_idle,length_m,wire_awg,coax,charged,tested,tested_ah
QA1AA,Box,Mobile,mobile,1,,,50,2m 70cm,genderless_30,,so239,,11.7,15.8,10,0.6,0.5,,,,,,
QA1AA,Box,Battery,battery_lifepo4,1,50,lifepo4,,,genderless_30,,,,,,,,,,,,2027-02-20,2026-10-01,50
QA1AA,Box,Lead,dc_lead,1,,,,,genderless_30,genderless_30,,,,,,,,2,12,,,,
QA1AA,Box,Coax,coax,1,,,,,,,pl259,pl259,,,,,,8,,low_loss_240,,,
QA1AA,Box,Whip,mag_mount,1,,,,2m 70cm,,,so239,,,,,,,,,,,,
QA1AA,Box,Fuse,fuse,1,,,,,,,,,,,,,,,,,,,
""",
    "events.csv": "event,starts,ends\nWalk,2027-04-25T08:00,2027-04-25T13:00\n",
    "posts.csv": "event,post,post_type,operators\nWalk,Base,net_control,1\nWalk,Ford,aid_station,1\n",
}


HEAD = "member,licence_class,roles,available\n"


def of_two(members: str) -> dict[str, pd.DataFrame]:
    """The told frames, with these members."""
    told: dict[str, pd.DataFrame] = {}
    for name, text in {**CLUB, "members.csv": members}.items():
        read = upload.read(name, text.encode())
        assert not read.problems, read.problems
        assert read.frame is not None and read.stem is not None
        told[read.stem] = read.frame
    return told


def judged(told: dict[str, pd.DataFrame]) -> engine.Assessment:
    """The club, judged on TODAY."""
    return engine.assess(told, today=TODAY)
