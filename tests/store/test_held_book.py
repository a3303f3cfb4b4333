"""A book that another program holds, or that a writer left half-way."""

from __future__ import annotations

import json
import os

import pytest
from checked_book import NOTE

from ledger import merkle
from ledger.errors import BookError, BusyBookError
from ledger.model.ask import NoProgress
from ledger.store.holder import NOTE_NAME
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME, SCRATCH_NAME
from ledger.store.writing import Addition, BookWriter


def test_a_busy_book_is_named_with_its_holder(writer, open_behind):
    """While another writer holds the book, the error says which process on which computer."""
    other = open_behind(writer.folder)
    other.execute("BEGIN IMMEDIATE")
    note = writer.folder / SCRATCH_NAME / NOTE_NAME
    note.parent.mkdir(exist_ok=True)
    note.write_text('{"machine": "beef0001", "process": 1, "since": "2026-05-04T06:00:00Z"}')
    waiting = BookWriter.open(writer.folder, wait_s=0.05)
    with waiting, pytest.raises(BusyBookError) as caught:
        waiting.append(NOTE)
    assert "process 1 on computer beef0001, since 2026-05-04T06:00:00Z" in str(caught.value)
    assert "\n" not in str(caught.value)
    other.execute("ROLLBACK")


def test_a_holder_without_a_note_is_said_so(writer, open_behind):
    """A program that leaves no note is called just that."""
    other = open_behind(writer.folder)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(BusyBookError, match="held by another program"):
        BookWriter.open(writer.folder, wait_s=0.05)
    other.execute("ROLLBACK")


def test_a_reader_that_does_not_let_go_stops_the_commit(writer, open_behind):
    """When a reading program blocks the commit, the entry is undone and the reader is blamed."""
    other = open_behind(writer.folder)
    with BookWriter.open(writer.folder, wait_s=0.05) as waiting:
        waiting.append(NOTE)
        other.execute("BEGIN")
        other.execute("SELECT * FROM journal").fetchall()
        with pytest.raises(BusyBookError, match="found a program that reads it"):
            waiting.append(NOTE)
        other.execute("ROLLBACK")
        assert waiting.append(NOTE).seq == 2


def test_the_note_lies_there_only_while_the_book_is_held(writer, monkeypatch):
    """During a transaction the note names this process; afterwards it is gone."""
    note = writer.folder / SCRATCH_NAME / NOTE_NAME
    seen = []

    def look(*_: object) -> merkle.Frontier:
        seen.append(json.loads(note.read_text()))
        return merkle.Frontier()

    monkeypatch.setattr("ledger.store.writing.require_sound", look)
    writer.append(NOTE)
    assert seen[0]["machine"] == "0123abcd"
    assert not note.exists()


def test_an_interrupted_addition_leaves_nothing(writer, monkeypatch):
    """An interrupt between storing and committing undoes the whole entry."""

    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("ledger.store.derive.add_page", interrupt)
    with pytest.raises(KeyboardInterrupt):
        writer.append(NOTE, (b"blob",))
    monkeypatch.undo()
    assert writer.size == 0
    assert writer.append(NOTE, (b"blob",)).seq == 1


def test_a_full_medium_is_one_line_and_leaves_the_book_as_it_was(writer):
    """When there is no room, nothing is stored and the error says so."""
    writer.append(NOTE)
    pages = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    writer._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(BookError, match="no room left") as caught:
        writer.append(NOTE, (bytes(range(256)) * 400 + os.urandom(40_000),))
    assert "\n" not in str(caught.value)
    writer._connection.execute("PRAGMA max_page_count = 1000000")
    state = writer.check(NoProgress())
    assert (state.unbroken, state.entries, state.derived_difference) == (True, 1, "")


def test_the_book_waits_for_the_medium(writer):
    """Commits wait for the medium, for the end of the rollback journal too; it is gone at close."""
    connection = writer._connection
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("truncate",)
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    writer.append(NOTE)
    assert (writer.folder / f"{BOOK_NAME}-journal").stat().st_size == 0
    writer.close()
    assert sorted(path.name for path in writer.folder.iterdir()) == [SCRATCH_NAME, BOOK_NAME]


def test_an_empty_journal_left_by_a_killed_writer_does_no_harm(story_folder):
    """A rollback journal without content is read past, and goes with the next writer."""
    journal = story_folder / f"{BOOK_NAME}-journal"
    journal.touch()
    with Book.open(story_folder) as book:
        assert book.check(NoProgress()).unbroken
    with BookWriter.open(story_folder) as writer:
        assert writer.append(NOTE).seq == 15
    assert not journal.exists()


def test_a_writer_leaves_the_journal_of_another_alone(writer, open_behind):
    """Closing one writer while another one is half-way takes nothing from that one."""
    other = BookWriter.open(writer.folder, wait_s=0.05)
    with writer._adding() as frontier:
        writer._add(Addition(NOTE, (b"blob",)), (), frontier)
        other.close()
        writer._store_rows()
        journal = writer.folder / f"{BOOK_NAME}-journal"
        assert journal.stat().st_size > 0
    assert writer.check(NoProgress()).unbroken
    assert writer.size == 1
