"""Entries forged together with their root: the tree agrees, and something else does not."""

from __future__ import annotations

import zlib
from typing import Any

import pytest
from checked_book import check_book, compute_root, make_small_book

from ledger.canonical import compute_digest, encode
from ledger.errors import BrokenBookError
from ledger.store.reading import Book
from ledger.store.schema import TRIGGERS


def forge_entry(tables, **parts) -> None:
    """Add an entry with a right root behind the back of the writer."""
    bodies = [row[0] for row in tables.execute("SELECT body FROM journal ORDER BY seq")]
    usual: dict[str, Any] = {
        "blobs": {},
        "by": "technician",
        "kind": "note",
        "machine": "0",
        "values": {},
    }
    usual |= {"seq": len(bodies) + 1, "time": "2026-05-04T06:00:00Z", "version": 1}
    body = parts["body"] if "body" in parts else encode({**usual, **parts})
    root = compute_root([*bodies, body])
    tables.execute("INSERT INTO journal VALUES (?, ?, ?)", (len(bodies) + 1, body, root))


@pytest.mark.parametrize(
    "parts",
    [
        {"seq": 4},
        {"body": b"{}"},
        {"body": b"no entry"},
        {"body": b'"kind":"withhold"'},
        {"blobs": {"00" * 32: {"bytes": 1, "stored": "00" * 32}}},
        {"blobs": {"00" * 32: {"bytes": -1, "stored": "00" * 32}}},
        {"blobs": []},
        {"values": None},
        {"kind": 3},
    ],
    ids=str,
)
def test_a_forged_entry_that_is_none_is_found(tmp_path, open_behind, parts):
    """A body that is no entry, has another number or names absent blobs is found by itself."""
    make_small_book(tmp_path)
    forge_entry(open_behind(tmp_path), **parts)
    state = check_book(tmp_path)
    assert (state.unbroken, state.first_broken_entry, state.entries) in (
        (False, 5, 4),
        (False, 5, 5),
    )


def test_an_entry_that_contradicts_an_earlier_one_about_a_blob_is_found(tmp_path, open_behind):
    """Two entries cannot state different stored bytes for one content."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    (name,) = tables.execute("SELECT sha256 FROM blobs LIMIT 1").fetchone()
    forge_entry(tables, blobs={name: {"bytes": 6, "stored": "00" * 32}})
    state = check_book(tmp_path)
    assert state.first_broken_entry == 5
    assert "says otherwise" in state.sentence


def test_a_blob_under_a_false_name_is_found(tmp_path, open_behind):
    """Stored bytes that fit their entry and not the digest they are named for are found."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    stored = zlib.compress(b"other content")
    tables.execute("INSERT INTO blobs VALUES (?, ?)", ("ab" * 32, stored))
    named = {"ab" * 32: {"bytes": 13, "stored": compute_digest(stored)}}
    forge_entry(tables, blobs=named)
    state = check_book(tmp_path)
    assert state.first_broken_entry == 5
    assert "content it is named for" in state.sentence


def test_words_of_a_withhold_entry_inside_another_withhold_nothing(tmp_path, open_behind):
    """Only the kind of an entry itself withholds; the same words among its values do not."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    for name in TRIGGERS:
        tables.execute(f"DROP TRIGGER {name}")
    (name,) = tables.execute("SELECT sha256 FROM blobs ORDER BY rowid LIMIT 1").fetchone()
    forge_entry(tables, values={"blob": name, "kind": "withhold"})
    assert check_book(tmp_path).unbroken
    tables.execute("DELETE FROM blobs WHERE sha256 = ?", (name,))
    assert check_book(tmp_path).first_broken_entry == 2


def test_an_entry_that_cannot_be_laid_out_is_said(tmp_path, open_behind):
    """A run without an id fits the tree; what needs the derived tables names it and stops."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    forge_entry(tables, kind="run")
    state = check_book(tmp_path)
    assert (state.unbroken, state.entries) == (True, 5)
    assert state.derived_difference
    with Book.open(tmp_path) as book:
        with pytest.raises(BrokenBookError, match="do not fit its kind, run"):
            book.processes()
        assert book.entry(5).kind == "run"
        assert not book._connection.in_transaction
