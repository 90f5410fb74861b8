"""The commands `sheets` and `calendar`: which files they write, and what they say where they cannot."""

import io
import json

import pytest
from pypdf import PdfReader

from dashboard import sheet_commands
from dashboard.names import file_name
from dashboard.sheets.purchases import USUAL_USD
from tests.command_line import called
from tests.printed import pages, text
from tests.small_club import TODAY

A4, LETTER = (595.28, 841.89), (612.0, 792.0)  # ISO 216, ANSI/ASME Y14.1: points
pytestmark = pytest.mark.usefixtures("judged_once")


def test_the_command_writes_every_sheet(small_folder, tmp_path):
    out = tmp_path / "out"
    result = called("sheets", small_folder, out, "--today", TODAY, "--paper", "letter")
    assert result.exit_code == 0, result.output
    written = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    assert f"{len(written)} files written to" in result.output
    assert {
        "season.pdf", "inspection-tags.pdf", "findings.csv", "asks.csv", "calendar.ics", "ics-217a.pdf",
        "kits/q1abc-go-bag-lid.pdf", "kits/q1abc-go-bag-inspection.pdf", "members/q1abc-asks.pdf",
        "members/q1abc-asks.txt", "events/fog-walk/packet.pdf", "events/fog-walk/ics-205.pdf",
        "events/fog-walk/packing-q1abc-gate.pdf", "loans/club-i-battery-i-q1abc.pdf",
    } <= written  # fmt: skip
    assert all(part.isascii() and ".." not in part for part in written)


def test_only_one_sort_of_sheet_is_written(small_folder, tmp_path):
    out = tmp_path / "out"
    assert called("sheets", small_folder, out, "--only", "season", "--today", TODAY).exit_code == 0
    assert [path.name for path in out.rglob("*.*")] == ["season.pdf"]
    told = json.loads(called("buy", small_folder, "--budget", USUAL_USD, "--today", TODAY, "--json").stdout)
    said = pages((out / "season.pdf").read_bytes())[1]
    assert told["lines"] and all(line["offer"] in said for line in told["lines"])
    assert f"{told['spent_usd']:,.0f} USD of {USUAL_USD:,}" in said


@pytest.mark.parametrize(
    ("given", "said", "across"),
    [
        ([], "-4 to 12 °C", A4[1]),
        (["--us"], "25 to 54 °F", LETTER[1]),
        (["--us", "--paper", "A4"], "25 to 54 °F", A4[1]),
    ],
)
def test_the_command_writes_in_the_units_that_are_asked_for_on_the_paper_that_goes_with_them(
    small_folder, tmp_path, given, said, across
):
    result = called("sheets", small_folder, tmp_path, "--only", "packet", "--today", TODAY, *given)
    assert result.exit_code == 0, result.output
    made = (tmp_path / "events/fog-walk/packet.pdf").read_bytes()
    assert said in text(made)
    assert float(PdfReader(io.BytesIO(made)).pages[0].mediabox.width) == pytest.approx(across, abs=0.01)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (["--only", "poster"], "Write one of lid"),
        (["--paper", "A5"], "Write A4 or letter"),
        (["--address", "kits"], "Write it like http"),
        (["--today", "soon"], "is not a date"),
    ],
)
def test_a_wrong_choice_is_said_plainly(small_folder, tmp_path, given, says):
    result = called("sheets", small_folder, tmp_path / "out", *given)
    assert result.exit_code == 2
    assert says in result.output
    assert not (tmp_path / "out").exists()


def test_problems_in_the_files_are_printed_and_nothing_is_written(small_folder, tmp_path):
    (small_folder / "kits.csv").write_text("member,kit,hours\nQ1ABC,go bag,many\n", "utf-8")
    result = called("sheets", small_folder, tmp_path / "out")
    assert result.exit_code == 1
    assert "many" in result.output and not (tmp_path / "out").exists()


def test_a_place_that_cannot_be_written_is_said_plainly(small_folder, tmp_path):
    (tmp_path / "out").write_text("a file", "utf-8")
    result = called("sheets", small_folder, tmp_path / "out", "--only", "season")
    assert result.exit_code == 2 and "Name a folder" in result.output
    result = called("calendar", small_folder, tmp_path / "none" / "x.ics")
    assert result.exit_code == 2 and "Name a file" in result.output


def test_names_that_look_alike_get_files_of_their_own():
    taken: set[str] = set()
    assert [sheet_commands._apart("a/b.pdf", taken) for _ in range(3)] == [
        "a/b.pdf",
        "a/b-2.pdf",
        "a/b-3.pdf",
    ]
    assert file_name("../..", "<x>") == "x"
    assert file_name("無") == "unnamed"
