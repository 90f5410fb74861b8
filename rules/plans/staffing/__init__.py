"""Who holds which post of an event, with which kit, from when to when: the best plan, proven, and what it lacks."""

from rules.plans.staffing.beside import apply, as_it_stands, compare, gaps, rescore, wanted
from rules.plans.staffing.event import NoSuchEventError
from rules.plans.staffing.plan import Plan, staff
from rules.plans.staffing.program import Seated, best
from rules.plans.staffing.roster import (
    CAN,
    CANNOT,
    LIMITS,
    OBJECTIVES,
    UNKNOWN,
    Locked,
    Piece,
    Roster,
    Terms,
    Want,
    shifts,
)

__all__ = [
    "CAN", "CANNOT", "LIMITS", "OBJECTIVES", "UNKNOWN", "Locked", "NoSuchEventError", "Piece", "Plan", "Roster", "Seated",
    "Terms", "Want", "apply", "as_it_stands", "best", "compare", "gaps", "rescore", "shifts", "staff", "wanted",
]  # fmt: skip
