"""What a reader finds on a sheet."""

import io

from pypdf import PdfReader


def pages(pdf: bytes) -> list[str]:
    """The text of every page, on one line each."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def text(pdf: bytes) -> str:
    """The text of all pages, on one line."""
    return " ".join(pages(pdf))


def unspaced(words: str) -> str:
    """Text without spaces: a narrow column breaks a title where it likes."""
    return "".join(words.split())
