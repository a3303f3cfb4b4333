"""The entries that one register makes: all of them at once, or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest, encode
from ledger.copying import Copy
from ledger.copyto import DriveCopies
from ledger.dataclass import dataclass
from ledger.drives import find_id
from ledger.model.artefact import FileRecord
from ledger.model.entry import Draft, Kind
from ledger.model.filename import escape_undecodable, find_path, make_book_path
from ledger.register.result import LeftOutFile, RegisteredFile, RegisterOptions
from ledger.sighting import draft_copies, draft_files
from ledger.specentry import draft_specification
from ledger.store.reading import Use
from ledger.store.writing import Addition, BookWriter
from ledger.volumes import Volume, VolumeFinder, is_outside_job

_REGISTERED = "registered"


def mark_new(
    writer: BookWriter, records: Sequence[FileRecord], options: RegisterOptions
) -> tuple[RegisteredFile, ...]:
    """Say of each file whether the book knows its bytes, in this flight and role."""
    met: set[str] = set()
    files = []
    for record in records:
        uses = [use for use in writer.uses(record.sha256) if use.relation == _REGISTERED]
        known = record.sha256 in met or bool(uses)
        met.add(record.sha256)
        files.append(
            RegisteredFile(record, new=not known, new_use=bool(uses) and _says_more(uses, options))
        )
    return tuple(files)


def _says_more(uses: list[Use], options: RegisterOptions) -> bool:
    """Say whether the person names a flight or role that no earlier use of the bytes has."""
    flights = {use.owner for use in uses}
    roles = {use.file.role for use in uses}
    more_flight = bool(options.flight) and options.flight not in flights
    return more_flight or (options.role is not None and str(options.role) not in roles)


def draft_entries(
    writer: BookWriter,
    files: Sequence[RegisteredFile],
    left_out: Sequence[LeftOutFile],
    drives: Sequence[DriveCopies],
    options: RegisterOptions,
) -> list[Addition]:
    """Return all that is entered, in order.

    `job.toml` where it is another one, a new flight, new files, known ones, and the copies that
    were read back from each drive.
    """
    additions = list(draft_specification(writer, options.by))
    if options.flight and writer.card(options.flight) is None:
        values: dict[str, Any] = {"id": options.flight, "name": "", "values": {}}
        additions.append(Addition(Draft(Kind.FLIGHT, values, by=options.by)))
    fresh = [file.record for file in files if file.new or file.new_use]
    seen = [file.record for file in files if not (file.new or file.new_use)]
    sources = _Sources(writer.folder, is_copied=bool(drives))
    lists = [
        *(
            draft_files(Kind.FILES, group, _describe_files(group, source, options), options.by)
            for source, group in sources.sort(fresh).items()
        ),
        *(
            draft_files(Kind.SIGHTING, group, _describe_source(source), options.by)
            for source, group in sources.sort(seen).items()
        ),
    ]
    copies = _draft_copies(writer.folder, drives, files, options.by)
    return [*additions, *_add_left_out(lists, left_out), *copies]


@dataclass(frozen=True)
class _Source:
    """Where files were read from.

    Args:
        volume: id of the drive, where it has one that lasts; empty inside the job folder.
        root: where the drive was connected.
        is_copied: copies were made from there, so that it is known for a card.
    """

    volume: str = ""
    root: str = ""
    is_copied: bool = False


class _Sources:
    """Sorts files by the drive that they lie on; those of the job lie where the job lies."""

    def __init__(self, job: Path, *, is_copied: bool) -> None:
        self._job = job
        self._is_copied = is_copied
        self._volumes = VolumeFinder()
        self._id = cache(find_id)

    def sort(self, records: Iterable[FileRecord]) -> dict[_Source, list[FileRecord]]:
        groups: dict[_Source, list[FileRecord]] = {}
        for record in records:
            groups.setdefault(self._find(record), []).append(record)
        return groups

    def _find(self, record: FileRecord) -> _Source:
        if not is_outside_job(record.path):
            return _Source()
        place = find_path(record.path, record.path_bytes, self._job)
        root = self._volumes.identify(place).root
        known = self._id(Path(root)) if root else ""
        return _Source(known, root, self._is_copied)


def _describe_files(
    group: Iterable[FileRecord], source: _Source, options: RegisterOptions
) -> dict[str, Any]:
    total = sum(record.bytes for record in group)
    return {
        "flight": options.flight,
        "bytes": total,
        "volume": "",
        **_describe_source(source),
    }


def _describe_source(source: _Source) -> dict[str, Any]:
    told = {"volume": source.volume, "root": source.root, "copied_from": source.is_copied}
    return {key: value for key, value in told.items() if value}


def _add_left_out(
    lists: Sequence[Addition], left_out: Sequence[LeftOutFile]
) -> tuple[Addition, ...]:
    """Let the first list of files say what was left out."""
    if not left_out:
        return tuple(lists)
    content = encode([asdict(each) for each in left_out])
    told = {"left_out": compute_digest(content), "left_out_count": len(left_out)}
    first = lists[0]
    draft = replace(first.draft, values={**first.draft.values, **told})
    return replace(first, draft=draft, blobs=(*first.blobs, content)), *lists[1:]


def _draft_copies(
    job: Path, drives: Sequence[DriveCopies], files: Sequence[RegisteredFile], by: str
) -> list[Addition]:
    """Return which copies were read back, one entry a drive."""
    roles = {file.record.sha256: file.record.role for file in files}
    additions = []
    for each in drives:
        records = [_describe_copy(copy, roles, job) for copy in each.copies.values()]
        if records:
            volume = Volume(each.drive.id, escape_undecodable(each.drive.root.as_posix()))
            additions.append(draft_copies(records, volume, by, past_cache=each.past_cache))
    return additions


def _describe_copy(copy: Copy, roles: Mapping[str, str], job: Path) -> FileRecord:
    stored, raw = make_book_path(copy.path, job)
    fixity = copy.fixity
    return FileRecord(
        path=stored,
        sha256=fixity.sha256,
        bytes=fixity.bytes,
        mtime_ns=fixity.mtime_ns,
        role=roles[fixity.sha256],
        path_bytes=raw,
    )
