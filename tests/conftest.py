"""What holds for every test, and the invented club, read and judged once for all."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Hashable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import settings

from data import club, demo
from rules import engine
from rules.policy import Policy
from tests.small_club import TODAY

RACE, TRAIL = "Barley Ford Half Marathon", "Gorse Hill Trail Run"  # two of its events

# How long an example takes says more about what else the machine does than about the code; tests/bench measures.
settings.register_profile("untimed", settings.get_profile(settings.get_current_profile_name()), deadline=None)
settings.load_profile("untimed")


def pytest_configure(config: pytest.Config) -> None:
    """Where Python is told to leave no bytecode beside the code, keep it with what is kept of the tests: each worker, and each
    program that a test starts, would compile everything anew, which is most of its work."""
    if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        sys.dont_write_bytecode = False
        sys.pycache_prefix = os.environ["PYTHONPYCACHEPREFIX"] = str(
            config.rootpath / ".pytest_cache" / "code"
        )


def pytest_collection_finish() -> None:
    """What is imported stays; the garbage collector need not look through it again and again, as on the server."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files of the invented club, as written on TODAY; to be read only."""
    path = tmp_path_factory.mktemp("club")
    demo.write(path, today=TODAY)
    return path


@pytest.fixture(scope="session")
def frames(folder: Path) -> Iterator[dict[str, pd.DataFrame]]:
    """The lists of the invented club; a test that changed them in place would change them for all, and fails here."""
    told = club.read_folder(folder).frames
    before = {stem: frame.copy() for stem, frame in told.items()}
    yield told
    assert list(told) == list(before)
    for stem, frame in before.items():
        pd.testing.assert_frame_equal(told[stem], frame, obj=stem)


@pytest.fixture(scope="session")
def assessment(frames: dict[str, pd.DataFrame]) -> engine.Assessment:
    """The invented club, judged on TODAY."""
    return engine.assess(frames, today=TODAY)


KEPT = 12  # clubs of `judged_once`, some 40 MB each


@pytest.fixture(scope="session")
def judgements() -> Iterator[dict[Hashable, tuple[engine.Assessment, pd.DataFrame]]]:
    """What `judged_once` keeps, with its scores; what changed an assessment in place would for all, and fails here."""
    kept: dict[Hashable, tuple[engine.Assessment, pd.DataFrame]] = {}
    yield kept
    for found, scores in kept.values():
        pd.testing.assert_frame_equal(found.scores(), scores)


@pytest.fixture
def judged_once(
    judgements: dict[Hashable, tuple[engine.Assessment, pd.DataFrame]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a page or a command judges a club that another test had judged, every cell, the policy and the day the same, it
    gets that assessment, which is only read, as all who look at a page share one."""
    from dashboard import standing

    judge = engine.assess

    def kept(*asked: Any) -> engine.Assessment:
        """Judged with a connection of its own: one that is kept would keep a room from those that are let go."""
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(engine, "PAIRS", 0)
            return judge(*asked)

    def assess(
        frames: Mapping[str, pd.DataFrame],
        policy: Policy | None = None,
        today: date | None = None,
        *more: Any,
        **rest: Any,
    ) -> engine.Assessment:
        if more or rest or policy is None or policy.own_rules:
            return judge(frames, policy, today, *more, **rest)
        rows = [
            (stem, *frame, pd.util.hash_pandas_object(frame).to_numpy().tobytes())
            for stem, frame in sorted(frames.items())
        ]
        club = tuple(rows), repr(policy), today
        if club not in judgements:
            found = kept(frames, policy, today)
            judgements[club] = found, found.scores()
            if len(judgements) > KEPT:
                del judgements[next(iter(judgements))]
        return judgements[club][0]

    monkeypatch.setattr(standing, "assess", assess)
    monkeypatch.setattr(engine, "assess", assess)  # commands load it when they are called
