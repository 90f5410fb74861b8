"""A small club in which everything that members wrote is marked, and a walk through every page that shows it all."""

from __future__ import annotations

import ast
import io
import json
import sys
import zipfile
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from streamlit.elements.widgets.button import ButtonMixin
from streamlit.testing.v1 import AppTest

from dashboard import access, pictures, standing
from dashboard.access import Role
from data import history, upload
from tests import printed
from tests.pages import new_app, unfolded

DASHBOARD = Path(access.__file__).parent
# The member of the role member; one who is sent to the event; one who is not, and is not available.
OWN, SENT, AWAY = "Q1AAA", "Q1CCC", "Q1EEE"
# The name of a kit stands with its verdict; everything else is seen only where a kit is shared in full.
BOXES = {OWN: "zqownbag", SENT: "zqsentbox", AWAY: "zqawaybox"}
MARKS = {SENT: "zqsent", AWAY: "zqaway"}  # begin every word that they wrote
# Written so that a spreadsheet would work it out, and that Markdown would not show it as it is written.
POST, EVENT, EMPHASIS = "=Ford *zz*", "River *zz* Run", "*zz*"
TODAY = date.today()
STATION = (
    ("radio", "mobile_vhf_uhf", "genderless_30", "", "", "", ""),
    ("battery", "battery_lifepo4", "genderless_30", "", "", "", "60"),
    ("fuse", "fuse", "", "", "", "", ""),
    ("lead", "dc_lead", "genderless_30", "genderless_30", "", "", ""),
    ("coax", "coax", "", "", "pl259", "pl259", ""),
    ("mast", "jpole", "", "", "so239", "", ""),
)
HEADING = (
    "member,kit,item,kind,dc_plug,dc_plug_far,rf_plug,rf_plug_far,capacity_ah,"
    "module,spare,owner,acquired,charged,weight_kg,quantity,notes\n"
)


def _station(member: str, word: str) -> str:
    return "".join(
        f"{member},{BOXES[member]},{word}{item},{kind},{plug},{far},{rf},{rf_far},{ah},"
        f"{item},no,,2016-01-01,{TODAY},1.5,1,{word}note{item}\n"
        for item, kind, plug, far, rf, rf_far, ah in STATION
    )


def _thing(member: str, item: str, kind: str, spare: str = "no", owner: str = "") -> str:
    return f"{member},{BOXES[member]},{item} {EMPHASIS},{kind},,,,,,,{spare},{owner},,{TODAY},0.2,1,=zq{item}note\n"


def files() -> dict[str, str]:
    """What the club was told, by kind of file."""
    past, coming = TODAY - timedelta(days=3), TODAY + timedelta(days=60)
    day = {"Past Run": past, EVENT: coming}
    posts = "event,post,post_type,opens,closes,public_m,bands,rf_watts_min\n" + "".join(
        f"{event},{post},{kind},{on}T06:00,{on}T12:00,4,2m,25\n"
        for event, on in day.items()
        for post, kind in ((POST, "net_control"),)
    )
    assigned = "event,post,member,kit,from,to\n" + "".join(
        f"{event},{post},{member},{BOXES[member]},{on}T06:00,{on}T12:00\n"
        for event, on in day.items()
        for post, member in ((POST, SENT), (POST, OWN))
    )
    return {
        "inventory": HEADING
        + _station(OWN, "zqown")
        + _thing(OWN, "zqownhandheld", "handheld")
        + _station(SENT, "zqsent")
        + _thing(SENT, "@zqsentwhip", "handheld")
        + _station(AWAY, "zqaway")
        + _thing(AWAY, "=zqawaypack", "handheld_pack", spare="yes")
        + _thing(AWAY, "zqawaylent", "fuse", owner="club")
        + _thing(AWAY, "zqawaystore", "handheld_pack", spare="yes", owner="club"),
        "members": "member,available,licence_class,licence_expires,roles,notes\n"
        + "".join(
            f"{member},{'no' if member == AWAY else 'yes'},general,2099-01-01,net_control field,{kit}self\n"
            for member, kit in BOXES.items()
        ),
        "kits": "member,kit,hours,notes\n"
        + "".join(f"{member},{kit},6,{kit}about\n" for member, kit in BOXES.items()),
        "rehearsals": "member,kit,date,stage,event,post,hours_on_battery,battery_left_pct,missing,notes\n"
        + "".join(
            f"{member},{kit},{past},event,Past Run,{POST},5,40,{kit}missing,{kit}tried\n"
            for member, kit in BOXES.items()
            if member != AWAY
        ),
        "events": "event,starts,ends,temp_min_c,temp_max_c,public\n"
        + "".join(f"{event},{on}T05:00,{on}T13:00,2,20,yes\n" for event, on in day.items()),
        "posts": posts,
        "assignments": assigned,
        "offers": "offer,kind,price_usd,available,paid_by,capacity_ah\n+a pack,handheld_pack,35,9,club,\n",
        "loans": "item,borrower,out,due,back,condition_out,condition_in,notes\n"
        f"zqawaylent {EMPHASIS},{SENT},{TODAY - timedelta(days=9)},{TODAY + timedelta(days=9)},,ok,,zqsentloan\n",
    }


BAD = b"member,kit,item,kind,quantity\nQ1AAA,bag,radio,handheld,two\n"


@contextmanager
def opened(folder: Path) -> Iterator[standing.Club]:
    """The club with a person of each role, who all agreed; it was judged on an earlier day, too."""
    club = standing.open_club(folder / "club.duckdb", has_sign_in=True)
    for stem, text in files().items():
        read = upload.read(f"{stem}.csv", text.encode(), stem)
        assert not read.problems, read.problems[0]
        club.store.accept(read, "test")
    before = history.Judged(1, TODAY - timedelta(days=40), "rules", 0, "scores")
    history.note(club.store, before, {"ready": 1, "not ready": 2})
    for role in Role:
        number = club.people.add(
            address(role), role.title(), role, OWN if role is Role.MEMBER else "", "test"
        )
        club.people.agree(number, access.CONSENT)
    club.standing()
    yield club


def address(role: str) -> str:
    """By what someone of a role signs in."""
    return f"{role.replace(' ', '-')}@club.example"


def claims(role: str) -> dict[str, Any]:
    """What the provider vouches for of someone who just signed in."""
    at = int(datetime.now(UTC).timestamp()) - 1
    return {"is_logged_in": True, "email": address(role), "email_verified": True, "iat": at}


# ---- the walk


@dataclass
class Walk:
    """What was met on the way: downloads by view/key and name of the file, pages as the browser got them, places in the code,
    and everything that the browser reads as Markdown.
    """

    downloads: dict[tuple[str, str], bytes] = field(default_factory=dict)
    pages: dict[str, bytes] = field(default_factory=dict)
    places: set[tuple[str, int]] = field(default_factory=set)
    markdown: set[str] = field(default_factory=set)


def shown(node: Any) -> bytes:
    """Everything that a page sends to the browser."""
    told = b"".join(shown(child) for child in getattr(node, "children", {}).values())
    proto = getattr(node, "proto", None)
    return told + (proto.SerializeToString() if hasattr(proto, "SerializeToString") else b"")


def markdown(node: Any) -> Iterator[str]:
    """Every text of a page that the browser reads as Markdown: all but plain text and the cells of data frames."""
    for child in getattr(node, "children", {}).values():
        yield from markdown(child)
    kind, proto = getattr(node, "type", ""), getattr(node, "proto", None)
    if kind == "table":
        yield from map(str, node.value.to_numpy().ravel())
    elif kind not in ("text", "text_input", "selectbox", "code"):
        yield str(getattr(proto, "body", ""))
    yield str(getattr(node, "label", "") or getattr(proto, "label", ""))


def _click(key: str) -> Callable[[AppTest], None]:
    def step(app: AppTest) -> None:
        for button in app.button:
            if button.key == key and not button.disabled:
                button.click().run()
                return

    return step


def _choose(key: str, *wanted: Any) -> Callable[[AppTest], None]:
    """Choose each option in turn, or only those that are wanted."""

    def step(app: AppTest) -> None:
        keys = [box.key for box in app.selectbox]
        options = app.selectbox(key=key).options if key in keys else []
        for option in options:
            if not wanted or option in wanted:
                box = app.selectbox(key=key)
                names = getattr(box.format_func, "__self__", None)  # of a choice that is shown by other names
                raw = {name: value for value, name in names.items()} if isinstance(names, dict) else {}
                box.set_value(raw.get(option, option)).run()

    return step


def _send_bad(app: AppTest) -> None:
    if app.file_uploader:
        app.file_uploader[0].upload("inventory.csv", BAD, "text/csv").run()


LOOK = {
    "posts": (), "kits": (), "plan": (_click("work-out"),), "hours": (), "swaps": (), "distances": (),
}  # fmt: skip


def _walks(member: str) -> list[tuple[str, dict[str, str], tuple[Callable[[AppTest], None], ...]]]:
    """Views with their address and what is done there, in the eyes of someone who asks for one member."""
    of = {"member": member, "kit": BOXES[member]}
    events = [
        (
            "events",
            {"event": EVENT, "look": look},
            (*LOOK[name], *((_choose("event-sheet"),) if name == "posts" else ())),
        )
        for name, look in SECTIONS.items()
    ]
    return [
        ("season", {}, ()),
        ("find", {"q": "zq"}, ()),
        ("kit", of, (_choose("down_at"),)),
        ("mine", {"member": member}, ()),
        ("lists", {"list": "loans of club gear"}, ()),
        ("send", {}, (_send_bad,)),
        ("inspect", of, ()),
        ("lend", {}, (_choose("loan"),)),
        *events,
        ("whatif", {"event": EVENT}, (_click("fail"),)),
        ("after", {"event": "Past Run"}, ()),
        ("loadout", of | {"event": EVENT, "post": POST}, (_click("work-out"),)),
        ("loadout", {"look": "who can lend what?", "event": EVENT}, (_click("work-out-loans"),)),
        ("purchases", {}, (_click("work-out"),)),
        ("rulebook", {}, ()),
        ("start", {}, ()),
        ("policy", {}, ()),
        ("people", {}, (_choose("take-out", member),)),
        ("records", {}, (_choose("one-file"), _click("work-out"))),
    ]  # fmt: skip


SECTIONS = {
    "posts": "what does each post lack?",
    "kits": "which kit can hold which post?",
    "plan": "who should go where?",
    "hours": "do the batteries last?",
    "swaps": "can one kit stand in for another?",
    "distances": "how far must people stay?",
}


def walked(role: str | None, member: str, is_read: bool = True, views: Collection[str] = ()) -> Walk:
    """Everything that someone of a role is offered on every page, asking for one member where a page asks for one.

    Parameters
    ----------
    role : None for someone who has not signed in
    is_read : whether the downloads are made, too
    views : only these pages; all unless given
    """
    walk, found = Walk(), {}

    def caught(self: Any, label: str, data: Any, file_name: str | None = None, **told: Any) -> bool:
        frame, view = sys._getframe(1), ""
        while frame is not None:
            file = Path(frame.f_code.co_filename)
            walk.places.add((str(file), frame.f_lineno))
            view = file.stem if file.parent.name == "views" else view
            frame = frame.f_back
        found[f"{view}/{told.get('key')}", file_name or ""] = data
        walk.markdown.add(label)
        return False

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ButtonMixin, "_download_button", caught)
        for form in ("png", "svg"):  # what is drawn, as a picture itself cannot be read
            patch.setattr(pictures, form, lambda spec: json.dumps(pictures.standing_alone(spec)).encode())
        for view, query, steps in _walks(member):
            if views and view not in views:
                continue
            app = new_app()
            app.run()  # the first page, which asks to sign in
            if role is not None:
                app.user = claims(role)
            app.switch_page(f"views/{view}.py")
            for name, value in query.items():
                app.query_params[name] = value
            app.run()
            for step in (lambda app: None, *steps):
                step(app)
                assert not app.exception, (view, role, app.exception[0].stack_trace)
                unfolded(app)
                walk.pages[view] = walk.pages.get(view, b"") + shown(app.main)
                walk.markdown.update(markdown(app.main))
        for (key, name), data in found.items():
            content = data if not callable(data) else data() if is_read else b""
            walk.downloads[key, name] = content if isinstance(content, bytes) else content.encode()
    return walk


def text_of(name: str, content: bytes) -> str:
    """What someone who opens a file can read in it, in small letters."""
    if name.endswith(".pdf"):
        content = printed.text(content).encode()
    if name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(content)) as bundle:
            content = b"\n".join(name.encode() + bundle.read(name) for name in bundle.namelist())
    return content.replace(b"\r\n ", b"").decode("utf-8", "replace").casefold()


OFFERING = ("download", "sheet", "numbers_behind", "as_picture")
"""Parts of pages that offer a download."""


def offering() -> set[tuple[str, int, int]]:
    """Places in the code that offer a download: file, first line, last line."""
    found = set()
    for file in DASHBOARD.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).removeprefix("parts.") in OFFERING:
                found.add((str(file), node.lineno, node.end_lineno or node.lineno))
    return found
