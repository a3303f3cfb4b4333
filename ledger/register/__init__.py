"""Registering raw files: their digests, what they say, and where they lie.

Invariants:

- Nothing is written beside, into or over a file that is registered.
- The same bytes again are a sighting, not a second file.
- What cannot be read is left out, by name: in the result, and in the entry.
- Nothing is entered while a file changes or goes away; what was hashed is kept aside, so that the
  next try goes on where this one stopped.
- All that one call enters is entered at once: all of it, or nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.content import read_facts
from ledger.copies import find_copies
from ledger.copyto import DriveCopies, copy_files, open_drives, plan_targets
from ledger.errors import ChangedFileError, Fault, UnreadableFileError, UsageError
from ledger.fixity import Fixity, is_unchanged
from ledger.jobfolder import SCRATCH_NAME
from ledger.model.artefact import Facts, FileRecord, Role
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.model.ids import find_next_id, read_id
from ledger.model.phrases import join_choices
from ledger.model.portable import remark_on_names
from ledger.naming import BookName, name_files
from ledger.office import note_job
from ledger.register.drafts import draft_entries, mark_new
from ledger.register.gathering import (
    Gathered,
    LeftOut,
    describe_change,
    find_files,
    hash_files,
    refuse_all,
    refuse_moved,
    refuse_one,
    sort_failures,
)
from ledger.register.misplaced import remark_on_empty, remark_on_misplaced
from ledger.register.places import remark_on_places
from ledger.register.result import LeftOutFile, RegisteredFile, RegisterOptions, RegisterResult
from ledger.resume import ResumeList
from ledger.specentry import draft_specification
from ledger.status import find_next_step
from ledger.store.writing import BookWriter

__all__ = [
    "LeftOutFile",
    "RegisterOptions",
    "RegisterResult",
    "RegisteredFile",
    "register_paths",
]


def register_paths(
    job: Path, paths: Iterable[Path], options: RegisterOptions, progress: Progress
) -> RegisterResult:
    """Hash files and folders, read what they say, and enter them.

    Raises:
        UsageError: nothing to register, or a flight id out of order.
        UnreadableFileError: a path is not there, or nothing under it can be read.
        FaultsError: files changed or went away meanwhile; nothing was entered.
        BookError: the book takes no entries; told before anything is hashed.
    """
    named = tuple(paths)
    with BookWriter.open(job) as writer:
        options = replace(options, flight=_find_flight(writer, options.flight))
        draft_specification(writer, options.by)  # what cannot be entered is told now
        writer.require_sound()
    resume = ResumeList(job / SCRATCH_NAME / "register.resume")
    gathered, drives = _gather(job, named, options, resume, progress)
    facts = _read_facts(gathered.fixities)
    with BookWriter.open(job) as writer:
        records = _describe_all(writer, gathered, facts, options.role)
        files = mark_new(writer, records, options)
        left_out = tuple(_name_left_out(each, job) for each in gathered.left_out)
        entries = writer.append_all(draft_entries(writer, files, left_out, drives, options))
        copies = find_copies(writer, {record.sha256 for record in records})
        misplaced = tuple(remark_on_misplaced(job, writer, records, options.flight))
    for each in drives:
        each.copy_book(job)
    note_job(job)
    is_over = not any(each.may_hold_data for each in gathered.left_out)
    if is_over and not any(each.faults for each in drives):
        resume.clear()
    return RegisterResult(
        entry=entries[-1].seq,
        files=files,
        flight=options.flight,
        bytes=sum(record.bytes for record in records),
        resumed=gathered.resumed,
        copies=copies,
        step=find_next_step(job),
        drives=drives,
        left_out=left_out,
        remarks=(
            *_remark_on_resume(resume),
            *remark_on_names(r.path for r in records),
            *remark_on_empty(records),
            *misplaced,
            *remark_on_places(job, records),
        ),
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


def _gather(
    job: Path,
    named: Sequence[Path],
    options: RegisterOptions,
    resume: ResumeList,
    progress: Progress,
) -> tuple[Gathered, tuple[DriveCopies, ...]]:
    """Find the files, hash them, and copy them where that is wanted."""
    try:
        found, not_files = find_files(named, job)
    except UnreadableFileError as error:
        raise refuse_one(error) from error
    if not found and not not_files:
        raise UsageError(
            "there is no file to register",
            where=", ".join(str(path) for path in named),
            remedy="name the raw files or their folder",
        )
    drives: tuple[DriveCopies, ...] = ()
    if found and options.copy_to:
        to = open_drives(job, options.copy_to, found)
        targets = plan_targets(job, named, found, options.flight)
        copied = copy_files(targets, to, resume, progress)
        gathered = Gathered(copied.fixities, sort_failures(copied.unread), copied.resumed)
        drives = copied.drives
    else:
        gathered = hash_files(found, resume, progress)
    left_out = tuple(sorted((*not_files, *gathered.left_out), key=lambda each: each.path))
    if not gathered.fixities:
        raise refuse_all([Fault(each.why, where=str(each.path)) for each in left_out])
    return replace(gathered, left_out=left_out), drives


def _read_facts(fixities: Mapping[Path, Fixity]) -> dict[Path, Facts]:
    """Return what the files say of themselves: of the bytes that were hashed, or of none."""
    facts = {path: read_facts(path) for path in fixities}
    changed = [
        describe_change(ChangedFileError("changed after it was read", where=str(path)))
        for path, fixity in fixities.items()
        if not is_unchanged(path, fixity)
    ]
    if changed:
        raise refuse_moved(changed)
    return facts


def _describe_all(
    writer: BookWriter, gathered: Gathered, facts: Mapping[Path, Facts], role: Role | None
) -> list[FileRecord]:
    """Return the files as the book writes them, sorted by path."""
    known = {record.path: record.path_bytes for record in writer.files_last_seen()}
    names = name_files(gathered.fixities, writer.folder, known)
    return [
        _describe(fixity, names[path], facts[path], role)
        for path, fixity in gathered.fixities.items()
    ]


def _describe(fixity: Fixity, name: BookName, facts: Facts, role: Role | None) -> FileRecord:
    return FileRecord(
        path=name.path,
        sha256=fixity.sha256,
        bytes=fixity.bytes,
        mtime_ns=fixity.mtime_ns,
        role=str(role or facts.role),
        facts=facts.values,
        fault=facts.fault,
        path_bytes=name.raw,
    )


def _name_left_out(each: LeftOut, job: Path) -> LeftOutFile:
    return LeftOutFile(*make_book_path(each.path, job), each.why, each.may_hold_data)


def _remark_on_resume(resume: ResumeList) -> tuple[str, ...]:
    if not resume.fault:
        return ()
    told = (
        f"{SCRATCH_NAME} in the job folder takes no files ({resume.fault}), so that an "
        "interrupted register could not have gone on where it was"
    )
    return (told,)
