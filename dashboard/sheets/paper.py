"""Paper: pages, letters and tables of every printed sheet, made offline.

What people sent is never read as markup: every text passes through `words`, and only `Marked` text, which is made
here, may carry signs that the typesetter reads.
"""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import segno
from reportlab.lib.colors import HexColor, white
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from dashboard import units
from dashboard.cautions import CHECK
from dashboard.palette import VERDICTS, Mark
from rules.engine import Finding

STATIC = Path(__file__).parent.parent / "static"
PAPERS = {"a4": A4, "letter": letter}
INK, SOFT, LINE, FILL = HexColor("#22352f"), HexColor("#55645e"), HexColor("#b9c4be"), HexColor("#e9eeeb")
MARGIN, TOP, FOOT = 15 * mm, 20 * mm, 15 * mm
HEAD_ROOM = 30 * mm  # a heading with less below it goes to the next page
INNER = 6  # points that the typesetter keeps free inside its margins
LONGEST = 240  # characters of one text on paper; the dashboard shows the rest
SENTENCE = 600  # characters of a sentence that a rule says
MEASURE = re.compile(
    r"(?<=\d) (?=(?:Ah|Wh|W|A|V|h|kg|km|m|lb|ft|mi|min|MHz|USD|°C|°F)\b)"
)  # stays on one line
LETTERS = {"text": "text-400", "bold": "text-700", "head": "heading-700", "fallback": "fallback-400"}
EAST = (
    ("HYSMyeongJo-Medium", ((0x1100, 0x11FF), (0x3130, 0x318F), (0xAC00, 0xD7A3))),
    ("HeiseiMin-W3", ((0x3040, 0x30FF),)),
    ("STSong-Light", ((0x3000, 0x303F), (0x4E00, 0x9FFF), (0xFF00, 0xFFEF))),
)


class SheetError(ValueError):
    """A sheet that cannot be made; the message says why and what to write."""


class Marked(str):
    """Text whose markup is ours; anything that people sent is escaped in it."""

    __slots__ = ()


BREAK = Marked("<br/>")


@cache
def letters() -> tuple[frozenset[int], frozenset[int]]:
    """Register the fonts once; the letters that the own fonts have, and those of the fallback."""
    for name, file in LETTERS.items():
        pdfmetrics.registerFont(TTFont(name, str(STATIC / f"{file}.ttf")))
    pdfmetrics.registerFontFamily("text", "text", "bold", "text", "bold")
    for name, _ in EAST:
        pdfmetrics.registerFont(UnicodeCIDFont(name))
    held = {name: frozenset(pdfmetrics.getFont(name).face.charToGlyph) for name in LETTERS}
    return held["text"] & held["bold"] & held["head"], held["fallback"]


def _font(sign: str) -> str:
    """The font that has a sign: "" for the own ones, `none` where no font here has it."""
    own, fallback = letters()
    code = ord(sign)
    if code in own:
        return ""
    if code in fallback:
        return "right to left" if unicodedata.bidirectional(sign) in ("R", "AL") else "fallback"
    for name, spans in EAST:
        if any(first <= code <= last for first, last in spans):
            return name
    return "none"


def _spoken(sign: str) -> str:
    """A sign that no font has, in words: a symbol by its name, a letter as an empty box."""
    if unicodedata.category(sign) in ("So", "Sk"):
        return f"({unicodedata.name(sign, 'symbol').lower()})"
    return "" if unicodedata.category(sign)[0] in "CM" else "\N{WHITE SQUARE}"


def readable(value: object, longest: int = LONGEST) -> str:
    """A value as one line of plain text: no control signs, cut where it is too long for paper."""
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    shown = (
        c for c in str(value) if unicodedata.category(c) != "Cf"
    )  # a sign that turns text round is dropped
    text = "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in shown)
    text = re.sub(r"\s+", " ", unicodedata.normalize("NFC", text))
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def words(value: object, longest: int = LONGEST) -> Marked:
    """A value as text that cannot act as markup, each letter in a font that has it."""
    if isinstance(value, Marked):
        return value
    text = "".join(_spoken(c) if _font(c) == "none" else c for c in readable(value, longest))
    parts = []
    for font, signs in groupby(text, _font):
        run = "".join(signs)
        if font == "right to left":
            run, font = run[::-1], "fallback"
        parts.append(f'<font name="{font}">{escape(run)}</font>' if font else escape(run))
    return Marked(MEASURE.sub("&nbsp;", "".join(parts)))


def spoken(text: str) -> Marked:
    """What a rule says, which may be longer than what people sent."""
    return words(text, SENTENCE)


def sentence(finding: Finding) -> Marked:
    """What was found, in the reader's units."""
    return spoken(units.in_finding(finding.sentence, finding))


def fix(finding: Finding) -> Marked:
    """What to do about it, in the reader's units."""
    return spoken(units.in_finding(finding.fix, finding))


def mark(template: str, *values: object) -> Marked:
    """Markup of ours with values put in as plain text, e.g. `mark("<b>{}</b>", name)`."""
    return Marked(template.format(*(words(value) for value in values)))


def joined(parts: Iterable[object], between: object = ", ") -> Marked:
    """Several texts as one."""
    return Marked(words(between).join(words(part) for part in parts))


def status(found: Mark, text: object = None) -> Marked:
    """A status: its coloured shape, then its word or another text."""
    shape = f'<font name="fallback" color="{found.colour}">{found.shape}</font>&nbsp;'
    return Marked(shape + words(found.word if text is None else text))


def _style(name: str, size: float, lead: float, font: str = "text", **more: Any) -> ParagraphStyle:
    letters()
    return ParagraphStyle(
        name, fontName=font, fontSize=size, leading=lead, textColor=INK, splitLongWords=1, **more
    )


@cache
def style(name: str) -> ParagraphStyle:
    """A paragraph style by name: title, head, big, text, small, cell, label, column of a form, right."""
    return {
        "title": lambda: _style("title", 20, 23, "head", spaceAfter=1 * mm),
        "head": lambda: _style("head", 12.5, 15, "head", spaceBefore=4 * mm, spaceAfter=1.5 * mm),
        "text": lambda: _style("text", 9.4, 12.4),
        "small": lambda: _style("small", 8, 10),
        "cell": lambda: _style("cell", 8.8, 10.8),
        "label": lambda: _style("label", 7.8, 9.4, "bold"),
        "column": lambda: _style("column", 7.2, 8.6, "bold"),
        "right": lambda: _style("right", 8.4, 10.6, alignment=TA_RIGHT),
        "big": lambda: _style("big", 15, 18, "head"),
    }[name]()  # fmt: skip


def para(text: object, name: str = "text") -> Paragraph:
    """A paragraph; plain text is escaped."""
    return Paragraph(words(text), style(name))


def head(text: object) -> Paragraph:
    """A heading inside a sheet."""
    return para(text, "head")


def tall(story: Sequence[Any], width: float) -> float:
    """Height of paragraphs and tables one below the other, points."""
    return sum(f.wrap(width, 10_000)[1] + f.getSpaceBefore() + f.getSpaceAfter() for f in story)


def gap(height_mm: float = 2) -> Spacer:
    """Empty space, mm."""
    return Spacer(1, height_mm * mm)


class Tick(Flowable):
    """A box to tick, with a word to its right if there is one."""

    def __init__(self, text: str = "", side_mm: float = 3.2) -> None:
        super().__init__()
        self.text, self.side = text, side_mm * mm

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return width, self.side + 0.6

    def draw(self) -> None:
        letters()
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.7)
        self.canv.rect(0.4, 0, self.side, self.side)
        self.canv.setFont("text", 8.4)
        self.canv.setFillColor(INK)
        self.canv.drawString(self.side + 1.4 * mm, 0.6 * mm, self.text)


class Code(Flowable):
    """A QR code of an address, `side_mm` wide with its quiet zone."""

    def __init__(self, address: str, side_mm: float = 28) -> None:
        super().__init__()
        self.squares = [
            list(row) for row in segno.make(address, error="m", micro=False).matrix_iter(border=4)
        ]
        self.side = side_mm * mm

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return self.side, self.side

    def draw(self) -> None:
        square = self.side / len(self.squares)
        self.canv.setFillColor(white)
        self.canv.rect(0, 0, self.side, self.side, stroke=0, fill=1)
        self.canv.setFillColorRGB(0, 0, 0)
        path = self.canv.beginPath()
        for row, signs in enumerate(self.squares):
            for column, is_dark in enumerate(signs):
                if is_dark:
                    path.rect(column * square, self.side - (row + 1) * square, square, square)
        self.canv.drawPath(path, stroke=0, fill=1)


def cell(value: object, name: str = "cell") -> Any:
    """A value as a table takes it: a drawing as it is, anything else as a paragraph."""
    return value if isinstance(value, Flowable | list) else para(value, name)


def table(
    heads: Sequence[object], rows: Iterable[Sequence[object]], shares: Sequence[float], width: float,
    least_mm: float = 0, is_boxed: bool = False, is_tight: bool = False,
) -> Table:  # fmt: skip
    """A table over the whole width.

    Parameters
    ----------
    shares
        Relative widths of the columns.
    width
        Width of the whole, points.
    least_mm
        Least height of a row, mm: room to write.
    is_boxed
        Lines around every cell, for tables that are written in by hand.
    is_tight
        Rows close to each other, to save a page.
    """
    whole, rows = sum(shares), list(rows)
    body = [[cell(value) for value in row] for row in rows]
    drawn = Table(
        [[cell(name, "label") for name in heads], *body],
        colWidths=[width * share / whole for share in shares],
        minRowHeights=[0, *[least_mm * mm] * len(rows)],
        repeatRows=1,
    )
    lines = (
        [("GRID", (0, 0), (-1, -1), 0.5, LINE)] if is_boxed else [("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE)]
    )
    drawn.setStyle(
        TableStyle(
            [
                ("BACKGROUND", (0, 0), (-1, 0), FILL),
                ("LINEBELOW", (0, 0), (-1, 0), 0.8, INK),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("TOPPADDING", (0, 0), (-1, -1), 0.8 if is_tight else 2.2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.2 if is_tight else 2.6),
                ("LEFTPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3),
                *lines,
            ]
        )
    )
    return drawn


def facts(pairs: Iterable[tuple[str, object]], width: float, across: int = 4) -> Table:
    """Labels with their values below them, so many side by side."""
    cells = [[para(label, "label"), cell(value)] for label, value in pairs]
    cells += [[]] * (-len(cells) % across)
    drawn = Table(
        [cells[at : at + across] for at in range(0, len(cells), across)], colWidths=[width / across] * across
    )
    drawn.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ]
        )
    )
    return drawn


def framed(story: Sequence[Any], width: float, is_filled: bool = False) -> Table:
    """A box around a few paragraphs."""
    drawn = Table([[list(story)]], colWidths=[width])
    look = [("BOX", (0, 0), (-1, -1), 0.8, INK), ("LEFTPADDING", (0, 0), (-1, -1), 7), ("RIGHTPADDING", (0, 0), (-1, -1), 7),
            ("TOPPADDING", (0, 0), (-1, -1), 5), ("BOTTOMPADDING", (0, 0), (-1, -1), 6)]  # fmt: skip
    drawn.setStyle(TableStyle([*look, *([("BACKGROUND", (0, 0), (-1, -1), FILL)] if is_filled else [])]))
    return drawn


def beside(left: Sequence[Any], right: Any | None, width: float, right_width: float) -> Table:
    """Paragraphs at the left, a drawing at the right; over the whole width where there is none."""
    drawn = (
        Table([[list(left)]], colWidths=[width])
        if right is None
        else Table([[list(left), right]], colWidths=[width - right_width, right_width])
    )
    drawn.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
            ]
        )
    )
    return drawn


def cautions(said: Sequence[str], width: float) -> list[Any]:
    """The cautions where people act, in a box that stays on one page."""
    if not said:
        return []
    lines = [para(mark("<b>{}</b>{}{}", *text.partition(":")), "small") for text in said]
    box = framed(
        [para(mark("<b>Before you act</b>")), *lines, para(mark("<b>{}</b>", CHECK), "small")], width, True
    )
    return [gap(3), box]


def fitting(rows: Sequence[Any], make: Callable[[Sequence[Any]], Table], height: float) -> tuple[Table, int]:
    """A table of as many rows as fit into a height, points, and how many were left out."""
    count = len(rows)
    while True:
        drawn = make(rows[:count])
        if drawn.wrap(0, 0)[1] <= height or count <= 1:
            return drawn, len(rows) - count
        count -= max(1, count // 12)


class Page:
    """One paper size, upright or on its side; `width` and `height` are what can be printed on, points.

    Parameters
    ----------
    paper : A4 or letter; None is what the reader has chosen, or what goes with their units

    Raises
    ------
    SheetError
        There is no such paper.
    """

    def __init__(self, paper: str | None = None, is_wide: bool = False) -> None:
        paper = paper or units.paper()
        if paper.lower() not in PAPERS:
            raise SheetError(f'paper: "{paper}" is not known. Write A4 or letter.')
        across, down = PAPERS[paper.lower()]
        self.size = (down, across) if is_wide else (across, down)
        self.width, self.height = self.size[0] - 2 * MARGIN, self.size[1] - TOP - FOOT

    def end(self, story: Sequence[Any]) -> tuple[int, float]:
        """The page on which a story ends, and how much of it is left, points."""
        letters()
        last = _End()
        _document(io.BytesIO(), self.size, "").build([*_kept(story), last])
        return last.page, last.left

    def fewest(self, drawn: Callable[[bool], list[Any]]) -> list[Any]:
        """A story drawn tightly where that saves a page, else as it is best read."""
        pages = self.end(drawn(False))[0]
        return drawn(pages > 1 and self.end(drawn(True))[0] < pages)

    def pdf(self, title: object, story: Sequence[Any], today: date) -> bytes:
        """The sheet as a PDF file; the same content gives the same bytes."""
        letters()
        held, name = io.BytesIO(), readable(title, 120)
        document = _document(held, self.size, name)

        class Numbered(Canvas):  # type: ignore[misc]
            """Writes the running lines when the number of pages is known."""

            def __init__(self, *given: Any, **named: Any) -> None:
                super().__init__(*given, **named)
                self.states: list[dict[str, Any]] = []

            def showPage(self) -> None:  # noqa: N802
                self.states.append(dict(self.__dict__))
                self._startPage()

            def save(self) -> None:
                for state in self.states:
                    self.__dict__.update(state)
                    _running_lines(self, document.pagesize, name, today, len(self.states))
                    super().showPage()
                super().save()

        document.build(_kept(story), canvasmaker=Numbered)
        return held.getvalue()


class _End(Flowable):
    """Takes no room; tells where a story ends."""

    page, left = 1, 0.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.left = height
        return 0, 0

    def draw(self) -> None:
        self.page = self.canv.getPageNumber()


def _document(held: io.BytesIO, size: tuple[float, float], name: str) -> SimpleDocTemplate:
    return SimpleDocTemplate(
        held, pagesize=size, leftMargin=MARGIN - INNER, rightMargin=MARGIN - INNER,
        topMargin=TOP - INNER, bottomMargin=FOOT - INNER,
        title=name, author="Kit Muster", lang="en", invariant=1,
    )  # fmt: skip


def _kept(story: Sequence[Any]) -> list[Any]:
    """A story whose headings stay with what they head."""
    return [
        part for flow in story for part in ([CondPageBreak(HEAD_ROOM), flow] if _is_head(flow) else [flow])
    ]


def _is_head(flow: Any) -> bool:
    return isinstance(flow, Paragraph) and flow.style.name == "head"


def _running_lines(canvas: Canvas, size: tuple[float, float], title: str, today: date, pages: int) -> None:
    """The wordmark and title above, day and page number below."""
    across, down = size
    top, foot = down - 12 * mm, 8 * mm
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 2.4 * mm, across - MARGIN, top - 2.4 * mm)
    canvas.setFillColor(INK)
    canvas.setFont("head", 11)
    canvas.drawRightString(across - MARGIN, top, "Kit Muster")
    _wordmark(canvas, across - MARGIN - 27.5 * mm, top)
    _line(canvas, title, MARGIN, top, across - 2 * MARGIN - 30 * mm)
    canvas.setFillColor(SOFT)
    canvas.setFont("text", 7.4)
    canvas.drawString(MARGIN, foot, f"Printed {today:%Y-%m-%d}")
    canvas.drawCentredString(across / 2, foot, CHECK)
    canvas.drawRightString(across - MARGIN, foot, f"page {canvas.getPageNumber()} of {pages}")


def _line(canvas: Canvas, text: str, x: float, y: float, width: float) -> None:
    """One line of plain text, cut where it would run out of its width."""
    longest = len(text)
    while True:
        drawn = para(readable(text, longest), "small")
        if drawn.wrap(width, 100)[1] <= 10 or longest < 8:
            drawn.drawOn(canvas, x, y - 1.6)
            return
        longest -= 4


def _wordmark(canvas: Canvas, x: float, y: float) -> None:
    """The shapes of the four verdicts, side by side."""
    canvas.setFont("fallback", 8)
    for number, found in enumerate(VERDICTS.values()):
        canvas.setFillColor(HexColor(found.colour))
        canvas.drawString(x + number * 2.5 * mm, y, found.shape)
