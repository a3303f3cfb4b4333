"""Listing the files of folders in a fixed order; links to folders are not followed."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path

from ledger.errors import UnreadableFileError

# Files that systems leave behind and nobody delivers.
SYSTEM_NAMES = frozenset({".DS_Store", "Thumbs.db", "desktop.ini", "System Volume Information"})


def list_files(paths: Iterable[Path]) -> list[Path]:
    """Return every file named, or inside a folder named, as absolute paths sorted by path.

    Links to folders are not followed; links to files are, to the bytes they point at.

    Raises:
        UnreadableFileError: a path does not exist, or a folder cannot be listed.
    """
    found: set[Path] = set()
    for path in paths:
        absolute = Path(os.path.abspath(path))  # noqa: PTH100 - resolve() would follow links
        if absolute.is_dir():
            found.update(_walk(absolute))
        else:
            _require_present(absolute)
            found.add(absolute)
    return sorted(found)


def _walk(folder: Path) -> Iterator[Path]:
    def refuse(error: OSError) -> None:
        raise UnreadableFileError(
            "the folder cannot be listed",
            found=error.strerror or str(error),
            where=str(error.filename),
        ) from error

    for root, names, files in os.walk(folder, onerror=refuse, followlinks=False):
        names[:] = [name for name in names if name not in SYSTEM_NAMES]
        for name in files:
            if name not in SYSTEM_NAMES:
                yield Path(root) / name


def _require_present(path: Path) -> None:
    try:
        stat.S_IFMT(path.lstat().st_mode)
    except OSError as error:
        raise UnreadableFileError(
            "there is no such file or folder",
            found=error.strerror or str(error),
            where=str(path),
        ) from error
