"""Charts as pictures: whole without a page, in letters that are really there."""

import io

import pandas as pd
import pytest
from PIL import Image

from dashboard import charts, drawing, pictures
from dashboard.palette import VERDICTS


@pytest.fixture(scope="module")
def spec():
    rows = [(f"kit {word}", word, 20.0, 80.0) for word in VERDICTS]
    frame = pd.DataFrame(rows, columns=["subject", "verdict", "low", "high"])
    return drawing.drawn(charts.ranges(frame, "One of four kits is ready"))


def test_an_svg_says_what_the_chart_says(spec):
    drawn = pictures.svg(spec).decode()
    assert drawn.startswith("<svg")
    assert "One of four kits is ready" in drawn
    assert all(f"kit {word}" in drawn for word in VERDICTS)
    assert "currentColor" not in drawn and "muster text" not in drawn
    assert pictures.FAMILY in drawn


def test_a_png_has_letters_on_white_paper(spec):
    with Image.open(io.BytesIO(pictures.png(spec))) as drawn:
        grey = drawn.convert("L")
    assert grey.width >= 2 * pictures.WIDTH_PX
    assert grey.getpixel((2, 2)) == 255
    title = grey.crop((0, 0, grey.width, 70))
    dark = sum(count for shade, count in enumerate(title.histogram()) if shade < 90)
    assert dark > 300, "a font that is not found leaves no letters"


def test_the_chart_that_the_page_shows_stays_as_it_was(spec):
    before = str(spec)
    pictures.svg(spec)
    assert str(spec) == before
