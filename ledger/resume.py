"""What an interrupted command had already hashed, so that no file is hashed twice.

A convenience, never evidence: an entry counts only while size, modification time and file id are
what they were; the list may be lost at any time, and a folder that takes no list stops nobody.
"""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path

from ledger.fixity import Fixity, is_unchanged


class ResumeList:
    """Digests by path, one line of JSON each, in a scratch file."""

    def __init__(self, path: Path) -> None:
        """Read what an earlier command left, and see whether anything can be kept.

        Args:
            path: the scratch file; need not exist, nor its folder.
        """
        self._path = path
        self.fault = ""
        """Why nothing is kept: an interrupted command begins anew; empty while all is well."""
        self._write("")
        self._known: dict[str, Fixity] = {}
        for line in self._read_lines():
            try:
                stored = json.loads(line)
                name = stored.pop("path")
                self._known[name] = Fixity(**stored)
            except (ValueError, KeyError, TypeError, AttributeError):
                continue  # a line cut by the interruption

    def _read_lines(self) -> list[str]:
        try:
            return self._path.read_text(encoding="ascii").splitlines()
        except (OSError, UnicodeDecodeError):
            return []

    def find(self, path: Path) -> Fixity | None:
        """Return the digest of a file that is unchanged since it was hashed, else None."""
        known = self._known.get(str(path))
        return known if known is not None and is_unchanged(path, known) else None

    def find_moved(self, name: str, path: Path) -> Fixity | None:
        """Return the digest that was kept under a name, for a file that may lie on another device.

        A drive that was pulled and connected again gives its files other numbers, so that size
        and time have to do.
        """
        known = self._known.get(name)
        try:
            found = path.stat()
        except (OSError, ValueError):
            return None
        same = known is not None and (found.st_size, found.st_mtime_ns) == (
            known.bytes,
            known.mtime_ns,
        )
        return known if same else None

    def keep(self, path: Path, fixity: Fixity, name: str = "") -> None:
        """Add one hashed file, under a name of its own where it may be found elsewhere."""
        stored = {
            "path": name or str(path),
            "sha256": fixity.sha256,
            "bytes": fixity.bytes,
            "mtime_ns": fixity.mtime_ns,
            "file_id": fixity.file_id,
        }
        # On a line of its own, also where the line before was cut.
        self._write(f"\n{json.dumps(stored)}\n")

    def _write(self, text: str) -> None:
        if self.fault:
            return
        try:
            self._path.parent.mkdir(exist_ok=True)
            with self._path.open("a", encoding="ascii") as stream:
                stream.write(text)
        except OSError as error:
            self.fault = error.strerror or str(error)

    def clear(self) -> None:
        """Forget everything: it is in the book now."""
        with suppress(OSError):  # what stays counts only for files that are unchanged
            self._path.unlink(missing_ok=True)
