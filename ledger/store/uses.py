"""Derived rows of files: where, when and as what each one was seen or used."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping
from typing import Any

from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.store.mapping import file_from_values, fingerprint_from_values, output_from_values
from ledger.store.pages import Page

REGISTERED, INPUT, OUTPUT, AUDITED, SEEN = "registered", "input", "output", "audited", "seen"


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
    for place, stored in enumerate(read_list(values["manifest"])):
        path = stored["path"] if folder in ("", ".") else f"{folder}/{stored['path']}"
        file = complete_file(connection, {**stored, "path": path})
        add_use(connection, (seq, AUDITED, place), values["id"], file)
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
    if not file.sha256:
        return
    facts = json.dumps(dict(file.facts), ensure_ascii=False, sort_keys=True)
    connection.execute(
        "INSERT INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *key,
            owner,
            file.path,
            file.sha256,
            file.bytes,
            file.mtime_ns,
            file.role,
            facts,
            file.fault,
            file.path_bytes,
            points,
        ),
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


def complete_file(connection: sqlite3.Connection, stored: Mapping[str, Any]) -> FileRecord:
    """Return a file, with what an earlier entry knew of the same bytes under the same path.

    Inputs and audits say path and digest; size, time and raw name may be known already.
    """
    known = connection.execute(
        "SELECT bytes, mtime_ns, role, facts, fault, path_bytes FROM files"
        " WHERE sha256 = ? AND path = ? ORDER BY entry DESC, relation, place LIMIT 1",
        (stored["sha256"], stored["path"]),
    ).fetchone()
    if known is None:
        size = connection.execute(
            "SELECT bytes FROM files WHERE sha256 = ? ORDER BY entry, relation, place LIMIT 1",
            (stored["sha256"],),
        ).fetchone()
        known = (size[0] if size else 0, 0, "", "{}", "", "")
    names = ("bytes", "mtime_ns", "role", "facts", "fault", "path_bytes")
    before = dict(zip(names, known, strict=True))
    before["facts"] = json.loads(before["facts"])
    given = {name: value for name, value in stored.items() if value or name not in before}
    return file_from_values({**before, **given})
