"""Settings that programs wrote and no record field asks for, held against each other by their keys.

What a key means is not known here, so nothing is said of what a difference can move; that it is
there is said all the same, since a gate or a filter changes a cloud under any name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ledger.canonical import decode
from ledger.compare.difference import WrittenDifference
from ledger.model.known import KnownValue
from ledger.model.process import Process
from ledger.model.weight import is_equal
from ledger.store.reading import Book


def compare_written(book: Book, first: Process, second: Process) -> tuple[WrittenDifference, ...]:
    """Return the keys that differ, those of both first; none unless both left settings.

    Keys that were read into a record field are compared there, and are no difference here.
    """
    before, after = (_gather_written(book, process) for process in (first, second))
    if not before or not after:
        return ()
    read = _list_read(first) | _list_read(second)
    keys = [key for key in {**before, **after} if key not in read]
    found = [
        WrittenDifference(key, before.get(key), after.get(key))
        for key in keys
        if not _is_alike(before.get(key), after.get(key))
    ]
    return tuple(sorted(found, key=lambda each: None in (each.before, each.after)))


def _gather_written(book: Book, process: Process) -> Mapping[str, str]:
    """Return keys and texts of all settings files of a run; a key met twice has both texts."""
    entry = book.entry(process.entry)
    texts: dict[str, list[str]] = {}
    for file in entry.values.get("settings", ()) if entry else ():
        for key, text in decode(book.blob(file["settings"])):
            texts.setdefault(key, []).append(text)
    return {key: ", ".join(dict.fromkeys(each)) for key, each in texts.items()}


def _list_read(process: Process) -> set[str]:
    return {key for known in process.values.values() for key in _list_keys(known)}


def _list_keys(known: KnownValue) -> Iterator[str]:
    """Yield the keys that a value was read from: `config/R1.json: arm.x, arm.y, arm.z`."""
    yield from known.where.partition(": ")[2].split(", ")


def _is_alike(before: str | None, after: str | None) -> bool:
    if before is None or after is None:
        return False
    return is_equal(KnownValue(before), KnownValue(after))
