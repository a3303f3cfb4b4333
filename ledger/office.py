"""The jobs that this computer has met, kept in the user's own folder, and what their books hold.

The list is a help and no record: a job that is not in it is merely not asked. One line a job, its
folder as JSON text, added when a job is begun and when raw files are registered in it. Jobs made up
by the demo are nobody's jobs and stay out.

A copy of a job has the same first entries, so it is the same job and no other.
"""

from __future__ import annotations

import json
import os
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import field
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.jobfolder import read_names
from ledger.model.jobrecords import Elsewhere
from ledger.model.process import Decision, Process
from ledger.store.lookups import Use
from ledger.store.machine import find_home
from ledger.store.reading import BOOK_NAME, Book

INVENTED_MARK = "made-by-swathbook-demo.txt"
"""A file of this name beside a job says that the job is made up."""

_LIST_NAME = "jobs.jsonl"
_REGISTERED = "registered"
_BEGINNING = 3  # entries


def note_job(folder: Path) -> None:
    """Add a job to the list where it is not in it yet; where nothing can be kept, nothing is."""
    place = Path(os.path.abspath(folder))  # noqa: PTH100 - links stay links
    if os.path.isfile(place.parent / INVENTED_MARK) or place in list_known_jobs():
        return
    with suppress(OSError, UnicodeEncodeError):
        home = find_home()
        home.mkdir(parents=True, exist_ok=True)
        with (home / _LIST_NAME).open("a", encoding="ascii", newline="\n") as stream:
            stream.write(f"{json.dumps(str(place))}\n")


def list_known_jobs() -> tuple[Path, ...]:
    """Return the folders of the jobs that this computer has met, oldest first, each once."""
    try:
        lines = (find_home() / _LIST_NAME).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ()
    return tuple(dict.fromkeys(_read_lines(lines)))


def _read_lines(text: str) -> Iterator[Path]:
    for line in text.splitlines():
        with suppress(ValueError):  # half a line of a computer that went down
            known = json.loads(line)
            if isinstance(known, str) and known and "\0" not in known:
                os.fsencode(known)  # no folder has a name of other signs
                yield Path(known)


@dataclass(frozen=True)
class OtherJobs:
    """What the other jobs that this computer knows say of some files.

    Args:
        asked: number of jobs that were asked.
        unreached: folders that are not there now, or whose book cannot be read.
        found: by digest, where else the bytes are registered.
    """

    asked: int = 0
    unreached: tuple[str, ...] = ()
    found: dict[str, tuple[Elsewhere, ...]] = field(default_factory=dict)


def ask_other_jobs(book: Book, digests: Collection[str]) -> OtherJobs:
    """Return in which other jobs some bytes are registered.

    Args:
        book: the book of this job.
        digests: SHA-256 of the files.
    """
    asked, unreached = 0, []
    found: dict[str, list[Elsewhere]] = {}
    for folder in list_known_jobs() if digests else ():
        if folder == book.folder:
            continue
        try:
            with Book.open(folder / BOOK_NAME) as other:
                if _is_same_job(book, other):
                    continue
                asked += 1
                for sha256, known in _find_registered(other, digests):
                    found.setdefault(sha256, []).append(known)
        except (SwathbookError, OSError):
            unreached.append(str(folder))
    return OtherJobs(asked, tuple(unreached), {key: tuple(each) for key, each in found.items()})


def find_last_accepted(name: str, kind: str, own: Book) -> Process | None:
    """Return the last accepted run or step of a job that a new one was begun like.

    Args:
        name: reference of that job, or the name of its folder.
        kind: `run` or `step`.
        own: the book of the new job, which is not meant.

    Returns:
        None where the job is not known, not there, or not the only one of that name.
    """
    meant = [folder for folder in list_known_jobs() if name in _list_names(folder)]
    found: list[Process | None] = []
    for folder in meant:
        with suppress(SwathbookError, OSError), Book.open(folder / BOOK_NAME) as other:
            if not _is_same_job(own, other):
                found.append(find_accepted(other.processes(), kind))
    return found[0] if len(found) == 1 else None


def find_accepted(
    processes: Collection[Process], kind: str, before: int | None = None
) -> Process | None:
    """Return the last accepted run or step of a kind, before an entry where that is given."""
    fitting = [
        process
        for process in processes
        if process.kind == kind
        and process.decision in (Decision.ACCEPTED, Decision.SUPERSEDED)
        and (before is None or process.entry < before)
    ]
    return max(fitting, key=lambda process: process.entry, default=None)


def _list_names(folder: Path) -> tuple[str, ...]:
    names = read_names(folder) or {}
    return (names.get("reference", ""), folder.name)


def _is_same_job(book: Book, other: Book) -> bool:
    """Say whether two books begin alike; two jobs begun in one second differ in the third entry."""
    common = min(_BEGINNING, book.size, other.size)
    first, second = book.entry(common), other.entry(common)
    return first is not None and second is not None and first.root == second.root


def _find_registered(book: Book, digests: Collection[str]) -> Iterator[tuple[str, Elsewhere]]:
    common = book.digests_used_as(_REGISTERED) & frozenset(digests)
    for sha256 in sorted(common):
        use = next(use for use in book.uses(sha256) if use.relation == _REGISTERED)
        yield sha256, _describe(book, use)


def _describe(book: Book, use: Use) -> Elsewhere:
    entry = book.entry(use.entry)
    reference = (read_names(book.folder) or {}).get("reference", "")
    return Elsewhere(
        job=reference or book.folder.name,
        folder=str(book.folder),
        path=use.file.path,
        role=use.file.role,
        time="" if entry is None else entry.time,
    )
