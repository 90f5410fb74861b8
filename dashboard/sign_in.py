"""How people of a club sign in: the provider that vouches for them, and the secret that seals their cookies."""

from __future__ import annotations

import ipaddress
import os
import secrets
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

COOKIE_SECRET = "KITMUSTER_COOKIE_SECRET"
CLIENT_SECRET = "KITMUSTER_CLIENT_SECRET"
SHORTEST_SECRET = 32  # characters
EXAMPLE = 'address = "https://kits.example.org"'
KEYS = ("address", "client_id", "client_secret", "server_metadata_url")


class SignInError(ValueError):
    """A sign-in that cannot be used; the message says where and what to write."""


@dataclass(frozen=True)
class SignIn:
    """The dashboard's address as browsers write it, and its account with an OpenID Connect provider.

    Source: OpenID Connect Core 1.0, section 3.1; OpenID Connect Discovery 1.0, section 4.
    """

    address: str
    client_id: str
    client_secret: str
    server_metadata_url: str

    @property
    def host(self) -> str:
        """Name of the machine in the address, without the port."""
        return (urlsplit(self.address).hostname or "").lower()

    @property
    def is_encrypted(self) -> bool:
        """Whether browsers reach the dashboard over https."""
        return urlsplit(self.address).scheme == "https"

    def auth(self, cookie_secret: str) -> dict[str, Any]:
        """What the web framework's own sign-in asks for."""
        return {
            "redirect_uri": f"{self.address}/oauth2callback",
            "cookie_secret": cookie_secret,
            "client_id": self.client_id,
            "client_secret": self.client_secret,
            "server_metadata_url": self.server_metadata_url,
            "client_kwargs": {"scope": "openid email", "prompt": "select_account"},
        }


def read(path: Path) -> SignIn:
    """The sign-in that a TOML file tells; the client's secret may stand in KITMUSTER_CLIENT_SECRET instead.

    Raises
    ------
    SignInError
        The file cannot be read, lacks something, or would let sign-ins travel unprotected.
    """
    try:
        told = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SignInError(f"{path}: cannot be read as TOML: {error}. Write lines like {EXAMPLE}") from None
    told = {"client_secret": os.environ.get(CLIENT_SECRET, "")} | told
    for key in told:
        if key not in KEYS:
            raise SignInError(f'{path}: "{key}" is not known. Write {", ".join(KEYS)}.')
    for key in KEYS:
        if not isinstance(told.get(key), str) or not told[key].strip():
            raise SignInError(f"{path}, {key}: nothing stands there. Write it as the provider gave it.")
    told["address"] = told["address"].rstrip("/")
    for key in ("address", "server_metadata_url"):
        if not _is_safe(told[key]):
            raise SignInError(
                f'{path}, {key}: "{told[key]}" would be readable on the way. Write an address that begins with https.'
            )
    return SignIn(**told)


def cookie_secret(beside: Path) -> str:
    """What seals the cookies: KITMUSTER_COOKIE_SECRET, else a file beside the database that only its owner reads.

    Parameters
    ----------
    beside : file of the database

    Raises
    ------
    SignInError
        The secret is short, or others may read its file.
    """
    if told := os.environ.get(COOKIE_SECRET, ""):
        return _long(told, COOKIE_SECRET)
    path = beside.absolute().parent / "cookie-secret"
    try:
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        if path.stat().st_mode & 0o077:
            raise SignInError(
                f"{path}: others can read it. Delete it; the next start makes a new one."
            ) from None
        return _long(path.read_text("ascii"), str(path))
    made = secrets.token_urlsafe(48)
    with os.fdopen(file, "w", encoding="ascii") as out:
        out.write(made)
    return made


def _long(secret: str, where: str) -> str:
    if len(secret) < SHORTEST_SECRET:
        raise SignInError(f"{where}: shorter than {SHORTEST_SECRET} characters. Write a longer random one.")
    return secret


def _is_safe(address: str) -> bool:
    """Whether what is sent to an address stays unread: it is encrypted, or does not leave this machine."""
    parts = urlsplit(address)
    name = parts.hostname or ""
    try:
        is_here = name == "localhost" or ipaddress.ip_address(name).is_loopback
    except ValueError:
        is_here = False
    return bool(name) and (parts.scheme == "https" or (parts.scheme == "http" and is_here))
