"""A club that a running dashboard holds, asked over its HTTP API."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import httpx2

from data import upload
from data.club import Told
from rules.engine import Finding

TOKEN = "KITMUSTER_TOKEN"
PATIENCE_S = 60.0


class RemoteError(Exception):
    """The dashboard does not answer, or will not; the message says what to do."""


class Remote:
    """One dashboard.

    Parameters
    ----------
    address : where it stands, for example https://club.example or http://127.0.0.1:8501
    token : a token made on its page of people; the environment variable KITMUSTER_TOKEN unless given

    Raises
    ------
    RemoteError
        There is no token, or it would travel unprotected.
    """

    def __init__(self, address: str, token: str | None = None) -> None:
        self.address = address.rstrip("/")
        given = token if token is not None else os.environ.get(TOKEN, "")
        if not given:
            raise RemoteError(f"No key. Make one on the page “who may do what?”, and put it into {TOKEN}.")
        if not _is_safe(self.address):
            raise RemoteError(
                f"{self.address}: the token would be readable on the way. Write an address that begins with https."
            )
        self._headers = {"Authorization": f"Bearer {given}"}

    def told(self, progress: Callable[[str], None] = lambda name: None) -> Told:
        """Every file that the token may read, as `data.club.read_folder` gives them.

        Raises
        ------
        RemoteError
            As `ask`.
        """
        found = Told()
        for stem, count in self.ask("GET", "/files").json()["files"].items():
            if not count:
                continue
            progress(f"{stem}.csv")
            sent = upload.read(
                f"{stem}.csv", self.ask("GET", f"/files/{stem}").content, stem, limits=upload.FOLDER
            )
            found.problems += sent.problems
            if sent.frame is not None:
                found.frames[stem] = sent.frame
        return found

    def policy(self) -> str:
        """The policy in force as TOML; empty for the standard one."""
        return self.ask("GET", "/policy").text

    def send(self, name: str, content: bytes, try_only: bool) -> dict[str, Any]:
        """Send a CSV file or spreadsheet: what came of each list in it (`files`), or why it was refused (`problems`).

        Raises
        ------
        RemoteError
            As `ask`.
        """
        query = {"name": name, "try_only": try_only}
        answer: dict[str, Any] = self.ask("POST", "/files", params=query, content=content).json()
        return answer

    def findings(self, member: str) -> list[Finding] | None:
        """What is not met or not known of a member, as far as it may be read; None where they are not judged.

        Raises
        ------
        RemoteError
            As `ask`.
        """
        if not self.ask("GET", "/scores", params={"kind": "member", "member": member}).json()["scores"]:
            return None
        told = self.ask("GET", "/findings", params={"member": member}).json()["findings"]
        return [Finding(**one, title="", member=member, kit=None, event=None, post=None) for one in told]

    def ask(self, method: str, path: str, **more: Any) -> httpx2.Response:
        """One request; a file that is refused with its problems (422) is an answer too.

        Raises
        ------
        RemoteError
            Nothing answers, or the token may not do this.
        """
        try:
            answer = httpx2.request(
                method, f"{self.address}/api{path}", headers=self._headers, timeout=PATIENCE_S, **more
            )
        except (httpx2.HTTPError, httpx2.InvalidURL) as error:
            raise RemoteError(f"{self.address}: {error}. Is the dashboard running there?") from None
        if answer.is_success or answer.status_code == httpx2.codes.UNPROCESSABLE_CONTENT:
            return answer
        try:
            reason = str(answer.json()["detail"])
        except (ValueError, LookupError, TypeError):
            reason = f"it answers {answer.status_code}, not as a Kit Muster dashboard does"
        raise RemoteError(f"{self.address}: {reason}")


def _is_safe(address: str) -> bool:
    parts = urlsplit(address)
    if parts.scheme == "https":
        return True
    host = parts.hostname or ""
    try:
        return parts.scheme == "http" and (host == "localhost" or ipaddress.ip_address(host).is_loopback)
    except ValueError:
        return False
