"""Pages as the tests open them: a club of one's own, a page run once, and what it says."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd
from streamlit import config
from streamlit.components.v2.component_manager import BidiComponentManager
from streamlit.runtime.scriptrunner.script_cache import ScriptCache
from streamlit.runtime.state.common import user_key_from_element_id
from streamlit.testing.v1 import AppTest, local_script_runner
from streamlit.util import calc_hash

from dashboard import standing
from data import demo, upload

APP = str(Path(standing.__file__).parent / "app.py")
PATIENCE_S = 120
ADDRESSES = {"season": "", "rulebook": "rules"}  # of views whose page has another than their own name

# As on the server, where dashboard/.streamlit/config.toml says the second, a page is compiled once and as it is written.
local_script_runner.ScriptCache = cache(ScriptCache)
config.set_option("runner.magicEnabled", False)


@cache
def _components() -> BidiComponentManager:
    """What the installed packages add to pages; to look through them all takes half as long as to run a page."""
    found = BidiComponentManager()
    found.discover_and_register_components(start_file_watching=False)
    return found


def new_app() -> AppTest:
    """The app, not run yet."""
    made = AppTest.from_file(APP, default_timeout=PATIENCE_S)
    made._bidi_component_manager = _components()
    return made


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
    """The app on a page, come to by its address; `user` is what the provider vouches for of whoever signed in, `url` where it is."""
    opened = new_app()
    if url:
        opened.context = {"url": url}
    if user is not None:
        opened.user = user
    if view:
        opened._page_hash = calc_hash(ADDRESSES.get(view, view))
    for name, value in query.items():
        opened.query_params[name] = value
    opened.run()
    assert not opened.exception, opened.exception[0].stack_trace
    return opened


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
