"""May this folder go out? The audit that it stands on, and every file read again."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from ledger.audited import AuditedFile, AuditedFolder, list_audited_folders
from ledger.auditentry import StoredAudit, read_acceptances, read_audit
from ledger.dataclass import dataclass
from ledger.errors import FileError, UsageError
from ledger.fixity import Fixity, read_many
from ledger.handover.package import Wishes
from ledger.loading import load_part
from ledger.model.acceptance import Acceptance
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.model.finding import Grade
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from ledger.model.verdict import Verdict
from ledger.standing import FileChanges, Standing, gather_changes, judge
from ledger.store.reading import Book

# Names of pictures; the library that looks into them is loaded only where there are any.
PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"})


@dataclass(frozen=True)
class Judged:
    """A folder, its audit and how both stand now.

    Args:
        folder: the folder as audited.
        audit: its latest telling audit.
        standing: whether that is still valid, every file read again.
        acceptances: those of its findings, by id.
        verdict: its verdict with them.
    """

    folder: AuditedFolder
    audit: StoredAudit
    standing: Standing
    acceptances: dict[str, Acceptance]
    verdict: Verdict

    @property
    def lapsed(self) -> tuple[str, ...]:
        """Return why the audit holds no longer although the files are its own; empty if it does."""
        return (*self.standing.lapsed, *self.standing.doubts)


def judge_folder(book: Book, folder: Path, progress: Progress) -> Judged:
    """Return how a folder and its audit stand.

    Args:
        book: an open book.
        folder: the folder on this computer.
        progress: told the bytes read.

    Raises:
        UsageError: the folder is not there, or was never audited.
        BookError: the book cannot be read.
    """
    place = os.path.abspath(folder)  # noqa: PTH100 - links stay links
    if not os.path.isdir(place):
        raise UsageError("there is no such folder", where=str(folder))
    named = make_book_path(Path(place), book.folder)[0]
    audited = next((each for each in list_audited_folders(book) if each.folder == named), None)
    if audited is None:
        raise UsageError(
            "this folder was never audited",
            where=named,
            remedy=f"swathbook audit {quote_path(named)}",
        )
    audit = read_audit(book, audited.entry)
    acceptances = read_acceptances(book)
    return Judged(
        folder=audited,
        audit=audit,
        standing=judge(book, audited, read_files(audited, progress)),
        acceptances={
            each.id: acceptances[each.id] for each in audit.findings if each.id in acceptances
        },
        verdict=audit.compute_verdict(acceptances.keys()),
    )


def read_files(audited: AuditedFolder, progress: Progress) -> FileChanges:
    """Return how the files of a folder differ from what was audited; every byte is read."""
    files = sorted(audited.files.values(), key=lambda file: file.name)
    progress.start("reading files", sum(file.bytes for file in files), "bytes")
    outcomes = read_many([file.place for file in files], progress)
    pairs = zip(files, outcomes, strict=True)
    found = {file.name: _compare(file, outcome) for file, (_, outcome) in pairs}
    progress.finish()
    return gather_changes(audited, lambda file: found[file.name])


def _compare(file: AuditedFile, outcome: Fixity | FileError) -> str:
    if isinstance(outcome, Fixity):
        return "same" if outcome.sha256 == file.sha256 else "changed"
    return "unseen" if os.path.lexists(file.place) else "missing"


def drop_needless(judged: Judged, wishes: Wishes) -> Wishes:
    """Return the wishes without a needless reason: papers must not doubt a good audit."""
    return wishes if any(_list_doubts(judged)) else replace(wishes, despite="")


def list_obstacles(judged: Judged, wishes: Wishes) -> tuple[str, ...]:
    """Return why a folder may not go out, one sentence each, what cannot be overruled first."""
    doubts = () if wishes.despite.strip() else _list_doubts(judged)
    places = () if wishes.with_places else _list_places(judged)
    return (*_list_bars(judged), *doubts, *places)


def _list_places(judged: Judged) -> Iterator[str]:
    """Yield that photos tell where they were taken: of a person's home as of a site."""
    photos = [f for f in judged.folder.files.values() if _get_suffix(f) in PHOTO_SUFFIXES]
    if not photos:
        return
    tells_place = load_part("ledger.photos", "tells_place")
    found = {photo.name: tells_place(photo.place) for photo in photos}
    telling = sorted(name for name, tells in found.items() if tells)
    closed = sorted(name for name, tells in found.items() if tells is None)
    for names, what in (
        (telling, "tells where it was taken"),
        (closed, "may tell where it was taken: it cannot be looked into"),
    ):
        if names:
            yield (
                f"{count_things(len(names), 'photo')}, {names[0]} first, {what}. Take the place "
                "out of the copies in the folder and audit it again, or add --with-places."
            )


def _get_suffix(file: AuditedFile) -> str:
    return file.place.suffix.lower()


def _list_bars(judged: Judged) -> Iterator[str]:
    again = f"swathbook audit {quote_path(judged.audit.folder)}"
    if judged.standing.files != FileChanges():
        yield f"These are not the files that were audited. {judged.standing.sentence} Next: {again}"
    if judged.audit.is_quick:
        yield f"Its audit was quick and read no points. Next: {again}"


def _list_doubts(judged: Judged) -> Iterator[str]:
    if judged.lapsed:
        yield f"Its audit is valid no longer: {'; '.join(judged.lapsed)}."
    if judged.verdict is not Verdict.FIT_TO_SEND:
        yield f"The verdict of its audit is: {judged.verdict}{_count_open(judged)}."


def _count_open(judged: Judged) -> str:
    grades = [each.finding.grade for each in judged.audit.findings]
    major = grades.count(Grade.MAJOR)
    open_minor = sum(
        each.finding.grade is Grade.MINOR and each.id not in judged.acceptances
        for each in judged.audit.findings
    )
    told = [
        f"{count_things(number, f'{grade} finding')}{tail}"
        for number, grade, tail in (
            (major, "major", ""),
            (open_minor, "minor", " that nobody has accepted"),
        )
        if number
    ]
    return f", with {' and '.join(told)}" if told else ""
