"""The models describe every column fully and agree with the words and limits they hand on."""

import pandas as pd
import pandera.errors
import pytest

from data import forms, reference, schema

COLUMNS = [
    pytest.param(stem, column, id=f"{stem}.{column.name}")
    for stem in schema.FILES
    for column in schema.columns(stem).values()
]


@pytest.mark.parametrize(("stem", "column"), COLUMNS)
def test_every_column_says_what_it_is_and_how_to_mend_it(stem, column):
    assert column.title
    assert column.description.endswith(".")
    assert column.mend.startswith("Write ")
    assert column.mend.endswith(".")
    assert "e+" not in column.mend, "a bound as people write it"
    if column.form in (forms.NUMBER, forms.WHOLE):
        assert column.low is not None
        assert column.high is not None
        assert column.low < column.high
    if column.form == forms.WORD:
        assert column.words


def test_a_mend_says_where_its_list_of_words_is_shown():
    for stem in schema.FILES:
        for column in schema.columns(stem).values():
            assert (f"kitmuster words {column.reference}." in column.mend) == bool(column.reference)
            assert not column.reference or column.reference in reference.WORDS_IN


def test_inventory_starts_with_what_is_required():
    columns = list(schema.columns("inventory").values())
    assert [column.name for column in columns if column.required] == ["member", "kit", "item", "kind"]
    assert [column.name for column in columns[:4]] == ["member", "kit", "item", "kind"]


def test_a_name_that_python_keeps_for_itself_is_a_column_all_the_same():
    assert list(schema.columns("assignments")) == [
        "event",
        "post",
        "member",
        "kit",
        "kit_owner",
        "from",
        "to",
        "travel_h",
    ]


def test_keys_and_orders_name_columns_that_exist():
    for stem in schema.FILES:
        columns = schema.columns(stem)
        assert set(schema.key(stem)) <= set(columns)
        for order in schema.orders(stem):
            assert {order.low, order.high} <= set(columns)


def test_converted_headings_lead_to_columns_in_the_unit_of_the_factor():
    asked = {"length_ft": ("length_m", "ft", 0.3048, 0), "weight_lb": ("weight_kg", "lb", 0.45359237, 0)}
    for name, told in asked.items():
        assert schema.converted("inventory")[name] == schema.Converted(*told)
    members = {"carry_limit_lb", "heat_limit_f", "cold_limit_f", "walk_limit_mi"}
    assert set(schema.converted("members")) == members
    for stem in schema.FILES:
        assert not set(schema.converted(stem)) & set(schema.columns(stem))


@pytest.mark.parametrize("stem", schema.FILES)
def test_an_empty_frame_fits_its_model(stem):
    frame = schema.empty(stem)
    assert len(frame) == 0
    assert {"line", "file", *schema.columns(stem)} == set(frame.columns)
    schema.FILES[stem].validate(frame)


def _kit(**cells):
    row = {"line": 2, "file": "kits.csv", "member": "Q1ABC", "kit": "go bag", "hours": 12.0} | cells
    return pd.concat([schema.empty("kits").astype(object), pd.DataFrame([row])]).astype(
        schema.empty("kits").dtypes.to_dict()
    )


def test_the_model_itself_takes_good_rows_and_refuses_bad_ones():
    schema.FILES["kits"].validate(_kit())
    for cells in ({"hours": 10_000.0}, {"member": "q1"}, {"member": "the chairman"}, {"kit": None}):
        with pytest.raises(pandera.errors.SchemaError):
            schema.FILES["kits"].validate(_kit(**cells))
    with pytest.raises(pandera.errors.SchemaErrors):
        schema.FILES["kits"].validate(_kit().assign(colour="red"))
    with pytest.raises(pandera.errors.SchemaError):
        schema.FILES["kits"].validate(pd.concat([_kit(), _kit()], ignore_index=True))
