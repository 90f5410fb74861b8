"""The audit that CI makes of the dependencies: what it says of holes, of files withdrawn, and where nobody answers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import tomllib
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import ClassVar

import pytest

from .test_deploy import free_port
from .tools import program

AUDIT = Path(__file__).parent.parent / ".ci" / "audit"
HOLE = {
    "id": "GHSA-0000-0000-0000",
    "modified": "2026-01-01T00:00:00Z",
    "affected": [
        {
            "package": {"ecosystem": "PyPI", "name": "thing"},
            "ranges": [{"type": "ECOSYSTEM", "events": [{"introduced": "0"}, {"fixed": "1.1"}]}],
        }
    ],
}
PROJECT = '[project]\nname = "club"\nversion = "1"\nrequires-python = ">=3.11"\ndependencies = ["thing"]\n'
LOCK = """
version = 1
revision = 3
requires-python = ">=3.11"

[[package]]
name = "club"
version = "1"
source = {{ virtual = "." }}
dependencies = [{{ name = "thing" }}]

[package.metadata]
requires-dist = [{{ name = "thing" }}]

[[package]]
name = "thing"
version = "1.0"
source = {{ registry = "{address}/simple" }}
wheels = [{{ url = "{address}/thing-1.0-py3-none-any.whl", hash = "sha256:{hash}" }}]
"""


class Service(BaseHTTPRequestHandler):
    """An advisory service, of the form that OSV publishes (https://google.github.io/osv.dev/api/), and an index.

    A hole is known in the version of the lock while `is_known`; a second page of each answer is asked for while
    `is_paged`.
    """

    is_known = False
    is_paged = False
    yanked: object = False
    broken: bytes | None = None
    asked: ClassVar[list[tuple[str, str]]] = []

    def do_POST(self) -> None:
        queries = json.loads(self.rfile.read(int(self.headers["Content-Length"])))["queries"]
        if self.broken is not None:
            self._say(self.broken)
        elif self.path == "/v1/querybatch" and all(q["package"]["ecosystem"] == "PyPI" for q in queries):
            self.asked.extend((query["package"]["name"], query["version"]) for query in queries)
            self._say({"results": [self._known(query) for query in queries]})
        else:
            self.send_error(404)

    def _known(self, query: dict) -> dict:
        """What is known of one version; {} where nothing is."""
        holes = (
            [{"id": HOLE["id"], "modified": HOLE["modified"]}]
            if self.is_known and query["version"] == "1.0"
            else []
        )
        if self.is_paged and "page_token" not in query:
            return {"next_page_token": "second"}
        return {"vulns": holes} if holes else {}

    def do_GET(self) -> None:
        if self.path == f"/v1/vulns/{HOLE['id']}":
            self._say(HOLE)
        elif self.path.startswith("/simple/"):
            file = {
                "filename": "thing-1.0-py3-none-any.whl",
                "url": "thing",
                "hashes": {},
                "yanked": self.yanked,
            }
            self._say({"meta": {"api-version": "1.1"}, "name": "thing", "files": [file]})
        else:
            self.send_error(404)

    def _say(self, what: object) -> None:
        said = what if isinstance(what, bytes) else json.dumps(what).encode()
        self.send_response(200)
        kind = "application/json" if self.path.startswith("/v1") else "application/vnd.pypi.simple.v1+json"
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(said)))
        self.end_headers()
        self.wfile.write(said)

    def log_message(self, *said: object) -> None:
        """Nothing is written down."""


@pytest.fixture
def address():
    with ThreadingHTTPServer(("127.0.0.1", 0), Service) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def audited(
    folder: Path, index: str, service: str, lock: str = "", project: str = PROJECT, **told: str
) -> tuple[int, str]:
    """Exit code and words of the audit of a project, of one package unless told otherwise."""
    (folder / "pyproject.toml").write_text(project, "utf-8")
    (folder / "uv.lock").write_text(lock or LOCK.format(address=index, hash="0" * 64), "utf-8")
    uv = os.environ.get("UV") or program("pipx, then: pipx install uv", "uv")
    ran = subprocess.run(
        [sys.executable, str(AUDIT), "--no-config", "--no-cache", "--service-url", service],
        cwd=folder,
        env={**os.environ, "UV": uv, "UV_HTTP_RETRIES": "0", "NO_PROXY": "127.0.0.1", **told},
        capture_output=True,
        text=True,
        check=False,
    )
    return ran.returncode, ran.stdout + ran.stderr


def test_an_audit_that_finds_nothing_says_so(tmp_path, address):
    code, said = audited(tmp_path, address, address)
    assert code == 0
    assert "no known holes in the 1 packages" in said
    assert "none of the files of the 1 packages was withdrawn" in said
    assert "NOT AUDITED" not in said


@pytest.mark.parametrize("is_paged", [False, True])
def test_a_known_hole_fails(tmp_path, address, monkeypatch, is_paged):
    monkeypatch.setattr(Service, "is_known", True)
    monkeypatch.setattr(Service, "is_paged", is_paged)
    code, said = audited(tmp_path, address, address)
    assert (code, "holes are known" in said, HOLE["id"] in said) == (1, True, True)


def test_every_package_of_our_lock_is_asked_for_in_the_version_that_it_names(tmp_path, address, monkeypatch):
    monkeypatch.setattr(Service, "asked", [])
    lock = (AUDIT.parent.parent / "uv.lock").read_text("utf-8").replace("https://pypi.org", address)
    project = (AUDIT.parent.parent / "pyproject.toml").read_text("utf-8")
    code, said = audited(tmp_path, address, address, lock, project)
    locked = [
        (one["name"], one["version"]) for one in tomllib.loads(lock)["package"] if "registry" in one["source"]
    ]
    assert set(Service.asked) == set(locked)
    assert (code, f"no known holes in the {len(locked)} packages" in said) == (0, True)


@pytest.mark.parametrize("why", ["it deletes files", True])
def test_a_file_that_was_withdrawn_fails(tmp_path, address, monkeypatch, why):
    monkeypatch.setattr(Service, "yanked", why)
    code, said = audited(tmp_path, address, address)
    assert (code, "thing-1.0-py3-none-any.whl was withdrawn" in said) == (1, True)


def test_where_nobody_answers_nothing_counts_as_audited(tmp_path):
    nobody = f"http://127.0.0.1:{free_port()}"
    code, said = audited(tmp_path, nobody, nobody)
    assert code == 0
    assert "NOT AUDITED: no advisory service answered" in said
    assert "NOT AUDITED: the package index did not say" in said
    assert "no known holes" not in said
    assert audited(tmp_path, nobody, nobody, AUDIT="required")[0] == 1


@pytest.mark.parametrize("broken", [b"", b"<html>sign in to this network</html>", b'{"results": '])
def test_an_answer_that_is_none_counts_as_no_audit(tmp_path, address, monkeypatch, broken):
    monkeypatch.setattr(Service, "broken", broken)
    code, said = audited(tmp_path, address, address)
    assert (code, "NOT AUDITED: no advisory service answered" in said, "no known holes" in said) == (
        0,
        True,
        False,
    )
    assert "none of the files" in said
    assert audited(tmp_path, address, address, AUDIT="required")[0] == 1
