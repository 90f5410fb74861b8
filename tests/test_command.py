"""The command `kitmuster`: what it prints, where, and how it exits."""

import json
import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import urllib.request
from collections import Counter
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.main import get_command

from dashboard import say, score_commands
from dashboard.command import app, main
from data import allocator, demo
from data import club as data_club
from rules.rule import FAMILIES, load_rules
from tests.command_line import called

pytestmark = pytest.mark.usefixtures("judged_once")

TOP = Path(__file__).parent.parent
TODAY = "2027-03-01"
GOOD = "member,kit,item,kind\nQ1ABC,go bag,walkie,handheld\nQ1ABC,go bag,spare pack,handheld_pack\n"
BAD = "member,kit,item,kind,quantity\nQ1ABC,go bag,walkie,handheld,two\n"
HEADLINE = r"^\d+ of \d+ posts? (is|are) ready.*; \d+ of \d+ kits? (is|are) ready.*\.$"
KITMUSTER = [sys.executable, "-u", "-c", "from dashboard.command import main; main()"]
PROBLEM_KEYS = ["file", "line", "column", "value", "problem", "fix"]


@pytest.fixture
def folder(tmp_path):
    """A folder with one small inventory."""
    (tmp_path / "inventory.csv").write_text(GOOD, "utf-8")
    return tmp_path


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """The demo club's files, as written on TODAY."""
    path = tmp_path_factory.mktemp("club")
    demo.write(path, date.fromisoformat(TODAY))
    return path


# --- check ---


def test_check_of_a_good_file_says_so_and_exits_0(folder):
    result = called("check", folder / "inventory.csv")
    assert result.exit_code == 0
    assert result.stdout == "inventory.csv: 2 rows, all good\n"


def test_check_of_a_problem_names_where_value_and_what_to_write_and_exits_1(folder):
    (folder / "inventory.csv").write_text(BAD, "utf-8")
    result = called("check", folder / "inventory.csv")
    assert result.exit_code == 1
    assert re.match(r'inventory\.csv line 2, quantity: "two" .+ Write .+\.\n$', result.stdout)


def test_check_takes_the_clubs_own_words_by_its_policy(folder):
    (folder / "inventory.csv").write_text(GOOD.replace("handheld\n", "brickset\n"), "utf-8")
    policy = folder / "policy.toml"
    policy.write_text('[aliases.kind]\nbrickset = "handheld"\n', "utf-8")
    assert called("check", folder / "inventory.csv").exit_code == 1
    result = called("check", folder / "inventory.csv", "--policy", policy)
    assert (result.exit_code, result.stdout) == (0, "inventory.csv: 2 rows, all good\n")
    policy.write_text("[aliases.kind]\nbrickset = 'nothing'\n", "utf-8")
    assert called("check", folder / "inventory.csv", "--policy", policy).exit_code == 2


def test_check_as_json_is_exactly_the_problems(folder):
    (folder / "inventory.csv").write_text(BAD, "utf-8")
    result = called("check", folder / "inventory.csv", "--json")
    assert result.exit_code == 1
    document = json.loads(result.stdout)
    assert list(document) == ["problems"]
    assert [list(problem) for problem in document["problems"]] == [PROBLEM_KEYS]
    problem = document["problems"][0]
    assert (problem["file"], problem["line"]) == ("inventory.csv", 2)
    assert (problem["column"], problem["value"]) == ("quantity", "two")


def test_check_as_json_of_a_good_file_is_an_empty_list(folder):
    result = called("check", folder / "inventory.csv", "--json")
    assert (result.exit_code, json.loads(result.stdout)) == (0, {"problems": []})


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("gone.csv", None),
        ("picture.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"),
        ("recipe.csv", b"flour,sugar\n1,2\n"),
        ("empty.csv", b""),
    ],
)
@pytest.mark.parametrize("form", [[], ["--json"]])
def test_check_of_what_cannot_be_read_exits_2_and_says_why(tmp_path, name, content, form):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    result = called("check", tmp_path / name, *form)
    assert result.exit_code == 2
    assert name in result.stdout
    assert "Traceback" not in result.output


def test_check_of_a_folder_tells_what_does_not_fit_between_its_files(folder, tmp_path):
    result = called("check", folder)
    assert (result.exit_code, result.stdout) == (0, "inventory.csv: 2 rows, all good\n")
    (folder / "kits.csv").write_text("member,kit,hours\nQ1ABC,no bag,12\n", "utf-8")
    result = called("check", folder)
    assert result.exit_code == 1
    assert re.match(
        r'kits\.csv line 2, kit: "no bag" is not a kit in an inventory of Q1ABC\. Write .+\n$', result.stdout
    )
    document = json.loads(called("check", folder, "--json").stdout)
    assert [problem["value"] for problem in document["problems"]] == ["no bag"]
    assert called("check", folder / "inventory.csv", folder / "kits.csv").exit_code == 0, "each by itself"
    (tmp_path / "nothing").mkdir()
    assert called("check", tmp_path / "nothing").exit_code == 2


def test_the_worst_file_decides_the_exit(folder):
    (folder / "kits.csv").write_text("member,kit,hours\nQ1ABC,go bag,many\n", "utf-8")
    assert called("check", folder / "inventory.csv", folder / "kits.csv").exit_code == 1
    assert called("check", folder / "kits.csv", folder / "gone.csv", folder / "inventory.csv").exit_code == 2


def test_a_club_that_is_too_large_ends_in_a_sentence_and_exits_2(club, monkeypatch, capfd):
    monkeypatch.setattr(data_club, "MEMORY", "30MB")
    monkeypatch.setattr(sys, "argv", ["kitmuster", "score", str(club), "--today", TODAY])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    said = capfd.readouterr()
    assert said.err.splitlines()[-1] == data_club.TOO_LARGE
    assert "Traceback" not in said.err
    assert said.out == ""


# --- score ---


def test_score_as_json_has_every_score_and_every_gap(club):
    result = called("score", club, "--json", "--today", TODAY)
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert list(document) == ["scores", "findings"]
    assert {tuple(score) for score in document["scores"]} == {
        ("subject_kind", "subject", "verdict", "low", "high")
    }
    assert {tuple(finding) for finding in document["findings"]} == {
        (
            "rule", "family", "severity", "subject_kind", "subject", "status", "evidence", "sentence", "fix",
            "source", "file", "lines",
        )
    }  # fmt: skip
    assert {finding["status"] for finding in document["findings"]} == {"not met", "not known"}
    assert {finding["family"] for finding in document["findings"]} <= set(FAMILIES)
    kinds = {score["subject_kind"] for score in document["scores"]}
    assert kinds >= {"item", "kit", "member", "post", "event", "club"}


def test_the_subject_of_a_kit_is_member_slash_kit(folder):
    document = json.loads(called("score", folder, "--json", "--today", TODAY).stdout)
    assert "Q1ABC/go bag" in [s["subject"] for s in document["scores"] if s["subject_kind"] == "kit"]


def test_scores_are_ranges_from_0_to_100(club):
    for row in json.loads(called("score", club, "--json", "--today", TODAY).stdout)["scores"]:
        if row["low"] is not None:
            assert 0 <= row["low"] <= row["high"] <= 100, row


def test_score_with_all_lists_what_is_met_too(folder):
    def statuses(*more):
        found = json.loads(called("score", folder, "--json", "--today", TODAY, *more).stdout)["findings"]
        return {finding["status"] for finding in found}

    assert "met" not in statuses()
    assert "met" in statuses("--all")


def test_score_of_one_member_leaves_out_the_others(folder):
    (folder / "inventory.csv").write_text(GOOD + "Q2DEF,box,walkie,handheld\n", "utf-8")
    document = json.loads(called("score", folder, "--json", "--today", TODAY, "--member", "q2def").stdout)
    assert {score["subject"].split("/")[0] for score in document["scores"]} == {"Q2DEF"}
    assert document["findings"]
    assert not any("Q1ABC" in finding["subject"] for finding in document["findings"])


def test_score_of_an_unknown_member_exits_2(folder):
    result = called("score", folder, "--member", "Q9ZZZ")
    assert result.exit_code == 2
    assert "Q9ZZZ" in result.stderr
    assert result.stdout == ""


def test_score_for_people_with_all_lists_what_is_met_too(club):
    told = called("score", club, "--all", "--today", TODAY)
    assert told.exit_code == 0, told.output
    assert "\nmet: " in told.stdout


def test_score_for_people_opens_with_the_headline_and_says_what_is_wrong_most_often(club):
    result = called("score", club, "--today", TODAY)
    assert result.exit_code == 0
    assert re.match(HEADLINE, result.stdout.splitlines()[0])
    for title in (
        "How ready is the club?",
        "Posts that are not ready, and why",
        "What is wrong most often",
        "By member",
    ):
        assert title in result.stdout
    rows = result.stdout.partition("How ready is the club?\n")[2].splitlines()[1:]
    assert [row.partition("\t")[0] for row in rows[:5]] == ["event", "post", "member", "kit", ""]


def test_the_headline_counts_what_the_scores_say(club):
    scores = json.loads(called("score", club, "--json", "--today", TODAY).stdout)["scores"]
    posts = [score["verdict"] for score in scores if score["subject_kind"] == "post"]
    limited = posts.count("ready with limits")
    assert 0 < limited < len(posts)
    headline = called("score", club, "--today", TODAY).stdout.splitlines()[0]
    ready = posts.count("ready") + limited
    assert headline.startswith(f"{ready} of {len(posts)} posts are ready, {limited} of them with limits; ")


@pytest.mark.parametrize(
    ("verdicts", "said"),
    [
        (["ready with limits"], "1 of 1 kit is ready, with limits"),
        (["ready", "not known"], "1 of 2 kits is ready"),
        (["ready", "ready with limits", "not ready"], "2 of 3 kits are ready, 1 of them with limits"),
        (["not ready"], "0 of 1 kit is ready"),
    ],
)
def test_the_headline_counts_one_as_one(verdicts, said):
    assert score_commands._headline("kit", Counter(verdicts)) == said


def test_every_post_that_is_not_ready_says_why(club):
    lines = called("score", club, "--today", TODAY).stdout.splitlines()
    rows = [line.split("\t") for line in lines if re.search(r"/.*\t(not ready|not known)\t", line)]
    assert rows
    assert [row for row in rows if not row[3]] == []


def test_score_of_a_file_with_problems_prints_them_and_exits_1(folder):
    (folder / "inventory.csv").write_text(BAD, "utf-8")
    told = called("score", folder)
    assert told.exit_code == 1
    assert 'inventory.csv line 2, quantity: "two"' in told.stdout
    document = json.loads(called("score", folder, "--json").stdout)
    assert list(document) == ["problems"]
    assert list(document["problems"][0]) == PROBLEM_KEYS


def test_score_of_files_that_do_not_agree_exits_1(folder):
    (folder / "assignments.csv").write_text("event,post,member,kit\nRide,Ford,Q1ABC,go bag\n", "utf-8")
    result = called("score", folder)
    assert result.exit_code == 1
    assert 'assignments.csv line 2, event: "Ride"' in result.stdout


@pytest.mark.parametrize("make", ["nothing", "empty folder", "no inventory"])
def test_score_of_a_folder_that_cannot_be_read_exits_2(tmp_path, make):
    target = tmp_path / "club"
    if make != "nothing":
        target.mkdir()
    if make == "no inventory":
        (target / "kits.csv").write_text("member,kit\nQ1ABC,go bag\n", "utf-8")
    result = called("score", target, "--json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert str(target) in result.stderr


def test_a_policy_changes_the_scores(folder):
    def club_score(*more):
        document = json.loads(called("score", folder, "--json", "--today", TODAY, *more).stdout)
        return next((s["low"], s["high"]) for s in document["scores"] if s["subject_kind"] == "club")

    policy = folder / "policy.toml"
    policy.write_text("[weight]\nadvice = 50\n", "utf-8")
    assert club_score() != club_score("--policy", policy)


def test_a_rule_of_the_club_is_judged_and_a_broken_one_exits_2(folder):
    (folder / "policy.toml").write_text('own_rules = "ours"\n', "utf-8")
    own = folder / "ours" / "packing" / "no_thermos.sql"
    own.parent.mkdir(parents=True)
    header = '/*\ntitle="No thermos"\nsubject="kit"\nseverity="advice"\nwhy="w"\nnot_met="{subject}: bare."\n'
    select = "select kit_id as subject, lines, false as ok from kit"
    own.write_text(header + 'fix="Bring one."\nsource="common practice"\n*/\n' + select, "utf-8")
    result = called("score", folder, "--json", "--policy", folder / "policy.toml")
    assert "Q1ABC/go bag: bare." in [finding["sentence"] for finding in json.loads(result.stdout)["findings"]]
    own.write_text("select 1", "utf-8")
    result = called("score", folder, "--policy", folder / "policy.toml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no_thermos" in result.stderr


@pytest.mark.parametrize(
    "text",
    [
        "[weight",
        "[prices]\nx = 1\n",
        '[weight]\nblocks = "much"\n',
        "[rules.no_such_rule]\nmost = 1\n",
        None,
    ],
)
def test_a_policy_that_cannot_be_used_exits_2(folder, text):
    policy = folder / "policy.toml"
    if text:
        policy.write_text(text, "utf-8")
    result = called("score", folder, "--policy", policy)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "policy" in result.stderr
    assert "Traceback" not in result.stderr


def test_each_problem_of_a_policy_stands_on_a_line_of_its_own(folder):
    policy = folder / "policy.toml"
    policy.write_text("[weight]\nblocs = 1\nadvise = 1\n", "utf-8")
    said = called("score", folder, "--policy", policy).stderr.splitlines()
    assert [line.rpartition(" ")[2] for line in said] == ["blocks?", "advice?"]


def test_a_day_that_is_none_exits_2(folder):
    result = called("score", folder, "--today", "2027-02-30")
    assert result.exit_code == 2
    assert "2027-02-30" in result.stderr


def test_the_day_moves_the_ages(club):
    early, late = (called("score", club, "--json", "--today", day).stdout for day in (TODAY, "2029-03-01"))
    assert json.loads(early)["findings"] != json.loads(late)["findings"]


# --- rules ---


def test_rules_lists_every_rule_under_the_question_of_its_family():
    result = called("rules")
    assert result.exit_code == 0
    for rule in load_rules():
        assert rule.name in result.stdout
        assert f"{rule.family}: {FAMILIES[rule.family]}" in result.stdout


def test_one_rule_is_shown_whole():
    rule = next(rule for rule in load_rules() if rule.param)
    result = called("rules", rule.name)
    assert result.exit_code == 0
    for part in (rule.title, rule.why, rule.not_met, rule.fix, rule.source, *rule.sql.splitlines()):
        assert part in result.stdout
    for name, param in rule.param.items():
        assert f"${name} = {param.value}" in result.stdout
        assert f"{param.why} ({param.source})" in result.stdout


def test_a_figure_of_another_rule_is_shown_with_where_it_is_set():
    rule = next(rule for rule in load_rules() if rule.shared)
    shown = called("rules", rule.name).stdout
    for name, of in rule.shared.items():
        param = next(one for one in load_rules() if one.name == of).param[name]
        assert f"${name} = {param.value}" in shown
        assert f", set at {of}: {param.why} ({param.source})" in shown


def test_a_day_that_is_not_set_is_said_to_be_none():
    assert "$plan_from = none set: the day on which" in called("rules", "channels_not_loaded").stdout


def test_a_rule_can_be_named_by_its_file():
    rule = load_rules()[0]
    assert called("rules", f"rules/{rule.family}/{rule.name}.sql").stdout == called("rules", rule.name).stdout


def test_a_name_that_is_nearly_right_gets_a_suggestion():
    name = load_rules()[0].name
    result = called("rules", name[:-2])
    assert result.exit_code == 2
    assert f"Did you mean {name}" in result.stderr
    assert "lists them" in called("rules", "zzzzzz").stderr


def test_rules_as_json():
    listed = json.loads(called("rules", "--json").stdout)["rules"]
    assert [rule["name"] for rule in listed] == [rule.name for rule in load_rules()]
    assert json.loads(called("rules", listed[0]["name"], "--json").stdout) == listed[0]


# --- how it speaks ---


def test_version_is_the_installed_one():
    from importlib.metadata import version

    assert called("--version").stdout == f"kitmuster {version('kitmuster')}\n"


def test_a_pipe_gets_neither_colour_nor_wrapped_or_padded_lines(club):
    result = subprocess.run(
        [*KITMUSTER, "score", str(club), "--today", TODAY],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "COLUMNS": "40", "TERM": "xterm-256color"},
    )
    assert "\x1b" not in result.stdout + result.stderr
    assert result.stderr == ""
    assert max(map(len, result.stdout.splitlines())) > 80
    assert [line for line in result.stdout.splitlines() if line != line.rstrip()] == []


def test_what_a_member_wrote_cannot_steer_the_terminal(folder, capsys):
    say.line("\x1b[2Jgo bag \x07")
    say.table("t", ["kit"], [["\x1b]0;x\x07[bold]go[/bold]"]])
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\x07" not in out
    assert "[bold]go[/bold]" in out


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (float("nan"), None),
        (float("inf"), None),
        (pd.NaT, None),
        (pd.NA, None),
        (None, None),
        (np.float64(1.5), 1.5),
        (np.int64(2), 2),
        (np.bool_(True), True),
        (np.array([1.0, np.nan]), [1.0, None]),
        (pd.Timestamp("2027-04-25T05:15"), "2027-04-25T05:15:00"),
        (date(2027, 4, 25), "2027-04-25"),
        (datetime(2027, 4, 25, 5, 15), "2027-04-25T05:15:00"),
        ({"a": (1, "é")}, {"a": [1, "é"]}),
    ],
)
def test_json_is_valid_and_dates_are_iso(value, expected, capsys):
    say.as_json({"value": value})

    def refuse(word):
        raise AssertionError(word)

    assert json.loads(capsys.readouterr().out, parse_constant=refuse) == {"value": expected}


# --- demo and serve ---


def test_demo_without_serving_prints_the_review_and_keeps_the_files_asked_for(tmp_path):
    result = called("demo", "--no-serve", "--folder", tmp_path / "club")
    assert result.exit_code == 0, result.output
    assert re.search(HEADLINE, result.stdout, re.MULTILINE)
    assert called("check", *(tmp_path / "club").glob("*.csv")).exit_code == 0


def test_demo_does_not_write_over_what_is_there(folder):
    result = called("demo", "--no-serve", "--folder", folder)
    assert result.exit_code == 2
    assert (folder / "inventory.csv").read_text("utf-8") == GOOD


def free_port() -> int:
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        return listener.getsockname()[1]


def test_demo_serves_its_dashboard_and_leaves_nothing_behind(tmp_path):
    port = free_port()
    with subprocess.Popen(
        [*KITMUSTER, "demo", "--no-browser", "--port", str(port)],
        cwd=TOP,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "TMPDIR": str(tmp_path)},
    ) as server:
        address = next(line for line in server.stdout if "http://" in line)
        assert f"http://127.0.0.1:{port}/" in address
        health = wait_for(f"http://127.0.0.1:{port}/healthz", server)
        environ = Path(f"/proc/{server.pid}/environ")
        if sys.platform == "linux":
            assert f"GLIBC_TUNABLES={allocator.C_LIBRARY}".encode() in environ.read_bytes().split(b"\0")
        assert list(tmp_path.iterdir())
        server.send_signal(signal.SIGTERM)
        server.communicate(timeout=30)
    assert health["store"] == "ok"
    assert health["store_version"] > 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="started anew on Linux alone")
@pytest.mark.parametrize("told", [None, "glibc.malloc.arena_max=4"])
def test_a_program_started_anew_is_the_same_program_and_keeps_what_it_was_told(told):
    program = (
        "import os, sys; print(os.getpid(), os.environ.get('GLIBC_TUNABLES'), *sys.argv[1:], flush=True); "
    )
    ran = subprocess.Popen(
        [sys.executable, "-c", f"{program} from data.allocator import *; restart_with_more_at_hand()", "a b"],
        cwd=TOP,
        stdout=subprocess.PIPE,
        text=True,
        env={name: value for name, value in {**os.environ, "GLIBC_TUNABLES": told}.items() if value},
    )
    said = ran.communicate(timeout=30)[0].splitlines()
    expected = [told] if told else ["None", allocator.C_LIBRARY]
    assert said == [f"{ran.pid} {value} a b" for value in expected]


def wait_for(address: str, server: subprocess.Popen) -> dict:
    """The JSON at an address of a server that is starting."""
    for _ in range(600):
        try:
            with urllib.request.urlopen(address, timeout=30) as answer:
                return json.load(answer)
        except OSError:
            try:
                server.wait(0.1)
            except subprocess.TimeoutExpired:
                continue
            break
    raise AssertionError(f"the server did not start: {server.communicate()[1]}")


def test_serve_refuses_a_port_in_use_and_an_address_others_can_reach(tmp_path):
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        port = listener.getsockname()[1]
        result = called("serve", "--db", tmp_path / "club.duckdb", "--port", port)
    assert result.exit_code == 2
    assert f"port {port}" in result.stderr
    result = called("serve", "--db", tmp_path / "club.duckdb", "--host", "0.0.0.0")
    assert result.exit_code == 2
    assert "0.0.0.0" in result.stderr


def test_serve_refuses_a_file_that_is_no_database(tmp_path):
    (tmp_path / "club.duckdb").write_text("not a database, but long enough to be read as one\n" * 200)
    result = called("serve", "--db", tmp_path / "club.duckdb")
    assert result.exit_code == 2
    assert "club.duckdb" in result.stderr


# --- the documents ---


def test_every_command_of_the_readme_exists_with_its_options():
    text = (TOP / "README.md").read_text("utf-8")
    known = get_command(app).commands
    shown = re.findall(r"kitmuster ((?:[a-z]+)[^`\n|]*)", text)
    assert shown
    for words in (shlex.split(line) for line in shown):
        asked = known[words[0]]
        if hasattr(asked, "commands") and len(words) > 1:
            asked = asked.commands[words[1]]
        options = {name for parameter in asked.params for name in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= options
    assert {words.split()[0] for words in shown} == set(known)


def test_the_list_in_the_readme_passes_the_check(tmp_path):
    text = (TOP / "README.md").read_text("utf-8")
    (tmp_path / "inventory.csv").write_text(re.search(r"```csv\n(.*?)```", text, re.DOTALL)[1], "utf-8")
    result = called("check", tmp_path / "inventory.csv")
    assert result.exit_code == 0, result.output


def test_the_problems_in_the_readme_are_those_that_the_check_tells(tmp_path):
    text = (TOP / "README.md").read_text("utf-8")
    (tmp_path / "inventory.csv").write_text(
        "member,kit,item,kind,quantity,capacity_ah,charged\n"
        "Q1ABC,go bag,the walkie,handheld,1,,\n"
        "Q1ABC,go bag,spare pack,handheld_pack,two,1800,\n"
        "Q1ABC,car box,20 Ah battery,battery_lifepo4,1,20,3/4/2026\n",
        "utf-8",
    )
    result = called("check", tmp_path / "inventory.csv")
    assert result.exit_code == 1
    assert result.stderr + result.stdout == re.search(r"```text\n(.*?)```", text, re.DOTALL)[1]


def test_the_demos_review_as_json_is_that_of_a_score(tmp_path):
    shown = called("demo", "--json", "--folder", tmp_path / "club")
    assert shown.exit_code == 0, shown.output
    scored = called("score", tmp_path / "club", "--json")
    assert json.loads(shown.stdout)["scores"] == json.loads(scored.stdout)["scores"]


def test_what_is_written_is_told_as_json(folder):
    sheets = called("sheets", folder, folder / "out", "--only", "season", "--json")
    written = sorted(str(path.relative_to(folder / "out")) for path in (folder / "out").rglob("*.pdf"))
    assert json.loads(sheets.stdout)["written"] == written != []
    days = called("calendar", folder, folder / "days.ics", "--json")
    assert json.loads(days.stdout)["entries"] == (folder / "days.ics").read_bytes().count(b"BEGIN:VEVENT") > 0
