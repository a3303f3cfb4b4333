"""The manifest that a standard checksum program verifies.

One line a file: digest, two blanks, path relative to the folder. A name with a backslash or an end
of line is written with escapes, and its line begins with a backslash: the form that `sha256sum`
of GNU coreutils writes and checks.
"""

from __future__ import annotations

from collections.abc import Iterable

from ledger.handover.package import Listed

NAME = "manifest-sha256.txt"

_ESCAPES = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}


def write_manifest(files: Iterable[Listed]) -> bytes:
    """Return the manifest, UTF-8."""
    return "".join(_write_line(file) for file in files).encode("utf-8", "surrogateescape")


def _write_line(file: Listed) -> str:
    name = "".join(_ESCAPES.get(sign, sign) for sign in file.path)
    mark = "\\" if name != file.path else ""
    return f"{mark}{file.sha256}  {name}\n"
