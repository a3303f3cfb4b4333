"""What was handed over, and whether the book is sealed with it."""

from __future__ import annotations

from ledger.model.entry import Kind
from ledger.model.lineage import describe_day
from ledger.model.nextstep import NOTHING, NextStep
from ledger.model.phrases import count_things
from ledger.status.lines import StatusLine
from ledger.store.reading import Book

_SEAL = NextStep("swathbook seal", "signs what was entered since")


def describe_sent(book: Book) -> StatusLine | None:
    """Return the last transmittal; None where nothing was handed over."""
    entry = book.last(Kind.TRANSMITTAL)
    if entry is None:
        return None
    values = entry.values
    sentence = (
        f"{values['id']}, {values['folder']} as revision {values['revision']} to {values['to']}, "
        f"{describe_day(entry.time)}."
    )
    seal = book.last(Kind.SEAL)
    is_covered = seal is not None and seal.values["size"] >= entry.seq
    return StatusLine("handed over", sentence, NOTHING if is_covered else _SEAL, can_wait=True)


def describe_seal(book: Book) -> StatusLine | None:
    """Return the last seal; None where the book was never sealed."""
    entry = book.last(Kind.SEAL)
    if entry is None:
        return None
    later = book.size - entry.seq
    closed = entry.values["keep_until"]
    told = f"Entries 1 to {entry.values['size']} are sealed, {describe_day(entry.time)}"
    since = f"; {count_things(later, 'entry', 'entries')} since" if later else ""
    kept = f". The job was closed with it, to be kept until {closed}" if closed else ""
    stamped = [each for each in book.entries(Kind.TIMESTAMP) if each.values["seal"] == entry.seq]
    when = f" A time stamp over it says {stamped[-1].values['moment']}." if stamped else ""
    return StatusLine("seal", f"{told}{since}{kept}.{when}")


def is_handed_over(book: Book, manifest_sha256: str) -> bool:
    """Say whether a deliverable went out already."""
    return any(
        entry.values["manifest_sha256"] == manifest_sha256
        for entry in book.entries(Kind.TRANSMITTAL)
    )
