"""Files as nodes of a chain, their digests by recorded path, and where their copies lie."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.canonical import decode
from ledger.loading import load_part
from ledger.model.blanks import is_blank
from ledger.model.entry import Entry
from ledger.model.field import FieldType
from ledger.model.fields import FIELDS
from ledger.model.filename import make_book_path
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import Custody, MatchedBy
from ledger.model.process import Process
from ledger.store.reading import Book, Use
from ledger.trace.nodes import Backing, ChainNode, Copy, Place

_ID_DIGITS = 12
_HEX = frozenset("0123456789abcdef")
_WHOLE_DIGEST = 64
# Which use of a file tells most about it, first to last.
_RELATIONS = ("output", "registered", "audited", "input", "seen")


def read_manifest(book: Book, entry: Entry) -> list[dict[str, Any]]:
    """Return the files that an entry lists, as it stores them."""
    listed: list[dict[str, Any]] = decode(book.blob(str(entry.values["manifest"])))
    return listed


def list_places(uses: Iterable[Use]) -> tuple[Place, ...]:
    """Return every path of some bytes once, with what tells most of it, the most telling first."""
    best: dict[str, Use] = {}
    for use in sorted(
        uses, key=lambda use: (_RELATIONS.index(use.relation), not use.owner, use.entry)
    ):
        if use.file.path:
            best.setdefault(use.file.path, use)
    return tuple(Place(path, use.relation, use.owner, use.entry) for path, use in best.items())


def make_file_id(sha256: str) -> str:
    """Return the id of a file in a chain: long enough to be typed after `trace`."""
    return sha256[:_ID_DIGITS]


def sort_values(values: Mapping[str, KnownValue]) -> dict[str, KnownValue]:
    """Return recorded values in asking order, geoid name, version and grid together.

    Keys that no form knows come last, in order of the alphabet.
    """
    order = {key: place for place, key in enumerate(FIELDS)}
    keys = sorted(values, key=lambda key: (order.get(key, len(order)), key))
    return {key: values[key] for key in keys}


def list_file_fields(values: Mapping[str, KnownValue]) -> list[str]:
    """Return the keys of recorded values that name a file."""
    return [
        key
        for key, value in values.items()
        if key in FIELDS and FIELDS[key].type is FieldType.FILE and not is_blank(value)
    ]


def read_digest(value: KnownValue) -> str:
    """Return the digest that a recorded file stands for; empty where only its path is known."""
    text = str(value.value)
    return text if is_digest(text) else ""


def is_digest(text: str) -> bool:
    """Say whether a text is a whole digest."""
    return len(text) == _WHOLE_DIGEST and _HEX.issuperset(text)


def list_copies(book: Book, raw: Mapping[str, str]) -> Backing:
    """Return where else raw files were seen, on other drives than their own.

    What counts is registered and no geoid grid of the office: settings that a run was given and
    grids have their own rows, and no card holds them.

    Args:
        book: an open book.
        raw: path of each raw file, by digest; other files that a run read may be among them.
    """
    if not any(raw.get(seen.sha256, seen.path) != seen.path for seen in book.raw_sightings()):
        return Backing()  # nothing to judge, and nothing to load for it
    known = load_part("ledger.copies", "find_copies")(book, raw)
    registered = book.digests_used_as("registered") & raw.keys()
    counted = registered - load_part("ledger.copies", "list_grids")(book)
    homes = {place.sha256: place.key for place in known.places if place.path == raw[place.sha256]}
    drives = {place.key: name for name, places in known.by_volume.items() for place in places}
    copies = tuple(
        Copy(
            path=place.path,
            sha256=place.sha256,
            of=raw[place.sha256],
            volume=place.volume,
            time=place.last_seen,
            verified=place.verified,
            wrong=place.wrong,
            drive=drives[place.key],
        )
        for place in known.places
        if place.key != homes.get(place.sha256) and not place.is_cleared
    )
    return Backing(copies, known.good if known.files == counted else 0, known.needed)


class FileNotes:
    """What one book knows of files.

    Args:
        book: an open book.
    """

    def __init__(self, book: Book) -> None:
        """Keep the book; nothing is read yet."""
        self._book = book
        self._entries: dict[int, Entry | None] = {}

    def make_node(
        self, sha256: str, path: str, sources: Iterable[str], custody: Custody | None
    ) -> ChainNode:
        """Return the node of a file.

        Args:
            sha256: its digest.
            path: where it was read, or recorded; empty for where the book saw it last.
            sources: ids of the processes that made it.
            custody: its origin; None for a file that is only used.
        """
        use = self._find_best_use(sha256, path)
        return self._describe(sha256, path, use, tuple(sources), custody)

    def make_leaf(self, use: Use) -> ChainNode:
        """Return the node of a raw file, told by its registration."""
        return self._describe(use.file.sha256, use.file.path, use, (), None)

    def _describe(
        self,
        sha256: str,
        path: str,
        use: Use | None,
        sources: tuple[str, ...],
        custody: Custody | None,
    ) -> ChainNode:
        entry = self._find_entry(use.entry) if use is not None else None
        values = {"file.sha256": KnownValue(sha256, known_by=KnownBy.READ)}
        if use is not None:
            values |= _describe_record(use, with_facts=custody is not None)
        if custody is not None and custody.matched_by not in (MatchedBy.DIGEST, MatchedBy.NOTHING):
            values["file.matched_with"] = KnownValue(custody.recorded_path, known_by=KnownBy.READ)
        return ChainNode(
            kind="file",
            id=make_file_id(sha256),
            entry=use.entry if use is not None else 0,
            sources=sources,
            values=values,
            name=path or (use.file.path if use is not None else ""),
            by=entry.by if entry is not None else "",
            time=entry.time if entry is not None else "",
        )

    def find_digest(self, process: Process, path: str) -> KnownValue | None:
        """Return the digest of a file that a record names by path.

        The process's own inputs count first. Else it is the file that the book saw under the path;
        seen only after the process was recorded, that it is the same one is an assumption.
        """
        names = {path, self._make_book_path(path)}
        for item in process.inputs:
            if item.sha256 and item.path in names:
                where = f"entry {process.entry}"
                return KnownValue(item.sha256, known_by=KnownBy.READ, where=where)
        found = (self._book.file_at(name) for name in sorted(names))
        record = next((each for each in found if each is not None), None)
        if record is None:
            return None
        first = min(use.entry for use in self._book.uses(record.sha256))
        where = f"entry {first}"
        if first <= process.entry:
            return KnownValue(record.sha256, known_by=KnownBy.READ, where=where)
        return KnownValue(record.sha256, known_by=KnownBy.ASSUMED, confirmed=False, where=where)

    def _make_book_path(self, path: str) -> str:
        return make_book_path(self._book.folder / path, self._book.folder)[0]

    def _find_best_use(self, sha256: str, path: str) -> Use | None:
        """Return the use that tells most; among equals one under this very path, then the first."""
        stored = {path, self._make_book_path(path)} if path else set()

        def preference(use: Use) -> tuple[int, bool, bool, int]:
            is_elsewhere = use.file.path not in stored
            return _RELATIONS.index(use.relation), is_elsewhere, not use.owner, use.entry

        return min(self._book.uses(sha256), key=preference, default=None)

    def _find_entry(self, number: int) -> Entry | None:
        if number not in self._entries:
            self._entries[number] = self._book.entry(number)
        return self._entries[number]


def _describe_record(use: Use, *, with_facts: bool) -> dict[str, KnownValue]:
    where = f"entry {use.entry}"

    def read(value: object, unit: str = "") -> KnownValue:
        return KnownValue(value, unit=unit, known_by=KnownBy.READ, where=where)

    record = use.file
    values = {
        "file.recorded_path": read(record.path),
        "file.bytes": read(record.bytes, "bytes"),
    }
    if record.role:
        values["file.role"] = read(record.role)
    if with_facts:  # of the file that was asked about; elsewhere they would bury the chain
        values |= {f"file.{key}": read(record.facts[key]) for key in sorted(record.facts)}
    if record.fault:
        values["file.fault"] = read(record.fault)
    return values
