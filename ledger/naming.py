r"""Names of files in the book, so that two files never share one.

The book writes a name in the form NFC, and bytes that are no text as `\xNN`. Two names in a folder
can therefore come out alike: `ñ` written as one character and as two, or a backslash beside a byte
that is no text. They stay two files: the one whose name is exactly as written keeps it, each other
gets its raw bytes behind it. A name that the book has given stays with its file while that is
there.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.model.filename import find_path, make_book_path


@dataclass(frozen=True)
class BookName:
    """How the book writes where a file lies.

    Args:
        path: as a person reads it.
        raw: its raw bytes in hex, where `path` is not exactly it; else empty.
    """

    path: str
    raw: str


def name_files(paths: Iterable[Path], base: Path, known: Mapping[str, str]) -> dict[Path, BookName]:
    """Return the name of every file, no two of them alike.

    Args:
        paths: absolute paths of files that are there.
        base: the job folder, or another one that the names are to be relative to.
        known: raw bytes in hex by path, of files that the book has; empty for a path that is exact.
    """
    namer = _Namer(base)
    return {path: namer.name(path, known) for path in sorted(paths)}


class _Namer:
    """Writes names; looks into each folder once, and only for names that are not exact."""

    def __init__(self, base: Path) -> None:
        self._base = base
        self._beside: dict[Path, dict[str, list[Path]]] = {}

    def name(self, path: Path, known: Mapping[str, str]) -> BookName:
        stored, raw = make_book_path(path, self._base)
        if raw and known.get(stored) != raw:
            stored = self._write(path)
        holder = known.get(stored)
        if holder is None or holder == raw or not self._is_held(stored, holder, path):
            return BookName(stored, raw)
        raw = raw or _spell(self._shorten(path).as_posix())
        return BookName(f"{stored} ({_spell(path.name)})", raw)

    def _is_held(self, stored: str, holder: str, path: Path) -> bool:
        return _is_another(find_path(stored, holder, self._base), path)

    def _write(self, path: Path) -> str:
        """Return a path, part by part, each that has a twin beside it with its raw bytes."""
        shown = self._shorten(path)
        above = self._base if shown is not path else Path(path.anchor)
        written = [] if shown is not path else [path.anchor.rstrip("/\\")]
        for part in shown.parts if shown is not path else path.parts[1:]:
            written.append(self._write_part(above, part))
            above /= part
        return "/".join(written)

    def _write_part(self, folder: Path, part: str) -> str:
        stored = _store(part)
        if stored == part:
            return stored
        alike = self._list_alike(folder).get(stored, [])
        has_twin = any(_is_another(each, folder / part) for each in alike)
        return f"{stored} ({_spell(part)})" if has_twin else stored

    def _list_alike(self, folder: Path) -> dict[str, list[Path]]:
        if folder not in self._beside:
            found: dict[str, list[Path]] = {}
            try:
                for each in folder.iterdir():
                    found.setdefault(_store(each.name), []).append(each)
            except OSError:
                found = {}  # whoever lists it says so
            self._beside[folder] = found
        return self._beside[folder]

    def _shorten(self, path: Path) -> Path:
        return path.relative_to(self._base) if path.is_relative_to(self._base) else path


def _store(part: str) -> str:
    return make_book_path(Path(part), Path("/"))[0]


def _spell(part: str) -> str:
    return os.fsencode(part).hex()


def _is_another(place: Path, path: Path) -> bool:
    """Say whether another file than `path` lies at a place.

    Some file systems find a file under both forms of its name.
    """
    if place == path or not os.path.lexists(place):
        return False
    try:
        return not place.samefile(path)
    except OSError:
        return True
