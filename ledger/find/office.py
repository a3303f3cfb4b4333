"""Searching every job that this computer knows, and calling back what a bad thing touched."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from ledger.errors import SwathbookError, UsageError
from ledger.find.hits import Asked, EverywhereResult, Hit, JobHit, RecallResult, Sent, Touched
from ledger.find.jobindex import JobIndex
from ledger.model.ask import NoProgress, Progress
from ledger.office import list_known_jobs
from ledger.rechecked import read_broken_note
from ledger.store.machine import find_home
from ledger.store.reading import BOOK_NAME, Book

_SILENT = NoProgress()
_NAME = "find-index.sqlite"
_DIGEST = re.compile(r"[0-9a-f]{6,64}")
_RECORDS = (
    "SELECT j.name, j.folder, r.kind, r.id, r.entry, r.time, r.by, r.next, r.parts"
    " FROM records r JOIN jobs j ON j.job = r.job"
)
_OF_RECORDS = ("run", "step", "flight", "rig", "file")


def find_everywhere(
    words: Iterable[str], job: Path | None = None, progress: Progress = _SILENT
) -> EverywhereResult:
    """Return every record of every known job that holds all the words.

    Args:
        words: texts, or the first six digits and more of a digest.
        job: a job folder that is asked as well, known or not.
        progress: told of books that are read.

    Raises:
        UsageError: there is no word.
    """
    wanted = _require_words(words)
    with _ask_jobs(job, everywhere=True, progress=progress) as (index, asked):
        hits = tuple(_search(index, wanted))
        return EverywhereResult(_spell(wanted, hits), asked, hits)


def recall(
    words: Iterable[str],
    job: Path | None,
    *,
    everywhere: bool = False,
    progress: Progress = _SILENT,
) -> RecallResult:
    """Return the deliveries and recipients that something bad reached.

    Args:
        words: a digest, or the first six digits and more of it; or words that stand in one record:
            program and version, serial, base mark, geoid.
        job: the job folder; None with `everywhere` where no job is at hand.
        everywhere: ask every job that this computer knows.
        progress: told of books that are read.

    Raises:
        UsageError: there is no word.
        BookError: the book of the only job cannot be read.
    """
    wanted = _require_words(words)
    with _ask_jobs(job, everywhere=everywhere, progress=progress) as (index, asked):
        records = tuple(hit for hit in _search(index, wanted) if hit.hit.kind in _OF_RECORDS)
        touched = tuple(_reach(index, wanted, records))
        return RecallResult(_spell(wanted, records), asked, records, touched)


def _require_words(words: Iterable[str]) -> tuple[str, ...]:
    wanted = tuple(word.strip().casefold() for word in words if word.strip())
    if not wanted:
        raise UsageError("there is no word to search for", remedy="name a digest, version or mark")
    return wanted


def _spell(wanted: Iterable[str], records: Sequence[JobHit]) -> tuple[str, ...]:
    """Return the words as the first record that holds them writes them, large letters and small."""
    texts = [text for each in records for _, text in each.hit.matched]
    return tuple(_find_written(word, texts) for word in wanted)


def _find_written(word: str, texts: Iterable[str]) -> str:
    pattern = re.compile(re.escape(word), re.IGNORECASE)
    found = next(filter(None, map(pattern.search, texts)), None)
    return found[0] if found is not None else word


@contextmanager
def _ask_jobs(
    job: Path | None, *, everywhere: bool, progress: Progress
) -> Iterator[tuple[JobIndex, Asked]]:
    """Give an index of the jobs that are meant, brought up to date."""
    if not everywhere:
        with JobIndex(None) as index, Book.open(job or Path()) as book:
            index.read(book)
            yield index, Asked(1, broken=_list_broken([book.folder]))
        return
    own = () if job is None else (job,)
    folders = tuple(dict.fromkeys((*list_known_jobs(), *own)))
    with JobIndex(find_home() / _NAME) as index:
        yield index, _bring_up(index, folders, progress)


def _bring_up(index: JobIndex, folders: Sequence[Path], progress: Progress) -> Asked:
    """Read the books that changed since they were read last."""
    unreached: list[str] = []
    unknown: list[str] = []
    progress.start("reading books", len(folders), "books")
    for folder in folders:
        try:
            if not index.is_current(folder):
                with Book.open(folder / BOOK_NAME) as book:
                    index.read(book)
        except (SwathbookError, OSError):
            (unreached if index.knows(folder) else unknown).append(str(folder))
        progress.advance(1)
    progress.finish()
    number = len(folders) - len(unknown)
    return Asked(number, tuple(unreached), tuple(unknown), _list_broken(folders))


def _list_broken(folders: Iterable[Path]) -> tuple[str, ...]:
    """Return the jobs whose book was found broken; reading every book anew would take too long."""
    return tuple(str(folder) for folder in folders if read_broken_note(folder) is not None)


def _search(index: JobIndex, wanted: tuple[str, ...]) -> Iterator[JobHit]:
    """Yield every record that holds each word in its text, or begins a digest with it."""
    conditions, values = [], []
    for word in wanted:
        condition = "instr(r.text, ?) > 0"
        values.append(word)
        if _DIGEST.fullmatch(word):
            condition += (
                " OR EXISTS (SELECT 1 FROM digests d WHERE d.job = r.job AND d.kind = r.kind"
                " AND d.id = r.id AND d.digest >= ? AND d.digest < ?)"
            )
            values += [word, f"{word}g"]
        conditions.append(f"({condition})")
    statement = f"{_RECORDS} WHERE {' AND '.join(conditions)} ORDER BY j.name, j.folder, r.rowid"
    for name, folder, kind, record, entry, time, by, typed, parts in index.ask(statement, values):
        matched = tuple(
            (label, text)
            for label, text in json.loads(str(parts))
            if any(word in text.casefold() for word in wanted)
        )
        hit = Hit(str(kind), str(record), int(str(entry)), str(time), str(by), matched, str(typed))
        yield JobHit(str(name), str(folder), hit)


def _reach(
    index: JobIndex, wanted: tuple[str, ...], records: Iterable[JobHit]
) -> Iterator[Touched]:
    """Yield the deliverables behind which one of the records, or the bytes themselves, stand."""
    reached: dict[tuple[str, str], tuple[str, str, set[str]]] = {}
    for key, folder in _list_seeds(index, wanted, records):
        statement = (
            "SELECT j.name, j.folder, b.deliverable, b.folder FROM behind b"
            " JOIN jobs j ON j.job = b.job WHERE b.key = ?"
        )
        values: list[object] = [key]
        if folder:
            statement, values = f"{statement} AND j.folder = ?", [key, folder]
        for name, where, deliverable, audited in index.ask(statement, values):
            place = (str(where), str(deliverable))
            known = reached.setdefault(place, (str(name), str(audited), set()))
            known[2].add(key)
    for (folder, deliverable), (name, audited, keys) in sorted(reached.items()):
        sent = tuple(_list_sent(index, folder, deliverable))
        yield Touched(name, folder, deliverable, audited, tuple(sorted(keys)), sent)


def _list_seeds(
    index: JobIndex, wanted: tuple[str, ...], records: Iterable[JobHit]
) -> Iterator[tuple[str, str]]:
    """Yield keys to follow: digests anywhere, and the ids of records within their job."""
    for word in wanted:
        if _DIGEST.fullmatch(word):
            for table, column in (("behind", "key"), ("digests", "digest")):
                statement = (
                    f"SELECT DISTINCT {column} FROM {table} WHERE {column} >= ? AND {column} < ?"  # noqa: S608 - fixed names
                )
                yield from ((str(key), "") for (key,) in index.ask(statement, (word, f"{word}g")))
    for each in records:
        if each.hit.kind != "file":
            yield each.hit.id, each.folder


def _list_sent(index: JobIndex, folder: str, deliverable: str) -> Iterator[Sent]:
    rows = index.ask(
        "SELECT s.id, s.recipient, s.revision, s.time, s.replaced_by FROM sent s"
        " JOIN jobs j ON j.job = s.job WHERE j.folder = ? AND s.deliverable = ? ORDER BY s.rowid",
        (folder, deliverable),
    )
    yield from (Sent(*(str(part) for part in row)) for row in rows)
