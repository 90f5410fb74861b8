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

from data import backup, belongings, demo, export, gone, history, invented, restoring, upload
from data.database import StoreError
from data.people import People
from data.store import Store
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


def test_what_another_database_of_the_folder_is_writing_is_left_alone_and_what_broke_off_is_not(
    club, tmp_path
):
    copy = backup.make(club)
    broken_off, theirs = (copy.with_name(copy.name.replace("club-", name)) for name in ("club-", "club-b-"))
    left = [broken_off.with_suffix(".unfinished"), copy.with_name("club.chosen.wal")]
    at_work = [theirs.with_suffix(".unfinished"), copy.with_name("club-b.chosen")]
    for file in [*left, *at_work]:
        file.touch()
    restoring.restore(club, copy, "coordinator")
    assert [file.exists() for file in [*left, *at_work]] == [False, False, True, True]


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
        assert restoring.restore(empty, copy, "coordinator") is None
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
    kept = restoring.restore(club, copy, "coordinator")
    newest = club.changes_log().iloc[0]
    assert (newest["by"], newest["what"]) == ("coordinator", "backup restored")
    assert newest["detail"] == f"{copy.name}, version 2"
    pd.testing.assert_frame_equal(club.changes_log().iloc[2:].reset_index(drop=True), log)
    assert club.policy() == early["policy"]["text"].iloc[-1]
    for name in set(early) - RECORD:
        pd.testing.assert_frame_equal(rows(club)[name], early[name])
    assert club.uploads()["is_current"].tolist() == [False, True]
    restoring.restore(club, kept, "coordinator")
    for name in set(late) - RECORD:
        pd.testing.assert_frame_equal(rows(club)[name], late[name])
    assert club.policy() == late["policy"]["text"].iloc[-1]
    assert club.uploads()["is_current"].tolist() == [True, False]
    send(club, BAG)


def test_how_things_stood_is_known_before_between_and_after_going_back(club):
    copy = backup.make(club)
    send(club, LATER)
    between = club.version()
    restoring.restore(club, copy, "coordinator")
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
    restoring.restore(club, copy, "coordinator")
    assert people.of_login("two@example.org") is None
    assert people.person_of_token(key) is None
    told = club.frames()["inventory"]
    assert told[["member", "item"]].values.tolist() == [["Q2BBB", "walkie"]]
    assert told["notes"].isna().all()
    held = " ".join(frame.to_csv() for frame in rows(club).values())
    assert "the battery of one" not in held
    assert "Q1AAA" not in held


OTHER = "it is a copy of another club.*record of its own.*kitmuster restore FILE --db NEW"


def test_the_copy_of_another_club_never_takes_the_place_of_a_record(club, tmp_path):
    with closing(Store(tmp_path / "other" / "club.duckdb")) as other:
        send(other, LATER)
        copy = backup.make(other)
    before = held(club)
    with pytest.raises(StoreError, match=OTHER):
        restoring.restore(club, copy, "coordinator")
    assert held(club) == before
    with closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        restoring.restore(new, copy, "coordinator")
        assert new.frames()["inventory"]["item"].tolist() == ["small battery"]


@pytest.mark.parametrize("how", ["went its own way", "another is called coordinator", "another policy"])
def test_nor_does_a_copy_of_this_club_whose_record_is_not_how_this_one_goes_on(club, tmp_path, how):
    copy = backup.make(club)
    with closing(Store(tmp_path / "away" / "club.duckdb")) as away:
        restoring.restore(away, copy, "coordinator")
        send(away, LATER)
        theirs = backup.make(away)
    if how == "went its own way":
        send(club, LATER)
    else:
        with duckdb.connect(str(theirs)) as con:
            con.execute(
                "update policy set text = ''" if how == "another policy" else "update change set \"by\" = 'x'"
            )
    before = held(club)
    with pytest.raises(StoreError, match=OTHER):
        restoring.restore(club, theirs, "coordinator")
    assert held(club) == before


def test_a_later_copy_of_the_same_club_goes_on_from_the_record_that_is_there(club, tmp_path):
    """As where another machine stands ready with the copies of this one."""
    with closing(Store(tmp_path / "ready" / "club.duckdb")) as ready:
        copy = backup.make(club)
        for _ in range(2):  # the same once more changes nothing
            restoring.restore(ready, copy, "coordinator")
        history.note(
            ready, history.Judged(ready.version(), pd.Timestamp("2027-01-01").date(), "here", 1, "[]"), {}
        )
        for payload in (LATER, BAG):
            send(club, payload)
            later = backup.make(club)
            restoring.restore(ready, later, "coordinator")
            assert held(ready)["change"] == held(club)["change"]
            pd.testing.assert_frame_equal(ready.frames()["inventory"], club.frames()["inventory"])
        assert history.judged(ready, 2).rules == "here"


def load_invented(store: Store, folder: Path) -> None:
    for file in demo.write(folder):
        sent = upload.read(f"{invented.MARK}{file.name}", file.read_bytes(), file.stem, upload.FOLDER)
        store.accept(sent, "coordinator")


@pytest.mark.parametrize("holds", ["nothing", "the invented club", "nothing any more"])
def test_where_there_is_no_record_of_ones_own_a_copy_comes_whole(club, tmp_path, holds):
    copy, theirs = backup.make(club), rows(club)
    with closing(Store(tmp_path / "first" / "club.duckdb")) as first:
        history.note(first, history.Judged(0, pd.Timestamp("2027-01-01").date(), "", 0, "[]"), {})
        if holds != "nothing":
            load_invented(first, tmp_path / "files")
        if holds == "nothing any more":
            invented.remove(first, "coordinator")
        version = first.version()
        kept = restoring.restore(first, copy, "coordinator")
        for name in set(theirs) - {"change"}:
            pd.testing.assert_frame_equal(rows(first)[name], theirs[name])
        assert first.version() > version
        assert (kept is None) == (holds == "nothing")


@pytest.mark.parametrize("what", ["a list", "a person", "a policy"])
def test_what_was_done_beside_the_invented_club_is_a_record_of_ones_own(club, tmp_path, what):
    copy = backup.make(club)
    with closing(Store(tmp_path / "first" / "club.duckdb")) as first:
        load_invented(first, tmp_path / "files")
        if what == "a list":
            send(first, LATER)
        elif what == "a person":
            People(first).add("first@club.example", "First", "coordinator", "", "test")
        else:
            first.set_policy("", "coordinator", invented.TAKEN_OUT)
        with pytest.raises(StoreError, match=OTHER):
            restoring.restore(first, copy, "coordinator")


# ---- who is gone


def two_members(store: Store) -> None:
    both = b"member,kit,item,kind,notes\nQ1AAA,bag,the battery of one,battery,\nQ2BBB,bag,walkie,handheld,ask Q1AAA\n"
    send(store, both, "coordinator")
    lent = b"event,post,member,kit,from,to,travel_h,kit_owner\nRun,Ford,Q2BBB,box,2027-04-25T06:00,,,Q3CCC\n"
    store.accept(upload.read("assignments.csv", lent, "assignments"), "coordinator")
    people = People(store)
    people.add("lead@example.org", "lead", "coordinator", "", "lead")
    people.add("one@example.org", "Ann Example", "member", "Q1AAA", "lead")
    people.add("two@example.org", "two", "viewer", "", "lead")


def everything(store: Store) -> str:
    """All cells of all tables, files as sent included."""
    return " ".join(frame.to_csv() for frame in rows(store).values())


def test_who_was_erased_or_taken_out_does_not_come_back_with_an_older_copy_in_a_new_file(tmp_path):
    with closing(Store(tmp_path / "club.duckdb")) as club:
        two_members(club)
        copy = backup.make(club)
        belongings.erase(club, "Q1AAA", "lead")
        belongings.erase(club, "Q3CCC", "lead")
        People(club).remove(3, "lead")
    ledger = tmp_path / "backups" / "club.gone"
    assert ledger.stat().st_mode & 0o777 == 0o600
    assert not any(word in ledger.read_text() for word in ("Q1AAA", "Q3CCC", "two@", "Ann"))
    away = tmp_path / "carried" / "backups"
    shutil.copytree(tmp_path / "backups", away)
    copy = copy.rename(away / "renamed.duckdb")
    with closing(Store(tmp_path / "new" / "other.duckdb")) as new:
        restoring.restore(new, copy, "coordinator")
        assert not any(
            word in everything(new) for word in ("Q1AAA", "Q3CCC", "battery of", "one@example", "Ann")
        )
        assert new.frames()["inventory"]["item"].tolist() == ["walkie"]
        assert new.frames()["assignments"]["member"].tolist() == ["Q2BBB"]
        assert [one.name for one in People(new).known() if not one.removed] == ["lead"]
        assert new.changes_log()["what"].tolist()[:3] == ["person removed", "erased", "erased"]
        again = backup.make(new)
    assert (tmp_path / "new" / "backups" / "other.gone").exists()
    with closing(Store(tmp_path / "third" / "club.duckdb")) as third:
        restoring.restore(third, again, "coordinator")
        assert held(third)["told_inventory"][0] == 1


def test_who_joined_again_after_erasing_stays_with_copies_made_since(tmp_path):
    with closing(Store(tmp_path / "club.duckdb")) as club:
        two_members(club)
        belongings.erase(club, "Q1AAA", "lead")
        send(club, BAG)
        copy = backup.make(club)
    with closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        restoring.restore(new, copy, "coordinator")
        assert set(new.frames()["inventory"]["member"]) == {"Q1AAA", "Q2BBB"}


def test_another_club_of_the_same_folder_keeps_a_member_of_the_same_call_sign(tmp_path):
    with (
        closing(Store(tmp_path / "club.duckdb")) as club,
        closing(Store(tmp_path / "second.duckdb")) as second,
    ):
        two_members(club)
        send(second, BAG)
        copy = backup.make(second)
        belongings.erase(club, "Q1AAA", "lead")
    with closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        restoring.restore(new, copy, "coordinator")
        assert set(new.frames()["inventory"]["member"]) == {"Q1AAA"}


@pytest.mark.parametrize("how", ["cut off", "changed", "another form"])
def test_where_it_cannot_be_read_who_is_gone_it_is_said_and_nothing_comes_unless_asked_for(tmp_path, how):
    with closing(Store(tmp_path / "club.duckdb")) as club:
        two_members(club)
        copy = backup.make(club)
        belongings.erase(club, "Q1AAA", "lead")
        ledger = gone.of(club.path)
        text = ledger.read_text()
        damaged = {"cut off": text[: len(text) // 2], "changed": text.replace("member", "memory")}
        ledger.write_text(damaged.get(how, "[]"))
        with pytest.raises(StoreError, match=r"club\.gone .*cannot be read.*move the file away"):
            belongings.erase(club, "Q2BBB", "lead")
        assert set(club.frames()["inventory"]["member"]) == {"Q2BBB"}
    with closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        with pytest.raises(StoreError, match=r"club\.gone .*cannot be read.*--with-erased"):
            restoring.restore(new, copy, "coordinator")
        assert new.version() == 0
        restoring.restore(new, copy, "coordinator", is_forced=True)
        assert set(new.frames()["inventory"]["member"]) == {"Q1AAA", "Q2BBB"}


def test_what_can_be_read_of_who_is_gone_still_counts_beside_a_file_that_cannot(tmp_path):
    with closing(Store(tmp_path / "club.duckdb")) as club:
        two_members(club)
        copy = backup.make(club)
        belongings.erase(club, "Q1AAA", "lead")
    ledger = gone.of(tmp_path / "new" / "club.duckdb")
    ledger.parent.mkdir(parents=True)
    ledger.write_text("[]")
    with closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        restoring.restore(new, copy, "coordinator", is_forced=True)
        assert set(new.frames()["inventory"]["member"]) == {"Q2BBB"}
    assert ledger.with_name("club.gone.damaged").read_text() == "[]"
    assert gone.read(ledger.parent) == gone.read(copy.parent)


def test_nobody_is_gone_where_the_change_failed_or_could_not_be_written_down(tmp_path, monkeypatch):
    with closing(Store(tmp_path / "club.duckdb")) as club:
        two_members(club)
        ledger, before = gone.of(club.path), held(club)

        def fail(*told):
            raise OSError(28, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr(gone.disk, "flush", fail)
            with pytest.raises(StoreError, match=r"No space left.*Nothing was erased"):
                belongings.erase(club, "Q1AAA", "lead")
        assert held(club) == before and not ledger.exists()
        People(club).remove(3, "lead")
        kept, before = ledger.read_bytes(), held(club)
        written = gone.add
        monkeypatch.setattr(gone, "add", lambda *told: (written(*told), fail_late()))
        with pytest.raises(RuntimeError):
            belongings.erase(club, "Q1AAA", "lead")
        assert held(club) == before and ledger.read_bytes() == kept


def fail_late() -> None:
    raise RuntimeError("the commit failed")


def test_a_reader_sees_all_of_before_or_all_of_after(club):
    copy = backup.make(club)
    send(club, LATER)
    with club.reading() as cur:
        assert cur.execute("select count(*) from told_inventory").fetchone() == (1,)
        restoring.restore(club, copy, "coordinator")
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
        restoring.restore(club, file, "coordinator")
    assert held(club) == before
    assert [name for name in os.listdir(tmp_path / "backups") if restoring.CHOSEN in name] == []


def test_nobody_writes_between_the_copy_and_what_takes_its_place(club, monkeypatch):
    made = backup.make
    theirs = made(club)
    send(club, LATER)
    writer = threading.Thread(target=send, args=(club, BAG.replace(b"Q1AAA", b"Q2BBB")))

    def make(store: Store) -> Path:
        copy = made(store)
        writer.start()
        writer.join(0.5)
        return copy

    monkeypatch.setattr(restoring, "make", make)
    restoring.restore(club, theirs, "coordinator")
    writer.join()
    assert set(club.frames()["inventory"]["member"]) == {"Q1AAA", "Q2BBB"}


def test_a_copy_whose_tables_are_of_another_form_is_refused_whole(club, tmp_path):
    file = tmp_path / "given.duckdb"
    shutil.copy(backup.make(club), file)
    with duckdb.connect(str(file)) as con:
        con.execute("alter table told_loans add column surprise varchar")
    send(club, LATER)
    before = held(club)
    with pytest.raises(StoreError, match="was not restored"):
        restoring.restore(club, file, "coordinator")
    assert held(club) == before
    send(club, LATER)


@pytest.mark.parametrize("trick", ["a view of a file", "a view of a file in a new file", "a bomb"])
def test_a_copy_that_was_made_to_do_harm_is_refused_whole(club, tmp_path, monkeypatch, trick):
    monkeypatch.setattr(restoring, "MOST_ROWS", 1000)
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
    with closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        into = new if trick == "a view of a file in a new file" else club
        before = held(into)
        with pytest.raises(StoreError, match="was not restored"):
            restoring.restore(into, file, "coordinator")
        assert held(into) == before
        send(into, LATER)


def test_a_copy_with_something_in_every_table_comes_back_table_for_table(tmp_path):
    copy = earlier.unpack(max(earlier.steps()), tmp_path / "copy.duckdb")
    with closing(Store(copy)) as old, closing(Store(tmp_path / "new" / "club.duckdb")) as new:
        before, scores = rows(old), assess(old.frames()).scores()
        old.close()
        restoring.restore(new, copy, "coordinator")
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
    export.write(backup.make(club), out)
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
    export.write(backup.make(club), out, "parquet")
    with duckdb.connect() as con:
        con.execute("set TimeZone = 'UTC'")
        con.execute((out / "schema.sql").read_text("utf-8"))
        for name in rows(club):
            con.execute(f"insert into \"{name}\" by name from '{out / name}.parquet'")
        assert backup.digests(con, "memory") == held(club)


def test_nothing_is_written_over(club, tmp_path):
    copy = backup.make(club)
    with pytest.raises(StoreError, match="not an empty folder"):
        export.write(copy, tmp_path)
    with pytest.raises(ValueError, match="csv, parquet"):
        export.write(copy, tmp_path / "out", "xlsx")


def test_where_not_everything_was_written_it_is_said_where_to_write_it(club, tmp_path, monkeypatch):
    def full(con, there):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(export, "_write_payloads", full)
    with pytest.raises(StoreError, match=r"No space left on device\. Write it again, into a new folder\."):
        export.write(backup.make(club), tmp_path / "out")
