"""Hostile files: a few here, a hundred thousand by the command in tests/fuzz/hostile.py."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data import schema, sent_back, upload
from data.problems import Problem


def _program():
    """The program beside this file, as a module."""
    spec = importlib.util.spec_from_file_location("hostile", Path(__file__).with_name("hostile.py"))
    module = sys.modules["hostile"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


hostile = _program()
ANY = settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
CELL = st.text(max_size=40).filter(lambda text: "\0" not in text)


def test_files_of_every_kind_of_malice_are_taken_or_refused():
    program = [
        sys.executable,
        str(Path(__file__).with_name("hostile.py")),
        "1000",
        "--seed",
        "2",
        "--jobs",
        "1",
    ]
    said = subprocess.run(program, capture_output=True, text=True, check=True).stdout.splitlines()[-1]
    files, refused, taken, peak_mb = (
        int(number.replace(",", ""))
        for number in re.match(
            r"(\S+) files \((\S+) refused, (\S+) taken\); .* process (\d+) MB", said
        ).groups()
    )
    assert files == refused + taken == 1_000
    assert min(refused, taken) > 20
    assert peak_mb < 500


def test_a_file_follows_from_its_number_and_the_seed():
    assert hostile.made(1, 5) == hostile.made(1, 5) != hostile.made(2, 5)


@ANY
@given(payload=st.binary(max_size=400), name=st.text(max_size=40))
def test_any_bytes_under_any_name_are_taken_or_refused(payload, name):
    hostile.hold(name, payload)


@ANY
@given(rows=st.lists(st.lists(CELL, min_size=4, max_size=4), max_size=6))
def test_any_text_in_the_cells_of_a_kit_list_is_taken_or_refused(rows):
    text = "\n".join(",".join('"' + cell.replace('"', '""') + '"' for cell in row) for row in rows)
    hostile.hold("inventory.csv", f"member,kit,item,kind\n{text}".encode("utf-8", "replace"))


@ANY
@given(item=CELL, notes=CELL)
def test_what_members_write_comes_back_as_text_that_no_spreadsheet_works_out(item, notes):
    cells = ",".join('"' + cell.replace('"', '""') + '"' for cell in ("Q1ABC", "bag", item, "dc_lead", notes))
    payload = f"member,kit,item,kind,notes\n{cells}\n".encode("utf-8", "replace")
    read = upload.read("inventory.csv", payload)
    hostile._see_that_no_cell_is_a_formula(sent_back.annotated_copy(read), read.delimiter or ",")


@pytest.mark.parametrize("promise", ["an exception", "no answer", "a formula", "what cannot be seen"])
def test_a_broken_promise_is_seen(promise, monkeypatch):
    refused = upload.read("nothing.csv", b"")
    if promise == "an exception":
        monkeypatch.setattr(hostile.spreadsheet, "read_files", lambda name, payload: 1 / 0)
    elif promise == "a formula":
        monkeypatch.setattr(sent_back, "problems_csv", lambda read: b"file,line\n=1+1,2\n")
    else:
        problems = [] if promise == "no answer" else [Problem("\u202e", 1, "", "", "x", "y")]
        wrong = upload.replace(refused, problems=problems)
        monkeypatch.setattr(hostile.spreadsheet, "read_files", lambda name, payload: [wrong])
    with pytest.raises((ZeroDivisionError, hostile.BrokenPromiseError)):
        hostile.hold("x.csv", b"")


def test_every_kind_of_file_is_started_from():
    started = {upload.read("x.csv", payload).stem for payload in hostile.corpus()}
    assert set(schema.FILES) <= started


@pytest.mark.parametrize(
    "payload",
    [
        "member,kit,item,kind\nQ1\u200b\ufeff\u00adABC,bag,lead,dc_lead\n",
        "member,kit,capacity (\x1cm\x01Ah)\nQ1ABC,bag,6\n",
    ],
)
def test_what_cannot_be_seen_is_shown_in_messages(payload):
    hostile.hold("inventory.csv", payload.encode())
    read = upload.read("inventory.csv", payload.encode())
    assert "\N{REPLACEMENT CHARACTER}" in " ".join(map(str, read.problems))
