"""What is read from a file and written again reads the same."""

import pandas as pd
import pytest

from data import demo, forms, schema, upload, writing


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    return {path.stem: upload.read(path.name, path.read_bytes()).frame for path in demo.write(folder)}


@pytest.mark.parametrize("stem", schema.FILES)
def test_rows_written_read_back_the_same(told, stem):
    again = upload.read(f"{stem}.csv", writing.csv_of(stem, told[stem]))
    assert again.problems == []
    columns = list(schema.columns(stem))
    pd.testing.assert_frame_equal(again.frame[columns], told[stem][columns])


def test_a_moment_keeps_its_seconds_and_is_written_without_those_that_are_none():
    said = "2027-04-25T05:00:30", "2027-04-25T05:00", "2027-04-25T00:00"
    assert writing.cells(pd.to_datetime(pd.Series(said), format="ISO8601"), forms.MOMENT) == list(said)
