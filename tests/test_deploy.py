"""The examples of running it for a club: the service, the container's file, the proxy that speaks TLS."""

from __future__ import annotations

import asyncio
import gzip
import http.client
import os
import re
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.main import get_command
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

from dashboard import operation, serve
from dashboard.command import app as command
from data import upload
from data.people import People
from data.store import Store

from .tools import awaited, leave_out, program

TOP = Path(__file__).parent.parent
DEPLOY = TOP / "dashboard" / "deploy"
NAME = "club.example"
CLUB = f"""
address = "https://{NAME}"
client_id = "kits"
client_secret = "not a secret"
server_metadata_url = "https://id.example.org/.well-known/openid-configuration"
"""
NGINX = """
user root;
pid {folder}/nginx.pid;
error_log {folder}/error.log;
events {{}}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/site.conf;
}}
"""


# --- the service and the container


def test_the_example_of_a_service_is_one(tmp_path):
    verify = program("systemd", "systemd-analyze")
    unit = tmp_path / "kitmuster.service"
    text = (DEPLOY / "kitmuster.service").read_text("utf-8")
    unit.write_text(text.replace("/usr/local/bin/kitmuster", sys.executable), "utf-8")
    checked = subprocess.run([verify, "verify", str(unit)], capture_output=True, text=True, check=False)
    assert (checked.returncode, checked.stderr) == (0, "")


@pytest.mark.parametrize("name", ["kitmuster.service", "Containerfile"])
def test_the_examples_use_options_and_files_that_exist(name):
    text = (DEPLOY / name).read_text("utf-8")
    (line,) = [line for line in text.splitlines() if line.startswith(("ExecStart=", "CMD "))]
    known = {flag for made in get_command(command).commands["serve"].params for flag in made.opts}
    assert set(re.findall(r"--[a-z-]+", line)) <= known
    copied = [
        word for line in re.findall(r"^COPY (?!--from)(.*) \S+$", text, re.MULTILINE) for word in line.split()
    ]
    assert [word for word in copied if not (TOP / word).exists()] == []


# --- the proxy


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return listener.getsockname()[1]


@dataclass(frozen=True)
class Proxy:
    """The example of a proxy in front of a dashboard, both of them started here."""

    port: int
    plain_port: int
    key: str
    trusted: ssl.SSLContext

    def connection(self, source: str = "127.0.0.1") -> http.client.HTTPSConnection:
        """A connection over TLS from an address of this machine."""
        made = http.client.HTTPSConnection(NAME, context=self.trusted)
        made.sock = self.trusted.wrap_socket(self.socket(source), server_hostname=NAME)
        return made

    def socket(self, source: str = "127.0.0.1") -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), source_address=(source, 0))

    def ask(
        self, path: str, method: str = "GET", body: bytes | None = None, **headers: str
    ) -> tuple[http.client.HTTPResponse, bytes]:
        """One answer and its body."""
        made = self.connection()
        made.request(method, path, body, headers)
        answer = made.getresponse()
        held = answer.read()
        made.close()
        return answer, held


def said_instead(text: str, **instead: object) -> str:
    """The example with the places of one machine put in; each of those that it names must be there."""
    for given, there in (
        ("listen 80;", f"listen 127.0.0.1:{instead['plain']};"),
        ("listen 443 ssl;", f"listen 127.0.0.1:{instead['port']} ssl;"),
        ("/etc/ssl/club.example.pem", f"{instead['folder']}/cert.pem"),
        ("/etc/ssl/club.example.key", f"{instead['folder']}/key.pem"),
        ("http://127.0.0.1:8501;", f"http://127.0.0.1:{instead['server']};"),
    ):
        assert given in text
        text = text.replace(given, there)
    return text


@contextmanager
def started(folder: Path, name: str, *arguments: str) -> Iterator[subprocess.Popen]:
    """A program that runs as long as it is needed, with its words in a file of the folder."""
    with (folder / f"{name}.log").open("wb") as log:
        running = subprocess.Popen(
            arguments, cwd=folder, env={**os.environ, "PYTHONPATH": str(TOP)}, stdout=log, stderr=log
        )
    try:
        yield running
    finally:
        running.terminate()
        running.wait(30)


@pytest.fixture(scope="module")
def proxy(tmp_path_factory):
    nginx, openssl = program("nginx-light", "nginx", "/usr/sbin/nginx"), program("openssl", "openssl")
    if sys.platform != "linux":
        leave_out(
            "Only Linux lets a test ask from several addresses of one machine, so the proxy was not tried."
        )
    folder = tmp_path_factory.mktemp("proxy")
    with closing(Store(folder / "club.duckdb")) as store:
        people = People(store)
        key = people.new_token(
            people.add("one@club.example", "one", "coordinator", "", "test"), "a program", "test"
        )
    port, plain, server = free_port(), free_port(), free_port()
    (folder / "club.toml").write_text(CLUB, "utf-8")
    text = (DEPLOY / "tls-proxy.conf").read_text("utf-8")
    (folder / "site.conf").write_text(
        said_instead(text, folder=folder, port=port, plain=plain, server=server), "utf-8"
    )
    (folder / "nginx.conf").write_text(NGINX.format(folder=folder), "utf-8")
    subprocess.run(
        [openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={NAME}",
         "-addext", f"subjectAltName=DNS:{NAME}", "-keyout", "key.pem", "-out", "cert.pem"],
        cwd=folder, check=True, capture_output=True,
    )  # fmt: skip
    trusted = ssl.create_default_context(cafile=str(folder / "cert.pem"))
    begin = "import sys; from dashboard.command import main; main()"
    dashboard = (
        sys.executable,
        "-c",
        begin,
        "serve",
        "--db",
        "club.duckdb",
        "--club",
        "club.toml",
        "--port",
        str(server),
    )
    in_front = (nginx, "-c", str(folder / "nginx.conf"), "-e", str(folder / "error.log"), "-g", "daemon off;")
    with started(folder, "server", *dashboard) as behind, started(folder, "nginx", *in_front):
        there = Proxy(port, plain, key, trusted)
        until = time.monotonic() + 180
        while not is_up(there):
            assert behind.poll() is None, (folder / "server.log").read_text("utf-8")
            assert time.monotonic() < until, (folder / "error.log").read_text("utf-8")
            time.sleep(0.1)
        yield there


def is_up(proxy: Proxy) -> bool:
    try:
        return proxy.ask("/healthz")[0].status == 200
    except OSError:
        return False


def test_a_page_comes_over_tls_with_every_header_that_guards_it(proxy):
    page, body = proxy.ask("/kit?member=Q1AAA")
    assert (page.status, b'<div id="root">' in body) == (200, True)
    assert {name: page.headers[name] for name in serve.HEADERS} == serve.HEADERS
    assert page.headers.get_all("Strict-Transport-Security") == ["max-age=31536000"]
    assert page.headers["Server"] == "nginx"


def test_who_asks_without_tls_is_sent_on(proxy):
    plain = http.client.HTTPConnection("127.0.0.1", proxy.plain_port)
    plain.request("GET", "/kit?a=1", headers={"Host": NAME})
    answer = plain.getresponse()
    assert (answer.status, answer.headers["Location"]) == (301, f"https://{NAME}/kit?a=1")
    plain.close()


@pytest.mark.parametrize(
    "path", ["/control/backup", "/control", "/metrics", "/readyz", "//metrics", "/x/../metrics"]
)
def test_what_is_for_this_machine_is_not_answered(proxy, path):
    assert proxy.ask(path)[0].status == 404


def test_programs_of_the_page_come_compressed(proxy):
    script = re.search(rb'src="\.(/static/js/index[^"]+)"', proxy.ask("/")[1])[1].decode()
    whole, pressed = proxy.ask(script), proxy.ask(script, **{"Accept-Encoding": "gzip"})
    assert pressed[0].headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(pressed[1]) == whole[1]
    assert len(pressed[1]) < len(whole[1]) / 2


def test_the_page_keeps_a_websocket_open_and_another_site_gets_none(proxy):
    async def opened(origin: str) -> str:  # in one thread, as two of one TLS connection disturb each other
        asked = connect(
            f"wss://{NAME}/_stcore/stream", sock=proxy.socket(), ssl=proxy.trusted, server_hostname=NAME,
            origin=origin, proxy=None, subprotocols=["streamlit"], open_timeout=60,
        )  # fmt: skip
        async with asked as stream:
            await asyncio.wait_for(await stream.ping(), 60)
            return "open"

    assert awaited(opened(f"https://{NAME}")) == "open"
    with pytest.raises(InvalidStatus, match="403"):
        awaited(opened("https://elsewhere.example"))


def test_the_largest_file_passes_and_what_is_longer_than_any_is_turned_away(proxy):
    key = {"Authorization": f"Bearer {proxy.key}"}
    read, said = proxy.ask("/api/files", "POST", bytes(upload.UPLOAD.size), **key)
    assert (read.status, b"signs that no text has" in said) == (422, True)
    turned_away, said = proxy.ask("/api/files", "POST", bytes(operation.LONGEST_BODY + 1), **key)
    assert (turned_away.status, b"nginx" in said) == (413, True)


@pytest.mark.parametrize(("path", "key", "status"), [
    ("/api/files", "", 401), ("/api/files", "longer than a file may be", 413), ("/healthz", "", 405),
    ("/_stcore/upload_file/nobody/1", "", 403),
])  # fmt: skip
def test_what_is_refused_before_it_is_read_is_answered_all_the_same(proxy, path, key, status):
    method = "PUT" if "upload" in path else "POST"
    headers = {"Authorization": f"Bearer {proxy.key}"} if key else {}
    found = [
        proxy.ask(path, method, bytes(operation.LONGEST_BODY - 1), **headers)[0].status for _ in range(5)
    ]
    assert found == [status] * 5


def test_too_much_in_a_minute_is_counted_by_the_address_that_asked_whatever_it_says_of_itself(proxy):
    def asked(source: str, times: int, **headers: str) -> list[int]:
        made, found = proxy.connection(source), []
        for _ in range(times):
            made.request("POST", "/healthz", b"", headers)
            answer = made.getresponse()
            answer.read()
            found.append(answer.status)
            if answer.will_close:
                made = proxy.connection(source)
        made.close()
        return found

    assert set(asked("127.0.0.2", operation.WRITES)) == {405}
    assert asked("127.0.0.2", 1, **{"X-Forwarded-For": "203.0.113.9"}) == [429]
    assert asked("127.0.0.3", 1) == [405]
