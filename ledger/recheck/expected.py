"""What the book expects of each place: the file that it recorded there last.

A place on a drive that is known by itself is looked for where that drive is connected now.

The latest record of a path counts; a file that only a delivery held, and that its later audit no
longer does, is not expected. Where the latest audit of its folder saw other bytes, the audit
counts, unless a run, step or registration has entered the later ones since.
"""

from __future__ import annotations

import os
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path

from ledger.audited import AuditedFolder, has_left_delivery
from ledger.dataclass import dataclass
from ledger.deletions import Spot, read_deletions
from ledger.driveplaces import DriveFinder, DrivePlace, list_drive_places, read_drive_places
from ledger.errors import UsageError
from ledger.model.artefact import FileRecord
from ledger.model.filename import escape_undecodable, find_path, make_book_path
from ledger.store.reading import Book
from ledger.volumes import Volume, is_outside_job

_ENTERED = frozenset({"output", "registered", "input"})


@dataclass(frozen=True)
class Expected:
    """One place and the bytes that should be there.

    Args:
        path: as the book stores it.
        place: on this machine; None on a drive that is not connected.
        sha256: digest; empty for a file that is not recorded under this path, or that could not be
            read when it was.
        audited: by id of the audit, the digest that it saw.
        record: the latest record of the path; None where only an audit knows it.
        times: modification times with which the book saw it, nanoseconds.
        on: the drive that it lies on, and where that is connected now; None where the path alone
            tells the place.
        root: where that drive was connected when the book saw it.
        on_card: it lay on a card that nothing tells from another one: what is not found there may
            lie on a card that was pulled.
    """

    path: str
    place: Path | None
    sha256: str
    audited: dict[str, str] = field(default_factory=dict)
    record: FileRecord | None = None
    times: frozenset[int] = frozenset()
    on: Volume | None = None
    root: str = ""
    on_card: bool = False

    @property
    def drive(self) -> str:
        """Return the id of the drive; empty where the path alone tells the place."""
        return self.on.id if self.on is not None else ""


def list_expected(book: Book, audits: Sequence[AuditedFolder]) -> list[Expected]:
    """Return what the book expects, place by place."""
    noted = read_drive_places(book)
    on_drives = [place for place in noted if place.volume and is_outside_job(place.file.path)]
    told = _list_told(book) if on_drives else ()
    cards = {
        (place.file.path, place.file.sha256): place.root
        for place in noted
        if place.is_card and not place.volume
    }
    finder = DriveFinder()
    deleted = read_deletions(book)
    return [
        *(
            _note_card(known, cards)
            for known in _list_by_path(book, audits, told).values()
            if not _was_deleted(book, known, deleted)
        ),
        *(
            _expect_on_drive(place, finder)
            for place in on_drives
            if deleted.get((place.file.path, place.file.sha256, place.volume), 0) < place.entry
        ),
    ]


def _was_deleted(book: Book, known: Expected, deleted: Mapping[Spot, int]) -> bool:
    """Say whether a file was deleted on purpose and not seen again since."""
    entry = deleted.get((known.path, known.sha256, ""))
    return entry is not None and not any(
        use.entry > entry and use.file.path == known.path for use in book.uses(known.sha256)
    )


def _note_card(known: Expected, cards: Mapping[tuple[str, str], str]) -> Expected:
    root = cards.get((known.path, known.sha256))
    return known if root is None else replace(known, on_card=True, root=root)


def _list_told(book: Book) -> frozenset[tuple[str, str]]:
    """Return path and digest of all that was ever told of drives that are known by themselves."""
    return frozenset(
        (place.file.path, place.file.sha256)
        for place in list_drive_places(book)
        if place.volume and is_outside_job(place.file.path)
    )


def _expect_on_drive(place: DrivePlace, finder: DriveFinder) -> Expected:
    found = finder.find(place)
    where, root = found if found is not None else (None, None)
    now = escape_undecodable(root.as_posix()) if root is not None else ""
    return Expected(
        path=place.file.path,
        place=where,
        sha256=place.file.sha256,
        record=place.file,
        times=frozenset({place.file.mtime_ns}),
        on=Volume(place.volume, now),
        root=place.root,
    )


def _list_by_path(
    book: Book, audits: Sequence[AuditedFolder], told: Container[tuple[str, str]]
) -> dict[str, Expected]:
    """Return what is expected of each path, but for what was told of a drive."""
    expected = {
        record.path: Expected(
            path=record.path,
            place=find_path(record.path, record.path_bytes, book.folder),
            sha256=record.sha256,
            record=record,
            times=frozenset({record.mtime_ns}),
        )
        for record in book.files_last_seen()
        if record.path
        and (record.path, record.sha256) not in told
        and not has_left_delivery(book, record, audits)
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


def select(book: Book, expected: Iterable[Expected], paths: Iterable[Path]) -> list[Expected]:
    """Return what lies at or below the given paths; a file under a new name stands alone.

    Raises:
        UsageError: there is nothing recorded at one of them, and no file to look up either.
    """
    listed = list(expected)
    chosen: dict[tuple[str, str], Expected] = {}
    for path in paths:
        whole = Path(os.path.abspath(path))  # noqa: PTH100 - resolve() would follow links
        below = _list_at(book, listed, whole)
        if not below and not os.path.isfile(whole):
            raise UsageError(
                "the book has recorded no file there",
                where=str(path),
                remedy="name a file or folder that was registered, recorded or audited",
            )
        if not below:
            stored, _ = make_book_path(whole, book.folder)
            below = [Expected(stored, whole, "")]
        chosen |= {(known.path, known.drive): known for known in below}
    return [chosen[spot] for spot in sorted(chosen)]


def _list_at(book: Book, listed: Iterable[Expected], folder: Path) -> list[Expected]:
    """Return what lies at or below a folder; where nothing does, what did while its drive was."""
    there: list[Expected] = []
    away: list[Expected] = []
    for known in listed:
        if is_below(known.place or book.folder / known.path, folder):
            (there if known.place is not None else away).append(known)
    return there or away


def is_below(place: Path, folder: Path) -> bool:
    """Say whether a path is `folder` or lies in it, as this system compares names."""
    inner, outer = Path(os.path.normcase(place)), Path(os.path.normcase(folder))
    return inner.is_relative_to(outer)
