"""Spreadsheets: what sheets of a club say, and what becomes of those that mean harm."""

import pytest
from typer.testing import CliRunner

from dashboard.command import app
from data import club, sent_back, spreadsheet, upload
from tests import workbooks as w
from tests.workbooks import cell, row, table

HEADING = ["member", "kit", "item", "kind", "quantity"]
RADIO = ["QX1NEW", "bag", "radio", "handheld", "1"]
FAR = (
    '<table:table-cell office:value-type="float" office:value="1" table:number-columns-repeated="999999999"/>'
)
EMPTY_TAIL = (
    '<table:table-row table:number-rows-repeated="1048000">'
    '<table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
)


def read(payload, name="club.xlsx"):
    return spreadsheet.read_files(name, payload)


def reason(payload, name="club.xlsx"):
    """The one problem of a workbook that is refused."""
    (refused,) = read(payload, name)
    assert not refused.is_accepted
    (problem,) = refused.problems
    return problem.problem


def test_each_sheet_with_known_headings_is_a_file():
    kits = table([["member", "kit", "hours"], ["QX1NEW", "bag", "6"]])
    book = w.xlsx({"what I have": table([HEADING, RADIO]), "my notes": table([["hello"]]), "Kits": kits})
    inventory, told = read(book)
    assert (inventory.stem, inventory.file) == ("inventory", "club.xlsx, sheet what I have")
    assert inventory.frame["item"].tolist() == ["radio"]
    assert (told.stem, told.frame["hours"].tolist()) == ("kits", [6.0])
    assert any("my notes" in notice for notice in inventory.notices)


def test_a_list_pasted_into_the_first_column_of_a_sheet_is_said_to_stand_in_one_cell():
    lines = [["member,kit,item,kind"], ["Q1ABC,go bag,the walkie,handheld"]]
    got = read(w.xlsx({"sheet 1": table(lines)}))
    assert [(one.stem, one.problems[0].problem) for one in got] == [
        ("inventory", "all headings stand in one cell, with commas between them")
    ]


def test_a_message_names_the_sheet_and_the_row_of_the_sheet():
    wrong = [*RADIO[:4], "two"]
    content = table([HEADING]) + row(5, *(cell(f"{chr(65 + i)}5", text) for i, text in enumerate(wrong)))
    (found,) = read(w.xlsx({"bags": content}))
    assert str(found.problems[0]).startswith('club.xlsx, sheet bags row 5, quantity: "two"')
    assert b"file,row,column" in sent_back.problems_csv(found)
    kits = table([["member", "kit"], ["Q1ABC", "bag"], ["Q1ABC", "bag"]])
    (twice,) = read(w.xlsx({"kits": kits}))
    assert "row 3, kit" in str(twice.problems[0]) and "written already in row 2" in str(twice.problems[0])
    for broken in (w.xlsx({"kits": table([["member", "kit"]])}), b"PK no workbook"):
        (found,) = read(broken)
        assert b"file,row,column" in sent_back.problems_csv(found)
        assert "line" not in str(found.problems[0])


def test_a_cell_of_several_lines_does_not_shift_the_rows_below():
    (found,) = read(
        w.xlsx({"bags": table([HEADING, [*RADIO[:2], "two\nlines", *RADIO[3:]], [*RADIO[:4], "no"]])})
    )
    assert [problem.line for problem in found.problems] == [3]


def test_typed_cells_are_read_as_what_they_are():
    heading = [*HEADING, "charged", "spare", "volts_max"]
    typed = row(
        2, cell("A2", "QX1NEW"), cell("B2", "bag"), cell("C2", "pack"), cell("D2", "handheld_pack"),
        cell("E2", "3", form="n"), cell("F2", "46234", style=1, form="n"), cell("G2", "1", form="b"),
        cell("H2", "14.4", form="n"),
    )  # fmt: skip
    (found,) = read(w.xlsx({"inventory": table([heading]) + typed}))
    assert found.problems == []
    told = found.frame.iloc[0]
    assert (told["quantity"], f"{told['charged']:%Y-%m-%d}") == (3, "2026-07-31")
    assert (bool(told["spare"]), told["volts_max"]) == (True, 14.4)


CHARGED = [*HEADING, "stored_charge_pct"]


def charge(style: int, value: str) -> str:
    """The second sheet of an .xlsx workbook: one radio and how far it is charged."""
    radio = (cell(f"{chr(65 + i)}3", text) for i, text in enumerate(RADIO))
    return table([["", *[""] * 5], CHARGED]) + row(3, *radio, cell("F3", value, style, "n"))


@pytest.mark.parametrize(
    ("style", "value", "percent"),
    [(3, "1", 100), (3, "0.4", 40), (3, "0.01", 1), (4, "0.005", 0.5), (4, "0", 0), (0, "40", 40), (0, "1", 1), (5, "40", 40)],
)  # fmt: skip
def test_what_is_shown_in_percent_is_read_as_its_sender_sees_it(style, value, percent):
    other = table([CHARGED, [*RADIO, "80"]])
    _, found = read(w.xlsx({"more": other, "bags": charge(style, value)}))
    assert found.problems == []
    assert found.frame["stored_charge_pct"].tolist() == [percent]


def test_a_share_that_is_not_shown_in_percent_is_still_asked_about():
    (found,) = read(w.xlsx({"bags": charge(0, "0.4")}))
    assert (found.problems[0].problem, found.problems[0].fix) == ("a share, not in %", "Write 40.")


def test_a_part_that_only_one_of_two_readers_takes_is_refused_in_words():
    parts = w.xlsx_parts({"bags": charge(3, "1")})
    torn = {"xl/styles.xml": "x" + str(parts["xl/styles.xml"])}
    assert reason(w.packed(parts | torn)) == "the file is damaged, or neither .xlsx nor .ods"


def test_what_an_ods_sheet_shows_in_percent_is_read_as_its_sender_sees_it():
    def told(form: str, value: str, cells: int = 1) -> str:
        return (
            f'<table:table-cell office:value-type="{form}" office:value="{value}" '
            f'table:number-columns-repeated="{cells}"/>'
        )

    def charged(form: str, value: str, rows: int = 1) -> str:
        radio = w.ods_row(*RADIO[:2], f"radio {value}", "handheld", repeated=rows)
        return radio.replace(
            "</table:table-row>", told("float", "1") + told(form, value) + "</table:table-row>"
        )

    rows = charged("percentage", "1", rows=2) + charged("percentage", "0.4") + charged("float", "40")
    sheet = w.ods_row(*CHARGED) + rows + EMPTY_TAIL
    other = w.ods_row(*CHARGED) + charged("float", "7") * 5
    more, found = read(w.ods({"more": other, "bags": sheet}), "club.ods")
    assert found.frame["stored_charge_pct"].tolist() == [100, 100, 40, 40]
    assert more.frame["stored_charge_pct"].tolist() == [7] * 5


def test_times_of_an_event_keep_their_hours_also_at_midnight():
    typed = row(2, cell("A2", "Ride"), cell("B2", "46234", 2, "n"), cell("C2", "46234.5", 2, "n"))
    (found,) = read(w.xlsx({"events": table([["event", "starts", "ends"]]) + typed}))
    assert found.problems == []
    told = found.frame.iloc[0]
    assert f"{told['starts']:%Y-%m-%dT%H:%M} {told['ends']:%H:%M}" == "2026-07-31T00:00 12:00"


def test_a_tick_is_a_yes_and_a_cross_is_asked_about():
    ticked = [[*RADIO, tick] for tick in ("✓", "✔", "☑", "✅", "✔\ufe0f", "☑\ufe0f", "x", "✗")]
    (found,) = read(w.xlsx({"bags": table([[*HEADING, "labelled"], *ticked])}))
    assert [(problem.line, problem.value) for problem in found.problems] == [(8, "x"), (9, "✗")]


def test_headings_in_words_of_its_sender_are_found_below_a_merged_title():
    title = [["Kit list of QX1NEW", "", "", ""], [""] * 4]
    own = [*title, ["Call sign", "Bag", "What it is", "Type"], ["QX1NEW", "bag", "radio", "handheld"]]
    (found,) = read(w.xlsx({"what I have": table(own)}))
    assert str(found.problems[0]) == (
        "club.xlsx, sheet what I have: the headings stand in row 3, below other rows. "
        "Delete rows 1 and 2, so that the headings stand in the first row, and send the file again."
    )
    (found,) = read(w.xlsx({"what I have": table(own[2:])}))
    assert [problem.fix for problem in found.problems[:4]] == [
        'Rename "Call sign" to member.', 'Rename "Bag" to kit.', 'Rename "What it is" to item.',
        'Rename "Type" to kind.',
    ]  # fmt: skip


def test_names_that_stand_once_beside_merged_cells_are_asked_for_in_each_row():
    merged = [HEADING, RADIO, ["", "", *RADIO[2:]]]
    (found,) = read(w.xlsx({"bags": table(merged)}))
    assert [(problem.line, problem.column) for problem in found.problems] == [(3, "member"), (3, "kit")]
    assert all("in each row, also where it is the same as above" in one.fix for one in found.problems)


def test_a_formula_that_went_wrong_is_said_and_not_taken_for_an_empty_cell():
    cells = [cell(f"{chr(65 + i)}2", text) for i, text in enumerate(RADIO[:4])]
    failed = row(2, *cells, cell("E2", "#N/A", form="e", formula="2/0"))
    (found,) = read(w.xlsx({"inventory": table([HEADING]) + failed}))
    assert [(problem.line, problem.value) for problem in found.problems] == [(2, "#N/A")]
    value = 'office:value-type="string"'
    two = w.ods_row(*RADIO[:4], "#N/A").rpartition(value)
    (found,) = read(
        w.ods({"bags": w.ods_row(*HEADING) + f'{value} office:string-value=""'.join(two[::2])}), "club.ods"
    )
    assert [(problem.line, problem.value) for problem in found.problems] == [(2, "#N/A")]


def test_a_formula_counts_as_the_value_stored_with_it_and_is_never_worked_out():
    cells = [cell(f"{chr(65 + i)}2", text) for i, text in enumerate(RADIO[:4])]
    counted = row(2, *cells, cell("E2", "4", form="n", formula="2+2"))
    (found,) = read(w.xlsx({"inventory": table([HEADING]) + counted}))
    assert found.frame["quantity"].tolist() == [4]
    unstored = row(2, *cells, cell("E2", formula="2+2"))
    (found,) = read(w.xlsx({"inventory": table([HEADING]) + unstored}))
    assert found.frame["quantity"].tolist() == [1], "nothing stored is an empty cell"


def test_an_ods_sheet_is_read_and_its_endless_empty_rows_are_not():
    book = w.ods({"bags": w.ods_row(*HEADING) + w.ods_row(*RADIO) + EMPTY_TAIL})
    (found,) = read(book, "club.ods")
    assert found.frame["item"].tolist() == ["radio"]


def test_hidden_sheets_are_left_alone():
    book = w.xlsx({"a": table([HEADING, RADIO]), "b": table([HEADING, RADIO])}, {"b": "hidden"})
    assert [found.file for found in read(book)] == ["club.xlsx, sheet a"]


def test_what_is_kept_of_a_sheet_can_be_read_again():
    (found,) = read(w.xlsx({"bags": table([HEADING, RADIO])}))
    again = upload.read(found.file, found.payload, found.stem)
    assert again.table.equals(found.table)


# ---- harm


@pytest.mark.parametrize(
    "payload",
    [
        w.xlsx({"a": table([HEADING]) + row(1048576, cell("A1048576", "x"))}),
        w.xlsx({"a": table([HEADING]) + row(5, cell("XFD5", "x"))}),
        w.xlsx({"a": table([HEADING]) + '<row r="900000"><c><v>1</v></c></row>'}),
        w.ods({"a": w.ods_row(*HEADING) + w.ods_row(*RADIO, repeated=1_000_000)}),
        w.ods({"a": w.ods_row(*HEADING) + f"<table:table-row>{FAR}</table:table-row>"}),
        w.ods({"a": w.ods_row(*HEADING) + EMPTY_TAIL + w.ods_row("x")}),
    ],
)
def test_a_cell_far_out_is_refused_before_anything_is_padded_to_it(payload):
    assert "a sheet is filled" in reason(payload)


def test_many_rows_that_are_wide_are_refused():
    wide = row(15_000, cell("A15000", "x")) + row(15_001, cell("GZ15001", "x"))
    assert "cells" in reason(w.xlsx({"a": table([HEADING]) + wide}))


def test_an_archive_that_unfolds_is_refused_by_its_directory():
    parts = w.xlsx_parts({"a": table([HEADING, RADIO])})
    assert "unfolds to far more" in reason(w.packed(parts | {"xl/big.xml": b"<a>" + bytes(2 << 20)}))
    many = {f"xl/{n}.xml": bytes(1 << 20) for n in range(41)}
    assert "unfolds to" in reason(w.packed(parts | many))
    assert "parts" in reason(w.packed(parts | {f"xl/{n}.xml": b"<a/>" for n in range(1_001)}))


def test_a_directory_that_lies_about_its_parts_is_refused():
    whole = w.packed(
        w.xlsx_parts({"a": table([HEADING, RADIO])}) | {"xl/big.xml": b"<a>" + b"x" * 5_000 + b"</a>"}
    )
    size = (5_007).to_bytes(4, "little")
    assert whole.count(size) >= 2
    assert "damaged" in reason(whole.replace(size, (7).to_bytes(4, "little")))


def test_entities_are_refused():
    bomb = '<!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]><a>&c;</a>'
    assert "entities" in reason(
        w.packed(w.xlsx_parts({"a": table([HEADING])}) | {"xl/sharedStrings.xml": bomb})
    )


def test_macros_pictures_and_links_never_reach_the_reader():
    parts = w.xlsx_parts({"a": table([HEADING, RADIO])}) | {
        "xl/vbaProject.bin": b"x",
        "xl/externalLinks/externalLink1.xml": "<a/>",
        "xl/media/a.png": b"x",
    }
    plain = spreadsheet._plain_parts(w.packed(parts), upload.UPLOAD)
    assert b"vbaProject" not in plain and b"externalLink1" not in plain and b"a.png" not in plain
    assert read(w.packed(parts))[0].is_accepted


def test_a_locked_file_says_so():
    locked = w.ods(
        {"a": w.ods_row(*HEADING)}, "<manifest:file-entry><manifest:encryption-data/></manifest:file-entry>"
    )
    assert "password" in reason(locked, "club.ods")
    flagged = bytearray(w.xlsx({"a": table([HEADING])}))
    at = flagged.index(b"PK\x01\x02")
    flagged[at + 8] |= 1
    assert "password" in reason(bytes(flagged))


@pytest.mark.parametrize("payload", [b"PK\x03\x04junk", w.packed({"a.txt": "x"}), w.packed({"a.xml": "<a>"})])
def test_what_is_no_spreadsheet_is_refused_in_words(payload):
    assert "neither .xlsx nor .ods" in (said := reason(payload)) or "damaged" in said


def test_a_workbook_without_known_headings_says_what_to_write():
    hello = table([["hello", "world"], ["1", "2"]])
    assert reason(w.xlsx({"a": hello})) == "no list has the headings hello, world"
    (refused,) = read(w.xlsx({"a": hello, "b": hello}))
    assert "blank list" in refused.problems[0].fix


# ---- where files come from


def test_a_folder_may_hold_sheets(tmp_path):
    (tmp_path / "club.xlsx").write_bytes(w.xlsx({"bags": table([HEADING, RADIO])}))
    (tmp_path / "kits.csv").write_text("member,kit\nQX1NEW,bag\n")
    told = club.read_folder(tmp_path)
    assert {stem: len(frame) for stem, frame in told.frames.items()} == {"inventory": 1, "kits": 1}


def test_the_command_checks_sheets(tmp_path):
    path = tmp_path / "club.xlsx"
    path.write_bytes(w.xlsx({"bags": table([HEADING, RADIO, [*RADIO[:4], "two"]])}))
    checked = CliRunner().invoke(app, ["check", str(path)])
    assert checked.exit_code == 1
    assert "club.xlsx, sheet bags row 3, quantity" in checked.output
