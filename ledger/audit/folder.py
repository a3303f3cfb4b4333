"""The files of a folder, exactly as they would be sent.

Invariants:

- Every name is kept, hidden ones and those that systems leave behind too: they would be sent.
- Nothing outside the folder is read, and nothing but regular files is opened.
- A thing that cannot be sent as it is (a link to a folder, a link that leads out, a pipe) is
  listed with the reason, never left out.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import FileError, UsageError
from ledger.model.address import Address
from ledger.model.artefact import POINT_SUFFIXES, RASTER_SUFFIXES
from ledger.naming import name_files
from ledger.remote.files import Place, RemoteFile, list_store, open_place
from ledger.remote.naming import name_objects
from ledger.signs import looks_like_las
from ledger.store.reading import BOOK_NAME

POINTS, RASTER, DOCUMENT = "points", "raster", "document"

_REMEDY = "name the folder that is to be sent"
_HEAD_BYTES = 8
# TIFF 6.0 section 2, and its 64-bit successor with 43 in place of 42, in both byte orders.
_TIFF_MARKS = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")


@dataclass(frozen=True)
class Found:
    """One thing in the folder.

    Args:
        path: where it lies.
        name: path relative to the folder, as the book writes it.
        name_bytes: the raw relative name in hex, where `name` is not exactly it.
        kind: `points`, `raster` or `document`, by its content, else by the ending of its name.
        fault: why it cannot be read; empty for a regular file.
    """

    path: Place
    name: str
    name_bytes: str
    kind: str
    fault: str = ""


def list_folder(folder: Path | Address) -> tuple[Found, ...]:
    """Return every file in a folder and below, sorted by name.

    Raises:
        UsageError: it is absent, no folder, cannot be listed, holds a book, or is empty.
        UnreadableFileError: the store has no such bucket, or does not allow listing it.
        StoreError: the store cannot be reached.
    """
    found = _list_store(folder) if isinstance(folder, Address) else _list_drive(folder)
    if not found:
        raise UsageError("there is no file in the folder", where=str(folder), remedy=_REMEDY)
    return tuple(sorted(found, key=lambda each: each.name))


def _list_store(folder: Address) -> list[Found]:
    listed = list_store(folder)
    if any(each.key == BOOK_NAME for each in listed):
        raise UsageError("this folder holds a job's book", where=str(folder), remedy=_REMEDY)
    return [
        Found(each.file, each.name, each.raw, _classify(each.file, each.fault), each.fault)
        for each in name_objects(listed)
    ]


def _list_drive(folder: Path) -> list[Found]:
    _require_folder(folder)
    root = Path(os.path.realpath(folder))
    faults = dict(_walk(root, root))
    names = name_files(faults, root, {})
    return [
        Found(path, name.path, name.raw, _classify(path, faults[path]), faults[path])
        for path, name in names.items()
    ]


def _require_folder(folder: Path) -> None:
    # These functions of os.path say no where the system refuses; those of Path raise.
    if not os.path.exists(folder):
        raise UsageError("there is no such folder", where=str(folder), remedy=_REMEDY)
    if not os.path.isdir(folder):
        raise UsageError("this is a file, not a folder", where=str(folder), remedy=_REMEDY)
    if os.path.lexists(folder / BOOK_NAME):
        raise UsageError("this folder holds a job's book", where=str(folder), remedy=_REMEDY)


def _walk(folder: Path, root: Path) -> Iterator[tuple[Path, str]]:
    """Yield every path below a folder with the reason why it cannot be read."""
    try:
        entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except OSError as error:
        if folder == root:
            raise UsageError(
                "the folder cannot be listed",
                found=error.strerror or str(error),
                where=str(folder),
            ) from error
        yield folder, f"it is a folder that cannot be listed: {error.strerror or error}"
        return
    for entry in entries:
        path = folder / entry.name
        if _is_link(entry):
            yield path, _judge_link(path, root)
        elif entry.is_dir(follow_symlinks=False):
            yield from _walk(path, root)
        else:
            yield path, _judge_file(path)


def _is_link(entry: os.DirEntry[str]) -> bool:
    """Say whether an entry is a link, a junction of Windows included."""
    is_junction = getattr(entry, "is_junction", None)  # from Python 3.12 on
    return entry.is_symlink() or bool(is_junction and is_junction())


def _judge_link(path: Path, root: Path) -> str:
    target = Path(os.path.realpath(path))
    if not os.path.exists(target):
        return "it is a link that leads to nothing"
    if os.path.isdir(target):
        return "it is a link to a folder, which is not followed"
    if not target.is_relative_to(root):
        return "it is a link that leads out of the folder, which is not followed"
    return _judge_file(path)


def _judge_file(path: Path) -> str:
    try:
        mode = path.stat().st_mode
    except OSError as error:
        return f"the system refuses to look at it: {error.strerror or error}"
    return "" if stat.S_ISREG(mode) else "it is neither a file nor a folder"


def _classify(path: Place, fault: str) -> str:
    suffix = path.suffix.lower()
    if suffix in POINT_SUFFIXES:
        return POINTS  # whatever it holds: whoever reads it says so
    head = b"" if fault else _read_head(path)
    if looks_like_las(head):
        return POINTS
    if head.startswith(_TIFF_MARKS) or suffix in RASTER_SUFFIXES:
        return RASTER
    return DOCUMENT


def _read_head(path: Place) -> bytes:
    if isinstance(path, RemoteFile) and not path.size:
        return b""  # nothing to ask a store for
    try:
        with open_place(path) as stream:
            return stream.read(_HEAD_BYTES)
    except (OSError, FileError):
        return b""  # whoever reads it whole says what is wrong
