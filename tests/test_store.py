"""The club's database: what it replaces, what it keeps, and what it survives."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from data import database, differences, schema, store, upload
from data.database import StoreError
from data.store import Store

BAG = b"""member,kit,item,kind,quantity,charged,labelled
Q1AAA,bag,big battery,battery,1,2026-05-01,yes
Q1AAA,bag,short lead,dc_lead,2,,
Q1AAA,bag,short lead,dc_lead,3,,
"""
BAG_LATER = b"""member,kit,item,kind,quantity,charged,labelled
Q1AAA,bag,short lead,dc_lead,2,,
Q1AAA,bag,short lead,dc_lead,5,,
Q1AAA,bag,big battery,battery,1,2026-06-01,no
Q1AAA,bag,long coax,coax,1,,
"""
TWO_KITS = b"""member,kit,item,kind
Q1AAA,car,big battery,battery
Q1BBB,bag,big battery,battery
"""
EVENTS = b"event,starts,ends\nRiver Run,2027-04-25T05:15,2027-04-25T14:00\n"
POSTS = b"event,post,post_type\nRiver Run,Ford,aid_station\nRiver Run,Mill,aid_station\n"
OTHER_POSTS = b"event,post,post_type\nHill Ride,Gate,aid_station\n"
FILES = {
    "inventory": BAG,
    "members": b"member,solo_ok,on_air_12m,licence_expires\nQ1AAA,yes,4,2030-01-31\nQ1BBB,,,\n",
    "kits": b"member,kit,hours,packed\nQ1AAA,bag,6.5,2026-05-02\n",
    "rehearsals": b"member,kit,date,stage,trips_back\nQ1AAA,bag,2026-04-01,yard,2\n",
    "events": EVENTS,
    "posts": POSTS,
    "assignments": b"event,post,member,kit,from,to\nRiver Run,Ford,Q1AAA,bag,2027-04-25T06:00,\n",
    "offers": b"offer,kind,price_usd,available,volts_max\nsmall battery,battery,99.5,3,14.6\n",
    "loans": b"item,borrower,out,due\nclub coax,Q1BBB,2026-02-01,2026-03-01\n",
}


def sent(stem: str, payload: bytes) -> upload.Upload:
    read = upload.read(f"{stem}.csv", payload)
    assert read.problems == []
    return read


def bag_of(member: str, count: int) -> upload.Upload:
    rows = "".join(f"{member},bag,lead {n},dc_lead\n" for n in range(count))
    return sent("inventory", f"member,kit,item,kind\n{rows}".encode())


@pytest.fixture
def club(tmp_path: Path):
    opened = Store(tmp_path / "club.duckdb")
    yield opened
    opened.close()


# What is stored comes back the same


@pytest.mark.parametrize("stem", FILES)
def test_rows_come_back_as_the_reader_typed_them(club: Store, stem: str) -> None:
    read = sent(stem, FILES[stem])
    club.accept(read, "Q1AAA")
    for in_force in (club.frames()[stem], club.frame(stem)):
        pd.testing.assert_frame_equal(in_force, read.frame)


@pytest.mark.parametrize("stem", schema.FILES)
def test_an_empty_store_gives_every_frame_typed_and_empty(club: Store, stem: str) -> None:
    pd.testing.assert_frame_equal(club.frames()[stem], schema.empty(stem))


@pytest.mark.parametrize("stem", schema.FILES)
def test_every_column_of_a_file_has_a_place(club: Store, stem: str) -> None:
    stored = club.cursor().execute(f"select * from told_{stem} limit 0").df().columns
    assert set(stored) == {"upload_id", *schema.empty(stem).columns}
    assert set(differences.SAME_THING[stem]) | set(store.COVERS[stem]) <= set(schema.columns(stem))


def test_everything_is_there_after_closing_and_opening_again(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "club.duckdb"
    first = Store(path)
    for stem, payload in FILES.items():
        first.accept(sent(stem, payload), "Q1AAA")
    before, log, version = first.frames(), first.changes_log(), first.version()
    first.close()
    again = Store(path)
    for stem, frame in again.frames().items():
        pd.testing.assert_frame_equal(frame, before[stem])
    pd.testing.assert_frame_equal(again.changes_log(), log)
    assert again.version() == version == len(FILES)
    again.close()


def test_payload_is_kept_as_sent(club: Store) -> None:
    odd = b"\xef\xbb\xbf" + BAG.replace(b"\n", b"\r\n")
    upload_id = club.accept(upload.read("My kit list.csv", odd), "Q1AAA")
    assert club.payload(upload_id) == ("My kit list.csv", odd)


def test_an_unknown_upload_is_named(club: Store) -> None:
    with pytest.raises(StoreError, match="no upload 7"):
        club.payload(7)
    with pytest.raises(StoreError, match="no upload 7"):
        club.restore(7, "Q1AAA")


# What an upload replaces


def test_an_inventory_replaces_only_the_kits_that_it_names(club: Store) -> None:
    club.accept(sent("inventory", BAG), "Q1AAA")
    club.accept(sent("inventory", TWO_KITS), "coordinator")
    club.accept(sent("inventory", BAG_LATER), "Q1AAA")
    frame = club.frames()["inventory"]
    assert frame.groupby(["member", "kit"]).size().to_dict() == {
        ("Q1AAA", "bag"): 4,
        ("Q1AAA", "car"): 1,
        ("Q1BBB", "bag"): 1,
    }


def test_posts_replace_only_the_events_that_they_name(club: Store) -> None:
    club.accept(sent("posts", POSTS), "coordinator")
    club.accept(sent("posts", OTHER_POSTS), "coordinator")
    club.accept(sent("posts", b"event,post,post_type\nRiver Run,Bridge,aid_station\n"), "coordinator")
    assert sorted(club.frames()["posts"]["post"]) == ["Bridge", "Gate"]


def test_members_replace_the_whole_table(club: Store) -> None:
    club.accept(sent("members", FILES["members"]), "coordinator")
    club.accept(sent("members", b"member\nQ1CCC\n"), "coordinator")
    assert club.frames()["members"]["member"].tolist() == ["Q1CCC"]


def test_an_upload_is_current_while_anything_of_it_is_in_force(club: Store) -> None:
    both = club.accept(sent("inventory", TWO_KITS), "coordinator")
    half = club.accept(sent("inventory", b"member,kit,item,kind\nQ1AAA,car,lead,dc_lead\n"), "Q1AAA")
    current = club.uploads().set_index("upload_id")["is_current"]
    assert current.to_dict() == {half: True, both: True}
    other = club.accept(sent("inventory", b"member,kit,item,kind\nQ1BBB,bag,lead,dc_lead\n"), "Q1BBB")
    current = club.uploads().set_index("upload_id")["is_current"]
    assert current.to_dict() == {other: True, half: True, both: False}


def test_uploads_say_who_sent_what_when(club: Store) -> None:
    club.accept(sent("inventory", TWO_KITS), "coordinator")
    (row,) = club.uploads().to_dict("records")
    assert (row["by"], row["file"], row["stem"], row["members"], row["rows"]) == (
        "coordinator",
        "inventory.csv",
        "inventory",
        "Q1AAA Q1BBB",
        2,
    )
    assert abs(pd.Timestamp.now("UTC") - row["at"]) < pd.Timedelta(minutes=1)


def test_a_member_who_is_spelled_in_two_ways_is_named_once(club: Store) -> None:
    club.accept(sent("inventory", TWO_KITS.replace(b"Q1BBB", b" q1aaa")), "coordinator")
    assert club.uploads()["members"].tolist() == ["Q1AAA"]


def test_the_same_bytes_again_change_nothing(club: Store) -> None:
    first = club.accept(sent("inventory", BAG), "Q1AAA")
    assert club.accept(sent("inventory", BAG), "Q1AAA") == first
    assert (len(club.uploads()), len(club.changes_log()), club.version()) == (1, 1, 1)


def test_of_several_files_those_in_force_already_change_nothing_and_the_others_land(club: Store) -> None:
    known = [sent("events", EVENTS), sent("posts", POSTS)]
    assert club.accept_all(known, "coordinator") == [1, 2]
    assert club.accept_all([known[0], sent("inventory", BAG), known[1]], "coordinator") == [1, 3, 2]
    assert len(club.frames()["inventory"]) == 3


def test_of_several_files_none_lands_where_one_fails(club: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    both = [sent("inventory", BAG), sent("rehearsals", FILES["rehearsals"])]
    with monkeypatch.context() as broken:
        broken.setattr(store, "_members", lambda stem, table: {"inventory": "Q1AAA"}[stem])
        with pytest.raises(KeyError):
            club.accept_all(both, "coordinator")
    assert club.version() == 0 and club.frames()["inventory"].empty
    assert club.accept_all(both, "coordinator") == [1, 2]
    assert len(club.frames()["inventory"]) == 3 and len(club.frames()["rehearsals"]) == 1


def test_the_same_bytes_count_again_once_part_of_them_was_replaced(club: Store) -> None:
    both = club.accept(sent("inventory", TWO_KITS), "coordinator")
    club.accept(sent("inventory", b"member,kit,item,kind\nQ1AAA,car,lead,dc_lead\n"), "Q1AAA")
    again = club.accept(sent("inventory", TWO_KITS), "coordinator")
    assert again != both
    assert sorted(club.frames()["inventory"]["item"]) == ["big battery", "big battery"]


def test_the_same_bytes_that_are_now_read_otherwise_are_taken(club: Store) -> None:
    read = replace(sent("inventory", BAG), payload=b"the same bytes")
    first = club.accept(read, "Q1AAA")
    assert club.accept(read, "Q1AAA") == first
    otherwise = sent("inventory", BAG.replace(b"2026-05-01", b"2026-05-02"))
    assert club.accept(replace(otherwise, payload=b"the same bytes"), "Q1AAA") != first
    assert club.frames()["inventory"]["charged"].max() == pd.Timestamp("2026-05-02")


def test_an_upload_with_problems_is_refused_whole(club: Store) -> None:
    bad = upload.read("inventory.csv", BAG.replace(b",2,,", b",two,,"))
    assert bad.problems
    with pytest.raises(ValueError, match="problems"):
        club.accept(bad, "Q1AAA")
    assert club.version() == 0
    assert club.frames()["inventory"].empty


def test_a_failure_in_the_middle_leaves_everything_as_it_was(club: Store, monkeypatch) -> None:
    class PageLeft(BaseException):
        pass

    club.accept(sent("inventory", BAG), "Q1AAA")

    def leave(*given: object) -> str:
        raise PageLeft

    with monkeypatch.context() as patched:
        patched.setattr(store, "_members", leave)
        with pytest.raises(PageLeft):
            club.accept(sent("inventory", BAG_LATER), "Q1AAA")
    assert len(club.frames()["inventory"]) == 3
    assert club.version() == 1
    club.accept(sent("inventory", BAG_LATER), "Q1AAA")
    assert len(club.frames()["inventory"]) == 4


# What would change


def test_changes_name_each_thing_and_each_cell(club: Store) -> None:
    club.accept(sent("inventory", BAG), "Q1AAA")
    found = club.changes(sent("inventory", BAG_LATER))
    assert list(found.columns) == ["change", "member", "kit", "item", "column", "before", "after"]
    assert sorted(map(tuple, found.to_numpy().tolist())) == [
        ("added", "Q1AAA", "bag", "long coax", "", "", ""),
        ("changed", "Q1AAA", "bag", "big battery", "charged", "2026-05-01", "2026-06-01"),
        ("changed", "Q1AAA", "bag", "big battery", "labelled", "yes", "no"),
        ("changed", "Q1AAA", "bag", "short lead", "quantity", "3", "5"),
    ]
    club.accept(sent("inventory", BAG_LATER), "Q1AAA")
    back = club.changes(sent("inventory", BAG))
    assert set(zip(back["change"], back["item"], strict=True)) == {
        ("removed", "long coax"),
        ("changed", "big battery"),
        ("changed", "short lead"),
    }


@pytest.mark.parametrize("stem", FILES)
def test_a_first_upload_only_adds_and_the_same_one_changes_nothing(club: Store, stem: str) -> None:
    read = sent(stem, FILES[stem])
    assert club.changes(read)["change"].tolist() == ["added"] * len(read.frame)
    club.accept(read, "Q1AAA")
    assert club.changes(read).empty


def test_changes_look_only_at_what_the_upload_covers(club: Store) -> None:
    club.accept(sent("inventory", TWO_KITS), "coordinator")
    assert club.changes(sent("inventory", BAG))["change"].tolist() == ["added"] * 3
    club.accept(sent("members", FILES["members"]), "coordinator")
    gone = club.changes(sent("members", b"member\nQ1AAA\n"))
    assert ("removed", "Q1BBB") in set(zip(gone["change"], gone["member"], strict=True))
    assert ("changed", "solo_ok", "yes", "") in set(
        zip(gone["change"], gone["column"], gone["before"], gone["after"], strict=True)
    )


def test_changes_of_posts_and_loans_say_what_they_are_about(club: Store) -> None:
    assert club.changes(sent("posts", OTHER_POSTS))["item"].tolist() == ["Hill Ride · Gate"]
    loan = club.changes(sent("loans", FILES["loans"]))
    assert loan[["member", "item"]].to_numpy().tolist() == [["Q1BBB", "club coax · 2026-02-01"]]


# Going back


def test_restore_brings_an_earlier_state_back_exactly(club: Store) -> None:
    first = club.accept(sent("inventory", BAG), "Q1AAA")
    before = club.frames()["inventory"]
    club.accept(sent("inventory", BAG_LATER), "Q1AAA")
    restored = club.restore(first, "coordinator")
    pd.testing.assert_frame_equal(club.frames()["inventory"], before)
    newest = club.changes_log().iloc[0]
    assert (newest["by"], newest["what"], newest["upload_id"]) == (
        "coordinator",
        f"restored from upload {first}",
        restored,
    )
    assert club.payload(restored) == club.payload(first)
    assert club.version() == 3


def test_an_upload_that_can_no_longer_be_read_says_what_to_do(club: Store, monkeypatch) -> None:
    upload_id = club.accept(sent("inventory", BAG), "Q1AAA")
    bad = upload.read("inventory.csv", BAG.replace(b",2,,", b",two,,"))
    monkeypatch.setattr(upload, "read", lambda *given, **named: bad)
    with pytest.raises(StoreError, match=r"cannot be restored.*line 3, quantity: \"two\" is .*send it again"):
        club.restore(upload_id, "coordinator")


# Whose rows


def test_rows_that_bear_on_a_member_stand_as_they_were_sent_wherever_they_lie(club: Store) -> None:
    rows = "".join(f"Q1AAA,bag,lead {n},dc_lead\n" for n in range(20))
    club.accept(sent("inventory", f"member,kit,item,kind\n{rows}".encode()), "Q1AAA")
    with club.changing() as cur:
        cur.execute("create temp table held as from told_inventory order by line desc")
        cur.execute("delete from told_inventory")
        cur.execute("insert into told_inventory from held")
    assert club.frames_bearing_on("Q1AAA")["inventory"]["line"].to_pylist() == list(range(2, 22))


@pytest.mark.parametrize(
    ("stem", "payload"),
    [
        ("inventory", BAG_LATER),
        ("inventory", b"member,kit,item,kind\nQ1AAA,bag,lead,dc_lead\nQ1AAA,shed,lead,dc_lead\n"),
        ("kits", b"member,kit,hours,packed\nQ1AAA,car,3,2026-06-02\n"),
        ("rehearsals", b"member,kit,date,stage,trips_back\nQ1AAA,bag,2026-06-01,park,0\n"),
        ("members", b"member,solo_ok,on_air_12m,licence_expires\nQ1AAA,no,9,2031-01-31\n"),
    ],
)
def test_rows_with_an_upload_in_their_place_are_those_that_bear_once_it_is_in_force(
    club: Store, stem: str, payload: bytes
) -> None:
    for name, first in FILES.items():
        club.accept(sent(name, first), "coordinator")
    club.accept(sent("inventory", TWO_KITS), "coordinator")
    club.accept(sent("rehearsals", b"member,kit,date,stage\nQ1BBB,bag,2026-04-02,room\n"), "coordinator")
    later = sent(stem, payload)
    before = club.frames_bearing_on("Q1AAA")
    told = club.frames_bearing_on("Q1AAA", [later])
    club.accept(later, "Q1AAA")
    after = club.frames_bearing_on("Q1AAA")
    assert {name: rows.to_pylist() for name, rows in told.items()} == {
        name: rows.to_pylist() for name, rows in after.items()
    }
    assert told[stem].to_pylist() != before[stem].to_pylist()


def test_a_member_sees_their_own_rows_and_the_events(club: Store) -> None:
    for stem, payload in FILES.items():
        club.accept(sent(stem, payload), "coordinator")
    club.accept(sent("inventory", TWO_KITS), "coordinator")
    mine = club.frames_of("Q1BBB")
    whole = club.frames()
    assert set(mine) == set(schema.FILES)
    assert mine["inventory"][["member", "kit"]].to_numpy().tolist() == [["Q1BBB", "bag"]]
    assert mine["members"]["member"].tolist() == ["Q1BBB"]
    assert mine["loans"]["borrower"].tolist() == ["Q1BBB"]
    assert mine["assignments"].empty
    for stem in ("events", "posts", "offers"):
        pd.testing.assert_frame_equal(mine[stem], whole[stem])
    assert club.frames_of("Q1AAA")["loans"].empty
    assert club.frames_of("' or true --")["inventory"].empty


# Many at once


def test_frames_show_one_moment_whatever_is_accepted_meanwhile(club: Store, monkeypatch) -> None:
    typed = store._typed

    def accept_between(stem: str, rows: pd.DataFrame) -> pd.DataFrame:
        if stem == "members":
            club.accept(sent("kits", FILES["kits"]), "Q1AAA")
        return typed(stem, rows)

    with monkeypatch.context() as patched:
        patched.setattr(store, "_typed", accept_between)
        assert club.frames()["kits"].empty
    assert len(club.frames()["kits"]) == 1


def test_eight_writers_and_a_reader_lose_nothing(club: Store) -> None:
    rounds = 4

    def send(writer: int) -> list[int]:
        member = f"Q{writer}AAA"
        return [club.accept(bag_of(member, count), member) for count in range(1, rounds + 1)]

    def look() -> None:
        for _ in range(20):
            frame = club.frames()["inventory"]
            lines = frame.groupby("member")["line"].agg(["size", "max"])
            assert (lines["size"] + 1 == lines["max"]).all()

    with ThreadPoolExecutor(9) as pool:
        looking = pool.submit(look)
        ids = [number for part in pool.map(send, range(8)) for number in part]
        looking.result()
    assert sorted(ids) == list(range(1, 8 * rounds + 1))
    assert club.frames()["inventory"].groupby("member").size().tolist() == [rounds] * 8
    assert club.version() == 8 * rounds
    assert club.uploads()["is_current"].sum() == 8


WRITER = """
import sys
from pathlib import Path
from data import upload
from data.store import Store
club = Store(Path(sys.argv[1]))
for n in range(10_000):
    size = 40 + n % 7
    rows = "".join(f"Q{n % 5}AAA,bag,lead {n} {i},dc_lead\\n" for i in range(size))
    read = upload.read("inventory.csv", f"member,kit,item,kind\\n{rows}".encode())
    print(club.accept(read, "Q1AAA"), flush=True)
"""


@pytest.mark.parametrize("trial", range(3))
def test_a_killed_process_leaves_whole_uploads_and_loses_none(tmp_path: Path, trial: int) -> None:
    path = tmp_path / "club.duckdb"
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    acknowledged = [int(writer.stdout.readline())]
    time.sleep(random.Random(trial).uniform(0.05, 0.6))
    writer.kill()
    acknowledged += [int(line) for line in writer.stdout.read().split("\n") if line]
    writer.wait()
    writer.stdout.close()

    club = Store(path)
    uploads = club.uploads()
    assert set(acknowledged) <= set(uploads["upload_id"])
    assert len(uploads) == club.version() == len(club.changes_log())
    cur = club.cursor()
    stored = dict(cur.execute("select upload_id, count(*) from told_inventory group by all").fetchall())
    current = uploads[uploads["is_current"]]
    assert stored == dict(zip(current["upload_id"], current["rows"], strict=True))
    assert len(stored) == min(5, len(uploads))
    club.accept(bag_of("Q9AAA", 2), "Q9AAA")
    cur.close()
    club.close()


# Files that cannot be opened


def test_a_second_process_is_told_who_holds_the_file(club: Store, tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from data.database import StoreError; from data.store import Store\n"
        "try: Store(Path(sys.argv[1]))\n"
        "except StoreError as error: print(error)\n"
    )
    path = str(tmp_path / "club.duckdb")
    said = subprocess.run(
        [sys.executable, "-c", code, path], capture_output=True, text=True, check=True
    ).stdout
    assert "club.duckdb is in use by another program (process " in said
    assert "Close the other Kit Muster" in said


def test_a_second_store_in_one_process_is_refused(club: Store, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="already open in this program"):
        Store(tmp_path / "club.duckdb")
    club.accept(sent("inventory", BAG), "Q1AAA")


@pytest.mark.parametrize("name", ["club.duckdb", "club", "notes.csv"])
@pytest.mark.parametrize("content", [b"member,kit\n" * 2000, b"short"])
def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path, name: str, content: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(StoreError, match=r"cannot be read .* Move it away|something else than Kit Muster"):
        Store(path)
    assert path.read_bytes() == content


def test_a_damaged_database_is_reported_with_a_way_out(tmp_path: Path) -> None:
    path = tmp_path / "club.duckdb"
    first = Store(path)
    first.accept(sent("inventory", BAG), "Q1AAA")
    first.close()
    whole = path.read_bytes()
    path.write_bytes(whole[:4096] + bytes(8192) + whole[12288:])
    with pytest.raises(StoreError, match=r"cannot be read.*backups"):
        Store(path)


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.duckdb"
    with duckdb.connect(str(path)) as con:
        con.execute("create table recipe (name varchar)")
    with pytest.raises(StoreError, match="something else than Kit Muster"):
        Store(path)
    with duckdb.connect(str(path)) as con:
        assert con.execute("show tables").fetchall() == [("recipe",)]


def test_a_folder_that_cannot_be_made_is_reported(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="cannot be opened"):
        Store(tmp_path / "file" / "club.duckdb")


# Versions of the tables


def test_a_newer_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "club.duckdb"
    Store(path).close()
    with duckdb.connect(str(path)) as con:
        con.execute("insert into schema_version values (999, now())")
    with pytest.raises(StoreError, match=r"newer Kit Muster \(version 999"):
        Store(path)


def test_a_step_that_fails_leaves_the_version_before_it(tmp_path: Path, monkeypatch) -> None:
    path, steps = tmp_path / "club.duckdb", tmp_path / "all"
    shutil.copytree(store.MIGRATIONS, steps)
    monkeypatch.setattr(store, "MIGRATIONS", steps)
    first = Store(path)
    first.accept(sent("inventory", BAG), "Q1AAA")
    first.close()
    broken = steps / "999_broken.sql"
    broken.write_text("drop table told_loans;\nselect * from nowhere;")
    with pytest.raises(duckdb.CatalogException):
        Store(path)
    broken.unlink()
    again = Store(path)
    assert len(again.frames()["inventory"]) == 3
    assert again.frames()["loans"].empty
    again.close()


# Shut off from the outside


@pytest.mark.parametrize(
    "sql",
    [
        "select * from read_csv('{folder}/secret.csv')",
        "select * from '{folder}/secret.csv'",
        "select * from read_text('{folder}/secret.csv')",
        "select * from glob('{folder}/*')",
        "copy (select 1) to '{folder}/out.csv'",
        "select * from read_csv('{folder}/backups/../secret.csv')",
        "attach '{folder}/out.duckdb'",
        "install httpfs",
        "set enable_external_access = true",
        "set memory_limit = '64GB'",
    ],
)
def test_sql_reaches_no_file_and_no_setting(club: Store, tmp_path: Path, sql: str) -> None:
    (tmp_path / "secret.csv").write_text("a,b\n1,2\n")
    cur = club.cursor()
    with pytest.raises((duckdb.PermissionException, duckdb.InvalidInputException)):
        cur.execute(sql.format(folder=tmp_path)).fetchall()
    cur.close()


def test_sql_reaches_no_python_variable(club: Store) -> None:
    secret = pd.DataFrame({"a": [1]})
    cur = club.cursor()
    with pytest.raises(duckdb.CatalogException):
        cur.execute("select * from secret")
    cur.close()
    assert len(secret) == 1


def test_a_store_in_memory_works_the_same_and_is_shut_off_too() -> None:
    club = Store(None)
    club.accept(sent("inventory", BAG), "Q1AAA")
    assert len(club.frames()["inventory"]) == 3
    with pytest.raises(duckdb.PermissionException):
        club.cursor().execute("select * from glob('/*')")
    club.close()


# Where it stands


def test_default_path_is_in_the_users_data_folder() -> None:
    assert database.default_path().name == "kitmuster.duckdb"
    assert database.default_path().is_absolute()
