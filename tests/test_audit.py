"""The audit that CI makes of the dependencies: what it says of holes, of files withdrawn, and where nobody answers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
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
            "ranges": [{"type": "ECOSYSTEM", "events": [{"introduced": "0"}]}],
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
    """An advisory service and an index, of one package each."""

    holes: ClassVar[list[dict]] = []
    yanked: object = False

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self._say({"results": [{"vulns": self.holes}]})

    def do_GET(self) -> None:
        if self.path.startswith("/v1"):
            self._say(HOLE)
            return
        file = {"filename": "thing-1.0-py3-none-any.whl", "url": "thing", "hashes": {}, "yanked": self.yanked}
        self._say({"meta": {"api-version": "1.1"}, "name": "thing", "files": [file]})

    def _say(self, what: object) -> None:
        said = json.dumps(what).encode()
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


def audited(folder: Path, index: str, service: str) -> tuple[int, str]:
    """Exit code and words of the audit of a project of one package."""
    (folder / "pyproject.toml").write_text(PROJECT, "utf-8")
    (folder / "uv.lock").write_text(LOCK.format(address=index, hash="0" * 64), "utf-8")
    uv = os.environ.get("UV") or program("pipx, then: pipx install uv", "uv")
    ran = subprocess.run(
        [sys.executable, str(AUDIT), "--no-config", "--no-cache", "--service-url", service],
        cwd=folder,
        env={**os.environ, "UV": uv, "UV_HTTP_RETRIES": "0", "NO_PROXY": "127.0.0.1"},
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


def test_a_known_hole_fails(tmp_path, address, monkeypatch):
    monkeypatch.setattr(Service, "holes", [{"id": HOLE["id"], "modified": HOLE["modified"]}])
    code, said = audited(tmp_path, address, address)
    assert (code, "holes are known" in said, HOLE["id"] in said) == (1, True, True)


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
