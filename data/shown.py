"""What somebody sent, as it may stand in a message."""

from __future__ import annotations

import re
import unicodedata

# Categories of characters that cannot be seen, or that change how others are shown.
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")


def seen(text: str, instead: str) -> str:
    """Text with each character that cannot be seen replaced."""
    return "".join(instead if unicodedata.category(c) in _UNSEEN else c for c in text)


def shown_name(name: str) -> str:
    """Name of a file without its folders."""
    last = re.split(r"[/\\]", name)[-1]
    return seen(last[-1000:], "").strip()[:100] or "upload"


def shown_value(value: str) -> str:
    """A cell, cut where it is long."""
    clean = seen(value[:100], "�")
    return clean if len(value) <= 80 else clean[:80] + "…"
