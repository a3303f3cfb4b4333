"""The triggers of a book: are they there, as they were laid, and no others?

They stop accidents. A book without them is not broken, since the tree shows every change; it has
lost its lock, which is said and mended.
"""

from __future__ import annotations

import sqlite3

from ledger.store.schema import TRIGGERS


def find_faulty(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Return the names of triggers that are missing, altered, or none of ours; sorted."""
    present = dict(
        connection.execute("SELECT name, sql FROM main.sqlite_master WHERE type = 'trigger'")
    )
    names = present.keys() | TRIGGERS.keys()
    return tuple(sorted(name for name in names if present.get(name) != TRIGGERS.get(name)))


def restore(connection: sqlite3.Connection) -> None:
    """Lay the triggers as they have to be; for a transaction of the caller."""
    for name in find_faulty(connection):
        quoted = name.replace('"', '""')
        connection.execute(f'DROP TRIGGER IF EXISTS "{quoted}"')
        if name in TRIGGERS:
            connection.execute(TRIGGERS[name])
