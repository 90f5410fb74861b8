"""Draw the picture of the README: the season of the invented club, as its dashboard shows it.

Run with `uv run python -m tests.browser.picture`; it writes `dashboard/static/season.png`.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from .conftest import BROWSERS, FLAGS, TOP, club_file, serving, settle

PICTURE = TOP / "dashboard" / "static" / "season.png"
WIDE, HIGH = 1180, 1280
COLOURS = 256


def main() -> None:
    """Serve the invented club, look at its first page, keep a small picture."""
    path = next(found for name in BROWSERS if (found := shutil.which(name)))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        club_file(folder)
        with serving(folder) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
            page = browser.new_page(viewport={"width": WIDE, "height": HIGH})
            page.goto(address)
            page.get_by_role("heading", level=1).wait_for(timeout=60_000)
            settle(page)
            page.screenshot(path=folder / "picture.png")
            browser.close()
        with Image.open(folder / "picture.png") as drawn:
            drawn.convert("RGB").quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).save(
                PICTURE, optimize=True
            )
    print(f"{PICTURE.relative_to(TOP)}: {PICTURE.stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
