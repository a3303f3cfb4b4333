"""Taking over what another computer entered in its own copy of this job's book.

Invariants:

- Nothing of the other book is lost or made to look like ours: its entries are kept byte for byte
  in a blob, under the root that they had there, and every record taken over says from which entry.
- Records made there after the two books parted get the next free ids here.
- A decision or amendment is not taken over where this book has said something on the same record
  since they parted: a person has to say which one holds.
- Audits, acceptances and rechecks are not taken over: they were about what that computer had.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest, encode
from ledger.dataclass import dataclass
from ledger.errors import BookError, UsageError
from ledger.forks import Fork, find_fork
from ledger.model.ask import Progress
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.ids import find_next_id
from ledger.model.phrases import count_things
from ledger.store.reading import Book
from ledger.store.writing import Addition, BookWriter

_RECORDS = (Kind.FLIGHT, Kind.RIG, Kind.RUN, Kind.STEP, Kind.STATEMENT, Kind.POINTS)
# Fields whose value is the id of another record.
_NAMING = ("flight.rig", "statement.about")
_LATER_WORDS = {Kind.DECISION: "process", Kind.AMENDMENT: "record"}
_TAKEN = (Kind.FILES, Kind.SIGHTING, *_RECORDS, *_LATER_WORDS)
# What entries keep apart, by its digest; of a run, `left_out` are the names themselves.
_BLOBS = ("manifest", "outputs", "left_out")


@dataclass(frozen=True)
class Conflict:
    """Something said there that was not taken over, because this book says something itself.

    Args:
        record: id of the record, as it is here.
        kind: kind of the entry.
        entry: number of the entry in the other book.
        text: what it says.
    """

    record: str
    kind: str
    entry: int
    text: str


@dataclass(frozen=True)
class ForeignResult:
    """What was taken over.

    Args:
        entry: number of the entry that keeps the other book's entries; 0 where it holds nothing
            new, and nothing was entered.
        fork: where the books part.
        root: root of the other book, in hex.
        ids: id there → id here, for every record that got another one.
        taken: entries taken over.
        left: entries kept in the blob alone.
        conflicts: what a person has to decide.
    """

    entry: int
    fork: Fork
    root: str
    ids: Mapping[str, str]
    taken: int
    left: int
    conflicts: tuple[Conflict, ...]


def register_book(
    job: Path, other: Path, progress: Progress, by: str = "technician"
) -> ForeignResult:
    """Enter what another book of the same job holds more than this one.

    Args:
        job: the job folder.
        other: the other book, or its job folder; it is only read.
        progress: is told how far the check of the other book has come.
        by: function of the person.

    Raises:
        UsageError: it is this very book, that of another job, or it goes on from this one, so
            that there is nothing to merge.
        BookError: one of the books cannot be used, or the other one is broken.
    """
    with Book.open(other) as foreign, BookWriter.open(job) as writer:
        if foreign.path.resolve() == writer.path.resolve():
            raise UsageError("that is this very book", where=str(foreign.path))
        _require_unbroken(foreign, progress)
        fork = find_fork(writer, foreign)
        _require_same_job(writer, foreign, fork)
        done = _count_taken(writer, foreign, fork)
        if fork.common + done == foreign.size:
            return ForeignResult(0, fork, foreign.root.hex(), {}, taken=0, left=0, conflicts=())
        if not fork.here:
            raise UsageError(
                "the other book goes on from this one by "
                f"{count_things(fork.there, 'entry', 'entries')}",
                where=str(foreign.path),
                remedy="nothing has to be merged: work on in that folder",
            )
        return _Taking(writer, foreign, fork, done, by).enter()


def _require_unbroken(foreign: Book, progress: Progress) -> None:
    state = foreign.check(progress)
    if not state.unbroken:
        raise BookError(
            "the other book is broken, nothing is taken from it",
            found=f"entry {state.first_broken_entry}",
            where=str(foreign.path),
        )


def _require_same_job(writer: Book, foreign: Book, fork: Fork) -> None:
    if fork.common:
        return
    names = []
    for book in (foreign, writer):
        entry = book.last(Kind.JOB)
        names.append(str(entry.values.get("reference", "")) if entry else "")
    if not names[0] or names[0] != names[1]:
        raise UsageError(
            "that is the book of another job",
            found=names[0] or "no reference",
            expected=names[1] or "no reference",
            where=str(foreign.path),
        )


def _count_taken(writer: Book, foreign: Book, fork: Fork) -> int:
    """Return how many entries after the fork earlier calls have dealt with."""
    most = 0
    for entry in writer.entries(Kind.FOREIGN):
        size = int(entry.values["size"])
        at = foreign.entry(size)
        if at is not None and at.root.hex() == entry.values["root"]:
            most = max(most, size - fork.common)
    return most


class _Taking:
    """One call, while it gathers what is taken over."""

    def __init__(self, writer: BookWriter, foreign: Book, fork: Fork, done: int, by: str) -> None:
        self._writer = writer
        self._foreign = foreign
        self._fork = fork
        self._by = by
        self._entries = tuple(foreign.entries(since=fork.common + done + 1))
        self._ids = self._recall_ids()
        self._new_ids: dict[str, str] = {}
        self._conflicts: list[Conflict] = []
        self._spoken = self._list_spoken()

    def enter(self) -> ForeignResult:
        """Enter all of it at once."""
        self._name_records()
        additions = [found for entry in self._entries if (found := self._take(entry)) is not None]
        head = self._keep_whole(len(additions))
        stored = self._writer.append_all([head, *additions])
        return ForeignResult(
            entry=stored[0].seq,
            fork=self._fork,
            root=self._foreign.root.hex(),
            ids=self._new_ids,
            taken=len(additions),
            left=len(self._entries) - len(additions),
            conflicts=tuple(self._conflicts),
        )

    def _recall_ids(self) -> dict[str, str]:
        """Return the ids that earlier calls gave to records of the same book."""
        ids: dict[str, str] = {}
        for entry in self._writer.entries(Kind.FOREIGN):
            if int(entry.values["common"]) == self._fork.common:
                ids.update(entry.values["ids"])
        return ids

    def _name_records(self) -> None:
        known = [each.id for each in self._writer.processes()]
        for kind in ("flight", "rig", "statement", "points"):
            known += [card.id for card in self._writer.cards(kind)]
        records = self._foreign.entries(*_RECORDS)
        old = {entry.values.get("id") for entry in records if entry.seq <= self._fork.common}
        for entry in self._entries:
            name = entry.values.get("id", "")
            if entry.kind in _RECORDS and name not in old and name not in self._ids:
                here = find_next_id(name[0], tuple(known))
                known.append(here)
                self._ids[name] = self._new_ids[name] = here

    def _list_spoken(self) -> set[str]:
        """Return the records that this book has decided on or amended since the books parted."""
        later = self._writer.entries(*_LATER_WORDS, *_RECORDS, since=self._fork.common + 1)
        return {_find_subject(entry.kind, entry.values) for entry in later}

    def _take(self, entry: Entry) -> Addition | None:
        if entry.kind not in _TAKEN:
            return None
        values = self._rename(entry.values)
        subject = _find_subject(entry.kind, values)
        if subject in self._spoken and subject not in self._ids.values():
            self._conflicts.append(Conflict(subject, entry.kind, entry.seq, _sum_up(values)))
            return None
        values["foreign"] = {
            "root": self._foreign.root.hex(),
            "entry": entry.seq,
            "time": entry.time,
            "machine": entry.machine,
        }
        blobs = tuple(self._list_blobs(entry))
        return Addition(Draft(entry.kind, values, by=entry.by, version=entry.version), blobs)

    def _rename(self, values: Mapping[str, Any]) -> dict[str, Any]:
        renamed = dict(values)
        for key in ("id", "flight", "process", "record"):
            if isinstance(renamed.get(key), str):
                renamed[key] = self._ids.get(renamed[key], renamed[key])
        if "inputs" in renamed:
            renamed["inputs"] = [
                {**used, "flight": self._ids.get(used["flight"], used["flight"])}
                if used.get("flight")
                else used
                for used in renamed["inputs"]
            ]
        for key in _NAMING:
            named = dict(renamed.get("values") or {}).get(key)
            if isinstance(named, Mapping):
                known = {**named, "value": self._ids.get(str(named["value"]), named["value"])}
                renamed["values"] = {**renamed["values"], key: known}
        return renamed

    def _list_blobs(self, entry: Entry) -> Iterator[bytes]:
        for name in _BLOBS:
            digest = entry.values.get(name)
            if digest and isinstance(digest, str):
                yield self._foreign.blob(digest)
        for read in entry.values.get("settings", ()):
            yield self._foreign.blob(read["settings"])

    def _keep_whole(self, taken: int) -> Addition:
        first = self._entries[0].seq
        bodies = encode([body.decode("utf-8") for body in self._foreign.bodies(since=first)])
        values = {
            "root": self._foreign.root.hex(),
            "size": self._foreign.size,
            "common": self._fork.common,
            "entries": compute_digest(bodies),
            "count": len(self._entries),
            "taken": taken,
            "ids": self._new_ids,
        }
        return Addition(Draft(Kind.FOREIGN, values, by=self._by), (bodies,))


def _find_subject(kind: str, values: Mapping[str, Any]) -> str:
    """Return the id of the record that an entry is about; empty for one about files."""
    if kind in _RECORDS:
        return str(values.get("id", ""))
    return str(values.get(_LATER_WORDS.get(Kind(kind), ""), ""))


def _sum_up(values: Mapping[str, Any]) -> str:
    """Return what an entry says of its record, in one line."""
    parts = [str(values.get("decision") or "")]
    parts += [
        f"{key} {known['value']}" if known else f"{key} left blank"
        for key, known in (values.get("values") or {}).items()
    ]
    return ", ".join(part for part in parts if part)
