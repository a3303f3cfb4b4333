"""The tables of a book, as SQL text.

Two tables hold the book: `journal` and `blobs`. Triggers refuse whatever is not an addition at the
end; they stop accidents, the tree of roots shows the rest. All other tables are derived: they can
be dropped and are rebuilt from those two.

Imports nothing.
"""

from __future__ import annotations

BOOK_NAME = "swathbook.sqlite"
SCRATCH_NAME = ".swathbook"
"""Folder beside the book for things that may be lost."""

APPLICATION_ID = 0x5377426B
"""`SwBk` in ASCII, in the header of the SQLite file."""

LAYOUT_VERSION = 1
"""`user_version`: raised when an older program could misread a book."""

DERIVED_VERSION = 3
"""Raised when derived tables are laid out or filled in another way; they are then rebuilt."""

STORED_TABLES = {
    "journal": "CREATE TABLE journal (seq INTEGER PRIMARY KEY, body BLOB NOT NULL,"
    " root BLOB NOT NULL)",
    "blobs": "CREATE TABLE blobs (sha256 TEXT PRIMARY KEY NOT NULL, bytes BLOB NOT NULL)",
}

# REPLACE deletes without running delete triggers unless recursive triggers are switched on, which
# no book can rely on; so the triggers on INSERT look for what would be replaced. Bodies are
# canonical JSON, so that a key and its value are found as one run of bytes; SQLite's JSON functions
# are not allowed in triggers while the schema is not trusted.
TRIGGERS = {
    "journal_grows_at_the_end": """CREATE TRIGGER journal_grows_at_the_end
BEFORE INSERT ON journal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM journal)
BEGIN SELECT RAISE(ABORT, 'an entry is added at the end of the book only'); END""",
    "journal_keeps_entries": """CREATE TRIGGER journal_keeps_entries
BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry of the book is never altered'); END""",
    "journal_loses_nothing": """CREATE TRIGGER journal_loses_nothing
BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry of the book is never removed'); END""",
    "blobs_are_added": """CREATE TRIGGER blobs_are_added
BEFORE INSERT ON blobs
WHEN EXISTS (SELECT 1 FROM blobs WHERE sha256 = NEW.sha256 OR rowid = NEW.rowid)
BEGIN SELECT RAISE(ABORT, 'a blob of the book is never replaced'); END""",
    "blobs_are_kept": """CREATE TRIGGER blobs_are_kept
BEFORE UPDATE ON blobs
BEGIN SELECT RAISE(ABORT, 'a blob of the book is never altered'); END""",
    "blobs_leave_by_entry": """CREATE TRIGGER blobs_leave_by_entry
BEFORE DELETE ON blobs
WHEN NOT EXISTS (
  SELECT 1 FROM journal
  WHERE instr(body, CAST('"kind":"withhold"' AS BLOB)) > 0
  AND instr(body, CAST('"values":{"blob":"' || OLD.sha256 || '"' AS BLOB)) > 0)
BEGIN SELECT RAISE(ABORT, 'a blob leaves the book only by a withhold entry'); END""",
}

DERIVED_TABLES = {
    # one row: how the derived tables were made, and from how many entries
    "derived": "(version INTEGER NOT NULL, entries INTEGER NOT NULL)",
    # complete nodes of the tree over the stored bodies
    "nodes": "(level INTEGER, number INTEGER, hash BLOB NOT NULL,"
    " PRIMARY KEY (level, number)) WITHOUT ROWID",
    "entries": "(seq INTEGER PRIMARY KEY, kind TEXT NOT NULL)",
    "ids": "(id TEXT PRIMARY KEY, prefix TEXT NOT NULL, number INTEGER NOT NULL) WITHOUT ROWID",
    # what the first entry that names a blob says of it
    "blob_digests": "(sha256 TEXT PRIMARY KEY, stored TEXT NOT NULL, bytes INTEGER NOT NULL,"
    " entry INTEGER NOT NULL) WITHOUT ROWID",
    "withheld": "(sha256 TEXT PRIMARY KEY, entry INTEGER NOT NULL) WITHOUT ROWID",
    # every use of a file; `place` is its position in the list of its entry
    "files": "(entry INTEGER, relation TEXT, place INTEGER, owner TEXT NOT NULL,"
    " path TEXT NOT NULL, sha256 TEXT NOT NULL, bytes INTEGER NOT NULL,"
    " mtime_ns INTEGER NOT NULL, role TEXT NOT NULL, facts TEXT NOT NULL, fault TEXT NOT NULL,"
    " path_bytes TEXT NOT NULL, points INTEGER,"
    " PRIMARY KEY (entry, relation, place)) WITHOUT ROWID",
    "inputs": "(entry INTEGER, place INTEGER, process TEXT NOT NULL, flight TEXT NOT NULL,"
    " sha256 TEXT NOT NULL, path TEXT NOT NULL, role TEXT NOT NULL,"
    " assumed INTEGER NOT NULL, PRIMARY KEY (entry, place)) WITHOUT ROWID",
    "processes": "(id TEXT PRIMARY KEY, kind TEXT NOT NULL, name TEXT NOT NULL,"
    " entry INTEGER NOT NULL, time TEXT NOT NULL, by TEXT NOT NULL, decision TEXT NOT NULL,"
    " decision_entry INTEGER NOT NULL, decision_time TEXT NOT NULL, reason TEXT NOT NULL)"
    " WITHOUT ROWID",
    "cards": "(id TEXT PRIMARY KEY, kind TEXT NOT NULL, name TEXT NOT NULL,"
    " entry INTEGER NOT NULL, time TEXT NOT NULL, by TEXT NOT NULL) WITHOUT ROWID",
    # the latest value of each field of a process or card, as canonical JSON
    "recorded": "(owner TEXT, field TEXT, value TEXT NOT NULL, entry INTEGER NOT NULL,"
    " PRIMARY KEY (owner, field)) WITHOUT ROWID",
    "fingerprints": "(entry INTEGER, relation TEXT, place INTEGER, sha256 TEXT NOT NULL,"
    " version TEXT NOT NULL, count INTEGER NOT NULL, geometry TEXT NOT NULL,"
    " pulse TEXT NOT NULL, full TEXT NOT NULL, rounded INTEGER NOT NULL,"
    " PRIMARY KEY (entry, relation, place)) WITHOUT ROWID",
    "acceptances": "(finding TEXT PRIMARY KEY, entry INTEGER NOT NULL) WITHOUT ROWID",
}

DERIVED_INDEXES = {
    "entries_by_kind": "entries (kind, seq)",
    "files_by_digest": "files (sha256, entry)",
    "files_by_path": "files (path, entry)",
    "files_by_owner": "files (owner, relation)",
    "inputs_by_flight": "inputs (flight)",
    "inputs_by_process": "inputs (process)",
    "fingerprints_by_digest": "fingerprints (sha256)",
    "fingerprints_by_full": "fingerprints (full)",
    "fingerprints_by_geometry": "fingerprints (geometry)",
}
