"""Names of files that are made for people."""

from __future__ import annotations

import re


def file_name(*words: str) -> str:
    """Words as one file name that any system takes: letters, digits and hyphens, without an ending."""
    return re.sub(r"[^\w]+", "-", "-".join(words), flags=re.ASCII).strip("-").lower()[:80] or "unnamed"
