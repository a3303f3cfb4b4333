"""The lines of the bare command, and entries that move them."""

from __future__ import annotations

from made_book import MadeBook

from ledger.status import StatusLine, StatusResult


def line(result: StatusResult, topic: str) -> StatusLine:
    """Return the line of a topic."""
    return next(line for line in result.state if line.topic == topic)


def process(book: MadeBook, *names: str, **parts: object) -> str:
    """Enter a run whose outputs are made on the way."""
    for name in names:
        book.write(name, name)
    return book.run(*names, **parts)  # type: ignore[arg-type]
