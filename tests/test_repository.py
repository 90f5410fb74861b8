"""What holds for the repository as a whole: its tree, its lock, its documents, its checks."""

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from rules import facts
from rules.policy import Policy
from rules.rule import read_rule, sentence

from .tools import insert, program

TOP = Path(__file__).parent.parent
TREE = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "uv.lock",
    "data",
    "rules",
    "dashboard",
    "tests",
}
HOSTS = {"pypi.org", "files.pythonhosted.org"}
MACHINE_PATH = re.compile(r"(?<![\w.:/-])[/](?:home|root|Users|work|farm|tmp|mnt)[/][\w.]")
TEST_COMMAND = "pip install uv && uv run pytest"
DEMO_COMMAND = "pip install uv && uv run kitmuster demo"
ANSWER = {True: "met", False: "not met", None: "not known"}
DOCUMENTS = ["README.md", "DEVELOPERS.md"]


def tracked() -> list[str]:
    """The files that git holds."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=TOP, capture_output=True, text=True, check=True)
    return [name for name in listed.stdout.split("\0") if name and (TOP / name).exists()]


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", *arguments], cwd=TOP, capture_output=True, text=True, check=False
    )


def test_the_top_of_the_tree_is_the_fixed_one():
    names = {name.split("/")[0] for name in tracked()}
    assert {name for name in names if not name.startswith(".")} == TREE


def test_the_lock_names_only_the_public_index():
    hosts = set(re.findall(r"https?://([^/\"\s]+)", (TOP / "uv.lock").read_text("utf-8")))
    assert hosts == HOSTS


def test_every_file_of_the_lock_has_a_digest_and_every_package_a_wheel():
    lock = tomllib.loads((TOP / "uv.lock").read_text("utf-8"))["package"]
    packages = [package for package in lock if "registry" in package["source"]]
    files = [
        file
        for package in packages
        for file in [*package["wheels"], *([package["sdist"]] if "sdist" in package else [])]
    ]
    assert len(packages) == len(lock) - 1
    assert [file["url"] for file in files if not re.fullmatch(r"sha256:[0-9a-f]{64}", file["hash"])] == []


def test_the_lock_is_the_one_that_pyproject_asks_for():
    uv = os.environ.get("UV") or program("pipx, then: pipx install uv", "uv")
    checked = subprocess.run(
        [uv, "lock", "--check", "--offline"], cwd=TOP, capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stderr


def machine_paths(text: str) -> list[str]:
    return [line for line in text.splitlines() if MACHINE_PATH.search(line)]


def test_no_file_names_a_path_of_one_machine():
    found = {}
    for name in tracked():
        try:
            text = (TOP / name).read_text("utf-8")
        except UnicodeDecodeError:
            continue
        if lines := machine_paths(text):
            found[name] = lines
    assert found == {}


def test_a_machine_path_is_found_and_an_address_is_not():
    assert machine_paths("x = open('" + "/".join(["", "home", "ann", "kit.csv"]) + "')")
    assert machine_paths("see https://example.org/" + "work/kits.html or data/home/x") == []


def test_ruff_finds_nothing():
    checked = run("ruff", "check", ".")
    assert checked.returncode == 0, checked.stdout


def test_ruff_would_format_nothing():
    checked = run("ruff", "format", "--check", ".")
    assert checked.returncode == 0, checked.stdout


def test_mypy_finds_nothing():
    checked = run("mypy")
    assert checked.returncode == 0, checked.stdout


# --- documents ---


def commands(document: str) -> list[str]:
    """The lines of a document's shell blocks."""
    blocks = re.findall(r"^```sh\n(.*?)^```", (TOP / document).read_text("utf-8"), re.DOTALL | re.MULTILINE)
    return [line for block in blocks for line in block.splitlines()]


def test_readme_opens_with_one_paragraph_and_two_commands():
    text = (TOP / "README.md").read_text("utf-8")
    title, job, rest = text.split("\n\n", 2)
    assert title.startswith("# ")
    assert "\n" not in job
    assert commands("README.md")[:2] == [DEMO_COMMAND, TEST_COMMAND]
    assert rest.index(TEST_COMMAND) < rest.index("\n## ")


def test_developers_shows_the_command_that_checks_everything():
    assert TEST_COMMAND in commands("DEVELOPERS.md")


def texts_asked(sources: dict[str, str]) -> list[str]:
    """Where a module asks whether something is in a constant that is one text: every part of the text would be."""
    trees = {name: ast.parse(source) for name, source in sources.items()}
    texts = {
        (module, target.id)
        for module, tree in trees.items()
        for node in tree.body
        if isinstance(node, ast.Assign)
        and (isinstance(node.value, ast.JoinedStr) or isinstance(getattr(node.value, "value", None), str))
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    found = []
    for module, tree in trees.items():
        froms = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
        brought = {
            name.asname or name.name: (node.module, name.name) for node in froms for name in node.names
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
                asked = node.comparators[0]
                if isinstance(asked, ast.Name) and brought.get(asked.id, (module, asked.id)) in texts:
                    found.append(f"{module}, line {node.lineno}: {ast.unparse(node)}")
    return found


def bare_masks(source: str) -> list[str]:
    """Where rows are picked by a list of yes and no as such: of an empty frame it picks no columns, of `.loc` no rows."""
    tree = ast.parse(source)
    answers = (ast.Compare, ast.BoolOp, ast.UnaryOp, ast.Call)
    masks = [
        node for node in ast.walk(tree) if isinstance(node, ast.ListComp) and isinstance(node.elt, answers)
    ]
    named = {
        target.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and node.value in masks
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    return [
        ast.unparse(node)
        for node in ast.walk(tree)
        if isinstance(node, ast.Subscript)
        and (node.slice in masks or getattr(node.slice, "id", "") in named)
        and getattr(node.value, "attr", "") not in ("loc", "iloc")
    ]


def test_no_rows_are_picked_by_a_bare_list_of_yes_and_no():
    code = [name for name in tracked() if name.endswith(".py") and not name.startswith("tests/")]
    assert {name: found for name in code if (found := bare_masks((TOP / name).read_text("utf-8")))} == {}
    source = "a[[b in c for b in a.d]], a.loc[[b in c for b in a.d]]\nkept = [not b for b in a]\na[kept]"
    assert sorted(bare_masks(source)) == ["a[[b in c for b in a.d]]", "a[kept]"]


def test_nothing_is_looked_for_in_a_text_as_if_it_were_a_list():
    named = [name for name in tracked() if name.endswith(".py")]
    sources = {name[:-3].replace("/", "."): (TOP / name).read_text("utf-8") for name in named}
    assert texts_asked(sources) == []


def test_a_text_that_is_asked_as_if_it_were_a_list_is_found():
    there = {"rules.way": 'WAYS = f"access in {1}"\nLIST = ("walk",)\ndef f(a): return a in LIST'}
    asks = "from rules.way import LIST, WAYS\ndef f(a):\n    return a in WAYS, a in LIST"
    assert texts_asked(there | {"dashboard.paper": asks}) == ["dashboard.paper, line 3: a in WAYS"]
    assert texts_asked({"one": 'A = "text"\nB = "a" not in A'}) == ["one, line 2: 'a' not in A"]


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_path_in_a_document_is_there(document):
    text = (TOP / document).read_text("utf-8")
    links = re.findall(r"\]\((?!https?:|#)([^)#]+)", text)
    quoted = re.findall(r"`((?:data|rules|dashboard|tests|\.ci)/[\w./-]*[\w/])`", text)
    assert quoted
    assert [path for path in links + quoted if not (TOP / path).exists()] == []


def anchors(document: str) -> set[str]:
    """What a link to a heading of a document ends in."""
    headings = re.findall(r"^#+ (.+)$", (TOP / document).read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_heading_that_a_document_links_to_is_there(document):
    links = re.findall(r"\]\(([\w./]*)#([^)]+)\)", (TOP / document).read_text("utf-8"))
    assert links
    assert [link for link in links if link[1] not in anchors(link[0] or document)] == []


def test_readme_lists_the_pages_of_the_dashboard():
    listed = re.findall(r"^\| \*(.+?)\* \|", (TOP / "README.md").read_text("utf-8"), re.MULTILINE)
    app = (TOP / "dashboard" / "app.py").read_text("utf-8")
    assert listed == re.findall(r'[pP]age\("[^"]+", (?:title=)?"([^"]+)"', app)


def test_the_rule_that_developers_shows_passes_the_cases_that_it_shows(tmp_path):
    text = (TOP / "DEVELOPERS.md").read_text("utf-8").replace("\n   ", "\n")
    sql, toml = (re.search(rf"```{form}\n(.*?)```", text, re.DOTALL)[1] for form in ("sql", "toml"))
    file = tmp_path / "carrying" / "heavier_than_one_person_lifts.sql"
    file.parent.mkdir()
    file.write_text(sql, "utf-8")
    rule, policy, today = read_rule(file), Policy.standard(), date(2027, 3, 1)
    shown = tomllib.loads(toml)["case"]
    assert f"`{rule.name}`" in text
    assert {row["ok"] for case in shown for row in case["expect"]} == {"met", "not met", "not known"}
    for case in shown:
        with closing(facts.blank()) as con:
            for table, rows in case["given"].items():
                insert(con, table, *rows)
            judged = con.execute(f"select to_json(r) from ({rule.sql}) as r", rule.values(policy, today))
            found = [json.loads(row) for (row,) in judged.fetchall()]
        answers = [{**row, "ok": ANSWER[row["ok"]]} for row in found]
        assert [{name: row[name] for name in case["expect"][0]} for row in answers] == case["expect"]
        if says := case.get("says"):
            assert says in [sentence(rule, row, policy) for row in found]


# --- .ci/run ---

TOOLS = ("chromium", "systemd-analyze", "nginx", "openssl")
AUDIT_COMMAND = "pip install uv && uv run python .ci/audit"


@pytest.fixture
def fresh_machine(tmp_path):
    """Run .ci/run where every program is a stub that writes down how it was called."""
    bash = next(path for path in ("/bin/bash", "/usr/bin/bash") if Path(path).exists())

    def stub(name: str, does: str = "") -> None:
        path = tmp_path / name
        path.write_text(f'#!{bash}\necho "{name} $*" >>"{tmp_path}/calls"\n{does}\n')
        path.chmod(0o755)

    def start(
        pytest_exits: int = 0, audit_exits: int = 0, tools: tuple[str, ...] = TOOLS
    ) -> tuple[int, str, list[str]]:
        for name in ("apt-get", "pip", *tools):
            stub(name)
        closing = f'echo "= 3 passed in 1.00s ="; exit {pytest_exits}'
        stub("uv", f'case "$*" in *audit) exit {audit_exits};; *) {closing};; esac')
        ran = subprocess.run(
            [bash, str(TOP / ".ci" / "run")],
            env={"PATH": str(tmp_path)},
            capture_output=True,
            text=True,
            check=False,
        )
        return ran.returncode, ran.stdout, (tmp_path / "calls").read_text().splitlines()

    return start


@pytest.mark.parametrize("status", [0, 1, 5])
def test_ci_exits_as_pytest_does_and_ends_with_its_closing_line(fresh_machine, status):
    code, out, calls = fresh_machine(pytest_exits=status)
    assert code == status
    assert out.rstrip().endswith("= 3 passed in 1.00s =")
    assert calls == ["pip install uv", "uv run python .ci/audit", "pip install uv", "uv run pytest"]


def test_ci_fails_where_the_audit_does(fresh_machine):
    code, _, calls = fresh_machine(audit_exits=1)
    assert (code, calls[-1]) == (1, "uv run python .ci/audit")


@pytest.mark.parametrize(
    ("tools", "installed"),
    [((), "chromium systemd nginx-light openssl"), (("chromium", "openssl"), "systemd nginx-light")],
)
def test_ci_installs_the_programs_that_are_missing(fresh_machine, tools, installed):
    _, _, calls = fresh_machine(tools=tools)
    assert calls[0] == "apt-get update"
    assert calls[1] == f"apt-get install --yes --no-install-recommends {installed}"
    assert calls[-1] == "uv run pytest"


def test_ci_runs_the_audit_and_the_test_command_of_the_readme():
    path = TOP / ".ci" / "run"
    assert {AUDIT_COMMAND, TEST_COMMAND} <= set(path.read_text("utf-8").splitlines())
    assert os.access(path, os.X_OK)
