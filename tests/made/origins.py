"""The table of origins beside files that other people made."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

_ROW = re.compile(r"^\| `([^`]+)` \| (\d+) \| `([0-9a-f]{64})` \| (\S+) \|", re.MULTILINE)
_OURS = (".py", ".md", "")


def list_strangers(folder: Path) -> list[str]:
    """Return a sentence for each file that is not as the table says, and each licence too many.

    Args:
        folder: holds `ORIGIN.md`, the files, and a folder `licences` with one text a repository.
    """
    rows = _ROW.findall((folder / "ORIGIN.md").read_text(encoding="utf-8"))
    listed = {name: (int(size), digest) for name, size, digest, _ in rows}
    found = {path.relative_to(folder).as_posix(): path.read_bytes() for path in _list_files(folder)}
    measured = {name: (len(text), hashlib.sha256(text).hexdigest()) for name, text in found.items()}
    licences = {path.stem.replace("__", "/") for path in (folder / "licences").iterdir()}
    repositories = {repository for *_, repository in rows}
    return [
        *(f"{name}: {measured.get(name)} against {listed.get(name)}"
          for name in sorted(measured.keys() | listed.keys())
          if measured.get(name) != listed.get(name)),
        *(f"licence of {name}" for name in sorted(licences ^ repositories)),
    ]  # fmt: skip


def _list_files(folder: Path) -> list[Path]:
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and path.name != "facts.json"
        and "licences" not in path.parts
        and (path.suffix not in _OURS or path.parent != folder)
        and "__pycache__" not in path.parts
    ]
