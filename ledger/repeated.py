"""What came of doing runs again, for whoever asks later. Light: reads entries, no file."""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.model.entry import Kind
from ledger.store.reading import Book


@dataclass(frozen=True)
class PastRepeat:
    """One repeat of a run.

    Args:
        entry: the entry that holds it.
        time: when it was entered, UTC.
        outcome: `identical`, `same points`, `equivalent`, `different` or `failed`.
        manner: `command` or `by hand`.
    """

    entry: int
    time: str
    outcome: str
    manner: str

    @property
    def told(self) -> str:
        """Return the outcome in a few words."""
        return f"{self.outcome}, {self.manner}, {self.time[:10]} (entry {self.entry})"


def read_repeats(book: Book) -> dict[str, tuple[PastRepeat, ...]]:
    """Return the repeats of every run and step that was done again, in order of entry."""
    found: dict[str, tuple[PastRepeat, ...]] = {}
    for entry in book.entries(Kind.REPEAT):
        values = entry.values
        past = PastRepeat(entry.seq, entry.time, str(values["outcome"]), str(values["manner"]))
        name = str(values["process"])
        found[name] = (*found.get(name, ()), past)
    return found
