"""How a status looks, defined once: a word, a shape and a colour, told apart by colour-blind eyes too."""

from __future__ import annotations

from dataclasses import dataclass

HOLLOW = "M0,-1L1,0L0,1L-1,0ZM0,-0.6L-0.6,0L0,0.6L0.6,0Z"
FLAT = "M-1,-0.35L1,-0.35L1,0.35L-1,0.35Z"


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


VERDICTS = {
    mark.word: mark
    for mark in (
        Mark("ready", "●", "circle", "#3787c4", "blue"),
        Mark("ready with limits", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("not ready", "■", "square", "#d24a38", "red"),
        Mark("not known", "◇", HOLLOW, "#7d8790", "gray"),
    )
}
ANSWERS = {
    mark.word: mark
    for mark in (
        Mark("blocks", "■", "square", "#d24a38", "red"),
        Mark("limits", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("not known", "◇", HOLLOW, "#7d8790", "gray"),
        Mark("advice", "▬", FLAT, "#8c8450", "gray"),
        Mark("met", "●", "circle", "#3787c4", "blue"),
    )
}
CHANCES = {
    mark.word: mark
    for mark in (
        Mark("can", "●", "circle", "#3787c4", "blue"),
        Mark("with limits", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("not known", "◇", HOLLOW, "#7d8790", "gray"),
        Mark("cannot", "■", "square", "#d24a38", "red"),
    )
}
WAYS = {
    mark.word: mark
    for mark in (
        Mark("as they are", "●", "circle", "#3787c4", "blue"),
        Mark("with a club adapter", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("not known", "◇", HOLLOW, "#7d8790", "gray"),
        Mark("not at all", "■", "square", "#d24a38", "red"),
    )
}
ENOUGH = {
    mark.word: mark
    for mark in (
        Mark("enough", "●", "circle", "#3787c4", "blue"),
        Mark("may fall short", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("not known", "◇", HOLLOW, "#7d8790", "gray"),
        Mark("too little", "■", "square", "#d24a38", "red"),
    )
}
LOSSES = {
    mark.word: mark
    for mark in (
        Mark("lost", "■", "square", "#d24a38", "red"),
        Mark("worse, but not lost", "▲", "triangle-up", "#b97a00", "orange"),
    )
}
LINKS = {
    mark.word: mark
    for mark in (
        Mark("has a stand-in", "●", "circle", "#3787c4", "blue"),
        Mark("no stand-in", "▲", "triangle-up", "#b97a00", "orange"),
    )
}
LOANS = {
    mark.word: mark
    for mark in (
        Mark("out", "●", "circle", "#3787c4", "blue"),
        Mark("due soon", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("late", "■", "square", "#d24a38", "red"),
        Mark("not out yet", "◇", HOLLOW, "#7d8790", "gray"),
    )
}
RAN = {
    mark.word: mark
    for mark in (
        Mark("shorter than predicted", "■", "square", "#d24a38", "red"),
        Mark("as predicted", "●", "circle", "#3787c4", "blue"),
        Mark("longer than predicted", "▲", "triangle-up", "#b97a00", "orange"),
        Mark("not known", "◇", HOLLOW, "#7d8790", "gray"),
    )
}
FOUND = {
    mark.word: mark
    for mark in (
        Mark("there", "●", "circle", "#3787c4", "blue"),
        Mark("missing", "■", "square", "#d24a38", "red"),
        Mark("faulty", "▲", "triangle-up", "#b97a00", "orange"),
    )
}
