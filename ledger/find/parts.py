"""Everything in a book that can be found, as labelled texts."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from ledger.dataclass import dataclass
from ledger.lateness import describe_late_card, read_first_times
from ledger.model.entry import Entry, Kind
from ledger.model.known import KnownValue, show_value
from ledger.model.late import describe_late_process
from ledger.model.process import Card, Process
from ledger.model.typed import quote_path
from ledger.store.reading import Book

_LONGEST = 200
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Findable:
    """One record with the texts that it can be found by.

    Args:
        kind: see `Hit`.
        id: see `Hit`.
        entry: see `Hit`.
        time: see `Hit`.
        by: see `Hit`.
        parts: labels and texts.
        digests: digests that belong to it; found by their first digits.
        next: see `Hit`.
    """

    kind: str
    id: str
    entry: int
    time: str
    by: str
    parts: tuple[tuple[str, str], ...]
    digests: tuple[str, ...]
    next: str


def list_findable(book: Book) -> Iterator[Findable]:
    """Yield the records of a book in the order of the job."""
    for entry in book.entries(Kind.JOB):
        yield _make_plain(entry, "job", "job", ("reference", "title", "like"), "swathbook")
    for card in book.cards("rig"):
        yield _make_card(card, "rig")
    first_times = read_first_times(book)
    for card in book.cards("flight"):
        yield _make_card(card, "flight", describe_late_card(book, card, first_times))
    yield from _list_files(book)
    for process in book.processes():
        yield _make_process(process)
    for card in book.cards("statement"):
        yield _make_card(card, "statement")
    for card in book.cards("points"):
        yield _make_card(card, "points")
    yield from _list_audits(book)
    for entry in book.acceptances().values():
        finding = str(entry.values["finding"])
        names = ("finding", "by", "reason")
        yield _make_plain(entry, "acceptance", finding, names, f"swathbook trace entry:{entry.seq}")


def _make_card(card: Card, kind: str, late: str = "") -> Findable:
    parts = (
        ("name", card.name),
        *_list_values(card.values),
        *_tell_late(late),
        *_date(card.time, card.by),
    )
    return Findable(
        kind,
        card.id,
        card.entry,
        card.time,
        card.by,
        (("id", card.id), *parts),
        _list_digests(card.values),
        f"swathbook trace {card.id}",
    )


def _make_process(process: Process) -> Findable:
    made = [output.file for output in process.outputs]
    parts = (
        ("id", process.id),
        ("name", process.name),
        ("decision", str(process.decision)),
        ("reason", process.reason),
        *_list_values(process.values),
        *(("input", used.flight or used.path) for used in process.inputs),
        *((f"output {place}", file.path) for place, file in enumerate(made, 1)),
        *_tell_late(describe_late_process(process)),
        *_date(process.time, process.by),
    )
    digests = [file.sha256 for file in made] + [used.sha256 for used in process.inputs]
    return Findable(
        process.kind,
        process.id,
        process.entry,
        process.time,
        process.by,
        parts,
        (*_list_digests(process.values), *filter(None, digests)),
        f"swathbook trace {process.id}",
    )


def _list_files(book: Book) -> Iterator[Findable]:
    """Yield the latest record of every path; who entered it is asked of its trace."""
    for file in book.files_last_seen():
        facts = tuple((key, _write_fact(value)[:_LONGEST]) for key, value in file.facts.items())
        parts = (("path", file.path), ("role", str(file.role)), *facts)
        typed = f"swathbook trace {quote_path(file.path)}"
        yield Findable("file", file.path, 0, "", "", parts, (file.sha256,), typed)


def _list_audits(book: Book) -> Iterator[Findable]:
    for entry in book.entries(Kind.AUDIT):
        values = entry.values
        checks = tuple(
            ("switched off", f"{check}: {why}")
            for check, why in values.get("switched_off", {}).items()
        )
        parts = (
            ("id", str(values["id"])),
            ("folder", str(values["folder"])),
            ("verdict", str(values["verdict"])),
            *checks,
            *_date(entry.time, entry.by),
        )
        digests = (str(values["manifest_sha256"]), str(values.get("specification", "")))
        yield Findable(
            "audit",
            str(values["id"]),
            entry.seq,
            entry.time,
            entry.by,
            parts,
            digests,
            f"swathbook trace {values['id']}",
        )


def _make_plain(entry: Entry, kind: str, name: str, keys: tuple[str, ...], typed: str) -> Findable:
    parts = tuple((key, _write(entry.values.get(key))) for key in keys)
    return Findable(
        kind,
        name,
        entry.seq,
        entry.time,
        entry.by,
        (*parts, *_date(entry.time, entry.by)),
        (),
        typed,
    )


def _write(value: Any) -> str:  # noqa: ANN401 - whatever an entry holds
    return "" if value is None else str(value)


def _tell_late(late: str) -> Iterator[tuple[str, str]]:
    """Yield that a record was made late, in words that a person would search for."""
    if late:
        yield "time", f"recorded late, {late}"


def _date(time: str, by: str) -> tuple[tuple[str, str], ...]:
    return (("entered", time), ("entered by", by))


def _list_values(values: Mapping[str, KnownValue]) -> Iterator[tuple[str, str]]:
    for key, known in values.items():
        if not _is_digest(known.value):
            yield key, show_value(known)
        if known.where:
            yield f"{key}, from", known.where


def _list_digests(values: Mapping[str, KnownValue]) -> tuple[str, ...]:
    texts = (known.value for known in values.values())
    return tuple(str(text) for text in texts if _is_digest(text))


def _is_digest(value: object) -> bool:
    """Say whether a value is the digest of a file: searched by its beginning, never inside."""
    return isinstance(value, str) and _DIGEST.fullmatch(value) is not None


def _write_fact(value: object) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{name} {_write_fact(inner)}" for name, inner in value.items())
    if isinstance(value, (list, tuple)):
        return " ".join(map(_write_fact, value))
    return str(value)
