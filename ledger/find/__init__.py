"""Searching one book: by tile, version, geoid, serial, base mark, function of a person, or date.

A record is found when each word stands in one of its parts, in any case. Read from the derived
tables alone: no file is opened, and no valid `job.toml` is needed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from ledger.errors import UsageError
from ledger.find.hits import FindResult, Hit
from ledger.find.parts import Findable, list_findable
from ledger.store.reading import Book

__all__ = ["FindResult", "Hit", "find_text"]

_DIGEST = re.compile(r"[0-9a-f]{6,64}")


def find_text(job: Path, words: Iterable[str]) -> FindResult:
    """Return every record of a book that holds all the words.

    Args:
        job: the job folder.
        words: texts; digits of a digest need six of them at least, and stand at its beginning.

    Raises:
        UsageError: there is no word to search for.
        BookError: the book cannot be opened or read.
    """
    wanted = tuple(word.strip().casefold() for word in words if word.strip())
    if not wanted:
        raise UsageError(
            "there is no word to search for",
            remedy="name a tile, version, geoid, serial, function or date",
        )
    with Book.open(job) as book:
        found = (_match(each, wanted) for each in list_findable(book))
        return FindResult(wanted, tuple(hit for hit in found if hit is not None))


def _match(each: Findable, wanted: tuple[str, ...]) -> Hit | None:
    matched: dict[str, str] = {}
    for word in wanted:
        parts = dict(_find_parts(each, word))
        if not parts:
            return None
        matched.update(parts)
    return Hit(
        each.kind, each.id, each.entry, each.time, each.by, tuple(matched.items()), each.next
    )


def _find_parts(each: Findable, word: str) -> Iterator[tuple[str, str]]:
    for label, text in each.parts:
        if word in text.casefold():
            yield label, text
    if _DIGEST.fullmatch(word):
        for digest in each.digests:
            if digest.startswith(word):
                yield "sha256", digest
