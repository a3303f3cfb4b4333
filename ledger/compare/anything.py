"""What `compare` compares: two runs, two jobs, or two sets of files."""

from __future__ import annotations

import os
from contextlib import nullcontext
from pathlib import Path

from ledger.compare import RunComparison, compare_runs, find_last_two
from ledger.compare.jobresult import JobComparison
from ledger.compare.jobs import compare_jobs
from ledger.compare.setresult import SetComparison
from ledger.compare.sides import find_side, read_word
from ledger.errors import UsageError
from ledger.jobfolder import SCRATCH_NAME
from ledger.loading import load_part
from ledger.model.ask import Progress
from ledger.model.ids import TypedId
from ledger.store.reading import BOOK_NAME, Book

Comparison = RunComparison | SetComparison | JobComparison


def compare_anything(
    job: Path | None, first: str, second: str, progress: Progress, *, outputs: bool = False
) -> Comparison:
    """Hold two things against each other.

    Args:
        job: the job folder; None outside one.
        first: id of a run, step or deliverable, or a path of files, a folder or a job; without
            both words the last two runs are meant.
        second: the same.
        progress: told the bytes and points read.
        outputs: of two runs compare what they made, and not their settings.

    Raises:
        UsageError: a word means nothing or two things, or the two cannot be compared.
        BookError: a book cannot be opened or read.
        FileError: a file cannot be read.
    """
    if job is not None and not (first and second):
        if not outputs or first:
            return compare_runs(job, first, second)
        first, second = find_last_two(job)
    with nullcontext() if job is None else Book.open(job) as book:
        meant = (read_word(first, book), read_word(second, book))
        processes = [isinstance(each, TypedId) and each.kind != "audit" for each in meant]
        if all(processes) and job is not None and not outputs:
            return compare_runs(job, first, second)
        if outputs and not all(processes):
            raise UsageError("--outputs speaks of two runs", found=f"{first} and {second}")
        jobs = [each for each in meant if isinstance(each, Path) and _is_job(each)]
        if len(jobs) == 2:
            return compare_jobs(jobs[0], jobs[1])
        if jobs:
            raise UsageError(
                "one of them is a job folder, the other is not",
                found=jobs[0].as_posix(),
                remedy="name two jobs, or the folder of files in this one",
            )
        words = zip(meant, (first, second), strict=True)
        sides = [find_side(each, word, book, progress) for each, word in words]
        compare = load_part("ledger.compare.sets", "compare_sets")
        found: SetComparison = compare(sides[0], sides[1], find_scratch(job), progress)
        return found


def find_scratch(job: Path | None) -> Path | None:
    """Return the folder of things that may be lost; None where that of the system has to do.

    A job on a medium that cannot be written to can be compared all the same.
    """
    if job is None:
        return None
    scratch = job / SCRATCH_NAME
    try:
        scratch.mkdir(exist_ok=True)
    except OSError:
        return None
    return scratch if os.access(scratch, os.W_OK) else None


def _is_job(path: Path) -> bool:
    return os.path.isfile(path / BOOK_NAME)
