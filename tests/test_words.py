"""The words that a file may hold: told where they are asked for, and the nearest ones first."""

import pytest
from typer.testing import CliRunner

from dashboard.command import app
from data import reference, schema, upload


def mend(kind):
    read = upload.read("inventory.csv", f"member,kit,item,kind\nQX1NEW,bag,thing,{kind}\n".encode())
    (problem,) = read.problems
    return problem.fix


def test_a_word_that_is_not_known_leads_to_its_list_on_the_web_and_in_a_terminal():
    said = mend("nonsense")
    assert '"send a kit list"' in said and "kitmuster words kind" in said
    assert "csv" not in said


def test_words_that_share_something_are_offered():
    assert mend("solar thing").startswith("Did you mean solar_panel or ")
    assert "Did you mean" not in mend("coffee machine")


@pytest.mark.parametrize("column", reference.WORDS_IN)
def test_every_list_can_be_looked_up(column):
    listed = CliRunner().invoke(app, ["words", column])
    assert listed.exit_code == 0, listed.output
    assert all(word in listed.output for word in reference.words(column))
    told = reference.word_list(column)
    assert told["write"].tolist() == list(reference.words(column))


@pytest.mark.parametrize("stem", schema.FILES)
def test_every_column_of_a_file_can_be_looked_up_with_form_unit_and_help(stem):
    told = [line.split("\t") for line in CliRunner().invoke(app, ["words", stem]).output.splitlines()]
    assert told[1] == ["column", "write", "unit", "when empty", "what it is"]
    listed = {line[0]: line[1:] for line in told[2:] if line[0]}
    assert list(listed) == list(schema.columns(stem))
    for name, column in schema.columns(stem).items():
        write, unit, when_empty, what = listed[name]
        assert (unit, what) == (column.unit, column.description)
        assert write and (not column.listed or all(word in write for word in column.listed))
        assert (when_empty == "refused") == column.required


@pytest.mark.parametrize(
    ("stem", "column", "said"),
    [
        ("posts", "check_in_min", ["a number, 1 to 1440", "min", ""]),
        (
            "posts",
            "alert_path",
            ["a word of: satellite_messenger, agency_radio, landline, runner, none", "", ""],
        ),
        ("posts", "bands", ["words, spaces between, of the band list", "", ""]),
        ("members", "training", ["words, spaces between", "", ""]),
        ("inventory", "kind", ["a word of the kind list", "", "refused"]),
        ("inventory", "quantity", ["a whole number, 1 to 10000", "", "1"]),
        ("inventory", "spare", ["yes or no", "", "no"]),
        ("inventory", "module", ["words of your own", "", "as kit"]),
        ("inventory", "acquired", ["a day or a year: 2026-07-31, 2026", "", ""]),
    ],
)
def test_a_column_says_what_to_write_and_what_an_empty_cell_means(stem, column, said):
    told = schema.column_list(stem).set_index("column")
    assert told.loc[column, ["write", "unit", "when empty"]].tolist() == said


def test_a_file_may_be_called_by_its_whole_name():
    asked = [CliRunner().invoke(app, ["words", name, "--json"]).output for name in ("posts", "posts.csv")]
    assert asked[0] == asked[1] and '"check_in_min"' in asked[0]


def test_a_list_that_is_not_there_names_those_that_are():
    asked = CliRunner().invoke(app, ["words", "cheese"])
    assert asked.exit_code == 2
    assert "kind, plug" in asked.output and "inventory, members" in asked.output
