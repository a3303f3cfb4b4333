"""Reading entries and contents: in order, by kind, and never what was not stored."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from ledger.errors import BookError, BrokenBookError, ContractError
from ledger.model.entry import Draft, Kind
from ledger.store.reading import Book
from ledger.store.writing import Addition, create_book


def test_a_row_that_is_no_entry_is_one_line(story_folder, open_behind):
    """A row without an entry in it is a broken book, naming the row."""
    tables = open_behind(story_folder)
    tables.execute("INSERT INTO journal VALUES (15, x'7b7d', zeroblob(32))")
    with Book.open(story_folder) as book, pytest.raises(BrokenBookError, match="entry 15"):
        book.entry(15)


def test_entries_come_in_order_and_by_kind(story_folder):
    """All entries, those of some kinds, and those from a number on come in order."""
    with Book.open(story_folder) as book:
        assert [entry.seq for entry in book.entries()] == list(range(1, 15))
        assert [entry.seq for entry in book.entries(Kind.FLIGHT, "run")] == [4, 7, 8, 10]
        assert [entry.seq for entry in book.entries("run", since=9)] == [10]
        assert [entry.kind for entry in book.entries(since=13)] == ["acceptance", "recheck"]
        assert book.last(Kind.FLIGHT).seq == 7
        assert book.last("seal") is None
        assert book.entry(0) is None
        assert book.entry(15) is None
        assert list(book.entries("seal")) == []


def test_entries_are_read_in_portions_without_a_lock(writer, monkeypatch):
    """More entries than one portion come without gap, and a writer may add meanwhile."""
    monkeypatch.setattr("ledger.store.reading._ROWS_AT_A_TIME", 5)
    writer.append_all([Addition(Draft("note", {"number": number})) for number in range(23)])
    with Book.open(writer.folder) as book:
        numbers = []
        for entry in book.entries():
            numbers.append(entry.values["number"])
            if entry.seq == 13:
                writer.append(Draft("note", {"number": 23}))
    assert numbers == list(range(24))


def test_what_is_not_there_is_said(story_folder):
    """A node or a content that the book does not have is an error, never empty."""
    with Book.open(story_folder) as book:
        with pytest.raises(ContractError, match="no such complete node"):
            book.node(4, 0)
        with pytest.raises(BookError, match="no such content"):
            book.blob("00" * 32)


def test_a_missing_or_changed_content_is_broken(story_folder, open_behind):
    """A blob that was taken away or altered is never given out."""
    tables = open_behind(story_folder)
    for name in ("blobs_are_kept", "blobs_leave_by_entry"):
        tables.execute(f"DROP TRIGGER {name}")
    with Book.open(story_folder) as book:
        sha256 = book.last(Kind.SPECIFICATION).values["sha256"]
        for forged in (
            b"\x00",
            b"",
            b"noise",
            tables.execute("SELECT bytes FROM blobs").fetchall()[3][0],
        ):
            tables.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", (forged, sha256))
            with pytest.raises(BrokenBookError, match="not what was stored"):
                book.blob(sha256)
        tables.execute("DELETE FROM blobs WHERE sha256 = ?", (sha256,))
        with pytest.raises(BrokenBookError, match="missing"):
            book.blob(sha256)


# Entries that somebody else wrote: their tree fits, their values do not.


def test_what_an_entry_leaves_out_is_told_where_it_is_asked_for(tmp_path: Path) -> None:
    """One line with the entry and the key; whoever asks with a default gets that."""
    with create_book(tmp_path, machine="m") as book:
        entry = book.append(Draft("seal", {"size": 0}))
    assert entry.values.get("note") is None
    with pytest.raises(BrokenBookError, match="entry 1: an entry leaves out what its kind has"):
        entry.values["note"]


@pytest.mark.parametrize(
    ("kind", "values", "key"),
    [
        ("seal", {"size": "9"}, "size"),
        ("seal", {"since": True}, "since"),
        ("seal", {"consistency": ["xy"]}, "consistency"),
        ("seal", {"consistency": [7]}, "consistency"),
        ("transmittal", {"to": ["a", "b"]}, "to"),
        ("foreign", {"ids": []}, "ids"),
        ("specification", {"sha256": None}, "sha256"),
    ],
)
def test_a_value_of_another_shape_is_entered_in_no_book(
    tmp_path: Path, kind: str, values: dict[str, Any], key: str
) -> None:
    """As the shape that docs/reference/book.md has for it: what reads it counts on that."""
    with create_book(tmp_path, machine="m") as book:
        with pytest.raises(ContractError, match=f"do not fit its kind, {kind}: found {key}: "):
            book.append(Draft(kind, values))
        assert book.size == 0
