"""Registering raw files: their digests, what they say, and where they lie.

Invariants:

- Nothing is written beside, into or over a file that is registered.
- The same bytes again are a sighting, not a second file.
- Nothing is entered while any file could not be read whole, or changed after it was hashed; what
  was hashed is kept aside, so that the next try goes on where this one stopped.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ledger.content import read_facts
from ledger.copies import Copies, find_copies
from ledger.copying import Copy
from ledger.copyto import Copied, DriveCopies, copy_files, open_drives, plan_targets
from ledger.drives import find_id
from ledger.errors import ChangedFileError, FaultsError, SwathbookError, UsageError
from ledger.fixity import Fixity, is_unchanged, read_many
from ledger.jobfolder import leave_out_book, make_scratch
from ledger.model.artefact import FileRecord, Role
from ledger.model.ask import Progress
from ledger.model.entry import Draft, Kind
from ledger.model.filename import escape_undecodable, make_book_path
from ledger.model.ids import find_next_id, read_id
from ledger.model.nextstep import NOTHING, NextStep
from ledger.model.phrases import join_choices
from ledger.resume import ResumeList
from ledger.sighting import draft_copies, draft_files, enter_sighting
from ledger.specentry import enter_specification
from ledger.status import find_next_step
from ledger.store.reading import Use
from ledger.store.writing import BookWriter
from ledger.volumes import Volume, VolumeFinder
from ledger.walk import list_files

_REGISTERED = "registered"


@dataclass(frozen=True)
class RegisteredFile:
    """One file of this call.

    Args:
        record: the file as it was seen.
        new: whether its bytes were not registered before.
        new_use: its bytes were, but not in this flight or role: a use of its own.
    """

    record: FileRecord
    new: bool
    new_use: bool = False


@dataclass(frozen=True)
class RegisterResult:
    """What was entered.

    Args:
        entry: number of the last entry made.
        files: every file of this call, sorted by path.
        flight: the flight that they belong to; empty for none.
        bytes: bytes of all files.
        resumed: files whose digest was still known from an interrupted call.
        copies: where these files lie, as far as the book saw it.
        step: what to type next in the job.
        drives: what this call copied, by drive.
    """

    entry: int
    files: tuple[RegisteredFile, ...]
    flight: str
    bytes: int
    resumed: int
    copies: Copies
    step: NextStep = NOTHING
    drives: tuple[DriveCopies, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Say whether every copy that was wanted was made and read back."""
        return not any(each.faults for each in self.drives)


@dataclass(frozen=True)
class RegisterOptions:
    """What the person said about the files.

    Args:
        role: role of all of them; None to guess it from content.
        flight: id of the flight, in any case; empty for none.
        by: function of the person.
        copy_to: a folder on each drive that the files are copied to.
    """

    role: Role | None = None
    flight: str = ""
    by: str = "technician"
    copy_to: tuple[Path, ...] = ()


def register_paths(
    job: Path, paths: Iterable[Path], options: RegisterOptions, progress: Progress
) -> RegisterResult:
    """Hash files and folders, read what they say, and enter them.

    Raises:
        UsageError: nothing to register, or a flight id out of order.
        FaultsError: some files could not be read; nothing was entered.
        ChangedFileError: a file changed after it was hashed; nothing was entered.
    """
    named = tuple(paths)
    found = leave_out_book(list_files(named), job)
    if not found:
        raise UsageError(
            "there is no file to register",
            where=", ".join(str(path) for path in named),
            remedy="name the raw files or their folder",
        )
    with BookWriter.open(job) as writer:
        options = replace(options, flight=_find_flight(writer, options.flight))
    resume = ResumeList(make_scratch(job) / "register.resume")
    copied = _read(job, named, found, options, resume, progress)
    fixities = copied.fixities
    names = _name_apart(found, job)
    records = [_describe(path, fixities[path], names[path], options.role) for path in found]
    source = _describe_source(found, job, is_copied=bool(copied.drives))
    with BookWriter.open(job) as writer:
        enter_specification(writer, options.by)
        files = _mark_new(writer, records, options)
        entry = _enter(writer, files, options, source)
        entry = _enter_copies(writer, copied.drives, files, options.by) or entry
        copies = find_copies(writer, {file.record.sha256 for file in files})
    for each in copied.drives:
        each.copy_book(job)
    if all(not each.faults for each in copied.drives):
        resume.clear()
    return RegisterResult(
        entry=entry,
        files=files,
        flight=options.flight,
        bytes=sum(record.bytes for record in records),
        resumed=copied.resumed,
        copies=copies,
        drives=copied.drives,
        step=find_next_step(job),
    )


def _find_flight(writer: BookWriter, typed: str) -> str:
    """Return the id of a flight in its one form, a known one or the next; empty for none."""
    if not typed:
        return ""
    read = read_id(typed)
    known = tuple(card.id for card in writer.cards("flight"))
    following = find_next_id("F", known)
    if read is None or read.name not in (*known, following):
        raise UsageError(
            "there is no such flight",
            found=typed,
            expected=join_choices([*known, f"{following} for a new one"]),
        )
    return read.name


def _read(  # noqa: PLR0913, PLR0917 - what was said, and what is worked with
    job: Path,
    named: tuple[Path, ...],
    found: list[Path],
    options: RegisterOptions,
    resume: ResumeList,
    progress: Progress,
) -> Copied:
    """Hash the files, and copy them where that is wanted."""
    if not options.copy_to:
        return _hash(found, resume, progress)
    drives = open_drives(job, options.copy_to, found)
    targets = plan_targets(job, named, found, options.flight)
    return copy_files(targets, drives, resume, progress)


def _hash(found: list[Path], resume: ResumeList, progress: Progress) -> Copied:
    fixities = {path: known for path in found if (known := resume.find(path)) is not None}
    resumed = len(fixities)
    left = [path for path in found if path not in fixities]
    faults: list[SwathbookError] = []
    progress.start("hashing", sum(_size(path) for path in left), "bytes")
    for path, outcome in read_many(left, progress):
        if isinstance(outcome, Fixity):
            fixities[path] = outcome
            resume.keep(path, outcome)
        else:
            faults.append(outcome)
    progress.finish()
    if faults:
        raise FaultsError.from_faults(tuple(fault for error in faults for fault in error.faults))
    return Copied(fixities, (), resumed)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0  # the reader says what is wrong with it


def _name_apart(found: list[Path], job: Path) -> dict[Path, tuple[str, str]]:
    """Return the name of each file in the book, with its raw bytes in hex where it is another.

    Two names that only their form tells apart (NFC and NFD) are two files.
    """
    names: dict[Path, tuple[str, str]] = {}
    taken: set[str] = set()
    for path in found:
        stored, raw = make_book_path(path, job)
        if stored in taken:
            shown = path.relative_to(job) if path.is_relative_to(job) else path
            raw = os.fsencode(shown.as_posix()).hex()
            stored = f"{stored} ({raw})"
        taken.add(stored)
        names[path] = stored, raw
    return names


def _describe(path: Path, fixity: Fixity, name: tuple[str, str], role: Role | None) -> FileRecord:
    facts = read_facts(path)
    if not is_unchanged(path, fixity):
        raise ChangedFileError(
            "the file changed while it was registered",
            where=str(path),
            remedy="register it again when nothing writes to it",
        )
    stored, raw = name
    return FileRecord(
        path=stored,
        sha256=fixity.sha256,
        bytes=fixity.bytes,
        mtime_ns=fixity.mtime_ns,
        role=str(role or facts.role),
        facts=facts.values,
        fault=facts.fault,
        path_bytes=raw,
    )


def _mark_new(
    writer: BookWriter, records: list[FileRecord], options: RegisterOptions
) -> tuple[RegisteredFile, ...]:
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


def _describe_source(found: list[Path], job: Path, *, is_copied: bool) -> dict[str, Any]:
    """Return what an entry says of the drive that its files were read from.

    A drive other than the job's is told where all files lie on one; copies are said to be made
    from it, so that it is known for a card.
    """
    if any(path.is_relative_to(job) for path in found):
        return {"volume": ""}
    told: dict[str, Any] = {"volume": ""}
    volumes = VolumeFinder()
    drives = {volumes.identify(path) for path in found}
    if len(drives) == 1:
        (volume,) = drives
        known = find_id(Path(volume.root)) if volume.root else ""
        told = {"volume": known, "root": volume.root} if known else told
    return {**told, "copied_from": True} if is_copied else told


def _enter(
    writer: BookWriter,
    files: tuple[RegisteredFile, ...],
    options: RegisterOptions,
    source: dict[str, Any],
) -> int:
    if options.flight and writer.card(options.flight) is None:
        values: dict[str, Any] = {"id": options.flight, "name": "", "values": {}}
        writer.append(Draft(Kind.FLIGHT, values, by=options.by))
    fresh = [file.record for file in files if file.new or file.new_use]
    seen = [file.record for file in files if not (file.new or file.new_use)]
    entry = 0
    if fresh:
        total = sum(record.bytes for record in fresh)
        values = {"flight": options.flight, "bytes": total, **source}
        (added,) = writer.append_all([draft_files(Kind.FILES, fresh, values, options.by)])
        entry = added.seq
    told = {key: value for key, value in source.items() if value}
    return enter_sighting(writer, seen, options.by, told) or entry


def _enter_copies(
    writer: BookWriter, drives: tuple[DriveCopies, ...], files: tuple[RegisteredFile, ...], by: str
) -> int:
    """Enter which copies were read back from which drive; return the number of the last entry."""
    roles = {file.record.sha256: file.record.role for file in files}
    additions = []
    for each in drives:
        records = [_describe_copy(copy, roles, writer.folder) for copy in each.copies.values()]
        if records:
            volume = Volume(each.drive.id, escape_undecodable(each.drive.root.as_posix()))
            additions.append(draft_copies(records, volume, by, past_cache=each.past_cache))
    return writer.append_all(additions)[-1].seq if additions else 0


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
