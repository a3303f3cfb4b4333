"""Addresses of what lies in a store of objects, and not on a drive.

An address is written as a person types it, `s3://BUCKET/FOLDER`, and that is what the book keeps:
a bucket and the name of a folder in it, nothing that opens it. User names, passwords and signed
queries are refused before anything is read, without being repeated; the library that speaks with
the store finds them in the environment.

Source: RFC 3986, sections 3.1 (scheme; one letter is a drive of Windows) and 3.2.1 (user
information). Names of objects are taken as they are written: they are not percent-encoded.
"""

from __future__ import annotations

import re

from ledger.dataclass import dataclass
from ledger.errors import UsageError

STORES = ("s3",)
"""Schemes of the stores that are reached."""

_ADDRESS = re.compile(r"([A-Za-z][A-Za-z0-9+.-]+):(?:[^/\s]*:)*//")
_BUCKET = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{1,254}")
_EXPECTED = "s3://BUCKET/FOLDER"
_HINT = "have it in the environment, where the library that speaks with the store reads it"


@dataclass(frozen=True)
class Address:
    """Where a folder of a store lies.

    Args:
        scheme: of `STORES`.
        bucket: name of the bucket.
        folder: what the names of its objects begin with, without the slash at the end; empty for
            the whole bucket.
    """

    scheme: str
    bucket: str
    folder: str = ""

    def __str__(self) -> str:
        """Return it as it is typed."""
        return f"{self.scheme}://{self.bucket}" + (f"/{self.folder}" if self.folder else "")


def find_scheme(text: str) -> str:
    """Return the scheme of an address as it was typed; empty where the text is none.

    Several in a row (`cache::s3://`) are an address as well: what follows may hold a password.
    """
    match = _ADDRESS.match(text)
    return match[1] if match else ""


def is_address(stored: str) -> bool:
    """Say whether a path of the book, or a typed one, is an address of a store."""
    return stored.partition("://")[0] in STORES and "://" in stored


def read_address(text: str) -> Address:
    """Return what a typed address says.

    Raises:
        UsageError: it is of another kind of store, or holds what may open it.
    """
    scheme = find_scheme(text)
    if scheme.lower() not in STORES or not text.startswith(f"{scheme}://"):
        raise UsageError(
            "this kind of address is not reached",
            found=f"{scheme}://…",  # the rest may hold a password
            expected=_EXPECTED,
            remedy="copy it to a drive, or have it mounted as one, and name the folder there",
        )
    bucket, _, folder = text.removeprefix(f"{scheme}://").partition("/")
    if "@" in bucket or ":" in bucket or re.search(r"[?#]", text):
        raise UsageError(
            "an address is written without user name, password, port and query, and nothing of "
            "this one was kept",
            found=f"{scheme}://…",
            expected=_EXPECTED,
            remedy=f"what opens the store is never typed: {_HINT}",
        )
    if not _BUCKET.fullmatch(bucket):
        raise UsageError("the address names no bucket", found=f"{scheme}://…", expected=_EXPECTED)
    folder = folder.rstrip("/")
    if any(part in ("", ".", "..") for part in folder.split("/")) and folder:
        raise UsageError(
            "a part of the address is empty, or leads up", found=f"{scheme}://…", expected=_EXPECTED
        )
    return Address(scheme.lower(), bucket, folder)
