"""Programs of other packages that tests start: found on this machine, or a sentence that says how to get them."""

from __future__ import annotations

import os
import shutil
from typing import NoReturn

import pytest


def program(package: str, *names: str) -> str:
    """Path of the first of these programs that is here. A test that needs another one is left out; in CI it fails."""
    path = next((found for name in names if (found := shutil.which(name))), None)
    return path or leave_out(
        f"{names[0]} is not on this machine, so this was not tried. On Debian: apt-get install {package}"
    )


def leave_out(why: str) -> NoReturn:
    """Leave a test out and say why; in CI, where nothing may go untried, it fails."""
    if os.environ.get("CI"):
        pytest.fail(why)
    pytest.skip(why)
