"""The words that a file may hold: told where they are asked for, and the nearest ones first."""

import pytest
from typer.testing import CliRunner

from dashboard.command import app
from data import reference, upload


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


def test_a_list_that_is_not_there_names_those_that_are():
    asked = CliRunner().invoke(app, ["words", "cheese"])
    assert asked.exit_code == 2
    assert "kind, plug" in asked.output
