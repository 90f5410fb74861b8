"""A club of one member whose texts are hostile, long and of many scripts: its files, and judged."""

from __future__ import annotations

from pathlib import Path

import pytest

from data import club
from rules.engine import Assessment, assess
from tests.sheets import hostile_club
from tests.small_club import TODAY


@pytest.fixture
def small_folder(tmp_path: Path) -> Path:
    """Its files, in a folder of the test's own."""
    folder = tmp_path / "club"
    folder.mkdir()
    hostile_club.write(folder)
    return folder


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Assessment:
    """The club, judged on TODAY."""
    folder = tmp_path_factory.mktemp("small")
    hostile_club.write(folder)
    read = club.read_folder(folder)
    assert read.problems == []
    return assess(read.frames, today=TODAY)
