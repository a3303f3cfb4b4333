"""Copying what is registered to other drives, while it is hashed; a copy counts when it read back.

Invariants:

- A file is read once for its digest and all its copies.
- Nothing is copied to the drive that the files come from, nor twice to one drive.
- A drive that was pulled is never written to under its old name: what lies there then is the
  computer's own drive.
- Once no drive is left, nothing more is read: whoever waits on site learns it at once, and each
  file that is still to be copied would have to be read a second time.
- What was copied and read back before an interruption is not read again, whatever letter or name
  the drive has now.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field
from pathlib import Path

from ledger.copying import Copy, copy_verified
from ledger.dataclass import dataclass
from ledger.drives import Drive, open_drive, require_room
from ledger.errors import Fault, FileError, SwathbookError, UnreadableFileError, UsageError
from ledger.fixity import Fixity, look_at
from ledger.jobfolder import find_places
from ledger.model.ask import Progress
from ledger.outgoing import require_outside_raw
from ledger.resume import ResumeList
from ledger.specentry import copy_specification
from ledger.store.backup import copy_book

_NOTHING_TO_COPY_TO = "was not read yet: no drive is left to copy it to"


@dataclass
class DriveCopies:
    """What was copied to one drive.

    Args:
        drive: the drive.
        base: folder on it that stands for the job folder.
        copies: by source; a copy that an interrupted call had made is among them.
        faults: what could not be copied there.
        book: where the book was copied to; None where it was not.
    """

    drive: Drive
    base: Path
    copies: dict[Path, Copy] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    book: Path | None = None

    @property
    def past_cache(self) -> bool:
        """Say whether every copy was read back past the page cache."""
        return all(copy.past_cache for copy in self.copies.values())

    def copy_book(self, job: Path) -> None:
        """Copy book and `job.toml` beside the files; what goes wrong is a fault like any other."""
        if self.base == job.absolute() or not self.drive.is_there():
            return
        try:
            self.book = copy_book(job, self.base)
            copy_specification(job, self.base)
        except SwathbookError as error:
            self.faults += error.faults


@dataclass(frozen=True)
class Copied:
    """What one call copied.

    Args:
        fixities: digest of every source that could be read.
        drives: what was copied to each drive.
        resumed: sources that an interrupted call had dealt with.
        unread: why the others could not be read.
    """

    fixities: dict[Path, Fixity]
    drives: tuple[DriveCopies, ...]
    resumed: int
    unread: Mapping[Path, FileError] = field(default_factory=dict)


def open_drives(job: Path, folders: Iterable[Path], sources: Iterable[Path]) -> list[DriveCopies]:
    """Return the drives that copies go to.

    Args:
        job: the job folder, which may be among the folders.
        folders: a folder on each drive.
        sources: the files that will be copied.

    Raises:
        UsageError: a folder is absent or lies among raw data, two lie on one drive, or one on that
            of the files.
        UnwritableFileError: a drive takes no label.
    """
    devices = {look_at(path).st_dev for path in sources}
    drives: list[DriveCopies] = []
    for folder in folders:
        if folder.absolute() != job.absolute():  # the job's own raw folder is where copies go back
            require_outside_raw(folder, job)
        drive = open_drive(folder, devices)
        if drive.id in {each.drive.id for each in drives}:
            raise UsageError(
                "two of the folders lie on one drive", where=str(folder), remedy="name one of them"
            )
        own = drive.folder == job.absolute()
        drives.append(DriveCopies(drive, drive.folder if own else drive.folder / job.name))
    return drives


def plan_targets(
    job: Path, named: Iterable[Path], found: Iterable[Path], flight: str
) -> dict[Path, Path]:
    """Return where each file lies below the job folder, or would lie in its folder of raw data.

    Args:
        job: the job folder.
        named: files and folders as they were named.
        found: the files in them.
        flight: id of the flight; empty for none.
    """
    raw = find_places(job).raw
    inside = raw.relative_to(job) if raw.is_relative_to(job) else Path("raw")
    whole = (Path(os.path.abspath(path)) for path in named)  # noqa: PTH100 - without `..`
    tops = sorted(whole, key=lambda top: -len(top.parts))
    targets = {}
    for path in found:
        if path.is_relative_to(job):
            targets[path] = path.relative_to(job)
            continue
        top = next((each for each in tops if path.is_relative_to(each)), path)
        targets[path] = inside / flight / path.relative_to(top.parent if top.name else top)
    return targets


def copy_files(
    targets: Mapping[Path, Path],
    drives: list[DriveCopies],
    resume: ResumeList,
    progress: Progress,
) -> Copied:
    """Copy files to every drive, hashing each of them once.

    Args:
        targets: by file, its path below the folder that stands for the job folder.
        drives: the drives; what was copied is added to them.
        resume: what an interrupted call had done.
        progress: is told the bytes read and read back.

    Raises:
        FaultsError: a drive has too little room.
    """
    work = _Work(targets, drives, resume)
    for each in drives:
        require_room(each.drive, work.list_missing(each))
    return work.run(progress)


class _Work:
    """One call, file by file."""

    def __init__(
        self, targets: Mapping[Path, Path], drives: list[DriveCopies], resume: ResumeList
    ) -> None:
        self._targets = targets
        self._drives = drives
        self._resume = resume

    def list_missing(self, to: DriveCopies) -> Iterator[tuple[Path, int]]:
        """Yield the copies that still take room on a drive."""
        for source, relative in self._targets.items():
            target = to.base / relative
            if not os.path.lexists(target):
                yield target, look_at(source).st_size

    def run(self, progress: Progress) -> Copied:
        """Copy every file."""
        fixities: dict[Path, Fixity] = {}
        unread: dict[Path, FileError] = {}
        resumed = 0
        progress.start("copying", 2 * sum(map(_size, self._targets)), "bytes")
        for source in self._targets:
            known = self._recall(source)
            if known is not None:
                fixities[source] = known
                resumed += 1
                progress.advance(2 * known.bytes)
                continue
            try:
                fixities[source] = self._copy(source, progress)
            except FileError as error:
                unread[source] = error
        progress.finish()
        return Copied(fixities, tuple(self._drives), resumed, unread)

    def _recall(self, source: Path) -> Fixity | None:
        """Return the digest of a file whose copies are all known to be good, and note them."""
        relative = self._targets[source]
        known = self._resume.find_moved(f"source {relative.as_posix()}", source)
        copies = [(each, self._recall_copy(each, relative)) for each in self._drives]
        if known is None or any(copy is None for _, copy in copies):
            return None
        for each, copy in copies:
            if copy is not None:
                each.copies[source] = copy
        return known

    def _recall_copy(self, to: DriveCopies, relative: Path) -> Copy | None:
        target = to.base / relative
        for past_cache in (True, False):
            fixity = self._resume.find_moved(_name(to, relative, past_cache=past_cache), target)
            if fixity is not None:
                return Copy(target, fixity, past_cache=past_cache, found=True)
        return None

    def _copy(self, source: Path, progress: Progress) -> Fixity:
        relative = self._targets[source]
        ready = [each for each in self._drives if self._require_there(each)]
        if not ready:
            raise UnreadableFileError(_NOTHING_TO_COPY_TO, where=str(source))
        fixity, outcomes = copy_verified(source, [each.base / relative for each in ready], progress)
        for each, outcome in zip(ready, outcomes, strict=True):
            if isinstance(outcome, Copy):
                each.copies[source] = outcome
                name = _name(each, relative, past_cache=outcome.past_cache)
                self._resume.keep(outcome.path, outcome.fixity, name)
            else:
                each.faults += outcome.faults
        self._resume.keep(source, fixity, f"source {relative.as_posix()}")
        return fixity

    def _require_there(self, each: DriveCopies) -> bool:
        """Say whether a drive is still the one that it was; note once when it is not."""
        if each.drive.is_there():
            return True
        gone = "the drive is no longer connected; what was copied before counts"
        if gone not in {fault.what for fault in each.faults}:
            remedy = "connect it and run the same command again"
            each.faults.append(Fault(gone, where=str(each.drive.folder), remedy=remedy))
        return False


def _name(to: DriveCopies, relative: Path, *, past_cache: bool) -> str:
    return f"{'copy' if past_cache else 'cached copy'} {to.drive.id} {relative.as_posix()}"


def _size(path: Path) -> int:
    return look_at(path).st_size
