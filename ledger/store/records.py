"""Derived rows of runs, steps, flights and rigs, as they stand after every later entry."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Mapping
from typing import Any

from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision
from ledger.store.pages import Page
from ledger.store.uses import INPUT, add_output, add_use, complete_files

_ID = re.compile(r"([A-Z]+)([0-9]{1,9})")


def split_id(values: Mapping[str, Any]) -> tuple[str, str, int] | None:
    """Return id, prefix and number of an entry that has an id such as `R3`; else None."""
    given = values.get("id") if isinstance(values, Mapping) else None
    match = _ID.fullmatch(given) if isinstance(given, str) else None
    return None if match is None else (match[0], match[1], int(match[2]))


def find_next_id(connection: sqlite3.Connection, prefix: str) -> str:
    """Return the id after the highest one given so far."""
    row = connection.execute(
        "SELECT coalesce(max(number), 0) + 1 FROM ids WHERE prefix = ?", (prefix,)
    ).fetchone()
    return f"{prefix}{row[0]}"


def add_card(
    connection: sqlite3.Connection,
    page: Page,
    read_list: Callable[[str], Any],  # noqa: ARG001 - the same for every kind
) -> None:
    """Add a flight or rig, or what a later entry says of it."""
    entry = page.entry
    connection.execute(
        "INSERT INTO cards VALUES (:id, :kind, :name, :entry, :time, :by)"
        " ON CONFLICT (id) DO UPDATE SET entry = excluded.entry, time = excluded.time,"
        " by = excluded.by, name = CASE excluded.name WHEN '' THEN name ELSE excluded.name END",
        {
            "id": entry.values["id"],
            "kind": entry.kind,
            "name": entry.values.get("name", ""),
            "entry": entry.seq,
            "time": entry.time,
            "by": entry.by,
        },
    )
    _require_kind(connection, "cards", page)
    _add_recorded(connection, page, entry.values["id"])


def add_process(
    connection: sqlite3.Connection, page: Page, read_list: Callable[[str], Any]
) -> None:
    """Add a run or step, or what a later entry of the same id adds to it."""
    entry = page.entry
    owner = entry.values["id"]
    connection.execute(
        "INSERT INTO processes VALUES (:id, :kind, :name, :entry, :time, :by, :decision, :entry,"
        " :time, :reason) ON CONFLICT (id) DO UPDATE"
        " SET name = CASE excluded.name WHEN '' THEN name ELSE excluded.name END",
        {
            "id": owner,
            "kind": entry.kind,
            "name": entry.values.get("name", ""),
            "entry": entry.seq,
            "time": entry.time,
            "by": entry.by,
            "decision": Decision.UNDECIDED.value,
            "reason": "",
        },
    )
    _require_kind(connection, "processes", page)
    if entry.values.get("decision"):
        _decide(connection, page, owner)
    _add_recorded(connection, page, owner)
    _add_inputs(connection, page)
    if entry.values.get("outputs"):
        for place, stored in enumerate(read_list(entry.values["outputs"])):
            add_output(connection, entry.seq, place, owner, stored)


def add_decision(
    connection: sqlite3.Connection,
    page: Page,
    read_list: Callable[[str], Any],  # noqa: ARG001 - the same for every kind
) -> None:
    """Add a later decision on a run or step."""
    _decide(connection, page, page.entry.values["process"])


def add_amendment(
    connection: sqlite3.Connection,
    page: Page,
    read_list: Callable[[str], Any],  # noqa: ARG001 - the same for every kind
) -> None:
    """Replace values of a run, step, flight or rig that were written down wrongly."""
    owner = page.entry.values["record"]
    known = connection.execute(
        "SELECT id FROM processes WHERE id = ? UNION SELECT id FROM cards WHERE id = ?",
        (owner, owner),
    ).fetchone()
    if known is None:
        raise ValueError(f"there is no record {owner}")
    _add_recorded(connection, page, owner)


def add_acceptance(
    connection: sqlite3.Connection,
    page: Page,
    read_list: Callable[[str], Any],  # noqa: ARG001 - the same for every kind
) -> None:
    """Add the acceptance of a finding; the latest one counts."""
    connection.execute(
        "INSERT OR REPLACE INTO acceptances VALUES (?, ?)",
        (page.entry.values["finding"], page.entry.seq),
    )


def add_withhold(
    connection: sqlite3.Connection,
    page: Page,
    read_list: Callable[[str], Any],  # noqa: ARG001 - the same for every kind
) -> None:
    """Note that a blob is withheld; a rebuild has noted it before the first entry."""
    connection.execute(
        "INSERT OR IGNORE INTO withheld VALUES (?, ?)", (page.entry.values["blob"], page.entry.seq)
    )


def _decide(connection: sqlite3.Connection, page: Page, process: str) -> None:
    entry = page.entry
    found = connection.execute(
        "UPDATE processes SET decision = ?, decision_entry = ?, decision_time = ?, reason = ?"
        " WHERE id = ?",
        (
            Decision(entry.values["decision"]).value,
            entry.seq,
            entry.time,
            entry.values.get("reason", ""),
            process,
        ),
    ).rowcount
    if not found:
        raise ValueError(f"there is no run or step {process}")


def _require_kind(connection: sqlite3.Connection, table: str, page: Page) -> None:
    row = connection.execute(
        f"SELECT kind FROM {table} WHERE id = ?",  # noqa: S608 - one of two names
        (page.entry.values["id"],),
    ).fetchone()
    if row[0] != page.entry.kind:
        raise ValueError(f"{page.entry.values['id']} is a {row[0]}, not a {page.entry.kind}")


def _add_recorded(connection: sqlite3.Connection, page: Page, owner: str) -> None:
    """Replace the values that this entry gives; those it does not give stay.

    An amendment may give null: then nothing is recorded any more.
    """
    for key, stored in page.entry.values.get("values", {}).items():
        if stored is None:
            connection.execute("DELETE FROM recorded WHERE owner = ? AND field = ?", (owner, key))
            continue
        known = KnownValue.from_values(stored).to_values()
        text = json.dumps(known, ensure_ascii=False, sort_keys=True)
        connection.execute(
            "INSERT OR REPLACE INTO recorded VALUES (?, ?, ?, ?)",
            (owner, key, text, page.entry.seq),
        )


def _add_inputs(connection: sqlite3.Connection, page: Page) -> None:
    entry = page.entry
    owner = entry.values["id"]
    for place, stored in enumerate(entry.values.get("inputs", ())):
        sha256, path = stored.get("sha256", ""), stored.get("path", "")
        role = stored.get("role", "")
        assumed = stored.get("known_by") == KnownBy.ASSUMED
        connection.execute(
            "INSERT INTO inputs VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (entry.seq, place, owner, stored.get("flight", ""), sha256, path, role, assumed),
        )
        if sha256:
            given = {"sha256": sha256, "path": path, "role": role, "bytes": stored.get("bytes", 0)}
            (file,) = complete_files(connection, [given])
            add_use(connection, (entry.seq, INPUT, place), owner, file)
