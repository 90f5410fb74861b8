"""The HTTP API: files in and out, scores, findings, rules and plans, for programs that carry a bearer token.

Each route asks `dashboard.access` what its caller may do, as the pages do. The description stands at
/api/openapi.json, and /api/ shows it to people.
"""

from __future__ import annotations

import dataclasses
import html
from collections.abc import Callable, Collection
from importlib.metadata import version
from typing import Annotated, Any

import duckdb
import pandas as pd
from fastapi import Depends, FastAPI, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from pydantic import BaseModel, Field

from dashboard import access, buying, consent, documents, limits, sending
from dashboard.access import Action, Person, Share
from dashboard.standing import Standing, club
from data import schema, spreadsheet, upload, writing
from data.club import TOO_LARGE
from data.people import Known
from data.store import OWNER
from rules.plans import posts, purchases, staffing
from rules.rule import Rule, load_rules

LARGEST = upload.UPLOAD.size
JUDGED = ("member", "kit", "item", "event", "post", "club")
OPEN = ("not met", "not known")
SEEN_AS = {"offers": Action.SEE_PURCHASES}  # files of the club that not all may read
Document = dict[str, Any]

_scheme = HTTPBearer(auto_error=False, description="A token made on the page of people.")


class ProblemBody(BaseModel):
    """One thing that is wrong with a file."""

    file: str
    line: int = Field(description="or the row of a sheet; 0 where it concerns the whole file")
    column: str
    value: str
    problem: str
    fix: str = Field(description="what to write")


class Received(BaseModel):
    """What came of a file, or of a sheet of a workbook."""

    upload_id: int | None = Field(description="its number; null where it was only tried")
    file: str
    kind: str = Field(description="which kind of file it was read as")
    rows: int
    notices: list[str]
    changes: list[Document] = Field(description="what it adds, removes and changes")


class AllReceived(BaseModel):
    """What came of a file: one entry, or one for each sheet of a workbook whose headings are known."""

    files: list[Received]


class Refused(BaseModel):
    """Everything that is wrong with a file that was refused."""

    problems: list[ProblemBody]


class Said(BaseModel):
    """Why a request was not answered."""

    detail: str


def _known(
    request: Request, given: Annotated[HTTPAuthorizationCredentials | None, Depends(_scheme)]
) -> Known:
    """Whose key it is.

    Raises
    ------
    HTTPException
        401: no token, or none that is in force. 429: too many of those from one address; good ones still count.
    """
    known = club().people.person_of_token(given.credentials) if given else None
    if known is None:
        address = request.client.host if request.client else ""
        if given and not limits.FAILED_TOKENS.take(address):
            raise HTTPException(429, "Too many tokens that are not in force. Try again in ten minutes.")
        raise HTTPException(
            401,
            "No token that is in force. Send the header Authorization: Bearer, then a token.",
            {"WWW-Authenticate": "Bearer"},
        )
    return known


Owner = Annotated[Known, Depends(_known)]


def _caller(owner: Owner) -> Person:
    """Who calls."""
    return access.of(owner)


Caller = Annotated[Person, Depends(_caller)]


def _require(caller: Person, action: Action, member: str = "") -> None:
    if not caller.may(action, member):
        raise HTTPException(403, f"As {caller.called}, you may not {action}. Ask the coordinator.")


def _file_kind(stem: str) -> str:
    if stem not in schema.FILES:
        raise HTTPException(404, f'"{stem}" is no kind of file. Write one of {", ".join(schema.FILES)}.')
    return stem


def _event(now: Standing, name: str) -> str:
    events = sorted(now.assessment.table("event")["event"])
    _must_be_known("event", name, events, ", ".join(events) or "none")
    return name


def _must_be_known(what: str, name: str, known: Collection[str], said: str) -> None:
    if name not in known:
        raise HTTPException(404, f'No {what} "{name}" is known. Known: {said}.')


async def _body(request: Request) -> bytes:
    """The bytes sent, refused as soon as they are more than a file may have."""
    content = bytearray()
    async for chunk in request.stream():
        content += chunk
        if len(content) > LARGEST:
            raise HTTPException(413, f"The file is larger than {LARGEST >> 20} MiB. Send it in parts.")
    return bytes(content)


Sent = Annotated[bytes, Depends(_body)]
Name = Annotated[str, Query(description="name of the file, for the records", max_length=200)]
TryOnly = Annotated[bool, Query(description="say what would change, and change nothing")]


def _take(read: list[upload.Upload], owner: Known, try_only: bool) -> tuple[int, Document]:
    """Put in force, or only try, what was read of one file, all of it or nothing; status and answer.

    Raises
    ------
    HTTPException
        403: the caller may not send this, or has not agreed to how lists are kept. 429: too much was sent.
    """
    problems = [dataclasses.asdict(problem) for sent in read for problem in sent.problems]
    if problems:
        return 422, {"problems": problems}
    caller = access.of(owner)
    for sent in read:
        _require(caller, *sending.asked(sent))
    if not try_only:
        if not consent.is_given(owner):
            raise HTTPException(403, consent.HOW_TO_AGREE)
        if not limits.UPLOADS.take(caller.name, len(read)):
            raise HTTPException(429, limits.TOO_MANY_FILES)
    changes = [documents.rows(club().store.changes(sent)) for sent in read]
    nowhere = club().leads_nowhere(read, sending.whose(read))
    numbers = [None] * len(read) if try_only else club().accept_all(read, caller.name)
    received = [
        {
            "upload_id": number,
            "file": sent.file,
            "kind": sent.stem,
            "rows": len(sent.frame),
            "notices": [*sent.notices, *(str(found) for found in nowhere if found.file == sent.file)],
            "changes": changed,
        }
        for sent, number, changed in zip(read, numbers, changes, strict=True)
    ]
    return 200 if try_only else 201, {"files": received}


def _may_be_read(owner: Known) -> None:
    """Count a file that is to be read, whatever comes of it.

    Raises
    ------
    HTTPException
        429: too many were sent.
    """
    if not limits.CHOSEN.take(owner.name):
        raise HTTPException(429, limits.TOO_MANY_READ)


def _own_rows(caller: Person, stem: str, frame: pd.DataFrame) -> pd.DataFrame:
    """The rows of a file that a caller may have: all of them, or their own."""
    action = Action.SEE_KIT if stem in OWNER else SEEN_AS.get(stem, Action.SEE_EVENTS)
    if caller.may(action):
        return frame
    if stem not in OWNER or not caller.may(action, caller.member):
        _require(caller, action)
    return frame[frame[OWNER[stem]] == caller.member]


def files(caller: Caller) -> Document:
    """The kinds of file there are, with the number of rows that the caller may have of each."""
    told = club().store.frames()
    counts = {}
    for stem, frame in told.items():
        try:
            counts[stem] = len(_own_rows(caller, stem, frame))
        except HTTPException:
            continue
    return {"version": club().store.version(), "files": counts}


def get_file(stem: str, caller: Caller) -> Response:
    """The rows in force of one kind of file, as CSV; a member has their own."""
    rows = _own_rows(caller, _file_kind(stem), club().store.frame(stem))
    return Response(writing.csv_of(stem, rows), media_type="text/csv; charset=utf-8")


def put_file(stem: str, owner: Owner, content: Sent, name: Name = "", try_only: TryOnly = False) -> Response:
    """Send a CSV file of one kind. It is taken whole or not at all; it replaces what it covers, and the records
    keep what was.
    """
    kind = _file_kind(stem)
    _may_be_read(owner)
    sent = upload.read(name or f"{kind}.csv", content, kind, aliases=club().policy().aliases)
    status, answer = _take([sent], owner, try_only)
    return JSONResponse(answer["files"][0] if "files" in answer else answer, status_code=status)


def post_file(owner: Owner, content: Sent, name: Name = "file", try_only: TryOnly = False) -> Response:
    """Send a CSV file of any kind, or a spreadsheet (.xlsx, .ods) in which each sheet with known headings is one
    file. What it is follows from its headings, else from its name. It is taken whole, with every such sheet, or
    not at all.
    """
    _may_be_read(owner)
    read = spreadsheet.read_files(name, content, aliases=club().policy().aliases)
    status, answer = _take(read, owner, try_only)
    return JSONResponse(answer, status_code=status)


def get_scores(caller: Caller, kind: str = "", member: str = "") -> Document:
    """Verdicts as far as kits are shared, ranges where they are in full; of one kind or member, where asked."""
    _require(caller, Action.SEE_SEASON)
    _must_be_known("kind", kind, ("", *JUDGED), ", ".join(JUDGED))
    now, sight = club().standing(), access.sight(caller)
    shown = [
        _as_shared(sight, row)
        for row in now.scores.to_dict("records")
        if kind in ("", row["subject_kind"]) and member in ("", row["member"]) and _may_see(sight, row)
    ]
    return {"version": now.version, "scores": documents.scores(shown)}


def _may_see(sight: access.Sight, row: Document) -> bool:
    """Whether a verdict is for someone's eyes: items show what a member has, verdicts of kits do not."""
    if not isinstance(row["member"], str):
        return True
    share = sight.of(row["member"])
    return share is Share.FULL or (share is Share.VERDICTS and row["subject_kind"] != "item")


def _as_shared(sight: access.Sight, row: Document) -> Document:
    """A score, without its range where only the verdict is shared."""
    is_whole = not isinstance(row["member"], str) or sight.is_full(row["member"])
    return row if is_whole else row | {"low": None, "high": None}


def get_findings(caller: Caller, member: str = "", rule: str = "", status: str = "") -> Document:
    """Findings, worst first, as far as kits are shared; of one member, rule or status, where asked."""
    _require(caller, Action.SEE_SEASON)
    now, sight = club().standing(), access.sight(caller)
    _must_be_known("status", status, ("", *OPEN), ", ".join(OPEN))
    _must_be_known("rule", rule, {"", *_rules(now)}, "those of /api/rules")
    where, values = ("s.member = ?", [member]) if member else ("true", [])
    found = [
        finding
        for finding in now.findings(where, values)
        if rule in ("", finding.rule) and status in ("", finding.status) and sight.reads(finding)
    ]
    return {"version": now.version, "findings": documents.findings(found)}


def _rules(now: Standing) -> dict[str, Rule]:
    """Every rule by its name, those of the club's own that are in force too."""
    return {rule.name: rule for rule in (*load_rules(), *now.assessment.rules)}


def get_rules(caller: Caller) -> Document:
    """Every rule, the club's own too: what it judges, how grave it is, why, where it comes from."""
    _require(caller, Action.SEE_RULES)
    kept = ("name", "family", "title", "subject", "severity", "why", "source")
    rules = _rules(club().standing()).values()
    return {"rules": [{name: getattr(rule, name) for name in kept} for rule in rules]}


def get_policy(caller: Caller) -> Response:
    """The policy in force as TOML; empty where the club keeps to the standard one."""
    _require(caller, Action.SEE_RULES)
    return Response(club().store.policy(), media_type="application/toml")


def get_events(caller: Caller) -> Document:
    """The events, with when they are and how ready they are."""
    _require(caller, Action.SEE_EVENTS)
    now = club().standing()
    events = now.assessment.table("event")[["event", "starts", "ends"]]
    return {
        "events": documents.rows(
            events.merge(now.of("event")[["event", "verdict", "low", "high"]], on="event", how="left")
        )
    }


def get_posts(event: str, caller: Caller) -> Document:
    """Every post of an event with every available kit: can, with limits, cannot, not known; and why, where shared."""
    _require(caller, Action.SEE_EVENTS)
    now, sight = club().standing(), access.sight(caller)
    rows = posts.post_by_kit(now.assessment, _event(now, event))
    rows = rows.loc[[sight.of(member) is not Share.NONE for member in rows["member"]]]
    is_full = [sight.is_full(member) for member in rows["member"]]
    for name in ("reasons", "sent_to"):
        rows[name] = [told if may else None for told, may in zip(rows[name], is_full, strict=True)]
    return {"event": event, "posts": documents.rows(rows)}


def get_staffing(
    event: str, caller: Caller, seconds: Annotated[float, Query(gt=0, le=30)] = 10.0, keep: bool = False
) -> Document:
    """A plan of who goes to which post with which kit, what stays open, and how good the plan is known to be.

    With `keep` the assignments that are sent stay, and the rest is filled.
    """
    _require(caller, Action.ASSIGN)
    now = club().standing()
    locked = staffing.as_it_stands(now.assessment, _event(now, event)) if keep else None
    with limits.PLANS.turn(caller.name):
        plan = staffing.staff(now.assessment, _event(now, event), locked=locked, seconds=seconds)
    return documents.staffing(plan, staffing.compare(plan, now.assessment))


def get_purchases(
    caller: Caller,
    budget: Annotated[float, Query(ge=0, le=1e7)],
    seconds: Annotated[float, Query(gt=0, le=30)] = 10.0,
) -> Document:
    """What to buy within a budget (USD), for whom, and what each thing closes and opens."""
    _require(caller, Action.SEE_PURCHASES)
    now = club().standing()
    of = buying.market(now)
    with limits.PLANS.turn(caller.name):
        found = purchases.plan(now.assessment, None, budget, seconds, of=of)
    return documents.purchases(found)


_ANSWERS: dict[int | str, Document] = {code: {"model": Said} for code in (401, 403, 429, 507)}
_NOT_THERE: dict[int | str, Document] = {404: {"model": Said}}


def _taken(received: type[BaseModel]) -> dict[int | str, Document]:
    """What may come of a file that is sent."""
    return {
        200: {"model": received, "description": "What the file would change"},
        201: {"model": received, "description": "The file is in force"},
        413: {"model": Said},
        422: {"model": Refused, "description": "The file is refused whole"},
    }


_CSV: Document = {"text/csv": {"schema": {"type": "string"}}}
_WORKBOOKS: Document = {
    kind: {"schema": {"type": "string", "contentMediaType": kind}}
    for kind in (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        "application/vnd.oasis.opendocument.spreadsheet",
    )
}


def _body_of(content: Document) -> Document:
    return {"requestBody": {"required": True, "content": content}}


ROUTES: tuple[tuple[str, str, Callable[..., Any], Document], ...] = (
    ("GET", "/files", files, {}),
    (
        "GET",
        "/files/{stem}",
        get_file,
        {"responses": _NOT_THERE | {200: {"content": {"text/csv": {}}}}, "response_class": Response},
    ),
    (
        "PUT",
        "/files/{stem}",
        put_file,
        {"responses": _NOT_THERE | _taken(Received), "openapi_extra": _body_of(_CSV)},
    ),
    (
        "POST",
        "/files",
        post_file,
        {"responses": _taken(AllReceived), "openapi_extra": _body_of(_CSV | _WORKBOOKS)},
    ),
    ("GET", "/scores", get_scores, {}),
    ("GET", "/findings", get_findings, {}),
    ("GET", "/rules", get_rules, {}),
    (
        "GET",
        "/policy",
        get_policy,
        {"responses": {200: {"content": {"application/toml": {}}}}, "response_class": Response},
    ),
    ("GET", "/events", get_events, {}),
    ("GET", "/events/{event}/posts", get_posts, {"responses": _NOT_THERE}),
    ("GET", "/events/{event}/staffing", get_staffing, {"responses": _NOT_THERE}),
    ("GET", "/purchases", get_purchases, {}),
)


def api() -> FastAPI:
    """The API as an application of its own, to be mounted under /api."""
    app = FastAPI(
        title="Kit Muster",
        version=version("kitmuster"),
        description="Readiness of a club's radio kits: send files, read scores, findings and plans.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
        servers=[{"url": "/api"}],
        root_path_in_servers=False,
    )
    for method, path, answer, described in ROUTES:
        described = {**described, "responses": _ANSWERS | described.get("responses", {})}
        app.add_api_route(path, answer, methods=[method], **described)

    @app.exception_handler(limits.BusyError)
    def busy(request: Request, error: limits.BusyError) -> JSONResponse:
        return JSONResponse({"detail": str(error)}, 429, {"Retry-After": "60"})

    @app.exception_handler(duckdb.OutOfMemoryException)
    def too_large(request: Request, error: duckdb.OutOfMemoryException) -> JSONResponse:
        return JSONResponse({"detail": TOO_LARGE}, 507)

    @app.get("/", include_in_schema=False, response_class=HTMLResponse)
    def page() -> str:
        return _page(app.openapi())

    return app


def _page(described: Document) -> str:
    """The description as a page that needs no script."""
    text = html.escape
    sections = []
    for path, methods in described["paths"].items():
        for method, told in methods.items():
            asked = "".join(
                f"<li><code>{text(p['name'])}</code>{' (needed)' if p.get('required') else ''} "
                f"{text(p.get('description', ''))}</li>"
                for p in told.get("parameters", ())
            )
            answers = "".join(
                f"<li><code>{code}</code> {text(answer['description'])}</li>"
                for code, answer in told["responses"].items()
            )
            sections.append(
                f"<h2><code>{method.upper()} /api{text(path)}</code></h2><p>{text(told['description'])}</p>"
                + (f"<h3>asks for</h3><ul>{asked}</ul>" if asked else "")
                + f"<h3>answers</h3><ul>{answers}</ul>"
            )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1"><title>Kit Muster: HTTP API</title>'
        "<style>:root{color-scheme:light dark}body{font:1rem/1.5 system-ui,sans-serif;max-width:46rem;"
        "margin:2rem auto;padding:0 1rem}h2{margin-top:2rem;font-size:1.1rem;overflow-wrap:anywhere}"
        "h3{font-size:1rem;margin:.5rem 0 0}ul{margin:0}</style></head><body><h1>Kit Muster: HTTP API</h1>"
        "<p>Every request carries the header <code>Authorization: Bearer TOKEN</code>; tokens are made on the "
        'page of people. The description for programs is <a href="openapi.json">openapi.json</a>.</p>'
        + "".join(sections)
        + "</body></html>"
    )
