"""What the file itself refuses, whichever program tries."""

from __future__ import annotations

import sqlite3

import pytest

from ledger.canonical import compute_digest
from ledger.model.ask import NoProgress


@pytest.fixture(params=["ON", "OFF"], ids=["recursive triggers", "plain triggers"])
def tables(request, story_folder, open_behind):
    """Give the tables of a whole book to another program."""
    connection = open_behind(story_folder)
    connection.execute(f"PRAGMA recursive_triggers = {request.param}")
    return connection


def read_rows(connection):
    """Return every row of both tables."""
    statements = "SELECT * FROM journal", "SELECT * FROM blobs"
    return [connection.execute(statement).fetchall() for statement in statements]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET body = x'00' WHERE seq = 3",
        "UPDATE journal SET root = zeroblob(32) WHERE seq = 3",
        "UPDATE journal SET seq = 99 WHERE seq = 14",
        "UPDATE OR REPLACE journal SET seq = 2 WHERE seq = 3",
        "DELETE FROM journal WHERE seq = 14",
        "DELETE FROM journal",
        "REPLACE INTO journal VALUES (3, x'00', zeroblob(32))",
        "INSERT OR REPLACE INTO journal VALUES (14, x'00', zeroblob(32))",
        "INSERT OR IGNORE INTO journal VALUES (14, x'00', zeroblob(32))",
        "INSERT INTO journal VALUES (3, x'00', x'00') ON CONFLICT DO UPDATE SET body = x'00'",
        "INSERT INTO journal VALUES (16, x'00', zeroblob(32))",
        "INSERT INTO journal VALUES (0, x'00', zeroblob(32))",
        "INSERT INTO journal VALUES (-1, x'00', zeroblob(32))",
        "INSERT INTO journal (body, root) VALUES (x'00', zeroblob(32))",
        "INSERT INTO journal VALUES (15, NULL, zeroblob(32))",
        "UPDATE blobs SET bytes = x'00'",
        "UPDATE blobs SET sha256 = 'ff'",
        "DELETE FROM blobs",
        "REPLACE INTO blobs SELECT sha256, x'00' FROM blobs LIMIT 1",
        "REPLACE INTO blobs (rowid, sha256, bytes) SELECT rowid, 'ff', x'00' FROM blobs LIMIT 1",
        "INSERT OR IGNORE INTO blobs SELECT sha256, x'00' FROM blobs",
    ],
)
def test_alterations_are_refused(tables, statement):
    """No statement alters, removes or replaces an entry or a blob, or leaves a gap."""
    before = read_rows(tables)
    with pytest.raises(sqlite3.IntegrityError):
        tables.execute(statement)
    assert read_rows(tables) == before


def test_the_next_entry_and_a_new_blob_are_taken(tables):
    """Adding the next number and a blob that is not there yet is all that is left."""
    tables.execute("INSERT INTO journal VALUES (15, x'00', zeroblob(32))")
    tables.execute("INSERT INTO blobs VALUES ('ff', x'00')")
    assert tables.execute("SELECT max(seq) FROM journal").fetchone() == (15,)


def test_a_blob_leaves_only_when_an_entry_withholds_that_one(story_writer, open_behind, story):
    """A withhold entry opens the way for its own blob and for no other."""
    story_writer.withhold(compute_digest(story[1].blobs[0]), "it held a password")
    tables = open_behind(story_writer.folder)
    for (digest,) in tables.execute("SELECT sha256 FROM blobs").fetchall():
        with pytest.raises(sqlite3.IntegrityError, match="only by a withhold entry"):
            tables.execute("DELETE FROM blobs WHERE sha256 = ?", (digest,))
    assert story_writer.check(NoProgress()).unbroken
