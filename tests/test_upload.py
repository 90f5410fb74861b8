"""Uploads: what is taken, what is refused and with which words, and that both lanes read the same."""

import csv
import io
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data import cells, checks, column_values, headings, reference, schema, sent_back, text_rows, upload
from data.checks import EXAMPLE
from data.problems import LISTED_PROBLEMS, Problem

UPLOADS = Path(__file__).parent / "clubs" / "uploads"
SAID = tomllib.loads((UPLOADS / "terrible.toml").read_text(encoding="utf-8"))
HEAD = "member,kit,item,kind"


def read(text, name="inventory.csv", **options):
    payload = text if isinstance(text, bytes) else text.encode()
    return upload.read(name, payload, **options)


def one(extra, value, head=HEAD, row="Q1ABC,go bag,thing,handheld", delimiter=","):
    """An inventory of one row with one more column."""
    cell = io.StringIO()
    csv.writer(cell, delimiter=delimiter, lineterminator="").writerow([*row.split(","), value])
    return read(f"{head},{extra}\n".replace(",", delimiter) + cell.getvalue() + "\n")


def only(got):
    assert [str(problem) for problem in got.problems[1:]] == []
    assert got.frame is None
    return got.problems[0]


# ---- whole files


@pytest.mark.parametrize("path", sorted((UPLOADS / "good").glob("*.csv")), ids=lambda path: path.stem)
def test_good_files_are_taken_and_fit_their_model(path):
    got = upload.read(path.name, path.read_bytes())
    assert [str(problem) for problem in got.problems] == []
    schema.FILES[got.stem].validate(got.frame)
    assert got.frame.dtypes.to_dict() == schema.empty(got.stem).dtypes.to_dict()
    assert len(got.frame) == got.rows.num_rows == len(got.lines)


def test_every_terrible_file_has_its_sentences_and_every_sentence_a_file():
    assert set(SAID) == {path.name for path in (UPLOADS / "terrible").glob("*.csv")}


@pytest.mark.parametrize("name", sorted(SAID))
def test_terrible_files_are_refused_with_every_problem_named(name):
    got = upload.read(name, (UPLOADS / "terrible" / name).read_bytes())
    assert [str(problem) for problem in got.problems] == SAID[name]["says"]
    assert got.problems
    assert got.frame is None
    assert not got.is_accepted


@pytest.mark.parametrize("path", sorted(UPLOADS.glob("*/*.csv")), ids=lambda path: path.stem)
def test_checks_that_go_on_at_once_say_the_same(path, monkeypatch):
    in_turn = upload.read(path.name, path.read_bytes())
    monkeypatch.setattr(checks, "LONG", -1)
    at_once = upload.read(path.name, path.read_bytes())
    assert (at_once.problems, at_once.notices) == (in_turn.problems, in_turn.notices)


def test_the_sentence_says_where_what_is_wrong_and_what_to_write():
    problem = Problem("kit.csv", 3, "quantity", "two", "not a whole number", "Write 2.")
    assert str(problem) == 'kit.csv line 3, quantity: "two" is not a whole number. Write 2.'


@pytest.mark.parametrize("stem", [stem for stem in schema.FILES if stem != "assignments"])
def test_the_example_row_of_a_blank_list_is_not_taken(stem):
    blank = (reference.HERE.parent / "templates" / f"{stem}.csv").read_text("utf-8")
    column, mend, own = (
        ("offer", "name it here", "lead") if stem == "offers" else ("notes", "empty this cell", "")
    )
    said = f"is what the blank list says of its example. Delete the row; if you have written a row of your own over it, {mend}."
    assert str(only(read(blank, f"{stem}.csv"))) == f'{stem}.csv line 2, {column}: "{EXAMPLE}" {said}'
    assert read(blank.replace(EXAMPLE, own), f"{stem}.csv").is_accepted


def test_no_letter_is_lost_from_other_encodings():
    for encoding, told in (
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8"),
        ("utf-16", "utf-16"),
        ("cp1252", "cp1252"),
    ):
        got = read(f"{HEAD}\nQ1ABC,café,Münze,handheld\n".encode(encoding))
        assert (got.encoding, got.frame.kit[0], got.frame.item[0]) == (told, "café", "Münze")
        assert bool(got.notices) == (encoding == "cp1252")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_physical_lines(end):
    text = end.join(
        [HEAD, 'Q1ABC,bag,"two', 'lines",handheld', "", "Q1ABC,bag,x,handheld", ",,,", "Q1ABC,bag,y,nope"]
    )
    got = read(text)
    assert got.lines.tolist() == [2, 5, 7]
    assert only(got).line == 7


def test_cells_that_look_like_nothing_stay_text():
    frame = read(f"{HEAD},notes\nQ1ABC,NA,null,handheld,None\nQ1ABC,00123,1e5,handheld,nan\n").frame
    assert frame.kit.tolist() == ["NA", "00123"]
    assert frame["item"].tolist() == ["null", "1e5"]
    assert frame.notes.tolist() == ["None", "nan"]


def test_what_is_not_written_is_missing_and_defaults_are_those_of_the_contract():
    row = read(f"{HEAD},module,quantity\nQ1ABC,go bag,thing,handheld,,\n").frame.iloc[0]
    assert (row.quantity, row.condition, row.spare, row.module) == (1, "ok", False, "go bag")
    assert pd.isna(row[["volts_min", "charged", "dc_plug", "labelled", "owner"]]).all()
    assert read("member\nQ1ABC\n", "members.csv").frame.available.tolist() == [True]
    bare = read(f"{HEAD}\nQ1ABC,go bag,thing,handheld\n").frame.iloc[0]
    assert (bare.quantity, bare.condition, bare.spare, bare.module) == (1, "ok", False, "go bag")


def test_what_is_missing_is_null_in_its_row_whether_empty_or_blank(monkeypatch):
    text = f"{HEAD},quantity,owner,notes\nQ1ABC,b,x,coax,,  ,\nQ1ABC,b,x,coax, ,club, \nQ1ABC,b,x,coax,2,,y\n"
    for most, is_coded in ((column_values.CODED_TO, True), (1, False)):
        monkeypatch.setattr(column_values, "CODED_TO", most)
        table = read(text).table
        assert pa.types.is_dictionary(table["owner"].type) == is_coded
        assert table["owner"].to_pylist() == [None, "club", None]
        missing = {name: table[name].null_count for name in ("quantity", "owner", "notes", "swr", "coax")}
        assert missing == {"quantity": 0, "owner": 2, "notes": 2, "swr": 3, "coax": 3}
        assert table["quantity"].to_pylist() == [1, 1, 2]


def test_what_is_filled_from_another_column_is_coded_where_both_are(monkeypatch):
    text = f"{HEAD},module\nQ1ABC,b,x,coax,\nQ1ABC,c,x,coax,radio\nQ1ABC,d,x,coax,b\nQ1ABC,b,x,coax, \n"
    for most, is_coded in ((column_values.CODED_TO, True), (3, False)):
        monkeypatch.setattr(column_values, "CODED_TO", most)
        module = read(text).table["module"]
        assert pa.types.is_dictionary(module.type) == is_coded
        assert module.to_pylist() == ["b", "radio", "b", "b"]


def test_an_upload_is_taken_whole_or_not_at_all():
    got = read(f"{HEAD}\nQ1ABC,bag,a,handheld\nQ1ABC,bag,b,nope\nQ1ABC,bag,c,handheld\n")
    assert got.table is None
    assert got.rows.num_rows == 3


# ---- which file


@pytest.mark.parametrize(
    ("name", "heading", "stem"),
    [
        ("inventory.csv", "x", "inventory"),
        ("KITS.CSV", "member,kit,item,kind", "kits"),
        ("kit.csv", "member,kit,item,kind", "inventory"),
        ("my kits 2027.csv", "member,kit,item,kind", "inventory"),
        ("x.csv", "Member,Kit,Packed", "kits"),
        ("x.csv", "member,licence class", "members"),
        ("x.csv", "event,post,post type", "posts"),
        ("x.csv", "event,post,member,kit,from,to", "assignments"),
        ("x.csv", "offer,kind,price (USD)", "offers"),
        ("x.csv", "item,borrower,out,due", "loans"),
        ("../../posts of may.csv", "colour", "posts"),
        ("x.csv", "colour,size", ""),
    ],
)
def test_the_file_is_told_by_its_name_or_its_headings(name, heading, stem):
    assert read(heading + "\n", name).stem == stem


def test_the_caller_may_say_which_file_it_is():
    assert read("member,kit\nQ1ABC,bag\n", "x.csv", kind_of_file="kits").stem == "kits"


def test_names_are_only_shown_and_never_paths():
    assert read("", "../../etc/\x1bpasswd.csv").file == "passwd.csv"


# ---- headings


@pytest.mark.parametrize(
    "heading", ["length_m", "Length (m)", " LENGTH [M] ", "length-m", "Length m", "length (metres)"]
)
def test_headings_in_any_writing(heading):
    assert one(heading, "2.5").frame.length_m[0] == 2.5


def test_columns_in_any_order():
    frame = read("Kind,Item,Kit,Member\nhandheld,thing,bag,Q1ABC\n").frame
    assert frame.loc[0, ["member", "kit", "item", "kind"]].tolist() == ["Q1ABC", "bag", "thing", "handheld"]


def test_feet_and_pounds_are_converted():
    assert one("Length (ft)", "10").frame.length_m[0] == pytest.approx(3.048)
    assert one("weight_lb", "2").frame.weight_kg[0] == pytest.approx(0.90718474)
    frame = read(f"{HEAD},length_ft,length_m\nQ1ABC,b,x,coax,10,\nQ1ABC,b,x,coax,,2\n").frame
    assert frame.length_m.tolist() == pytest.approx([3.048, 2.0])


def test_limits_of_members_may_be_sent_in_pounds_fahrenheit_and_miles():
    head = "member,carry_limit_lb,Heat limit (F),cold_limit_f,walk_limit_mi"
    frame = read(f"{head}\nQ1ABC,20,95,14,3\n", "members.csv").frame
    told = frame.loc[0, ["carry_limit_kg", "heat_limit_c", "cold_limit_c", "walk_limit_km"]].astype(float)
    assert told.tolist() == pytest.approx([9.0718474, 35, -10, 4.828032])
    found = only(read("member,heat_limit_f\nQ1ABC,150\n", "members.csv"))
    assert (found.problem, found.fix.split(",")[0]) == (
        "above the highest allowed, 140 °F",
        "Write a number in °F",
    )


def test_feet_are_held_to_the_limit_in_metres():
    assert one("length_ft", "3280", row="Q1ABC,go bag,thing,case").problems == []
    assert only(one("length_ft", "3281")).problem.startswith("above the highest allowed")


def test_unknown_columns_are_kept_and_named():
    got = one("notse", "hello")
    assert got.rows.column("notse").to_pylist() == ["hello"]
    assert got.notices == ['The column "notse" is not known; it is kept and not used. Did you mean notes?']


def test_what_to_do_with_a_thing_of_no_kind_is_said():
    assert only(read(f"{HEAD}\nQ1,a,mallet,mallet\n")).fix.endswith(cells.NO_KIND)


@pytest.mark.parametrize("heading", ["Cable length (ft)", "cable length feet", "Lenght_ft"])
def test_the_column_that_is_asked_about_is_in_the_unit_of_its_heading(heading):
    (said,) = one(heading, "10").notices
    assert said.endswith("Did you mean length_ft?")


# ---- cells


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        ("capacity_ah", "1.2Ah", 1.2),
        ("capacity_ah", " 1.2 AH ", 1.2),
        ("stored_charge_pct", "0", 0.0),
        ("stored_charge_pct", "1", 1.0),
        ("stored_charge_pct", "0.5 %", 0.5),
        ("rf_watts", "50 watts", 50.0),
        ("rf_watts", "+5", 5.0),
        ("gain_dbi", "-2.5 dBi", -2.5),
        ("gain_dbi", "−2.5", -2.5),  # noqa: RUF001
        ("gain_dbi", ".5", 0.5),
        ("amps_rx", "0.250", 0.25),
        ("quantity", "2.0", 2),
        ("spare", "Y", True),
        ("spare", "FALSE", False),
        ("spare", "1", True),
        ("charged", "2026-02-28", pd.Timestamp("2026-02-28")),
        ("acquired", "2020", pd.Timestamp("2020-01-01")),
        ("chemistry", "LiFePO4", "lifepo4"),
        ("chemistry", "li-ion", "li_ion"),
        ("bands", "2 m, 70cm/2m", "2m 70cm"),
        ("condition", "OK", "ok"),
        ("member", "q1abc/p", "Q1ABC/P"),
        ("notes", "'=1+1", "=1+1"),
    ],
)
def test_what_is_understood(column, text, value):
    if column == "member":
        frame = read(f"{HEAD}\n{text},bag,thing,handheld\n").frame
    else:
        frame = one(column, text).frame
    assert frame[column][0] == value


@pytest.mark.parametrize(
    ("column", "text", "problem", "fix"),
    [
        ("quantity", "two", "not a whole number", "Write 2."),
        ("quantity", "2 pcs", "not a whole number", "Write 2."),
        ("quantity", "1.5", "not a whole number", "Write a whole number"),
        ("quantity", "0", "below the lowest allowed, 1", "Write a whole number"),
        ("stored_charge_pct", "0.4", "a share, not in %", "Write 40."),
        ("stored_charge_pct", "101", "above the highest allowed, 100 %", "Write a number in %"),
        ("capacity_ah", "about 7", "not a number", "Write 7."),
        ("capacity_ah", "5 or 7", "not a number in Ah", "Write a number in Ah"),
        ("capacity_ah", "about 7 V", "not a number", "Write a number in Ah"),
        ("capacity_ah", "seven", "not a number", "Write 7."),
        ("capacity_ah", "2200 mAh", "in mAh, not in Ah", "Write 2.2."),
        ("capacity_ah", "12 V", "not a number in Ah", "Write a number in Ah"),
        ("capacity_ah", "inf", "not a number", "Write a number in Ah"),
        ("capacity_ah", "nan", "not a number", "Write a number in Ah"),
        ("capacity_ah", "9" * 5000, "not a number", "Write a number in Ah"),
        (
            "capacity_ah",
            "7000",
            "above the highest allowed, 5000 Ah",
            "Write 7 if it is in mAh; else write a",
        ),
        ("capacity_ah", "٣", "not a number", "Write a number in Ah"),
        ("cost_usd", "1,500", "ambiguous: 1500 or 1.5", "Write 1500 or 1.5."),
        ("charged", "31/12/2026", "not a date of the form year-month-day", "Write 2026-12-31."),
        ("charged", "12.31.2026", "not a date of the form year-month-day", "Write 2026-12-31."),
        ("charged", "2026-1-5", "not a date of the form year-month-day", "Write 2026-01-05."),
        ("charged", "20260105", "not a date of the form year-month-day", "Write 2026-01-05."),
        ("charged", "2026-12", "not a date of the form year-month-day", "Write the date"),
        ("charged", "202612", "not a date of the form year-month-day", "Write the date"),
        ("charged", "5th of May, 2026", "not a date of the form year-month-day", "Write 2026-05-05."),
        ("charged", "20-Nov-26", "not a date of the form year-month-day", "Write 2026-11-20."),
        ("charged", "Nov 20, 26", "not a date of the form year-month-day", "Write 2026-11-20."),
        ("charged", "20/11/26", "not a date of the form year-month-day", "Write 2026-11-20."),
        ("charged", "3/4/26", "ambiguous: 4 Mar or 3 Apr", "Write 2026-03-04 or 2026-04-03."),
        ("charged", "26-11-20", "ambiguous: 26 Nov 2020 or 20 Nov 2026", "Write 2020-11-26 or 2026-11-20."),
        ("acquired", "31.12.98", "not a date of the form year-month-day", "Write 1998-12-31."),
        ("charged", "26 May", "not a date of the form year-month-day", "Write the date"),
        ("charged", "May 2026", "not a date of the form year-month-day", "Write the date"),
        ("charged", "5 May 2026", "not a date of the form year-month-day", "Write 2026-05-05."),
        ("charged", "2026-01-05T10:00", "not a date of the form year-month-day", "Write 2026-01-05."),
        ("charged", "03/04/2026", "ambiguous: 4 Mar or 3 Apr", "Write 2026-03-04 or 2026-04-03."),
        ("charged", "2026", "not a date of the form year-month-day", "Write the date"),
        ("charged", "2026-02-29", "not a day of the calendar", "Write the date"),
        ("charged", "1026-02-28", "outside the years 1950 to 2099", "Write the date"),
        ("acquired", "1066", "outside the years 1950 to 2099", "Write the date"),
        ("charged", "46315", "a number where a day is asked", "Write 2026-10-20 if it is how a spreadsheet"),
        ("acquired", "05/2023", "not a date of the form year-month-day", "Write 2023."),
        ("acquired", "2022 or 2023", "not a date of the form year-month-day", "Write the date"),
        ("spare", "maybe", "not yes or no", "Write yes or no"),
        ("spare", "x", "not yes or no", "Write yes or no"),
        ("chemistry", "lifepo5", "not a known word for chemistry", "Did you mean lifepo4?"),
        ("bands", "2m 7cm", 'in part, "7cm", not a known word of bands', "Did you mean 70cm?"),
        ("owner", "mine", "not a known word for owner", "Write a word of: member, club, loan"),
        ("notes", "a\x07b", "text with control characters", "Type the text again."),
        ("notes", "\u202egpj.exe", "text with control characters", "Type the text again."),
        ("notes", "x" * 10_001, "longer than 10,000 characters", "Shorten it."),
        ("shoe", "x" * 10_001, "longer than 10,000 characters", "Shorten it."),
    ],
)
def test_what_is_refused_and_what_to_write(column, text, problem, fix):
    found = only(one(column, text))
    assert (found.line, found.column, found.problem) == (2, column, problem)
    assert found.fix.startswith(fix)
    assert len(found.value) <= 81


BELOW = "member,kit,item,kind\nQ1ABC,go bag,thing,handheld\n"


@pytest.mark.parametrize(
    ("above", "delimiter", "line"),
    [
        ("kit,,,\n", ",", 2),
        ("Kit list\n", ";", 2),
        ("Kit list\n", "\t", 2),
        ('"Kit list\nfor spring"\n', ",", 3),
        ("Kit list\n" * 29, ",", 30),
        ("Kit list\n" * 30, ",", 0),
        ("member,kit\n", ",", 0),
        ("Kit list\nmember,\n", ",", 3),
        ("Kit list\nkit,item,kind\n", ",", 3),
    ],
)
def test_headings_are_looked_for_below_what_are_none(above, delimiter, line):
    for chosen in ("", "kits"):
        got = read(above + BELOW.replace(",", delimiter), "list.csv", kind_of_file=chosen)
        said = [
            problem.problem for problem in got.problems if problem.problem.startswith("the headings stand")
        ]
        assert said == ([f"the headings stand in line {line}, below other rows"] if line else [])
        assert got.stem == (chosen or "inventory") or not line


def test_headings_are_looked_for_where_a_letter_is_cut_in_two():
    text = "Kit lists\n" + BELOW
    assert len(text) % 2 == 1, "so that a letter of two bytes lies over the end of what is looked at"
    got = read(text + "é" * (1 << 15))
    assert got.problems[0].problem == "the headings stand in line 2, below other rows"


def test_decimal_commas():
    for delimiter in ";\t":
        got = one("weight_kg", "1,500", delimiter=delimiter)
        assert (got.delimiter, got.frame.weight_kg[0], got.notices) == (delimiter, 1.5, [])
        assert only(one("weight_kg", "1.500", delimiter=delimiter)).problem == "ambiguous: 1500 or 1.5"
    got = one("weight_kg", "0,5")
    assert got.frame.weight_kg[0] == 0.5
    assert got.notices == ['weight_kg: "0,5" read as 0.5 (1 row).']
    # The other reading would lie outside the range of the column.
    assert one("gain_dbi", "2.125", delimiter=";").frame.gain_dbi[0] == 2.125


def test_all_the_digits_that_programs_write_are_read():
    assert one("weight_kg", "4.8999999999999995").frame.weight_kg[0] == 7 * 0.7


def test_other_writings_of_a_word_are_read_and_named():
    alias, word = next(
        pair
        for pair in reference.aliases("chemistry").items()
        if cells.squash(pair[0]) != cells.squash(pair[1])
    )
    got = one("chemistry", alias.upper())
    assert got.frame.chemistry[0] == word
    assert got.notices == [f'chemistry: "{alias.upper()}" read as "{word}" (1 row).']


@pytest.mark.parametrize("column", ["kind", "plug"])
def test_no_ambiguous_writing_is_taken_for_a_word(column):
    told = reference.table("ambiguous").query("column == @column")["written"]
    assert len(told)
    sent = "kind" if column == "kind" else "dc_plug"
    for text in told:
        row = {"kind": "handheld", sent: text}
        got = read(f"member,kit,item,kind,dc_plug\nQ1ABC,bag,thing,{row['kind']},{row.get('dc_plug', '')}\n")
        assert only(got).fix.startswith("Did you mean "), text


def test_squashed_writings_stand_for_one_word_only():
    for column in reference.WORDS_IN:
        found: dict[str, str] = {}
        for alias, word in reference.aliases(column).items():
            assert found.setdefault(cells.squash(alias), word) == word, (column, alias)


def test_words_known_together_stay_together():
    assert (
        read("member,roles\nQ1ABC,field net control hf\n", "members.csv").frame.roles[0]
        == "field net_control hf"
    )
    assert read("member,training\nQ1ABC,IS100 is200\n", "members.csv").frame.training[0] == "is100 is200"


@pytest.mark.parametrize(
    ("text", "problem", "fix"),
    [
        ("2027-04-25", "a date without a time", "Write the time behind it, for example 2027-04-25T05:15."),
        (
            "2027-04-25T9:30",
            "not a date and time of the form 2027-04-25T05:15",
            "Write 2027-04-25T09:30 in local",
        ),
        (
            "2027-04-25T09:30-07:00",
            "a time with an offset; local time is asked",
            "Write the hour by the clocks of that place",
        ),
        *(
            (
                f"2027-04-25 {told}",
                "not a date and time of the form 2027-04-25T05:15",
                f"Write 2027-04-25T{meant} in local",
            )
            for told, meant in (
                ("6:00 PM", "18:00"),
                ("12:05 a.m.", "00:05"),
                ("12:05:00pm", "12:05"),
                ("6:30 am", "06:30"),
            )
        ),
        *(
            (
                told,
                "not a date and time of the form 2027-04-25T05:15",
                "Write 2027-04-25T18:05 in local time.",
            )
            for told in ("25/04/2027 18:05", "4/25/2027 6:05:00 PM", "25 April 2027 18:05", "25.4.2027 18:05")
        ),
        (
            "2027-04-25 8am",
            "not a date and time of the form 2027-04-25T05:15",
            "Write 2027-04-25T08:00 in local",
        ),
        (
            "03/04/2027 08:00",
            "ambiguous: 4 Mar or 3 Apr",
            "Write 2027-03-04T08:00 or 2027-04-03T08:00 in local time.",
        ),
        *(
            (told, "not a date and time of the form 2027-04-25T05:15", "Write date and local time")
            for told in ("25/04/2027", "25/04/2027 13:05 pm", "25/04/2027 18", "31/02/2027 18:05")
        ),
        ("2027-04-25T25:00", "not a time of the calendar and clock", "Write date and local time"),
        ("noon", "not a date and time of the form 2027-04-25T05:15", "Write date and local time"),
    ],
)
def test_moments(text, problem, fix):
    found = only(read(f"event,starts,ends\nrun,{text},2027-04-25 20:00:00\n", "events.csv"))
    assert (found.problem, found.column) == (problem, "starts")
    assert found.fix.startswith(fix)


@pytest.mark.parametrize(
    ("name", "text", "line", "column", "problem"),
    [
        ("inventory.csv", f"{HEAD},volts_min,volts_max\nQ1,b,x,battery,15,12\n", 2, "volts_min", "above volts_max (12)"),
        ("inventory.csv", f"{HEAD},tested_ah,capacity_ah\nQ1,b,x,battery,15,7\n", 2, "tested_ah", "above 1.2 times capacity_ah (7)"),
        ("events.csv", "event,starts,ends\nrun,2027-01-01T10:00,2027-01-01T10:00\n", 2, "starts", "not before ends (2027-01-01T10:00)"),
        ("loans.csv", "item,borrower,out,due\nmast,Q1,2026-05-02,2026-05-01\n", 2, "out", "after due (2026-05-01)"),
        ("members.csv", "member\nQ1ABC\nQ2DEF\nq1abc\n", 4, "member", "written already in line 2"),
        ("kits.csv", "member,kit\nQ1,a\nQ1,b\nQ1,a\n", 4, "kit", "written already in line 2"),
        ("posts.csv", "event,post,post_type\nr,a,relay\nr,a,relay\n", 3, "post", "written already in line 2"),
    ],
)  # fmt: skip
def test_cells_and_rows_that_contradict_each_other(name, text, line, column, problem):
    found = only(read(text, name))
    assert (found.line, found.column, found.problem) == (line, column, problem)


def test_batteries_measured_together_are_asked_for_one_piece():
    got = only(read(f"{HEAD},quantity,capacity_ah,tested_ah\nQ1,b,x,battery_lifepo4,2,10,20\n"))
    assert (
        got.fix == "Write what one piece gave (half, where two were measured together), or mend its rating."
    )


@pytest.mark.parametrize(
    ("gauge", "section", "is_taken"), [(12, 3.31, True), (12, 4, True), (12, 1.5, False), (12, 6, False)]
)
def test_a_gauge_and_a_section_that_differ_are_refused(gauge, section, is_taken):
    got = read(f"{HEAD},wire_awg,wire_mm2\nQ1,b,x,dc_lead,{gauge},{section}\n")
    if is_taken:
        assert got.problems == []
    else:
        found = only(got)
        assert (found.column, found.value, found.problem) == (
            "wire_mm2",
            str(section),
            "not the 3.31 mm2 of 12 AWG",
        )
        assert found.fix == "Keep one of the two cells."


def test_values_at_the_edge_are_taken():
    assert (
        read(f"{HEAD},volts_min,volts_max,tested_ah,capacity_ah\nQ1,b,x,battery,12,12,12,10\n").problems == []
    )
    assert read("member,kit\nQ1,a\nQ2,a\n", "kits.csv").problems == []


# ---- caps


def test_too_large_and_too_many():
    limits = upload.Limits(size=100, rows=2)
    assert only(read(f"{HEAD}\n" + "Q1,a,b,handheld\n" * 9, limits=limits)).problem.startswith(
        "the file has 165 bytes"
    )
    assert only(read(f"{HEAD}\n" + "Q1,a,b,handheld\n" * 3, limits=limits)).problem == "more than 2 rows"
    assert read(f"{HEAD}\n" + "Q1,a,b,handheld\n" * 2, limits=limits).problems == []


def test_the_list_of_problems_is_capped_and_says_so():
    got = read(f"{HEAD},quantity\n" + "Q1,a,b,handheld,none\n" * 1_200)
    assert len(got.problems) == LISTED_PROBLEMS
    assert [problem.line for problem in got.problems] == list(range(2, 1_002))
    assert got.notices == ["200 more problems are not listed; mend these first and send the file again."]
    got = read(f"{HEAD},quantity\n" + "Q1,a,b,handheld,none\n" * 1_001)
    assert got.notices == ["1 more problem is not listed; mend these first and send the file again."]


def test_a_row_that_does_not_fit_is_said_in_words_of_its_file():
    said = only(read("member;kit;item;kind\nQ1\n"))
    assert said.problem == "1 cell where the heading has 4"
    assert said.fix == "Write 4 cells; put a cell that holds a semicolon of its own in double quotes."


@pytest.mark.parametrize(
    ("heading", "column"),
    [("Thing", "item"), ("Gear", "item"), ("Equipment", "item"), ("Description", "item"), ("Type", "kind"),
     ("Call sign", "member"), ("Operator", "member"), ("Bag", "kit"), ("itm", "item")],
)  # fmt: skip
def test_a_heading_that_people_often_write_is_asked_about(heading, column):
    said = only(read(f"{HEAD}\nQ1,a,b,handheld\n".replace(column, heading)))
    assert (said.column, said.problem) == (column, "the column is missing")
    assert said.fix == f'Rename "{heading}" to {column}.'


def test_a_kit_list_in_words_of_its_own_is_told_column_by_column():
    got = upload.read("mine.csv", b"Call sign,Bag,Gear,Type,Qty\nQ1,a,b,handheld,1\n")
    assert got.stem == "inventory"
    assert [problem.fix for problem in got.problems] == [
        'Rename "Call sign" to member.', 'Rename "Bag" to kit.', 'Rename "Gear" to item.', 'Rename "Type" to kind.',
    ]  # fmt: skip
    assert [notice.split('"')[1] for notice in got.notices] == ["Qty"], "what is to be renamed is said once"
    assert upload.read("mine.csv", b"Call sign,Bag,Name\nQ1,a,b\n").stem == ""


@pytest.mark.parametrize("heading", ["Qty", "Number", "How many"])
def test_a_heading_of_what_may_be_left_out_is_asked_about_too(heading):
    got = read(f"{HEAD},{heading}\nQ1,a,b,handheld,2\n")
    assert got.notices == [
        f'The column "{heading}" is not known; it is kept and not used. Did you mean quantity?'
    ]


@pytest.mark.parametrize(
    ("heading", "column"),
    [("Power (W)", "rf_watts"), ("connector", "dc_plug"), ("Price", "cost_usd"), ("Purchased", "acquired"),
     ("Model", ""), ("Description", ""), ("Make", "")],
)  # fmt: skip
def test_a_heading_is_never_asked_about_as_another_column_of_like_letters(heading, column):
    """Item is there already: what often means it means nothing else, as `model` is not `modes`."""
    [told] = read(f"{HEAD},{heading}\nQ1,a,b,handheld,2\n").notices
    assert told.partition("not used.")[2] == (f" Did you mean {column}?" if column else "")


def test_too_many_headings():
    assert only(read("a," * 100_000 + "\n" + "1," * 100_000)).problem == "100,001 headings; 300 are allowed"


# ---- sent back


@pytest.mark.parametrize(
    ("cell", "safe"),
    [
        ("=1+1", "'=1+1"),
        ("+cmd", "'+cmd"),
        ("-x", "'-x"),
        ("@sum", "'@sum"),
        ("\tx", "'\tx"),
        ("\rx", "'\rx"),
        ("-5", "-5"),
        ("+5.25", "+5.25"),
        ("-0,5", "-0,5"),
        ("-5+cmd", "'-5+cmd"),
        ("-5\n", "'-5\n"),
        ("plain", "plain"),
        ("", ""),
    ],
)
def test_cells_that_a_spreadsheet_would_work_out_are_neutralised(cell, safe):
    assert upload.neutralise(cell) == safe


def rows_of(payload, delimiter=","):
    return list(
        csv.reader(io.StringIO(payload.decode("utf-8-sig"), newline=""), delimiter=delimiter, strict=True)
    )


def test_problems_come_back_as_a_table():
    got = read(f"{HEAD},quantity\nQ1,a,b,=cmd,two\n", "kit.csv")
    assert rows_of(sent_back.problems_csv(got))[1:] == [
        ["kit.csv", "2", "kind", "'=cmd", "not a known word for kind", got.problems[0].fix],
        ["kit.csv", "2", "quantity", "two", "not a whole number", "Write 2."],
    ]


def test_the_annotated_copy_keeps_every_cell_and_can_be_sent_again():
    text = f"{HEAD};colour\nQ1;a;=b;handheld;red\nQ1;a\nQ1;a;b;nope;-5\n".replace(",", ";")
    got = read(text)
    copy = sent_back.annotated_copy(got)
    assert rows_of(copy, ";") == [
        [*HEAD.split(","), "colour", "problem", "fix"],
        ["Q1", "a", "'=b", "handheld", "red", "", ""],
        ["Q1", "a", got.problems[0].problem, got.problems[0].fix],
        ["Q1", "a", "b", "nope", "-5", "kind: not a known word for kind", got.problems[1].fix],
    ]
    mended = copy.replace(b"nope", b"coax").replace(rows_of(copy, ";")[2][2].encode(), b"x;coax;;;")
    again = read(mended.decode("utf-8-sig").replace(f';"{got.problems[0].fix}"', ""))
    assert [str(problem) for problem in again.problems] == []
    assert again.frame["item"].tolist() == ["=b", "x", "b"]


# ---- both lanes

FRAGMENTS = st.sampled_from(
    [
        "",
        "a",
        "Q1",
        "é",
        " ",
        '"',
        '""',
        '"x"',
        '"a,b"',
        '"a\nb"',
        ",",
        ";",
        "\n",
        "\r\n",
        "\r",
        "\t",
        "=",
        "1,5",
    ]
)
BODIES = st.lists(st.lists(FRAGMENTS, max_size=6).map("".join), max_size=8).map("\n".join)
ROWS = st.lists(
    st.tuples(*[st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n"), max_size=5)] * 3),
    max_size=6,
)


def written(rows, end="\n"):
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator=end).writerows([("a", "b", "c"), *rows])
    return out.getvalue()


def same(body):
    delimiter, heading, line = headings.found(body)
    fast = text_rows.fast(body, delimiter, heading, line, upload.UPLOAD.rows)
    if fast is None:
        return False
    careful = text_rows.careful(body, delimiter, upload.UPLOAD.rows)
    kept = upload._without_empty_rows(fast)
    assert careful.broken == fast.broken == []
    assert careful.heading == fast.heading
    careful = upload._without_empty_rows(careful)
    assert careful.lines.tolist() == kept.lines.tolist()
    assert [column.to_pylist() for column in careful.columns] == [
        column.to_pylist() for column in kept.columns
    ]
    return True


@given(BODIES)
@settings(max_examples=600)
def test_the_fast_lane_reads_the_same_or_steps_aside(body):
    if body.strip():
        same(body.encode())


@pytest.mark.parametrize(
    "body",
    [
        'a,b\n"x"y,"z"\n',
        'a,b\n1,"x"y\n',
        'a,b\nx"y,"z"\n',
        'a,b\n1, "z"\n',
        'a,b\n1,"x\n',
        'a,b\n1,"x\ny"\n',
        'a,b\n1,"x\ry"\n2,z\n',
        'a,b\n1,"x"\ry,2\n',
        "a,b\n1,x\ry\n",
        "a,b\r1,2\n3,4\n",
        "a,b\n1\n",
        "a,b\n1,2,3\n",
        "\na,b\n1,2\n",
        "a,b\n",
        "a,b",
    ],
)
def test_the_fast_lane_steps_aside_where_a_row_may_not_be_a_line(body):
    assert not same(body.encode())


@pytest.mark.parametrize("body", ["a,b\n\n1,2\n\n", "a\n\n1\n", "a,b\r\n\r\n1,2\r\n,\r\n3,4"])
def test_empty_lines_count_as_lines_and_are_no_rows(body):
    assert same(body.encode())


@given(ROWS, st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_the_fast_lane_takes_plain_files(rows, end, is_ended):
    body = written(rows, end)
    body = body if is_ended else body.removesuffix(end)
    assert same(body.encode()) or not rows


def test_large_files_go_through_the_fast_lane_with_the_same_result(monkeypatch):
    rng = np.random.default_rng(7)
    text = f"{HEAD},cost_usd,weight_kg,charged,notes\n" + "".join(
        f"q{n % 90}a,bag {n % 3},thing {n},handheld,{rng.random() * 900:.4f},{'x' if n == 4321 else ''},"
        f'{"2026-13-01" if n == 5000 else "2026-01-02"},"say ""{n}"", twice"\n'
        for n in range(9_000)
    )
    assert len(text) > upload.FAST_FROM
    fast = read(text)
    with monkeypatch.context() as patch:
        patch.setattr(text_rows, "careful", None)
        assert read(text).problems == fast.problems
    monkeypatch.setattr(upload, "FAST_FROM", 1 << 60)
    careful = read(text)
    assert fast.problems == careful.problems
    assert [(problem.line, problem.column) for problem in fast.problems] == [
        (4323, "weight_kg"),
        (5002, "charged"),
    ]
    mended = text.replace(",x,", ",,").replace("2026-13-01", "2026-12-01")
    slow = read(mended).frame
    monkeypatch.undo()
    pd.testing.assert_frame_equal(read(mended).frame, slow)
    monkeypatch.setattr(column_values, "CODED_TO", 1)
    monkeypatch.setattr(column_values, "CAST_FROM", 1 << 60)
    pd.testing.assert_frame_equal(read(mended).frame, slow)


def test_a_share_among_many_percentages_is_asked_about_too(monkeypatch):
    monkeypatch.setattr(column_values, "CAST_FROM", 0)
    assert "a share, not in %. Write 40." in str(only(one("stored_charge_pct", "0.4")))


# ---- anything at all


@given(st.binary(max_size=200), st.text(max_size=20))
@settings(max_examples=400)
def test_random_bytes_never_raise(payload, name):
    got = upload.read(name, payload)
    assert got.is_accepted != bool(got.problems)
    sent_back.problems_csv(got)
    sent_back.annotated_copy(got)


@given(
    st.sampled_from(sorted(schema.FILES)),
    st.lists(
        st.lists(
            st.text(max_size=8) | FRAGMENTS | st.sampled_from(["2026-01-02", "handheld", "12", "yes"]),
            max_size=8,
        ),
        max_size=4,
    ),
)
@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow])
def test_random_cells_never_raise_and_what_is_taken_fits_the_model(stem, rows):
    names = list(schema.columns(stem))[:8]
    out = io.StringIO(newline="")
    csv.writer(out).writerows([names, *rows])
    got = upload.read(f"{stem}.csv", out.getvalue().encode("utf-8", "surrogatepass"))
    assert got.is_accepted != bool(got.problems)
    assert all(str(problem) for problem in got.problems)
    sent_back.annotated_copy(got)
    if got.frame is not None:
        schema.FILES[stem].validate(got.frame)


@pytest.mark.parametrize(("count", "said"), [(1, "One cell begins"), (2, "2 cells begin")])
def test_cells_that_look_like_formulas_are_counted_in_plain_words(count, said):
    lines = "".join(f"Q1A,bag,=1+{n},radio\n" for n in range(count))
    got = upload.read("kit.csv", f"member,kit,item,kind\n{lines}".encode())
    assert [notice.startswith(said) for notice in got.notices if "formula" in notice] == [True]


def test_a_part_of_a_cell_is_quoted_without_what_cannot_be_seen():
    read = upload.read(
        "members.csv", "member,licence_class,roles\nQ1ABC,general,fie\u00adnet control\n".encode()
    )
    (problem,) = read.problems
    assert problem.problem == 'in part, "fie�net", not a known word of roles'


@pytest.mark.parametrize(
    ("start", "what"),
    [
        (b"<!DOCTYPE html><html><body>member,kit</body></html>", "a web page"),
        (b"\xef\xbb\xbf\n <HTML>member,kit", "a web page"),
        (b"{\\rtf1\\ansi member,kit}", "a text document"),
        (b'{"member": "Q1ABC"}', "a JSON file"),
        (b"RIFF\x24\0\0\0WEBPVP8 ", "a picture"),
        (b"\0\0\0\x18ftypheic\0\0\0\0", "a picture"),
        (b"II*\0\x08\0\0\0", "a picture"),
    ],
)
def test_a_file_of_another_sort_that_was_renamed_is_told_as_what_it_is(start, what):
    read = upload.read("inventory.csv", start)
    assert [problem.problem for problem in read.problems] == [f"the file is {what}, not CSV"]


@pytest.mark.parametrize(
    ("text", "problem", "fix"),
    [
        (
            "Dear coordinator,\n\nI have a handheld, two packs, and a mast.\nPlease put them in.\nQ1ABC\n",
            "the file reads like a letter or notes",
            "into a blank list",
        ),
        ("handheld\nbattery\n10 m coax\n", "the file reads like a letter or notes", "into a blank list"),
        (
            "Thing,How many,Where,Bought,Price,Shop\nradio,1,car,2020,100,mill\n",
            "no list has the headings Thing, How many, Where, Bought, Price and 1 more",
            '("Thing" is item, "How many" is quantity, "Bought" is acquired, "Price" is cost_usd)',
        ),
        (
            "Q1ABC,go bag,the walkie,handheld\nQ1ABC,go bag,whip,whip\n",
            "the first line holds a row where the headings are wanted",
            "Write the headings in a line above it",
        ),
    ],
)
def test_a_file_that_is_no_list_is_told_once_what_it_seems_to_be_and_what_to_do(text, problem, fix):
    (found,) = upload.read("sheet.csv", text.encode()).problems
    assert found.problem.startswith(problem) and fix in found.fix


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_first_line_that_names_the_separator_is_passed_over_and_the_others_keep_their_numbers(encoding):
    text = "sep=;\r\nmember;kit;item;kind\r\nQ1ABC;bag;walkie;handheld\r\n"
    read = upload.read("inventory.csv", text.encode(encoding))
    assert read.problems == [] and read.frame["line"].tolist() == [3]
    broken = upload.read("inventory.csv", text.replace("handheld", "hat rack").encode(encoding))
    assert [problem.line for problem in broken.problems] == [3]


@pytest.mark.parametrize(
    ("heading", "between"),
    [("member|kit|item|kind", "upright strokes (|)"), ("member:kit:item:kind", "colons"), ("member kit item kind", "spaces"),
     ('"member,kit,item,kind"', "commas"), ("member|kit|item|kind,,,", "upright strokes (|)")],
)  # fmt: skip
@pytest.mark.parametrize("name", ["inventory.csv", "mine.csv"])
def test_headings_that_all_stand_in_one_cell_are_one_problem_that_says_what_stands_between(
    name, heading, between
):
    sign = heading.strip('"')[6]
    got = upload.read(name, f"{heading}\n{'Q1,a,one, or two,handheld'.replace(',', sign)}\nQ1,2\n".encode())
    said = only(got)
    assert (got.stem, said.problem) == (
        "inventory",
        f"all headings stand in one cell, with {between} between them",
    )
    assert said.fix.startswith(
        "Put each heading and each value into a cell of its own, save the sheet as CSV (UTF-8)"
    )


def test_one_heading_of_several_words_is_not_taken_for_several():
    assert headings.in_one_cell(["Kit item"]) == headings.in_one_cell(["member"]) == ("", [])
