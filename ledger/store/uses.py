"""Derived rows of files: where, when and as what each one was seen or used."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import repeat
from typing import Any, Literal

from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.store.mapping import file_from_values, fingerprint_from_values, output_from_values
from ledger.store.pages import Page

REGISTERED, INPUT, OUTPUT, AUDITED, SEEN = "registered", "input", "output", "audited", "seen"
NO_FACTS = "{}"
"""How a file of which nothing more is told stands in its row."""

ASKED_AT_ONCE = 900
"""Digests in one statement; SQLite takes 999 values at least."""

_SHA256 = 5  # its place in a row
# Whole numbers of SQLite have 64 bits; a damaged file system may say any year.
_LATEST_NS = 2**63 - 1
_COMPLETED = ("bytes", "mtime_ns", "role", "facts", "fault", "path_bytes")
# More than any list of an entry has places.
_PLACES = 1 << 32
_LATEST = """
SELECT sha256, path, bytes, mtime_ns, role, facts, fault, path_bytes, max({rank})
FROM files WHERE sha256 IN ({marks}) GROUP BY sha256, path
"""
_FIRST_SIZES = """
SELECT sha256, bytes FROM (
    SELECT *, row_number() OVER (PARTITION BY sha256 ORDER BY entry, relation, place) AS age
    FROM files WHERE sha256 IN ({marks})
) WHERE age = 1
"""


def add_files(connection: sqlite3.Connection, page: Page, read_list: Callable[[str], Any]) -> None:
    """Add registered files; the flight owns them."""
    values = page.entry.values
    for place, stored in enumerate(read_list(values["manifest"])):
        file = file_from_values(stored)
        add_use(connection, (page.entry.seq, REGISTERED, place), values.get("flight", ""), file)


def add_sighting(
    connection: sqlite3.Connection, page: Page, read_list: Callable[[str], Any]
) -> None:
    """Add files that a command came across."""
    for place, stored in enumerate(read_list(page.entry.values["manifest"])):
        add_use(connection, (page.entry.seq, SEEN, place), "", file_from_values(stored))


def add_audit(connection: sqlite3.Connection, page: Page, read_list: Callable[[str], Any]) -> None:
    """Add the files of a deliverable, and the fingerprints of those whose points were read."""
    seq, values = page.entry.seq, page.entry.values
    folder = values["folder"]
    before = "" if folder in ("", ".") else f"{folder}/"
    given = [
        {**stored, "path": f"{before}{stored['path']}"} for stored in read_list(values["manifest"])
    ]
    files = complete_files(connection, given)
    keys = ((seq, AUDITED, place) for place in range(len(files)))
    _insert(connection, map(_make_row, keys, repeat(values["id"]), files))
    if not values.get("fingerprints"):
        return
    fingerprints = read_list(values["fingerprints"])
    for place, sha256 in enumerate(sorted(fingerprints)):
        value = fingerprint_from_values(fingerprints[sha256])
        add_fingerprint(connection, (seq, AUDITED, place), sha256, value)


def add_output(
    connection: sqlite3.Connection, entry: int, place: int, owner: str, stored: Mapping[str, Any]
) -> Output:
    """Add a file that a run or step made."""
    output = output_from_values(stored)
    add_use(connection, (entry, OUTPUT, place), owner, output.file, output.points)
    if output.fingerprint is not None:
        key = entry, OUTPUT, place
        add_fingerprint(connection, key, output.file.sha256, output.fingerprint)
    return output


def add_use(
    connection: sqlite3.Connection,
    key: tuple[int, str, int],
    owner: str,
    file: FileRecord,
    points: int | None = None,
) -> None:
    """Add one use of a file; a file that could not be read has no digest and no use.

    Args:
        connection: the book.
        key: entry, relation, and place in the list of the entry.
        owner: id of the flight, run, step or deliverable; empty for none.
        file: the file.
        points: points counted in an output.
    """
    _insert(connection, [_make_row(key, owner, file, points)])


def _make_row(
    key: tuple[int, str, int], owner: str, file: FileRecord, points: int | None = None
) -> tuple[Any, ...]:
    facts = NO_FACTS
    if file.facts:
        facts = json.dumps(dict(file.facts), ensure_ascii=False, sort_keys=True)
    return (
        *key,
        owner,
        file.path,
        file.sha256,
        file.bytes,
        min(file.mtime_ns, _LATEST_NS),
        file.role,
        facts,
        file.fault,
        file.path_bytes,
        points,
    )


def _insert(connection: sqlite3.Connection, rows: Iterable[tuple[Any, ...]]) -> None:
    connection.executemany(
        "INSERT INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (row for row in rows if row[_SHA256]),
    )


def add_fingerprint(
    connection: sqlite3.Connection,
    key: tuple[int, str, int],
    sha256: str,
    value: FingerprintValue,
) -> None:
    """Add the point fingerprint of a file."""
    connection.execute(
        "INSERT INTO fingerprints VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *key,
            sha256,
            value.version,
            value.count,
            value.geometry,
            value.pulse,
            value.full,
            int(value.rounded),
        ),
    )


def rank_latest(relation: str, places: Literal["+", "-"]) -> str:
    """Return the SQL of a number that is the greatest for the latest row of a file.

    Bare columns beside max() of it are those of that row; a window over the same rows takes twice
    as long (measured).

    Args:
        relation: what counts as the latest of one entry.
        places: whether the last place in the list of that entry counts, `+`, or the first, `-`.
    """
    return f"(entry * 2 + (relation = '{relation}')) * {_PLACES} {places} place"


def complete_files(
    connection: sqlite3.Connection, given: Sequence[Mapping[str, Any]]
) -> list[FileRecord]:
    """Return files, each with what an earlier entry knew of the same bytes under the same path.

    Inputs and audits say path and digest; size, time and raw name may be known already. An audit
    names hundreds of files, so the book is asked for all at once.
    """
    known: dict[tuple[str, str], tuple[Any, ...]] = {}
    sizes: dict[str, int] = {}
    digests = list(dict.fromkeys(stored["sha256"] for stored in given))
    for start in range(0, len(digests), ASKED_AT_ONCE):
        part = digests[start : start + ASKED_AT_ONCE]
        marks = ", ".join("?" * len(part))
        rows = connection.execute(_LATEST.format(rank=rank_latest(INPUT, "-"), marks=marks), part)
        known |= {(sha256, path): found for sha256, path, *found, _ in rows}
        if any((stored["sha256"], stored["path"]) not in known for stored in given):
            sizes |= dict(connection.execute(_FIRST_SIZES.format(marks=marks), part))
    return [_complete(stored, known, sizes) for stored in given]


def _complete(
    stored: Mapping[str, Any],
    known: Mapping[tuple[str, str], Sequence[Any]],
    sizes: Mapping[str, int],
) -> FileRecord:
    sha256 = stored["sha256"]
    found = known.get((sha256, stored["path"]))
    if found is None:
        found = (sizes.get(sha256, 0), 0, "", NO_FACTS, "", "")
    before = dict(zip(_COMPLETED, found, strict=True))
    before["facts"] = json.loads(before["facts"]) if before["facts"] != NO_FACTS else {}
    given = {name: value for name, value in stored.items() if value or name not in before}
    return file_from_values({**before, **given})
