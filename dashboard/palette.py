"""How a status looks, defined once: a word, a shape and a colour, told apart by colour-blind eyes too."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """One status.

    Attributes
    ----------
    word : what people read
    shape : the sign beside the word in running text
    point : the same shape in a chart, by its Vega name or as a path
    colour : hex; at least 3:1 against the light and the dark page
    ink : name of the theme colour that running text uses for it
    """

    word: str
    shape: str
    point: str
    colour: str
    ink: str

    @property
    def label(self) -> str:
        """Shape and word, for places that carry no colour."""
        return f"{self.shape} {self.word}"


Look = tuple[str, str, str, str]
"""Shape, point, colour and ink of a mark."""
GOOD: Look = ("●", "circle", "#3787c4", "blue")
FAIR: Look = ("▲", "triangle-up", "#b97a00", "orange")
BAD: Look = ("■", "square", "#d24a38", "red")
OPEN: Look = ("◇", "M0,-1L1,0L0,1L-1,0ZM0,-0.6L-0.6,0L0,0.6L0.6,0Z", "#7d8790", "gray")
MINOR: Look = ("▬", "M-1,-0.35L1,-0.35L1,0.35L-1,0.35Z", "#8c8450", "gray")


def _marks(*told: tuple[str, Look]) -> dict[str, Mark]:
    """Marks by their word, in the order in which they are read."""
    return {word: Mark(word, *look) for word, look in told}


VERDICTS = _marks(("ready", GOOD), ("ready with limits", FAIR), ("not ready", BAD), ("not known", OPEN))
ANSWERS = _marks(("blocks", BAD), ("limits", FAIR), ("not known", OPEN), ("advice", MINOR), ("met", GOOD))
CHANCES = _marks(("can", GOOD), ("with limits", FAIR), ("not known", OPEN), ("cannot", BAD))
WAYS = _marks(("as they are", GOOD), ("with a club adapter", FAIR), ("not known", OPEN), ("not at all", BAD))
ENOUGH = _marks(("enough", GOOD), ("may fall short", FAIR), ("not known", OPEN), ("too little", BAD))
LOSSES = _marks(("lost", BAD), ("worse, but not lost", FAIR))
LINKS = _marks(("has a stand-in", GOOD), ("no stand-in", FAIR))
LOANS = _marks(("out", GOOD), ("due soon", FAIR), ("late", BAD), ("not out yet", OPEN))
RAN = _marks(
    ("shorter than predicted", BAD),
    ("as predicted", GOOD),
    ("longer than predicted", FAIR),
    ("not known", OPEN),
)
FOUND = _marks(("there", GOOD), ("missing", BAD), ("faulty", FAIR))
