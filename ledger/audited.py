"""The files of an audited folder as the audit saw them, for everything that asks later.

Light: reads the entry and its lists, no file.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from functools import cached_property
from pathlib import Path

from ledger.canonical import decode
from ledger.dataclass import dataclass
from ledger.errors import FileError
from ledger.model.address import is_address
from ledger.model.artefact import FileRecord
from ledger.model.entry import Entry, Kind
from ledger.model.filename import find_path, make_book_path
from ledger.store.reading import Book
from ledger.walk import list_files

# Uses of a file that say where it was, and not that it has to be there.
_LOOKED_AT = ("audited", "seen")


@dataclass(frozen=True)
class AuditedFile:
    """One file of the folder.

    Args:
        name: path relative to the folder.
        path: as the book stores it.
        place: on this machine.
        sha256: digest; empty for a file that could not be read at the audit, and for one in a store
            that a quick audit did not read.
        bytes: size.
        mtime_ns: modification time at the audit; 0 where it was not noted.
    """

    name: str
    path: str
    place: Path
    sha256: str
    bytes: int
    mtime_ns: int


@dataclass(frozen=True)
class AuditedFolder:
    """The folder of one audit.

    Args:
        entry: the entry of the audit.
        files: by relative path.
        place: the folder on this machine; of one in a store, where nothing is.
    """

    entry: Entry
    files: Mapping[str, AuditedFile]
    place: Path

    @property
    def id(self) -> str:
        """Return the id of the deliverable."""
        return str(self.entry.values["id"])

    @property
    def folder(self) -> str:
        """Return the folder as the book stores it."""
        return str(self.entry.values["folder"])

    @property
    def is_in_store(self) -> bool:
        """Say whether it lies in a store, which is reached by an audit alone."""
        return is_address(self.folder)

    @cached_property
    def paths(self) -> frozenset[str]:
        """Return the paths of its files as the book stores them."""
        return frozenset(file.path for file in self.files.values())

    @cached_property
    def added(self) -> tuple[str, ...]:
        """Return the files that lie there now and did not at the audit.

        What systems leave behind when a folder is looked at does not count.

        Raises:
            UnreadableFileError: a folder cannot be listed.
        """
        if not os.path.isdir(self.place):
            return ()
        names = (make_book_path(path, self.place)[0] for path in list_files([self.place]))
        return tuple(name for name in names if name not in self.files)

    @property
    def is_listable(self) -> bool:
        """Say whether what was added can be told."""
        try:
            return self.added is not None
        except FileError:
            return False


def list_audited_folders(book: Book) -> tuple[AuditedFolder, ...]:
    """Return the latest telling audit of every folder that was ever audited, by folder.

    Raises:
        BookError: its lists are not in the book.
    """
    return tuple(read_audited_folder(book, entry) for entry in list_telling_audits(book))


def list_telling_audits(book: Book) -> tuple[Entry, ...]:
    """Return the entry of the latest telling audit of every audited folder, by folder."""
    latest: dict[str, Entry] = {}
    for entry in book.entries(Kind.AUDIT):
        folder = str(entry.values["folder"])
        if not is_said_already(entry, latest.get(folder)):
            latest[folder] = entry
    return tuple(latest[folder] for folder in sorted(latest))


def read_audited_digests(book: Book, entry: Entry) -> dict[str, str]:
    """Return the SHA-256 of the files of an audit, by path relative to its folder.

    Raises:
        BookError: its list is not in the book.
    """
    return {row["path"]: row["sha256"] for row in decode(book.blob(entry.values["manifest"]))}


def has_left_delivery(book: Book, record: FileRecord, audits: Iterable[AuditedFolder]) -> bool:
    """Say whether a file was only ever part of a delivery, which was audited since without it.

    Args:
        book: an open book.
        record: the latest record of its path.
        audits: the latest audit of every folder.
    """
    for audit in audits:
        if record.path in audit.paths or not record.path.startswith(f"{audit.folder}/"):
            continue
        uses = [use for use in book.uses(record.sha256) if use.file.path == record.path]
        if all(use.relation in _LOOKED_AT and use.entry < audit.entry.seq for use in uses):
            return True
    return False


def is_said_already(entry: Entry, before: Entry | None) -> bool:
    """Say whether an audit adds nothing to one before: it was quick, that one full, same bytes."""
    if before is None or not entry.values.get("quick") or before.values.get("quick"):
        return False
    return all(
        entry.values.get(key) == before.values.get(key) for key in ("folder", "manifest_sha256")
    )


def read_audited_folder(book: Book, entry: Entry) -> AuditedFolder:
    """Return what an audit saw.

    Raises:
        BookError: its lists are not in the book.
    """
    folder = str(entry.values["folder"])
    place = find_path(folder, str(entry.values.get("folder_bytes", "")), book.folder)
    seen = {}
    if entry.values.get("seen"):
        seen = {row["path"]: row for row in decode(book.blob(entry.values["seen"]))}
    files = {}
    for row in decode(book.blob(entry.values["manifest"])):
        name, noted = row["path"], seen.get(row["path"], {})
        files[name] = AuditedFile(
            name=name,
            path=name if folder in ("", ".") else f"{folder}/{name}",
            place=find_path(name, noted.get("path_bytes", ""), place),
            sha256=row["sha256"],
            bytes=row["bytes"],
            mtime_ns=int(noted.get("mtime_ns", 0)),
        )
    return AuditedFolder(entry, files, place)
