"""Questions to the derived tables, answered in records of the model."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.model.known import KnownValue
from ledger.model.process import Card, Decision, Input, Process
from ledger.store.uses import ASKED_AT_ONCE, INPUT, NO_FACTS, OUTPUT, REGISTERED, rank_latest

_FILE = "f.path, f.sha256, f.bytes, f.mtime_ns, f.role, f.facts, f.fault, f.path_bytes"
_FINGERPRINT = "p.version, p.count, p.geometry, p.pulse, p.full, p.rounded"
_OF_OUTPUT = (
    f"SELECT f.owner, f.points, {_FILE}, {_FINGERPRINT} FROM files f"  # noqa: S608 - constants
    " LEFT JOIN fingerprints p USING (entry, relation, place)"
)


@dataclass(frozen=True)
class Use:
    """One use of a file.

    Args:
        relation: `registered`, `input`, `output`, `audited` or `seen`.
        owner: id of the flight it was registered with, of the run or step that used or made it, or
            of the deliverable that it was in; empty for none.
        entry: the entry that says so.
        file: the file as it was then.
    """

    relation: str
    owner: str
    entry: int
    file: FileRecord


@dataclass(frozen=True)
class Sighting:
    """A path under which the bytes of a registered file were seen.

    Args:
        sha256: digest of the bytes.
        path: as the book writes it.
        bytes: size.
        entry: the latest entry that saw these bytes there.
    """

    sha256: str
    path: str
    bytes: int
    entry: int


def read_raw_sightings(connection: sqlite3.Connection) -> tuple[Sighting, ...]:
    """Return where the bytes of registered files were seen, by path, digest by digest.

    A path under which other bytes were seen since is left out.
    """
    rows = connection.execute(
        "SELECT r.sha256, f.path, max(f.bytes), max(f.entry) AS latest"
        " FROM (SELECT DISTINCT sha256 FROM files WHERE relation = ?) r"
        " JOIN files f USING (sha256) WHERE f.path != '' GROUP BY r.sha256, f.path"
        " HAVING NOT EXISTS (SELECT 1 FROM files o WHERE o.path = f.path"
        " AND o.entry > latest AND o.sha256 != r.sha256)"
        " ORDER BY f.path, r.sha256",
        (REGISTERED,),
    ).fetchall()
    return tuple(Sighting(*row) for row in rows)


def read_cards(connection: sqlite3.Connection, column: str, value: str) -> tuple[Card, ...]:
    """Return flights or rigs, in order of their ids.

    Args:
        connection: the book.
        column: `kind` or `id`.
        value: what it has to be.
    """
    rows = connection.execute(
        f"SELECT id, name, entry, time, by FROM cards WHERE {column} = ?"  # noqa: S608
        " ORDER BY length(id), id",
        (value,),
    ).fetchall()
    return tuple(
        Card(name, title, entry, time, by, _read_recorded(connection, name))
        for name, title, entry, time, by in rows
    )


def read_processes(connection: sqlite3.Connection) -> tuple[Process, ...]:
    """Return all runs and steps, in order of entry."""
    ids = connection.execute("SELECT id FROM processes ORDER BY entry").fetchall()
    found = (read_process(connection, row[0]) for row in ids)
    return tuple(process for process in found if process is not None)


def read_process(connection: sqlite3.Connection, name: str) -> Process | None:
    """Return a run or step by its id."""
    row = connection.execute(
        "SELECT kind, name, entry, time, by, decision, decision_entry, reason, decision_time"
        " FROM processes WHERE id = ?",
        (name,),
    ).fetchone()
    if row is None:
        return None
    outputs = connection.execute(
        f"{_OF_OUTPUT} WHERE f.owner = ? AND f.relation = ? ORDER BY f.entry, f.place",
        (name, OUTPUT),
    ).fetchall()
    inputs = connection.execute(
        "SELECT flight, sha256, path, role, assumed FROM inputs"
        " WHERE process = ? ORDER BY entry, place",
        (name,),
    ).fetchall()
    return Process(
        id=name,
        kind=row[0],
        name=row[1],
        entry=row[2],
        time=row[3],
        by=row[4],
        decision=Decision(row[5]),
        decision_entry=row[6],
        reason=row[7],
        decision_time=row[8],
        values=_read_recorded(connection, name),
        inputs=tuple(
            Input(flight, sha256, path, role, assumed=bool(assumed))
            for flight, sha256, path, role, assumed in inputs
        ),
        outputs=tuple(_make_output(parts) for parts in outputs),
    )


def _read_recorded(connection: sqlite3.Connection, owner: str) -> dict[str, KnownValue]:
    rows = connection.execute(
        "SELECT field, value FROM recorded WHERE owner = ? ORDER BY field", (owner,)
    ).fetchall()
    return {key: KnownValue.from_values(json.loads(text)) for key, text in rows}


def read_outputs(
    connection: sqlite3.Connection, level: str, value: str
) -> tuple[tuple[Process, Output], ...]:
    """Return the outputs whose points have this fingerprint, with what made them.

    Args:
        connection: the book.
        level: `full` or `geometry`.
        value: 32 hex digits.
    """
    column = {"full": "p.full", "geometry": "p.geometry"}[level]
    rows = connection.execute(
        f"{_OF_OUTPUT} WHERE {column} = ? AND f.relation = ? ORDER BY f.entry, f.place",
        (value, OUTPUT),
    ).fetchall()
    processes = {row[0]: read_process(connection, row[0]) for row in rows}
    pairs = ((processes[row[0]], _make_output(row)) for row in rows)
    return tuple((process, output) for process, output in pairs if process is not None)


def read_uses(connection: sqlite3.Connection, sha256: str) -> tuple[Use, ...]:
    """Return every use of some bytes, in order of entry.

    A file registered with a flight is an input of every run that used that flight.
    """
    rows = connection.execute(
        f"SELECT f.relation, f.owner, f.entry, {_FILE} FROM files f"  # noqa: S608 - constants
        " WHERE f.sha256 = ? ORDER BY f.entry, f.relation, f.place",
        (sha256,),
    ).fetchall()
    uses = [Use(row[0], row[1], row[2], _make_file(row[3:])) for row in rows]
    flights = {use.owner: use for use in uses if use.relation == REGISTERED and use.owner}
    for flight, use in flights.items():
        for process, entry in connection.execute(
            "SELECT process, entry FROM inputs WHERE flight = ? ORDER BY entry, place", (flight,)
        ).fetchall():
            uses.append(Use(INPUT, process, entry, use.file))
    return tuple(sorted(uses, key=lambda use: use.entry))


def read_digests_used_as(
    connection: sqlite3.Connection, relations: Iterable[str]
) -> frozenset[str]:
    """Return the digests of files that have a use of one of these relations."""
    wanted = tuple(relations)
    marks = ", ".join("?" * len(wanted))
    rows = connection.execute(
        f"SELECT DISTINCT sha256 FROM files WHERE relation IN ({marks})",  # noqa: S608
        wanted,
    ).fetchall()
    return frozenset(row[0] for row in rows)


def read_sizes_used_as(connection: sqlite3.Connection, relations: Iterable[str]) -> frozenset[int]:
    """Return the sizes in bytes of files that have a use of one of these relations."""
    wanted = tuple(relations)
    marks = ", ".join("?" * len(wanted))
    rows = connection.execute(
        f"SELECT DISTINCT bytes FROM files WHERE relation IN ({marks})",  # noqa: S608
        wanted,
    ).fetchall()
    return frozenset(row[0] for row in rows)


def read_files_of_flight(connection: sqlite3.Connection, flight: str) -> tuple[FileRecord, ...]:
    """Return the files registered with a flight, in order of entry."""
    return read_files(
        connection,
        "WHERE f.owner = ? AND f.relation = ? ORDER BY f.entry, f.place",
        (flight, REGISTERED),
    )


def read_registrations(connection: sqlite3.Connection, flight: str) -> tuple[Use, ...]:
    """Return the files registered with a flight, each with its entry, in order of entry."""
    rows = connection.execute(
        f"SELECT f.relation, f.owner, f.entry, {_FILE} FROM files f"  # noqa: S608 - constants
        " WHERE f.owner = ? AND f.relation = ? ORDER BY f.entry, f.place",
        (flight, REGISTERED),
    ).fetchall()
    return tuple(Use(row[0], row[1], row[2], _make_file(row[3:])) for row in rows)


def read_files_last_seen(connection: sqlite3.Connection, role: str = "") -> tuple[FileRecord, ...]:
    """Return the latest record of every path in the book, sorted by path.

    Where a step wrote over its input, the output is the later one.

    Args:
        connection: the book.
        role: records of this role alone; empty for all.
    """
    rows = connection.execute(
        f"SELECT {_FILE}, max({rank_latest(OUTPUT, '+')})"  # noqa: S608 - constants
        " FROM files f WHERE path != '' GROUP BY path ORDER BY path"
    )
    latest = (_make_file(row[:-1]) for row in rows)
    return tuple(file for file in latest if role in ("", file.role))


def read_fingerprint(connection: sqlite3.Connection, sha256: str) -> FingerprintValue | None:
    """Return the latest point fingerprint stored for some bytes."""
    row = connection.execute(
        f"SELECT {_FINGERPRINT} FROM fingerprints p WHERE p.sha256 = ?"  # noqa: S608 - constants
        " ORDER BY p.entry DESC, p.relation, p.place LIMIT 1",
        (sha256,),
    ).fetchone()
    return None if row is None else _make_fingerprint(row)


def read_makers(
    connection: sqlite3.Connection, digests: Sequence[str]
) -> dict[str, dict[str, str]]:
    """Return who made some bytes and where it wrote them, by digest, in order of entry.

    Args:
        connection: the book.
        digests: SHA-256 of the files; all of them are answered, most with nobody.
    """
    made: dict[str, dict[str, str]] = {sha256: {} for sha256 in digests}
    for part in _cut(digests):
        for sha256, owner, path in connection.execute(
            "SELECT sha256, owner, path FROM files WHERE relation = ?"  # noqa: S608 - marks alone
            f" AND sha256 IN ({', '.join('?' * len(part))}) ORDER BY entry, place",
            (OUTPUT, *part),
        ):
            made[sha256].setdefault(owner, path)
    return made


def read_fingerprints(
    connection: sqlite3.Connection, digests: Sequence[str]
) -> dict[str, FingerprintValue | None]:
    """Return the latest point fingerprint of some bytes, by digest; None where there is none."""
    found: dict[str, FingerprintValue | None] = dict.fromkeys(digests)
    for part in _cut(digests):
        rows = connection.execute(
            f"SELECT p.sha256, {_FINGERPRINT} FROM fingerprints p"  # noqa: S608 - constants
            f" WHERE p.sha256 IN ({', '.join('?' * len(part))})"
            " ORDER BY p.entry, p.relation DESC, p.place DESC",
            part,
        )
        found.update((row[0], _make_fingerprint(row[1:])) for row in rows)  # the last one stays
    return found


def _cut(digests: Sequence[str]) -> Iterator[Sequence[str]]:
    """Yield as many at once as one statement may ask for."""
    for start in range(0, len(digests), ASKED_AT_ONCE):
        yield digests[start : start + ASKED_AT_ONCE]


def read_acceptances(connection: sqlite3.Connection) -> dict[str, int]:
    """Return the entry of the latest acceptance of every accepted finding, by its id."""
    rows = connection.execute("SELECT finding, entry FROM acceptances ORDER BY entry").fetchall()
    return dict(rows)


def read_files(
    connection: sqlite3.Connection, condition: str, values: Iterable[Any]
) -> tuple[FileRecord, ...]:
    """Return records of files; `condition` is SQL text of the program's own, never of a user."""
    rows = connection.execute(
        f"SELECT {_FILE} FROM files f {condition}",  # noqa: S608 - text of this module
        tuple(values),
    ).fetchall()
    return tuple(_make_file(row) for row in rows)


def _make_file(row: tuple[Any, ...]) -> FileRecord:
    path, sha256, size, mtime_ns, role, facts, fault, path_bytes = row
    said = json.loads(facts) if facts != NO_FACTS else {}
    return FileRecord(path, sha256, size, mtime_ns, role, said, fault, path_bytes)


def _make_output(row: tuple[Any, ...]) -> Output:
    """Return the output of a row of `_OF_OUTPUT`."""
    fingerprint = row[10:]
    return Output(
        file=_make_file(row[2:10]),
        points=row[1],
        fingerprint=None if fingerprint[0] is None else _make_fingerprint(fingerprint),
    )


def _make_fingerprint(row: tuple[Any, ...]) -> FingerprintValue:
    version, count, geometry, pulse, full, rounded = row
    return FingerprintValue(version, count, geometry, pulse, full, bool(rounded))
