"""Databases as earlier versions of the tables left them, kept for good so that every one can still be brought up.

uv run python -m tests.store.earlier

It makes the file of each version that has none; one that is there is never made again, since it stands for what
clubs have on their disks.
"""

from __future__ import annotations

import gzip
import hashlib
import tempfile
from pathlib import Path

import duckdb
import pandas as pd

from data import upload
from data.store import MIGRATIONS

HERE = Path(__file__).parent
DAY = pd.Timestamp("2026-05-03 10:00", tz="UTC")

# What the club sends, in all columns; a version that knows a column less never got it.
FILES = {
    "inventory": """member,kit,item,kind,quantity,module,spare,condition,dc_plug,capacity_ah,charged,labelled,owner,cost_usd,pack_family,serviced,counted,stored_charge_pct,amps_tx_low,rf_watts_low,cell_size,polarity,programmed,set_by_hand,notes
Q1AAA,bag,big battery,battery_lifepo4,1,power,no,good,genderless_30,20,2026-05-01,yes,club,180,,2026-02-01,2026-04-01,90,,,,,,,"one, with a comma"
Q1AAA,bag,the long lead,dc_lead,2,power,yes,,genderless_30,,,,,,,,,,,,,ok,,,
Q1AAA,bag,set,mobile_vhf_uhf,1,station,no,good,genderless_30,,,,,,,,,,4.7,5,,,2026-03-20,yes,=1+1
Q2BBB,pouch,walkie,handheld,1,radio,no,good,,,,,,,latch,,,,0.8,1,,,2026-03-20,no,
Q2BBB,pouch,pack,handheld_pack,2,radio,yes,,,1.8,2026-04-30,,,,latch,,,40,,,,,,,
Q2BBB,pouch,lamp,headlamp,1,radio,no,,,,,,,,,,,,,,aaa,,,,
""",
    "members": """member,licence_class,licence_expires,roles,carry_limit_kg,solo_ok,on_air_12m,id_expires,vetting_expires,waiver_expires,training,training_expires,radio_by_heart,notes
Q1AAA,extra,2030-01-31,field net_control,12,yes,4,2028-01-31,2029-01-31,2026-12-31,is100,2028-06-30,yes,knows the hills
Q2BBB,general,2029-06-30,field,8,no,,,,,,,no,
""",
    "kits": """member,kit,purpose,hours,packed,stored_min_c,stored_max_c,may_be_lent,labelled,rf_evaluated,sturdy_container,locked_off
Q1AAA,bag,,6.5,2026-05-02,-5,30,yes,yes,2026-03-14,yes,
Q2BBB,pouch,,4,,,,,no,,no,no
""",
    "rehearsals": """member,kit,date,stage,trips_back,event,post,battery_left_pct,faulty,missing,setup_min
Q1AAA,bag,2026-04-01,yard,2,,,,,,31.5
Q2BBB,pouch,2026-04-25,event,0,River Run,Ford,35,pack,,
""",
    "events": """event,starts,ends,temp_min_c,temp_max_c,public,channel,channel_alternate,channel_simplex,id_asked,training_asked,action_starts,packets_sent,vetting_asked,waiver_asked,storm_watch,time_zone
River Run,2027-04-25T05:15,2027-04-25T14:00,2,17,yes,river repeater,mill repeater,river simplex,yes,,2027-04-25T06:30,2027-04-18,no,yes,radar,America/Chicago
""",
    "posts": """event,post,post_type,operators,mains,beside_traffic,rotation_h,power_setting,vehicle,vehicles,check_in_min,missed_check_in,alert_path,site,shelter
River Run,Ford,aid_station,1,no,yes,4,low,yes,2,30,"call twice, then send the sweep",runner,the ford,mill
River Run,Mill,aid_station,1,no,no,,,,,,,,,none
""",
    "assignments": """event,post,member,kit,from,to,travel_h,kit_owner
River Run,Ford,Q2BBB,bag,2027-04-25T06:00,,0.5,Q1AAA
""",
    "offers": """offer,kind,price_usd,available,volts_max,cell_size
small battery,battery_lifepo4,99.5,3,14.6,
box of cells,spare_cells,8,,,aa
""",
    "loans": """item,borrower,out,due,condition_out,back,charged_in
club coax,Q2BBB,2026-02-01,2026-03-01,good,,
club pack,Q1AAA,2026-02-01,2026-03-01,good,2026-02-20,no
""",
}

# What else stands in the tables that a version brought, by that version.
BESIDES = {
    2: """
insert into policy values (1, '2026-06-01 08:00:00+00', 'Q1AAA', 'lighter advice', '[weight]\nadvice = 2\n');
insert into change (change_id, "at", "by", what, detail)
values (10, '2026-06-01 08:00:00+00', 'Q1AAA', 'policy changed', 'lighter advice');
""",
    3: """
insert into person values
    (1, 'one@example.org', 'one', 'coordinator', 'Q1AAA', '2026-06-02 08:00:00+00', NULL, NULL),
    (2, 'two@example.org', 'two', 'member', 'Q2BBB', '2026-06-02 08:00:00+00', '2026-06-20 08:00:00+00', NULL);
insert into sharing values ('', 'verdicts'), ('Q2BBB', 'none');
insert into consent values (1, 2, '2026-06-03 08:00:00+00', 'as written then', NULL);
insert into token values (1, 1, repeat('ab', 32), 'counts', '2026-06-03 08:00:00+00', '2026-09-01 08:00:00+00', NULL, NULL);
insert into judged values (10, '2026-06-04', repeat('cd', 32), 1, '[]');
""",
    6: """
insert into judged_kits values (10, 'ready', 1), (10, 'not ready', 1);
""",
    7: """
insert into change (change_id, "at", "by", what, detail, back_to)
values (11, '2026-06-05 08:00:00+00', 'this machine', 'backup restored', 'club-000001.duckdb', 9);
""",
}


def steps() -> dict[int, Path]:
    """The migrations by their number."""
    return {int(file.name.split("_")[0]): file for file in sorted(MIGRATIONS.glob("*.sql"))}


def kept(version: int) -> Path:
    """Where the database of a version is kept."""
    return HERE / f"version_{version}.duckdb.gz"


def unpack(version: int, to: Path) -> Path:
    """Put a fresh copy of the database of a version into a file."""
    to.write_bytes(gzip.decompress(kept(version).read_bytes()))
    return to


def make(version: int, path: Path) -> None:
    """A new database as the program of that version left it, with everything in it that it could hold."""
    with duckdb.connect(str(path)) as con:
        con.execute("set TimeZone = 'UTC'")
        con.execute('create table schema_version (version integer primary key, "at" timestamptz)')
        for number, file in steps().items():
            if number <= version:
                con.execute(file.read_text("utf-8"))
                con.execute("insert into schema_version values (?, ?)", [number, DAY])
        for number, stem in enumerate(FILES, 1):
            _send(con, number, stem)
        for number, said in BESIDES.items():
            if number <= version:
                con.execute(said)


def _send(con: duckdb.DuckDBPyConnection, number: int, stem: str) -> None:
    known = [row[0] for row in con.execute(f"describe told_{stem}").fetchall()]
    payload = _csv(FILES[stem], known)
    read = upload.read(f"{stem}.csv", payload)
    assert read.problems == []
    told = read.table
    con.register("told", told.select([name for name in told.column_names if name in known]))
    con.execute(f"insert into told_{stem} by name select *, {number} as upload_id from told")
    members = " ".join(sorted({row["member"] for row in told.to_pylist() if row.get("member")}))
    digest = hashlib.sha256(payload).hexdigest()
    con.execute(
        "insert into upload values (?, ?, 'Q1AAA', ?, ?, ?, ?, ?, ?, true)",
        [number, DAY, read.file, stem, members, len(told), payload, digest],
    )
    detail = f"{read.file}: {len(told)} rows of {stem} took the place of 0"
    con.execute(
        'insert into change by name select ? as change_id, ? as "at", ? as "by", ? as what, ? as upload_id, '
        "? as detail",
        [number, DAY, "Q1AAA", "accepted", number, detail],
    )


def _csv(text: str, known: list[str]) -> bytes:
    """The file as someone would have sent it then."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sent.csv"
        path.write_text(text, "utf-8")
        cells = pd.read_csv(path, dtype="str", keep_default_na=False)
    return cells[[name for name in cells if name in known]].to_csv(index=False, lineterminator="\n").encode()


def main() -> None:
    """Make the file of each version that has none."""
    for version in steps():
        if not kept(version).exists():
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "club.duckdb"
                make(version, path)
                kept(version).write_bytes(gzip.compress(path.read_bytes(), 9, mtime=0))
            print(kept(version).name)


if __name__ == "__main__":
    main()
