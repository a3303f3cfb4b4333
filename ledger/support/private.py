"""The words by which a job names its site, its client and its people, collected from its book."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

from ledger.errors import BookError
from ledger.model.entry import Kind
from ledger.store.reading import Book

_OWN_TEXTS = ("job",)


def list_private(book: Book) -> Iterator[str]:
    """Yield texts that tell whose job it is: its folder, reference and title, and recipients."""
    yield book.folder.resolve().name
    for entry in book.entries(Kind.JOB):
        yield from _list_texts(entry.values)
    for entry in book.entries(Kind.SPECIFICATION):
        yield from _list_stated(book, str(entry.values.get("sha256", "")))
    for entry in book.entries(Kind.TRANSMITTAL):
        yield str(entry.values.get("to", ""))


def _list_stated(book: Book, digest: str) -> Iterator[str]:
    """Yield what one `job.toml` says of the job; nothing of one that cannot be read."""
    try:
        stated = tomllib.loads(book.blob(digest).decode("utf-8"))
    except (BookError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return
    for key in _OWN_TEXTS:
        yield from _list_texts(stated.get(key))


def _list_texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _list_texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from _list_texts(part)
