"""What an interrupted command had already hashed, so that no file is hashed twice.

A convenience, never evidence: an entry counts only while size, modification time and file id are
what they were; the list may be lost at any time.
"""

from __future__ import annotations

import json
from pathlib import Path

from ledger.fixity import Fixity, is_unchanged


class ResumeList:
    """Digests by path, one line of JSON each, in a scratch file."""

    def __init__(self, path: Path) -> None:
        """Read what an earlier command left.

        Args:
            path: the scratch file; need not exist.
        """
        self._path = path
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

    def keep(self, path: Path, fixity: Fixity) -> None:
        """Add one hashed file."""
        stored = {
            "path": str(path),
            "sha256": fixity.sha256,
            "bytes": fixity.bytes,
            "mtime_ns": fixity.mtime_ns,
            "file_id": fixity.file_id,
        }
        with self._path.open("a", encoding="ascii") as stream:
            # On a line of its own, also where the line before was cut.
            stream.write(f"\n{json.dumps(stored)}\n")

    def clear(self) -> None:
        """Forget everything: it is in the book now."""
        self._path.unlink(missing_ok=True)
