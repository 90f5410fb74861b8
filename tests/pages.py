"""Pages as the tests open them: a club of one's own, a page run once, and what it says."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pandas as pd
from streamlit.runtime.state.common import user_key_from_element_id
from streamlit.testing.v1 import AppTest

from dashboard import standing
from data import demo, upload

APP = str(Path(standing.__file__).parent / "app.py")
PATIENCE_S = 120


@contextmanager
def alone() -> Iterator[None]:
    """No club is open at first; the one that is opened meanwhile is closed, and the one before is open again."""
    before = list(standing._open)
    standing._open.clear()
    try:
        yield
    finally:
        standing.close_club()
        standing._open.extend(before)


@contextmanager
def invented(folder: Path) -> Iterator[standing.Club]:
    """The invented club, written into a folder, sent, and open meanwhile."""
    demo.write(folder)
    club = standing.open_club(folder / "club.duckdb")
    for path in sorted(folder.glob("*.csv")):
        club.store.accept(upload.read(path.name, path.read_bytes()), "demo")
    yield club
    standing.close_club()


def page(view: str = "", *, user: dict[str, Any] | None = None, url: str = "", **query: str) -> AppTest:
    """The app on a page, run once; `user` is what the provider vouches for of whoever signed in, `url` where it is."""
    app = AppTest.from_file(APP, default_timeout=PATIENCE_S)
    if url:
        app.context = {"url": url}
    if user is not None:
        app.user = user
    if view:
        app.run()
        app.switch_page(f"views/{view}.py")
    for name, value in query.items():
        app.query_params[name] = value
    app.run()
    assert not app.exception, app.exception[0].stack_trace
    return app


def unfolded(app: AppTest) -> AppTest:
    """The page with everything unfolded that is made only then, as by someone who clicks it open."""
    while folded := [one for one in app.expander if one.proto.id and not one.proto.expanded]:
        for one in folded:
            app.session_state[user_key_from_element_id(one.proto.id)] = True
        app.run()
        assert not app.exception, app.exception[0].stack_trace
    return app


def words(app: AppTest) -> str:
    """Everything a page says in running text."""
    kinds = (
        app.title, app.header, app.subheader, app.markdown, app.text, app.info, app.success, app.warning, app.error,
    )  # fmt: skip
    return "\n".join(element.value for kind in kinds for element in kind)


def table(app: AppTest, column: str) -> pd.DataFrame:
    """The table that has a column, or an index, of that name."""
    shown = [*app.dataframe, *app.table]
    return next(f.value for f in shown if column in [*f.value.columns, f.value.index.name])


def chart_title(spec: Mapping[str, Any]) -> str:
    """The title of a chart, however many lines it takes on which screen."""
    text = spec["title"]["text"]
    return " ".join(text if isinstance(text, list) else json.loads(text["expr"].split(" : ")[-1]))
