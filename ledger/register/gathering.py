"""The files under the paths that a person names, hashed; and what cannot be taken, with the reason.

Invariants:

- Nothing that lies there is passed over unseen: it is hashed, or left out with a reason.
- What stays as it is (a dead link, a pipe, a file without rights, a bad sector) is left out, so
  that one of it does not hold up all the rest.
- What changes or goes away meanwhile stops the whole: somebody still writes there, or the drive was
  pulled, and half a card would pass for a whole one.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import (
    ChangedFileError,
    Fault,
    FaultsError,
    FileError,
    SwathbookError,
    UnreadableFileError,
)
from ledger.fixity import Fixity, look_at, reach, read_many
from ledger.jobfolder import leave_out_book
from ledger.model.ask import Progress
from ledger.model.phrases import count_things
from ledger.resume import ResumeList
from ledger.walk import list_files

NOTHING_ENTERED = "nothing was entered"

# A drive that was pulled makes a fault of every file that was on it.
_FAULTS_TOLD = 10


@dataclass(frozen=True)
class LeftOut:
    """Something under a named path that is not taken.

    Args:
        path: absolute path.
        why: one sentence without the path.
        may_hold_data: it is a file or folder that could not be read now, and no link or pipe.
    """

    path: Path
    why: str
    may_hold_data: bool = False


@dataclass(frozen=True)
class Gathered:
    """Files and their digests.

    Args:
        fixities: by path, in order.
        left_out: what is not among them, sorted by path.
        resumed: how many digests an earlier call had made.
    """

    fixities: dict[Path, Fixity]
    left_out: tuple[LeftOut, ...]
    resumed: int = 0


def find_files(
    paths: Iterable[Path], job: Path
) -> tuple[dict[Path, os.stat_result], tuple[LeftOut, ...]]:
    """Return the regular files under some paths as the system describes them, and what is none.

    Args:
        paths: files and folders; those of the book itself do not count.
        job: the job folder.

    Raises:
        UnreadableFileError: one of the paths is not there.
        FaultsError: some went away meanwhile.
    """
    closed: list[UnreadableFileError] = []
    files: dict[Path, os.stat_result] = {}
    left_out: list[LeftOut] = []
    moved: list[Fault] = []
    for path in leave_out_book(list_files(paths, on_closed=closed.append), job):
        try:
            files[path] = look_at(path)
        except UnreadableFileError as error:
            if os.path.lexists(reach(path)):
                left_out.append(_leave_out(path, error))
            else:
                moved.append(_describe_gone(path))
    if moved:
        raise refuse_moved(moved)
    left_out += [
        _leave_out(Path(each.faults[0].where), each, may_hold_data=True) for each in closed
    ]
    return files, tuple(sorted(left_out, key=lambda each: each.path))


def _leave_out(path: Path, error: FileError, *, may_hold_data: bool = False) -> LeftOut:
    return LeftOut(path, replace(error.faults[0], where="").sentence(), may_hold_data)


def _describe_gone(path: Path) -> Fault:
    return Fault(
        "the file went away after the folder was listed",
        where=str(path),
        remedy="connect the drive again if it was pulled",
    )


def describe_change(error: ChangedFileError) -> Fault:
    """Return the fault of a file that changed while it was being registered."""
    return replace(error.faults[0], remedy="wait until nothing writes to it")


def hash_files(
    files: dict[Path, os.stat_result], resume: ResumeList, progress: Progress
) -> Gathered:
    """Hash files, those that an interrupted call had hashed excepted.

    Raises:
        FaultsError: some changed or went away meanwhile.
    """
    fixities = {path: known for path in files if (known := resume.find(path)) is not None}
    resumed = len(fixities)
    left = [path for path in files if path not in fixities]
    failures: dict[Path, FileError] = {}
    label = "hashing, not to be interrupted" if resume.fault else "hashing"
    progress.start(label, sum(files[path].st_size for path in left), "bytes")
    for path, outcome in read_many(left, progress):
        if isinstance(outcome, Fixity):
            fixities[path] = outcome
            resume.keep(path, outcome)
        else:
            failures[path] = outcome
    progress.finish()
    ordered = {path: fixities[path] for path in files if path in fixities}
    return Gathered(ordered, sort_failures(failures), resumed)


def sort_failures(failures: Mapping[Path, FileError]) -> tuple[LeftOut, ...]:
    """Return the files that could not be read and are still there.

    Raises:
        FaultsError: some changed or went away.
    """
    left_out: list[LeftOut] = []
    moved: list[Fault] = []
    for path, error in failures.items():
        if isinstance(error, ChangedFileError):
            moved.append(describe_change(error))
        elif os.path.lexists(reach(path)):
            left_out.append(_leave_out(path, error, may_hold_data=True))
        else:
            moved.append(_describe_gone(path))
    if moved:
        raise refuse_moved(moved)
    return tuple(left_out)


def refuse_moved(faults: Sequence[Fault]) -> FaultsError:
    """Return the error of files that changed or went away, with how to go on."""
    again = "then type the same command again: what was read need not be read again"
    return refuse_all([replace(fault, remedy=f"{fault.remedy}, {again}") for fault in faults])


def refuse_all(faults: Sequence[Fault]) -> FaultsError:
    """Return the error of many files as some lines, each saying that nothing was entered."""
    told = [replace(fault, remedy=_say_nothing_entered(fault)) for fault in faults[:_FAULTS_TOLD]]
    if len(faults) > _FAULTS_TOLD:
        more = count_things(len(faults) - _FAULTS_TOLD, "more file")
        told.append(Fault(f"{more} with a fault of this kind", remedy=NOTHING_ENTERED))
    return FaultsError.from_faults(tuple(told))


def refuse_one(error: SwathbookError) -> SwathbookError:
    """Return an error that says as well that nothing was entered."""
    faults = (replace(fault, remedy=_say_nothing_entered(fault)) for fault in error.faults)
    return type(error).from_faults(tuple(faults))


def _say_nothing_entered(fault: Fault) -> str:
    return f"{NOTHING_ENTERED}; {fault.remedy}" if fault.remedy else NOTHING_ENTERED
