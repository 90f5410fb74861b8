"""The three rooms and their one direction: data, then rules, then dashboard."""

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
ROOMS = {"data": {"data"}, "rules": {"data", "rules"}, "dashboard": {"data", "rules", "dashboard"}}
SHOWING = {
    "streamlit", "altair", "typer", "click", "rich", "starlette", "uvicorn", "websockets", "vl_convert",
    "reportlab", "fpdf", "pypdf", "weasyprint", "matplotlib",
}  # fmt: skip
IMPORTED_AS = {"pandera[pandas]": "pandera", "vl-convert-python": "vl_convert"}


def imported(source: str, package: str) -> Iterator[tuple[int, str]]:
    """Line and first name of every import in a module of the dotted package."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name.split(".")[0]) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            home = package.split(".")[: -(node.level - 1) or None] if node.level else []
            yield node.lineno, ".".join([*home, node.module or ""]).split(".")[0]


def wrong(source: str, package: str) -> list[str]:
    """What a module imports that its room must not."""
    room = package.split(".")[0]
    found = []
    for line, name in imported(source, package):
        if name in ROOMS and name not in ROOMS[room]:
            found.append(f"line {line}: {room} imports {name}")
        if name in SHOWING and room != "dashboard":
            found.append(f"line {line}: {room} imports {name}, which only dashboard may")
        if name == "tests":
            found.append(f"line {line}: {room} imports tests")
    return found


def modules(room: str) -> list[Path]:
    return sorted((TOP / room).rglob("*.py"))


def package(path: Path) -> str:
    return ".".join(path.relative_to(TOP).parent.parts)


@pytest.mark.parametrize("room", ROOMS)
def test_no_room_imports_from_a_later_one(room):
    assert modules(room), f"{room} has no module"
    found = {
        str(path.relative_to(TOP)): wrong(path.read_text("utf-8"), package(path)) for path in modules(room)
    }
    assert {path: lines for path, lines in found.items() if lines} == {}


@pytest.mark.parametrize(
    ("source", "home"),
    [
        ("import rules.engine", "data"),
        ("from rules import engine", "data"),
        ("def f():\n    import dashboard", "data"),
        ("from dashboard.say import line", "rules.facts"),
        ("from ...dashboard import say", "rules.facts"),
        ("import streamlit as st", "rules"),
        ("from rich.table import Table", "data"),
        ("import typer", "rules.plans"),
        ("from tests import anything", "dashboard"),
    ],
)
def test_an_import_against_the_direction_is_found(source, home):
    assert len(wrong(source, home)) == 1


@pytest.mark.parametrize(
    ("source", "home"),
    [
        ("from data import club", "rules"),
        ("from ..physics import wire", "rules.facts"),
        ("from . import schema", "data"),
        ("import rules, data, streamlit", "dashboard"),
        ("import pandas, duckdb", "data"),
    ],
)
def test_an_import_in_the_direction_is_let_through(source, home):
    assert wrong(source, home) == []


def test_everything_imported_is_a_declared_dependency():
    """A package that merely came along with another would vanish with it."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
    names = [re.split(r"[\[<>=]", requirement)[0] for requirement in project["dependencies"]]
    declared = {IMPORTED_AS.get(name, name).replace("-", "_") for name in names}
    used = {
        (str(path.relative_to(TOP)), name)
        for room in ROOMS
        for path in modules(room)
        for _, name in imported(path.read_text("utf-8"), package(path))
    }
    known = declared | set(ROOMS) | set(sys.stdlib_module_names)
    assert {(path, name) for path, name in used if name not in known} == set()
