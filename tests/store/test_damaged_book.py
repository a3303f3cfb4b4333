"""The file of a book with bytes changed behind SQLite's back: never called unbroken."""

from __future__ import annotations

import random
import sqlite3
from collections import Counter

import pytest
from checked_book import check_book, make_small_book

from ledger.canonical import compute_digest
from ledger.errors import SwathbookError
from ledger.store.schema import BOOK_NAME


def read_rows(folder):
    """Return every row of journal and blobs past any index, or the error in their place."""
    statements = "SELECT * FROM journal ORDER BY seq", "SELECT rowid, * FROM blobs NOT INDEXED"
    connection = sqlite3.connect(folder / BOOK_NAME)
    connection.text_factory = bytes
    try:
        return [connection.execute(statement).fetchall() for statement in statements]
    except sqlite3.Error as error:
        return error
    finally:
        connection.close()


def find_outcome(folder):
    """Return `unbroken`, `broken`, or the class of the error that a check ended with."""
    try:
        return "unbroken" if check_book(folder).unbroken else "broken"
    except SwathbookError as error:
        return type(error).__name__


def test_a_file_damaged_by_the_medium_is_never_called_unbroken(story_folder):
    """With noise over part of the file, a book is only unbroken where every row reads as before."""
    path = story_folder / BOOK_NAME
    content = path.read_bytes()
    rows = read_rows(story_folder)
    dice = random.Random(7)
    outcomes: Counter[str] = Counter()
    for _ in range(120):
        damaged = bytearray(content)
        start = dice.randrange(len(content) - 256)
        damaged[start : start + 256] = dice.randbytes(256)
        path.write_bytes(damaged)
        outcome = find_outcome(story_folder)
        assert outcome != "unbroken" or read_rows(story_folder) == rows
        outcomes[outcome] += 1
    assert outcomes["broken"] > 10
    assert outcomes["unbroken"] > 10  # noise in pages of derived tables or in unused ones


def test_sqlite_can_still_say_the_file_is_whole(story_folder, open_behind):
    """The file of a book is a sound SQLite file."""
    connection: sqlite3.Connection = open_behind(story_folder)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_any_byte_changed_in_the_file_itself_is_found(tmp_path):
    """Behind SQLite's back: a name changed in its row alone leaves the index as it was."""
    make_small_book(tmp_path)
    path = tmp_path / BOOK_NAME
    whole, rows = path.read_bytes(), read_rows(tmp_path)
    texts = [value for table in rows for row in table for value in row if isinstance(value, bytes)]
    places = {
        place
        for text in texts
        for start in range(len(whole))
        if whole.startswith(text, start)
        for place in range(start, start + len(text), max(1, len(text) // 8))
    }
    changed = Counter[bool]()
    for place in sorted(places):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        touched = read_rows(tmp_path) != rows
        changed[touched] += 1
        if touched:
            assert not check_book(tmp_path).unbroken, place
    assert changed[True] > 100
    assert changed[False]  # the index holds names too, and is no row


def test_a_blob_renamed_in_its_row_is_laid_to_the_entry_that_names_it(tmp_path):
    """The index still finds it; the row says another name."""
    make_small_book(tmp_path)
    path = tmp_path / BOOK_NAME
    whole, (journal, blobs) = path.read_bytes(), read_rows(tmp_path)
    name = compute_digest(b"[job]\n").encode()
    starts = [start for start in range(len(whole)) if whole.startswith(name, start)]
    for start in starts:
        path.write_bytes(whole[:start] + b"x" + whole[start + 1 :])
        found = read_rows(tmp_path)
        if isinstance(found, list) and found[0] == journal and found[1] != blobs:
            state = check_book(tmp_path)
            assert (state.unbroken, state.first_broken_entry) == (False, 2)
            assert "another name" in state.sentence
            return
    pytest.fail("no such place in the file")
