"""What can be printed for one event: each sheet by its name, made when it is called."""

from __future__ import annotations

from collections.abc import Callable

from dashboard.sheets import event as packets
from dashboard.sheets import forms, packing, told
from rules.engine import Assessment

FORMS = ("204", "205", "205A", "211", "214", "218")
SENT = (
    "select assignment_id, p.post, m.member, a.starts, a.ends, k.kit || if(k.member = m.member, '', ' of ' || k.member) as kit, "
    "count(*) over (partition by p.post_id, m.member_id) as lists from assignment as a join post as p using (post_id) "
    "join member as m using (member_id) left join kit as k on k.kit_id = a.kit_id "
    "where p.event = ? order by p.post, m.member, a.starts, assignment_id"
)


def of_event(assessment: Assessment, event: str) -> dict[str, Callable[[], bytes]]:
    """The packet, the forms and a packing list for each person who is sent, by what each is called."""
    made: dict[str, Callable[[], bytes]] = {"the event packet": lambda: packets.packet(assessment, event)}
    for number in FORMS:
        made[f"form ICS {number}"] = lambda number=number: forms.form(assessment, number, event)
    made["form ICS 217A"] = lambda: forms.form(assessment, "217A")
    for row in told.rows(assessment, SENT, event):
        name = f"packing list of {row['member']} for {row['post']}"
        if row["lists"] > 1:
            name += f", {told.turn(row['starts'], row['ends'])}, {row['kit'] or 'no kit'}"
        made[name] = lambda sent=row["assignment_id"]: packing.packing(assessment, sent)
    return made
