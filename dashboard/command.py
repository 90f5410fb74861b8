"""The command `kitmuster`: check files, score a club, read the rules, open the dashboard."""

from __future__ import annotations

import contextlib
import dataclasses
import difflib
import signal
import socket
import sys
import tempfile
from collections import Counter
from importlib.metadata import version as installed
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard import (
    buy_commands,
    change_commands,
    documents,
    folders,
    keep_commands,
    people_commands,
    plan_commands,
    say,
    send_commands,
    sheet_commands,
    word_commands,
)

if TYPE_CHECKING:
    from dashboard.sign_in import SignIn
    from data.upload import Problem
    from rules.engine import Assessment, Finding, Rule

app = typer.Typer(
    help="Review the radio kits of a club: what is missing, who can hold which post, what to mend first.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


KINDS_SHOWN = ("club", "event", "post", "member", "kit")
REASON = {"not ready": "not met", "not known": "not known"}
VERDICTS = ("ready", "ready with limits", "not ready", "not known")

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")]
Host = Annotated[str, typer.Option(help="Address of this machine to listen on.")]
Port = Annotated[int, typer.Option(min=1, max=65535, help="Port to listen on.")]
Browser = Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in a browser.")]


Today = Annotated[
    str | None, typer.Option(metavar="DATE", help="Count ages to this day; else to the present one.")
]


def _version(asked: bool) -> None:
    if asked:
        say.line(f"kitmuster {installed('kitmuster')}")
        raise typer.Exit(folders.GOOD)


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Review the radio kits of a club: what is missing, who can hold which post, what to mend first."""


# --- check ---


@app.command()
def check(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="CSV files or spreadsheets of any known kind.")
    ],
    as_json: AsJson = False,
) -> None:
    """Check CSV files and spreadsheets (.xlsx, .ods) before they are sent.

    Exit code: 0 all good, 1 problems, 2 a file cannot be read (not there, not text, or of no known kind).
    """
    from data import spreadsheet

    problems: list[Problem] = []
    is_readable = True
    for path in files:
        try:
            content = path.read_bytes()
        except OSError as error:
            is_readable = False
            problems.append(_unreadable(path, error))
            continue
        for read in spreadsheet.read_files(path.name, content):
            problems += read.problems
            is_readable = is_readable and read.stem != ""
            for notice in read.notices:
                say.error(f"{read.file}: {notice}")
            if not as_json and not read.problems and read.frame is not None:
                say.line(f"{read.file}: {len(read.frame)} rows, all good", "green")
    if problems or as_json:
        folders.tell(problems, as_json)
    raise typer.Exit(
        folders.UNREADABLE if not is_readable else folders.PROBLEMS if problems else folders.GOOD
    )


def _unreadable(path: Path, error: OSError) -> Problem:
    from data.upload import Problem

    reason = f"it cannot be read: {error.strerror}"
    return Problem(str(path), 0, "", "", reason, "Write the name of a CSV file.")


# --- score ---


@app.command()
def score(
    folder: folders.Place,
    as_json: AsJson = False,
    policy: Annotated[Path | None, typer.Option(metavar="FILE", help="The club's own policy (TOML).")] = None,
    today: Today = None,
    member: Annotated[
        str | None, typer.Option(metavar="MEMBER", help="Only what concerns this member.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="List every finding, also what is met.")] = False,
) -> None:
    """Score a club's kits from a folder of CSV files.

    Exit code: 0 scored, 1 the files have problems (printed as `check` does), 2 the folder cannot be read.
    """
    assessment, _ = folders.judged(folder, today, as_json, policy)
    findings = assessment.findings(with_met=everything)
    scores = assessment.scores().to_dict("records")
    if member:
        member = member.upper()
        if not any(row["member"] == member for row in scores):
            raise folders.fail(f'{folder}: no member "{member}". Write one as it stands in inventory.csv.')
        scores = [row for row in scores if row["member"] == member]
        findings = [finding for finding in findings if finding.member == member]
    if as_json:
        say.as_json(_document(scores, findings))
    else:
        _review(assessment, scores, findings)
        _members(scores, findings)
        _list(findings, everything or member is not None)


def _document(scores: list[dict[str, Any]], findings: list[Finding]) -> dict[str, Any]:
    """The JSON form of a score: what is ready, and what was found."""
    return {"scores": documents.scores(scores), "findings": documents.findings(findings)}


def _range(row: dict[str, Any]) -> str:
    """A score as its range, 0 to 100: if every unknown is bad, to if every unknown is good."""
    low, high = documents.plain(row["low"]), documents.plain(row["high"])
    if low is None or high is None:
        return "-"
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"


def _headline(kind: str, tally: Counter[str]) -> str:
    """How many of a kind are ready, e.g. `25 of 52 posts are ready, 7 of them with limits`."""
    limited = tally["ready with limits"]
    text = f"{tally['ready'] + limited} of {tally.total()} {kind}s are ready"
    return f"{text}, {limited} of them with limits" if limited else text


def _review(assessment: Assessment, scores: list[dict[str, Any]], findings: list[Finding]) -> None:
    """Print the headline, the verdicts by kind of subject, the posts in doubt, the gaps found most often."""
    shown = {kind: [row for row in scores if row["subject_kind"] == kind] for kind in KINDS_SHOWN}
    counts = {kind: Counter(row["verdict"] for row in rows) for kind, rows in shown.items() if rows}
    told = [_headline(kind, counts[kind]) for kind in ("post", "kit") if kind in counts]
    if told:
        say.line("; ".join(told) + ".", "bold")
    say.table(
        "How ready is the club?",
        ("", *VERDICTS),
        [(kind, *(tally[verdict] for verdict in VERDICTS)) for kind, tally in counts.items()],
    )
    if shown["post"]:
        reasons = _reasons(assessment, findings)
        say.table(
            "Posts that are not ready, and why",
            ("post", "verdict", "score", "why, first of all"),
            [
                (
                    row["subject"],
                    row["verdict"],
                    _range(row),
                    reasons.get((row["subject"], row["verdict"]), ""),
                )
                for row in shown["post"]
                if row["verdict"] in REASON
            ],
        )
    gaps = Counter((f.title, f.severity) for f in findings if _is_grave(f))
    say.table(
        "What is wrong most often",
        ("found", "severity", "times"),
        [(title, severity, times) for (title, severity), times in gaps.most_common(10)],
    )


def _reasons(assessment: Assessment, findings: list[Finding]) -> dict[tuple[str, str], str]:
    """By post and verdict: the worst finding behind it, of the post or of a kit or person sent there."""
    sent = (
        assessment.con.cursor()
        .execute(
            "select event || '/' || post, member.member, kit.kit from assignment join post using (post_id) "
            "join member on member.member_id = assignment.member_id left join kit using (kit_id)"
        )
        .fetchall()
    )
    posts_of: dict[tuple[str | None, str | None], list[str]] = {}
    for post, member, kit in sent:
        for who in {(member, kit), (member, None)}:
            posts_of.setdefault(who, []).append(post)
    reasons: dict[tuple[str, str], str] = {}
    for finding in (finding for finding in findings if finding.severity == "blocks"):
        verdict = next(verdict for verdict, status in REASON.items() if status == finding.status)
        posts = [finding.subject] if finding.post else posts_of.get((finding.member, finding.kit), [])
        for post in posts:
            reasons.setdefault((post, verdict), finding.sentence.removeprefix(f"{post}: "))
    return reasons


def _members(scores: list[dict[str, Any]], findings: list[Finding]) -> None:
    """Print every member's verdict, and what to mend first."""
    first: dict[str, str] = {}
    for finding in findings:
        if finding.member and _is_grave(finding):
            first.setdefault(finding.member, finding.sentence)
    say.table(
        "By member (score 0 to 100; a range where something is not known)",
        ("member", "verdict", "score", "to mend first"),
        [
            (row["subject"], row["verdict"], _range(row), first.get(row["subject"], ""))
            for row in scores
            if row["subject_kind"] == "member"
        ],
    )


def _is_grave(finding: Finding) -> bool:
    """Whether a finding stops or limits its subject, and is known to."""
    return finding.status == "not met" and finding.severity != "advice"


def _list(findings: list[Finding], everything: bool) -> None:
    """Print findings, worst first: all of them, or only what blocks or limits and is not met."""
    listed = [f for f in findings if everything or _is_grave(f)]
    for finding in listed:
        mark = finding.status if finding.status != "not met" else finding.severity
        say.line(f"{mark}: {finding.sentence}", say.STYLES.get(mark, ""))
        if finding.fix:
            say.line(f"    {finding.fix}")
    if rest := len(findings) - len(listed):
        say.line(f"{rest} more, advice or not known: --all lists them, --member MEMBER lists one member's.")


# --- rules ---


@app.command()
def rules(
    name: Annotated[str | None, typer.Argument(metavar="NAME", help="One rule, to be shown whole.")] = None,
    as_json: AsJson = False,
) -> None:
    """List the rules by family, or show one whole."""
    from rules.engine import FAMILIES, load_rules

    known = {rule.name: rule for rule in load_rules()}
    if name is None:
        if as_json:
            say.as_json({"rules": [_rule_document(rule) for rule in known.values()]})
            return
        for family, question in FAMILIES.items():
            rows = [(r.name, r.severity, r.subject, r.title) for r in known.values() if r.family == family]
            if rows:
                say.table(f"{family}: {question}", ("rule", "severity", "judges", "says"), rows)
        return
    asked = name.removesuffix(".sql").rpartition("/")[2]
    if asked not in known:
        near = difflib.get_close_matches(asked, known, n=3, cutoff=0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else "`kitmuster rules` lists them."
        raise folders.fail(f'"{name}" is not a rule. {hint}')
    if as_json:
        say.as_json(_rule_document(known[asked]))
    else:
        _show(known[asked])


def _rule_document(rule: Rule) -> dict[str, Any]:
    return {field.name: getattr(rule, field.name) for field in dataclasses.fields(rule)} | {
        "param": {name: dataclasses.asdict(param) for name, param in rule.param.items()},
        "remedy": dict(rule.remedy),
    }


def _show(rule: Rule) -> None:
    """Print a rule whole: what it says, what it compares with, where it comes from, how it judges."""
    from rules.engine import FAMILIES

    say.line(rule.title, "bold")
    fields = {
        "rule": rule.name,
        "family": f"{rule.family}: {FAMILIES[rule.family]}",
        "judges": rule.subject,
        "severity": rule.severity,
        "why": rule.why,
        "applies to": rule.applies_to,
        "says": rule.not_met,
        "if not known": rule.not_known,
        "fix": rule.fix,
        "caution": rule.caution,
        "source": rule.source,
    }
    for label, text in fields.items():
        if text:
            say.line(f"{label:<13}{text}")
    for name, param in rule.param.items():
        unit = "" if param.unit == "1" else f" {param.unit}"
        say.line(f"${name} = {param.value}{unit}: {param.why} ({param.source})")
    say.line()
    for text in rule.sql.splitlines():
        say.line(text)


# --- dashboard ---


@app.command()
def serve(
    db: Annotated[
        Path | None, typer.Option(metavar="PATH", help="The club's database; made if not there.")
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 8501,
    browser: Browser = False,
    club: Annotated[
        Path | None, typer.Option(metavar="FILE", help="How people sign in (TOML); else only this machine.")
    ] = None,
    metrics_token: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Holds what a program must carry to read /metrics.")
    ] = None,
    is_chatty: Annotated[
        bool, typer.Option("--log", help="Write a JSON line on standard error for each request and event.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Serve the club's dashboard until it is stopped."""
    from dashboard import sign_in
    from data.backup import opened
    from data.database import StoreError, default_path

    path = db or default_path()
    try:
        opened(path).close()
        told = sign_in.read(club) if club else None
        if told:
            sign_in.cookie_secret(path)
    except (StoreError, sign_in.SignInError) as error:
        raise folders.fail(str(error)) from None
    token = _token(metrics_token) if metrics_token else ""
    _run(path, host, port, browser, as_json, told, token, is_chatty)


def _token(path: Path) -> str:
    """The token in a file; one that is short could be guessed."""
    try:
        token = path.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError):
        raise folders.fail(f"{path}: cannot be read. Write the name of a file with a token.") from None
    if len(token) < 20 or not token.isascii() or not token.isprintable():
        raise folders.fail(f"{path}: write a token of 20 or more letters and digits into it.")
    return token


def _run(
    path: Path,
    host: str,
    port: int,
    open_browser: bool,
    as_json: bool,
    club: SignIn | None = None,
    metrics_token: str = "",
    is_chatty: bool = False,
) -> None:
    """Serve a database, saying first where; an address that cannot be served is said plainly."""
    from dashboard.serve import HostError, check_host, run

    try:
        if club is None:
            check_host(host)
        with socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET):
            pass
    except HostError as error:
        raise folders.fail(str(error)) from None
    except OSError as error:
        raise folders.fail(f"port {port}: {error.strerror}. Choose another with --port {port + 1}.") from None
    address = f"{club.address}/" if club else f"http://{f'[{host}]' if ':' in host else host}:{port}/"
    if as_json:
        say.as_json({"dashboard": address})
    else:
        say.line(f"Dashboard: {address} (stop it with Ctrl+C)")
    with contextlib.suppress(KeyboardInterrupt):
        run(path, host, port, open_browser, club, metrics_token, is_chatty)


@app.command()
def demo(
    port: Port = 8501,
    browser: Browser = True,
    folder: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Keep the demo club's CSV files in this new folder.")
    ] = None,
    is_served: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Serve the dashboard, or stop after the review.")
    ] = True,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the review as one JSON document and stop.")
    ] = False,
) -> None:
    """Show an invented club's season: its review here, then its dashboard in a browser."""
    if folder and folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise folders.fail(f"{folder}: is not an empty folder. Write the name of a new one.")
    with tempfile.TemporaryDirectory(prefix="kitmuster-") as scratch:
        path = Path(scratch) / "club.duckdb"
        _load_demo(folder or Path(scratch) / "club", path, as_json)
        if folder and not as_json:
            say.line(f"The demo club's files are in {folder}.")
        if is_served and not as_json:
            # Without this, being told to stop would end the program before the scratch folder is removed.
            signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
            _run(path, "127.0.0.1", port, browser, as_json=False)


def _load_demo(folder: Path, db: Path, as_json: bool) -> None:
    """Write the demo club's files, put them into a database as a club would, and print the review."""
    from data import upload
    from data.demo import write
    from data.store import Store
    from rules.engine import assess

    with say.console(is_error=True).status("writing and judging the demo club"):
        try:
            files = write(folder)
        except OSError as error:
            raise folders.fail(f"{folder}: {error.strerror}. Name a folder that can be written to.") from None
        with contextlib.closing(Store(db)) as store:
            for file in files:
                store.accept(upload.read(file.name, file.read_bytes(), limits=upload.FOLDER), "demo")
            assessment = assess(store.frames())
        scores, findings = assessment.scores().to_dict("records"), assessment.findings()
    if as_json:
        say.as_json(_document(scores, findings))
    else:
        _review(assessment, scores, findings)


app.command()(send_commands.send)
app.add_typer(people_commands.app, name="people")
app.command()(keep_commands.backup)
app.command()(keep_commands.restore)
app.command()(keep_commands.export)
app.command()(sheet_commands.sheets)
app.command()(sheet_commands.calendar)
app.command()(buy_commands.buy)
app.command()(buy_commands.loadout)
app.command()(buy_commands.borrow)
app.command()(plan_commands.posts)
app.command()(plan_commands.staff)
app.command()(change_commands.whatif)
app.command()(change_commands.after)
app.command()(word_commands.words)


def main() -> None:
    """Run the command `kitmuster`."""
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows a question mark
    app(prog_name="kitmuster")
