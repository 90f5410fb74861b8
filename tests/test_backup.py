"""Copies of the database: whole, read back, let go of in order, put in force again, written out for others."""

from __future__ import annotations

import os
import shutil
import threading
from contextlib import closing
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from data import backup, belongings, demo, history, upload
from data.people import People
from data.store import Store, StoreError
from rules.engine import assess
from tests.store import earlier

BAG = b"member,kit,item,kind\nQ1AAA,bag,big battery,battery\nQ1AAA,bag,=1+1,dc_lead\n"
LATER = b"member,kit,item,kind\nQ1AAA,bag,small battery,battery\n"


def send(store: Store, payload: bytes, by: str = "Q1AAA") -> int:
    read = upload.read("inventory.csv", payload)
    assert read.problems == []
    return store.accept(read, by)


def held(store: Store) -> dict[str, backup.Digest]:
    with store.reading() as cur:
        return backup.digests(cur, cur.execute("select current_database()").fetchone()[0])


def rows(store: Store) -> dict[str, pd.DataFrame]:
    """Every table, row for row."""
    with store.reading() as cur:
        names = [name for (name,) in cur.execute("show tables").fetchall()]
        return {name: cur.execute(f'from "{name}" order by all').df() for name in names}


@pytest.fixture
def club(tmp_path: Path):
    with closing(Store(tmp_path / "club.duckdb")) as opened:
        send(opened, BAG)
        opened.set_policy("[weight]\nadvice = 2\n", "Q1AAA", "to have one")
        yield opened


def test_a_copy_of_the_open_store_holds_everything_and_is_for_the_owner_only(club, tmp_path):
    copy = backup.make(club)
    before = rows(club)
    send(club, LATER)
    assert copy.parent == tmp_path / "backups"
    assert os.listdir(copy.parent) == [copy.name]
    assert (copy.stat().st_mode & 0o777, copy.parent.stat().st_mode & 0o777) == (0o600, 0o700)
    with closing(Store(copy)) as taken:
        for name, frame in rows(taken).items():
            pd.testing.assert_frame_equal(frame, before[name])


def test_only_the_newest_copies_stay_and_a_clock_that_jumps_changes_nothing(club, tmp_path, monkeypatch):
    class Clock:
        days = iter(range(20, 10, -1))

        @classmethod
        def now(cls, zone):
            return pd.Timestamp(f"2027-01-{next(cls.days)}", tz=zone)

    monkeypatch.setattr(backup, "datetime", Clock)
    made = [backup.make(club, keep=2) for _ in range(4)]
    assert backup.listed(tmp_path / "club.duckdb") == made[-2:]
    assert sorted(os.listdir(tmp_path / "backups")) == sorted(file.name for file in made[-2:])


def test_the_copies_of_another_database_in_the_same_folder_are_left_alone(club, tmp_path):
    with closing(Store(tmp_path / "club-b.duckdb")) as other:
        theirs = backup.make(other)
    made = [backup.make(club, keep=1) for _ in range(2)]
    assert theirs.exists() and made[1].exists() and not made[0].exists()


def test_a_copy_that_differs_does_not_count(club, tmp_path, monkeypatch):
    digests = backup.digests

    def differ(cur, database):
        found = digests(cur, database)
        return found | {"change": (0, 0)} if database == "copied" else found

    monkeypatch.setattr(backup, "digests", differ)
    with pytest.raises(StoreError, match=r"read back and differs"):
        backup.make(club)
    assert os.listdir(tmp_path / "backups") == []


def test_a_store_in_memory_has_no_copies():
    with closing(Store(None)) as club, pytest.raises(StoreError, match="in memory"):
        backup.make(club)


def test_an_empty_machine_is_brought_back_to_the_last_table_and_score(tmp_path):
    demo.write(tmp_path / "files")
    with closing(Store(tmp_path / "old" / "club.duckdb")) as club:
        for file in sorted((tmp_path / "files").glob("*.csv")):
            club.accept(upload.read(file.name, file.read_bytes()), "demo")
        club.set_policy("[weight]\nadvice = 2\n", "demo", "to have one")
        copy, before, scores = backup.make(club), rows(club), assess(club.frames()).scores()
    with closing(Store(tmp_path / "new" / "other.duckdb")) as empty:
        assert backup.restore(empty, copy, "coordinator") is None
        after = rows(empty)
        assert set(after) == set(before)
        for name, frame in after.items():
            pd.testing.assert_frame_equal(frame, before[name])
        pd.testing.assert_frame_equal(assess(empty.frames()).scores(), scores)
    with closing(Store(tmp_path / "new" / "other.duckdb")) as again:
        assert held(again)["change"] == (len(before["change"]), held(again)["change"][1])


RECORD = {"change", "policy", "upload"}


def test_going_back_puts_the_rows_of_that_day_in_force_and_the_record_goes_on(club):
    copy, early = backup.make(club), rows(club)
    send(club, LATER)
    club.set_policy("[weight]\nadvice = 3\n", "Q1AAA", "to have another")
    late, log = rows(club), club.changes_log()
    kept = backup.restore(club, copy, "coordinator")
    newest = club.changes_log().iloc[0]
    assert (newest["by"], newest["what"]) == ("coordinator", "backup restored")
    assert newest["detail"] == f"{copy.name}, version 2"
    pd.testing.assert_frame_equal(club.changes_log().iloc[2:].reset_index(drop=True), log)
    assert club.policy() == early["policy"]["text"].iloc[-1]
    for name in set(early) - RECORD:
        pd.testing.assert_frame_equal(rows(club)[name], early[name])
    assert club.uploads()["is_current"].tolist() == [False, True]
    backup.restore(club, kept, "coordinator")
    for name in set(late) - RECORD:
        pd.testing.assert_frame_equal(rows(club)[name], late[name])
    assert club.policy() == late["policy"]["text"].iloc[-1]
    assert club.uploads()["is_current"].tolist() == [True, False]
    send(club, BAG)


def test_how_things_stood_is_known_before_between_and_after_going_back(club):
    copy = backup.make(club)
    send(club, LATER)
    between = club.version()
    backup.restore(club, copy, "coordinator")
    back = club.version()
    send(club, b"member,kit,item,kind\nQ2BBB,bag,walkie,handheld\n", "Q2BBB")
    stood = {
        version: sorted(history.frames_at(club, version, lambda _: upload.NO_ALIASES)[0]["inventory"]["item"])
        for version in (2, between, back, club.version())
    }
    assert stood == {
        2: ["=1+1", "big battery"],
        between: ["small battery"],
        back: ["=1+1", "big battery"],
        club.version(): ["=1+1", "big battery", "walkie"],
    }
    assert sorted(club.frames()["inventory"]["item"]) == stood[club.version()]


def test_going_back_brings_back_nobody_no_key_and_nothing_that_was_erased(club):
    people = People(club)
    people.add("lead@example.org", "lead", "coordinator", "", "lead")
    one = people.add("one@example.org", "Q1AAA", "member", "Q1AAA", "lead")
    two = people.add("two@example.org", "two", "viewer", "", "lead")
    key = people.new_token(one, "logger", "Q1AAA")
    both = b"member,kit,item,kind,notes\nQ1AAA,bag,the battery of one,battery,\nQ2BBB,bag,walkie,handheld,ask Q1AAA\n"
    send(club, both, "coordinator")
    copy = backup.make(club)
    people.remove(two, "lead")
    belongings.erase(club, "Q1AAA", "coordinator")
    backup.restore(club, copy, "coordinator")
    assert people.of_login("two@example.org") is None
    assert people.person_of_token(key) is None
    told = club.frames()["inventory"]
    assert told[["member", "item"]].values.tolist() == [["Q2BBB", "walkie"]]
    assert told["notes"].isna().all()
    held = " ".join(frame.to_csv() for frame in rows(club).values())
    assert "the battery of one" not in held
    assert "Q1AAA" not in held


def test_the_copy_of_another_club_comes_whole_with_its_record(club, tmp_path):
    with closing(Store(tmp_path / "other" / "club.duckdb")) as other:
        send(other, LATER)
        copy, theirs = backup.make(other), rows(other)
    version = club.version()
    backup.restore(club, copy, "coordinator")
    for name in set(theirs) - {"change"}:
        pd.testing.assert_frame_equal(rows(club)[name], theirs[name])
    assert club.version() == version + 1
    assert club.changes_log()["what"].tolist() == ["backup restored", "accepted"]


def test_a_reader_sees_all_of_before_or_all_of_after(club):
    copy = backup.make(club)
    send(club, LATER)
    with club.reading() as cur:
        assert cur.execute("select count(*) from told_inventory").fetchone() == (1,)
        backup.restore(club, copy, "coordinator")
        assert cur.execute("select count(*) from told_inventory").fetchone() == (1,)
        assert cur.execute("select upload_id from upload where is_current").fetchone() == (2,)
    assert len(club.frames()["inventory"]) == 2


@pytest.mark.parametrize(
    "kind", ["missing", "empty", "text", "another program's", "newer", "damaged", "folder"]
)
def test_what_is_no_copy_is_refused_and_changes_nothing(club, tmp_path, kind):
    file = tmp_path / "given.duckdb"
    if kind == "empty":
        file.touch()
    elif kind == "text":
        file.write_bytes(b"member,kit\n" * 2000)
    elif kind == "folder":
        file.mkdir()
    elif kind == "another program's":
        with duckdb.connect(str(file)) as con:
            con.execute("create table recipe (name varchar)")
    elif kind != "missing":
        shutil.copy(backup.make(club), file)
        if kind == "newer":
            with duckdb.connect(str(file)) as con:
                con.execute("insert into schema_version values (999, now())")
        else:
            whole = file.read_bytes()
            file.write_bytes(whole[:4096] + bytes(8192) + whole[12288:])
    before = held(club)
    with pytest.raises(StoreError, match=r"given\.duckdb.* (Choose|Write)"):
        backup.restore(club, file, "coordinator")
    assert held(club) == before
    assert [name for name in os.listdir(tmp_path / "backups") if "restoring" in name] == []


def test_nobody_writes_between_the_copy_and_what_takes_its_place(club, tmp_path, monkeypatch):
    made = backup.make
    with closing(Store(tmp_path / "other.duckdb")) as other:
        send(other, LATER)
        theirs = made(other)
    writer = threading.Thread(target=send, args=(club, BAG.replace(b"Q1AAA", b"Q2BBB")))

    def make(store: Store) -> Path:
        copy = made(store)
        writer.start()
        writer.join(0.5)
        return copy

    monkeypatch.setattr(backup, "make", make)
    backup.restore(club, theirs, "coordinator")
    writer.join()
    assert set(club.frames()["inventory"]["member"]) == {"Q1AAA", "Q2BBB"}


def test_a_copy_whose_tables_are_of_another_form_is_refused_whole(club, tmp_path):
    file = tmp_path / "given.duckdb"
    shutil.copy(backup.make(club), file)
    with duckdb.connect(str(file)) as con:
        con.execute("alter table told_loans add column surprise varchar")
    before = held(club)
    with pytest.raises(StoreError, match="was not restored"):
        backup.restore(club, file, "coordinator")
    assert held(club) == before
    send(club, LATER)


@pytest.mark.parametrize("trick", ["a view of a file", "a view of a file in an older copy", "a bomb"])
def test_a_copy_that_was_made_to_do_harm_is_refused_whole(club, tmp_path, monkeypatch, trick):
    monkeypatch.setattr(backup, "MOST_ROWS", 1000)
    secret = tmp_path / "secret.csv"
    secret.write_text("member,kit\nQ1AAA,secret\n")
    file = tmp_path / "given.duckdb"
    shutil.copy(backup.make(club), file)
    with duckdb.connect(str(file)) as con:
        if trick == "a bomb":
            con.execute("insert into told_kits (upload_id, file, line) select 1, 'x', 1 from range(2000)")
        else:
            con.execute("drop table told_kits")
            con.execute(f"create view told_kits as select * from read_csv('{secret}')")
            if trick == "a view of a file":  # as if of another club, so that it would come whole
                con.execute('update change set "at" = now()')
    before = held(club)
    with pytest.raises(StoreError, match="was not restored"):
        backup.restore(club, file, "coordinator")
    assert held(club) == before
    send(club, LATER)


def test_a_copy_with_something_in_every_table_comes_back_table_for_table(tmp_path):
    copy = earlier.unpack(max(earlier.steps()), tmp_path / "copy.duckdb")
    with closing(Store(copy)) as old, closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        before, scores = rows(old), assess(old.frames()).scores()
        old.close()
        backup.restore(new, copy, "coordinator")
        after = rows(new)
        assert [name for name, frame in before.items() if frame.empty] == []
        assert set(after) == set(before)
        ended = {"token": "revoked", "person": "valid_from"}  # every key, and every sign-in
        for name, frame in after.items():
            told = frame.columns.drop(ended.get(name, []))
            pd.testing.assert_frame_equal(frame[told], before[name][told])
            assert name not in ended or frame[ended[name]].notna().all()
        pd.testing.assert_frame_equal(assess(new.frames()).scores(), scores)
        assert [person.name for person in People(new).known()] == ["one", "two"]
        assert new.policy() == "[weight]\nadvice = 2\n"


def test_what_root_copies_belongs_to_whoever_the_database_belongs_to(club, tmp_path, monkeypatch):
    owner = (tmp_path / "club.duckdb").stat()
    given = []
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    monkeypatch.setattr(os, "lchown", lambda file, user, group: given.append((Path(file).name, user, group)))
    copy = backup.make(club)
    unfinished = copy.with_suffix(backup.UNFINISHED).name
    assert given == [(name, owner.st_uid, owner.st_gid) for name in ("backups", unfinished)]


def test_everything_is_written_out_as_csv_that_no_spreadsheet_works_out(club, tmp_path):
    out = tmp_path / "out"
    backup.export(backup.make(club), out)
    names = {file.relative_to(out).as_posix() for file in out.rglob("*") if file.is_file()}
    assert names == {f"{name}.csv" for name in rows(club)} | {"schema.sql", "uploads/000001"}
    text = (out / "told_inventory.csv").read_text("utf-8")
    assert ",'=1+1," in text
    assert ",=1+1," not in text
    assert (out / "uploads" / "000001").read_bytes() == BAG
    assert pd.read_csv(out / "upload.csv")["payload"].tolist() == ["uploads/000001"]
    with duckdb.connect() as con:
        con.execute((out / "schema.sql").read_text("utf-8"))
        assert {name for (name,) in con.execute("show tables").fetchall()} == set(rows(club))


def test_parquet_and_its_schema_make_the_same_database_again(club, tmp_path):
    out = tmp_path / "out"
    backup.export(backup.make(club), out, "parquet")
    with duckdb.connect() as con:
        con.execute("set TimeZone = 'UTC'")
        con.execute((out / "schema.sql").read_text("utf-8"))
        for name in rows(club):
            con.execute(f"insert into \"{name}\" by name from '{out / name}.parquet'")
        assert backup.digests(con, "memory") == held(club)


def test_nothing_is_written_over(club, tmp_path):
    copy = backup.make(club)
    with pytest.raises(StoreError, match="not an empty folder"):
        backup.export(copy, tmp_path)
    with pytest.raises(ValueError, match="csv, parquet"):
        backup.export(copy, tmp_path / "out", "xlsx")
