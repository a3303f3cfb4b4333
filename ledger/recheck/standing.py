"""Whether the folders of the latest audits are still what was audited."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from ledger.errors import FileError
from ledger.model.filename import find_path, make_book_path
from ledger.recheck.expected import AuditedFolder
from ledger.recheck.states import AuditStanding, CheckedFile, FileState
from ledger.store.reading import Book
from ledger.walk import list_files


def find_standing(
    book: Book, audits: Iterable[AuditedFolder], files: Iterable[CheckedFile]
) -> tuple[AuditStanding, ...]:
    """Return how each audited folder stands, given what was found of its files."""
    by_path = {file.path: file for file in files}
    return tuple(_judge(book, audit, by_path) for audit in audits)


def _judge(book: Book, audit: AuditedFolder, by_path: Mapping[str, CheckedFile]) -> AuditStanding:
    changed, missing, unseen = [], [], []
    for name, sha256 in sorted(audit.digests.items()):
        file = by_path.get(audit.join(name))
        if file is None or file.state in (FileState.NOT_CONNECTED, FileState.UNREADABLE):
            unseen.append(name)
        elif file.state is FileState.MISSING:
            missing.append(name)
        elif file.found != sha256:
            changed.append(name)
    added, folder_unseen = _list_added(book, audit)
    return AuditStanding(
        id=audit.id,
        entry=audit.entry.seq,
        time=audit.entry.time,
        folder=audit.folder,
        verdict=str(audit.entry.values.get("verdict", "")),
        changed=tuple(changed),
        missing=tuple(missing),
        added=added,
        unseen=(*unseen, *folder_unseen),
    )


def _list_added(book: Book, audit: AuditedFolder) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the files that the audit did not see, and the folder itself if it cannot be listed."""
    folder = find_path(audit.folder, "", book.folder)
    if not folder.is_dir():
        return (), ()  # every file of it is away already
    try:
        names = [_name(path, folder) for path in list_files([folder])]
    except FileError:
        return (), (audit.folder,)
    return tuple(name for name in names if name not in audit.digests), ()


def _name(path: Path, folder: Path) -> str:
    return make_book_path(path, folder)[0]
