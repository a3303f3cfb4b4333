"""What the book expects of each path: the file that it recorded there last.

The latest record of a path counts; a file that only a delivery held, and that its later audit no
longer does, is not expected. Where the latest audit of its folder saw other bytes, the audit
counts, unless a run, step or registration has entered the later ones since.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from ledger.audited import AuditedFolder, has_left_delivery
from ledger.errors import UsageError
from ledger.model.artefact import FileRecord
from ledger.model.filename import find_path, make_book_path
from ledger.store.reading import Book

_ENTERED = frozenset({"output", "registered", "input"})


@dataclass(frozen=True)
class Expected:
    """One path and the bytes that should be there.

    Args:
        path: as the book stores it.
        place: on this machine.
        sha256: digest; empty for a file that is not recorded under this path, or that could not be
            read when it was.
        audited: by id of the audit, the digest that it saw.
        record: the latest record of the path; None where only an audit knows it.
        times: modification times with which the book saw it, nanoseconds.
    """

    path: str
    place: Path
    sha256: str
    audited: dict[str, str] = field(default_factory=dict)
    record: FileRecord | None = None
    times: frozenset[int] = frozenset()


def list_expected(book: Book, audits: Sequence[AuditedFolder]) -> dict[str, Expected]:
    """Return what the book expects, by path."""
    expected = {
        record.path: Expected(
            path=record.path,
            place=find_path(record.path, record.path_bytes, book.folder),
            sha256=record.sha256,
            record=record,
            times=frozenset({record.mtime_ns}),
        )
        for record in book.files_last_seen()
        if record.path and not has_left_delivery(book, record, audits)
    }
    for audit in audits:
        for file in audit.files.values():
            known = expected.get(file.path) or Expected(file.path, file.place, file.sha256)
            known = replace(
                known,
                place=file.place,
                audited={**known.audited, audit.id: file.sha256},
                times=known.times | {file.mtime_ns},
            )
            if known.sha256 != file.sha256 and not _was_entered(book, known, audit.entry.seq):
                known = replace(known, sha256=file.sha256)
            expected[file.path] = known
    return expected


def _was_entered(book: Book, known: Expected, since: int) -> bool:
    """Say whether the latest bytes were entered after an audit, not only seen."""
    return any(
        use.relation in _ENTERED and use.entry > since and use.file.path == known.path
        for use in book.uses(known.sha256)
    )


def select(book: Book, expected: dict[str, Expected], paths: Iterable[Path]) -> list[Expected]:
    """Return what lies at or below the given paths; a file under a new name stands alone.

    Raises:
        UsageError: there is nothing recorded at one of them, and no file to look up either.
    """
    chosen: dict[str, Expected] = {}
    for path in paths:
        whole = Path(os.path.abspath(path))  # noqa: PTH100 - resolve() would follow links
        below = {known.path: known for known in expected.values() if is_below(known.place, whole)}
        if not below and not os.path.isfile(whole):
            raise UsageError(
                "the book has recorded no file there",
                where=str(path),
                remedy="name a file or folder that was registered, recorded or audited",
            )
        if not below:
            stored, _ = make_book_path(whole, book.folder)
            below = {stored: Expected(stored, whole, "")}
        chosen |= below
    return [chosen[path] for path in sorted(chosen)]


def is_below(place: Path, folder: Path) -> bool:
    """Say whether a path is `folder` or lies in it, as this system compares names."""
    inner, outer = Path(os.path.normcase(place)), Path(os.path.normcase(folder))
    return inner.is_relative_to(outer)
