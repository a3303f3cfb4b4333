"""What was handed over, to whom, and who still has something that was replaced."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.model.entry import Entry, Kind
from ledger.store.reading import Book


def read_sent(book: Book) -> Iterator[tuple[str, str]]:
    """Yield every transmittal: what, to whom, when, as which revision."""
    for entry in book.entries(Kind.TRANSMITTAL):
        yield str(entry.values["id"]), _tell(entry)


def _tell(entry: Entry) -> str:
    values = entry.values
    replaced = f", replaces {values['supersedes']}" if values["supersedes"] else ""
    despite = f"; despite “{values['verdict']}”: {values['despite']}" if values["despite"] else ""
    return (
        f"{values['deliverable']} ({values['folder']}) to {values['to']}, revision "
        f"{values['revision']}{replaced}, {entry.time}, for {values['use']}{despite}"
    )


def read_replaced(book: Book) -> Iterator[tuple[str, str]]:
    """Yield every transmittal that a later one replaces, with who has it and by which."""
    entries = list(book.entries(Kind.TRANSMITTAL))
    for entry in entries:
        later = [e for e in entries if e.values["supersedes"] == entry.values["id"]]
        if later:
            named = ", ".join(
                f"{each.values['id']} to {each.values['to']}, {each.time}" for each in later
            )
            yield str(entry.values["id"]), f"{_tell(entry)}; replaced by {named}"
