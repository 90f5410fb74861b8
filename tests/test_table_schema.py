"""The contract for other programs says the same as the reader."""

import csv
import re

import pytest

frictionless = pytest.importorskip("frictionless", reason="a development package")

from data import demo, schema, table_schema, upload  # noqa: E402

TEMPLATES = table_schema.CONTRACT.parent / "templates"


@pytest.fixture(autouse=True)
def longest_cell():
    """Put back the longest cell that the reader of CSV takes: the package raises it for the whole process."""
    longest = csv.field_size_limit()
    yield
    csv.field_size_limit(longest)


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    demo.write(folder)
    return folder


def errors(path, stem):
    """What the public reader of Table Schema finds wrong with a file."""
    descriptor = table_schema.table_schema(stem)
    resource = frictionless.Resource(
        path=path.name, basepath=str(path.parent), schema=frictionless.Schema.from_descriptor(descriptor)
    )
    return [error.message for task in resource.validate().tasks for error in task.errors]


@pytest.mark.parametrize("stem", schema.FILES)
def test_the_files_are_up_to_date(stem):
    path = table_schema.CONTRACT / f"{stem}.schema.json"
    assert path.read_text("utf-8") == table_schema.text(stem), "run python -m data.table_schema"


def test_there_is_a_file_for_each_kind_and_no_other():
    names = {path.name for path in table_schema.CONTRACT.iterdir()}
    assert names == {f"{stem}.schema.json" for stem in schema.FILES}


@pytest.mark.parametrize("stem", schema.FILES)
def test_the_standard_finds_nothing_wrong_with_the_contract(stem):
    assert frictionless.Schema.validate_descriptor(table_schema.table_schema(stem)).valid


@pytest.mark.parametrize("stem", schema.FILES)
def test_templates_and_demo_files_keep_the_contract(told, stem):
    for path in (TEMPLATES / f"{stem}.csv", told / f"{stem}.csv"):
        assert errors(path, stem) == []


@pytest.mark.parametrize(
    ("column", "value"),
    [("kind", "nonsense"), ("quantity", "two"), ("volts_max", "700"), ("bands", "2m 7cm"), ("spare", "maybe"),
     ("charged", "31.7.2026"), ("member", "q"), ("acquired", "last year")],
)  # fmt: skip
def test_what_the_reader_refuses_breaks_the_contract_too(tmp_path, column, value):
    row = {"member": "QX1NEW", "kit": "bag", "item": "radio", "kind": "handheld"} | {column: value}
    path = tmp_path / "inventory.csv"
    path.write_text(f"{','.join(row)}\n{','.join(row.values())}\n")
    assert [p.column for p in upload.read(path.name, path.read_bytes()).problems] == [column]
    (found,) = errors(path, "inventory")
    assert re.search(rf'"{column}"', found)
