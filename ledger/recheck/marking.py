"""What else is told of files that are not as recorded: what was, and where it still is.

Only files that are wrong are looked up: that costs nothing where nothing is.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

from ledger.errors import BookError
from ledger.recheck.states import CheckedFile, FileState, Noted
from ledger.store.reading import Book, Use

_AWAY = (FileState.MISSING, FileState.NOT_CONNECTED)
# Uses that put a file into the book; by the others it was only met again.
_ENTERING = ("registered", "output", "audited")


def mark_files(book: Book, files: Iterable[CheckedFile]) -> tuple[CheckedFile, ...]:
    """Note of each file that is not as recorded what was, and where the same bytes lie.

    Args:
        book: an open book; a broken one may have nothing to tell.
        files: every file that was looked at.
    """
    listed = tuple(files)
    looked_at = {file.path for file in listed}
    good: dict[str, str] = {}
    for file in listed:
        if file.state is FileState.AS_RECORDED:
            good.setdefault(file.recorded, file.path)
    return tuple(
        file if file.state is FileState.AS_RECORDED else _mark(book, file, good, looked_at)
        for file in listed
    )


def _mark(
    book: Book, file: CheckedFile, good: Mapping[str, str], looked_at: Container[str]
) -> CheckedFile:
    uses: tuple[Use, ...] = ()
    with suppress(BookError):  # of a broken book what can be told is told
        uses = book.uses(file.recorded) if file.recorded else ()
    here = [use for use in uses if use.file.path == file.path]
    elsewhere = [use.file.path for use in uses if use.file.path not in looked_at]
    other = good.get(file.recorded, "")
    is_away = file.state in _AWAY and bool(other)
    return replace(
        file,
        noted=_find_note(book, here),
        good_at=other,
        known_at=elsewhere[-1] if elsewhere and not other else "",
        has_other_copy=is_away,
        only_seen=is_away and {use.relation for use in here} == {"seen"},
    )


def _find_note(book: Book, uses: Sequence[Use]) -> Noted | None:
    """Return the latest entry that put the bytes here, else met them; None where none is read."""
    for use in sorted(uses, key=lambda use: (use.relation in _ENTERING, use.entry), reverse=True):
        with suppress(BookError):
            entry = book.entry(use.entry)
            if entry is not None:
                return Noted(entry.seq, entry.time, use.file.bytes)
    return None
