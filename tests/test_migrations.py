"""Every earlier version of the database: opened, brought up step by step, nothing lost, whole after a kill."""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from data import backup, restoring, upload
from data.database import StoreError
from data.store import Store
from rules.engine import assess
from tests.store import earlier

TOP = Path(__file__).parent.parent
NEWEST = max(earlier.steps())
VERSIONS = range(1, NEWEST + 1)
DAY = date(2027, 3, 1)
SHAPE = """
    select table_name, column_name, data_type, is_nullable, column_default, column_index from duckdb_columns()
    where not internal order by all
"""
KEYS = "select table_name, constraint_type, constraint_text from duckdb_constraints() order by all"


def rows(con: duckdb.DuckDBPyConnection) -> dict[str, pd.DataFrame]:
    """Every table but the list of versions, row for row."""
    con.execute("set TimeZone = 'UTC'")
    names = [name for (name,) in con.execute("show tables").fetchall() if name != "schema_version"]
    return {name: con.execute(f'from "{name}" order by all').df() for name in names}


def rows_of_file(path: Path) -> dict[str, pd.DataFrame]:
    with duckdb.connect(str(path), read_only=True) as con:
        return rows(con)


def version_of(path: Path) -> int:
    with duckdb.connect(str(path)) as con:
        return con.execute("select max(version) from schema_version").fetchone()[0]


def said_by(path: Path, *questions: str) -> list[list[tuple]]:
    with duckdb.connect(str(path), read_only=True) as con:
        return [con.execute(question).fetchall() for question in questions]


def test_the_database_of_every_version_is_kept():
    missing = [version for version in VERSIONS if not earlier.kept(version).exists()]
    assert missing == [], "run: uv run python -m tests.store.earlier"


@pytest.fixture(params=VERSIONS)
def version(request) -> int:
    return request.param


@pytest.fixture
def club(version: int, tmp_path: Path) -> Path:
    """The database as that version left it."""
    return earlier.unpack(version, tmp_path / "club.duckdb")


def test_what_was_kept_is_what_its_migrations_make(version, club, tmp_path):
    """A shipped step that is edited afterwards no longer fits what clubs have on their disks."""
    again = tmp_path / "again.duckdb"
    earlier.make(version, again)
    assert said_by(club, SHAPE, KEYS) == said_by(again, SHAPE, KEYS)


def test_no_table_of_a_kept_database_is_empty(club):
    assert [name for name, held in rows_of_file(club).items() if held.empty] == []


def test_an_earlier_database_is_brought_up_with_every_row_and_equals_a_fresh_one(version, club, tmp_path):
    before = rows_of_file(club)
    fresh_path = tmp_path / "fresh" / "club.duckdb"
    with closing(Store(club)) as brought, closing(Store(fresh_path)) as fresh:
        for number in range(1, len(earlier.FILES) + 1):
            name, payload = brought.payload(number)
            fresh.accept(upload.read(name, payload), "Q1AAA")
        ours, theirs = brought.frames(), fresh.frames()
        for stem, frame in theirs.items():
            pd.testing.assert_frame_equal(ours[stem], frame)
        if version in (1, NEWEST):  # equal frames make equal scores; the ends of the way show it
            scores = [assess(frames, today=DAY).scores() for frames in (ours, theirs)]
            assert len(scores[0]) > 0
            pd.testing.assert_frame_equal(*scores)
    after = rows_of_file(club)
    for name, held in before.items():
        new = [column for column in after[name] if column not in held]
        pd.testing.assert_frame_equal(after[name][list(held)], held)
        assert after[name][new].isna().all(axis=None)
    for name in set(after) - set(before):
        assert after[name].empty
    assert said_by(club, SHAPE, KEYS) == said_by(fresh_path, SHAPE, KEYS)
    (steps,) = said_by(club, "select version from schema_version order by all")
    assert [step for (step,) in steps] == list(VERSIONS)


ENDS = pytest.mark.parametrize("version", [1, NEWEST - 1, NEWEST], indirect=True)


@ENDS
def test_an_earlier_database_is_copied_as_it_was_before_it_is_brought_up(version, club):
    before = rows_of_file(club)
    with closing(backup.opened(club)) as store:
        assert store.uploads()["is_current"].all()
    copies = backup.listed(club)
    if version == NEWEST:
        assert copies == []
        return
    assert [version_of(copy) for copy in copies] == [version]
    for name, held in rows_of_file(copies[0]).items():
        pd.testing.assert_frame_equal(held, before[name])
    with closing(backup.opened(club)) as store:  # brought up already: no second copy
        restoring.restore(store, copies[0], "coordinator")
    assert len(backup.listed(club)) == 2


def test_where_no_copy_can_be_made_an_earlier_database_stays_as_it_is(tmp_path):
    club = earlier.unpack(1, tmp_path / "club.duckdb")
    (tmp_path / "backups").write_text("in the way")
    with pytest.raises(StoreError, match="No backup was made"):
        backup.opened(club)
    assert version_of(club) == 1


@ENDS
def test_an_earlier_database_takes_lists_and_restores_old_ones_after_it_was_brought_up(club):
    with closing(Store(club)) as store:
        held = store.frames()["kits"]
        newer = upload.read("kits.csv", b"member,kit,hours\nQ1AAA,bag,9\n")
        store.accept(newer, "Q1AAA")
        assert store.frames()["kits"]["hours"].tolist() == [4.0, 9.0]
        kits = list(earlier.FILES).index("kits") + 1
        store.restore(kits, "Q1AAA")
        pd.testing.assert_frame_equal(store.frames()["kits"], held)


def test_a_database_of_the_next_version_is_refused_and_left_as_it_is(tmp_path):
    path = earlier.unpack(NEWEST, tmp_path / "club.duckdb")
    with duckdb.connect(str(path)) as con:
        con.execute("insert into schema_version values (?, now())", [NEWEST + 1])
    before = path.read_bytes()
    with pytest.raises(
        StoreError, match=rf"newer Kit Muster \(version {NEWEST + 1} .*knows {NEWEST}\)\. Install"
    ):
        Store(path)
    assert path.read_bytes() == before


def test_a_kill_in_the_middle_of_any_step_leaves_the_version_before_it_whole(tmp_path):
    program = Path(__file__).parent / "faults" / "half_migrated.py"
    ran = subprocess.run(
        [sys.executable, str(program), str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    killed = json.loads(ran.stdout)
    assert [step for step, _, _ in killed] == [step for step in range(2, NEWEST + 1) for _ in range(2)]
    for step, _, name in killed:
        path = tmp_path / name
        assert version_of(path) == step - 1
        left = rows_of_file(path)
        for table, held in rows_of_file(earlier.unpack(step - 1, tmp_path / "kept.duckdb")).items():
            pd.testing.assert_frame_equal(left[table], held)
        Store(path).close()
        assert version_of(path) == NEWEST
