r"""Names of files in the book, so that two files never share one.

The book writes a name in the form NFC, and bytes that are no text as `\xNN`. Two names on a drive
can therefore come out alike: `ñ` written as one character and as two, or a backslash beside a byte
that is no text. They stay two files: one keeps the plain name, each other gets its raw bytes behind
it. Once the plain name is given it stays with its file, whatever is named later.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

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


def name_files(paths: Iterable[Path], job: Path, known: Mapping[str, str]) -> dict[Path, BookName]:
    """Return the name of every file, no two of them alike.

    Args:
        paths: absolute paths.
        job: the job folder.
        known: raw bytes in hex by path, of files that the book has; empty for a path that is exact.
    """
    alike: dict[str, dict[Path, str]] = {}
    for path in sorted(paths):
        stored, raw = make_book_path(path, job)
        alike.setdefault(stored, {})[path] = raw
    names: dict[Path, BookName] = {}
    for stored, files in alike.items():
        plain = _choose_plain(files, stored, job, known.get(stored))
        for path, raw in files.items():
            told = raw or _spell_raw(path, job)
            names[path] = (
                BookName(stored, raw) if path == plain else BookName(f"{stored} ({told})", told)
            )
    return names


def _choose_plain(
    files: Mapping[Path, str], stored: str, job: Path, holder: str | None
) -> Path | None:
    """Return the file that has the plain name; None where it is that of another file."""
    if holder is not None:
        same = next((path for path, raw in files.items() if raw == holder), None)
        if same is not None or _is_another(find_path(stored, holder, job), files):
            return same
    exact = next((path for path, raw in files.items() if not raw), None)
    return exact or next(iter(files))


def _is_another(place: Path, files: Iterable[Path]) -> bool:
    """Say whether something lies at a place that is none of these files.

    Some file systems find a file under both forms of its name.
    """
    if not os.path.lexists(place):
        return False
    try:
        return not any(place.samefile(path) for path in files)
    except OSError:
        return True


def _spell_raw(path: Path, job: Path) -> str:
    shown = path.relative_to(job) if path.is_relative_to(job) else path
    return os.fsencode(shown.as_posix()).hex()
