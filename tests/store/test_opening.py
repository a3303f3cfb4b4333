"""Opening a book: where it is found, and what is refused."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from checked_book import NOTE

from ledger.errors import BusyBookError, ForeignBookError, NewerBookError, NoBookError
from ledger.store.reading import Book, find_book
from ledger.store.schema import BOOK_NAME
from ledger.store.writing import BookWriter


def require_one_line(error: Exception, path: Path) -> None:
    """Check that an error is one line and names the file."""
    assert "\n" not in str(error)
    assert str(path) in str(error)


# Where it is found.


def test_the_book_of_a_folder_is_there_or_above(story_folder):
    """From the job folder, a folder in it, or a file in it, the same book is found."""
    inner = story_folder / "raw" / "F1"
    inner.mkdir(parents=True)
    (inner / "scan.bin").touch()
    for start in (story_folder, inner, inner / "scan.bin", inner / "not there"):
        assert find_book(start) == story_folder / BOOK_NAME


def test_without_a_book_the_next_step_is_said(tmp_path):
    """A folder outside any job is an error of one line that names the way in."""
    with pytest.raises(NoBookError, match="swathbook start") as caught:
        find_book(tmp_path)
    require_one_line(caught.value, tmp_path)
    with pytest.raises(NoBookError):
        Book.open(tmp_path)


def test_a_book_is_opened_by_folder_or_by_file(story_folder):
    """The job folder and the file itself name the same book."""
    for path in (story_folder, story_folder / BOOK_NAME):
        with Book.open(path) as book:
            assert (book.path, book.folder) == (story_folder / BOOK_NAME, story_folder)
            assert book.size == 14


@pytest.mark.parametrize("name", ["with space", "100% #1?", "Überflug Ł 測量", "a'b"])
def test_any_folder_name_will_do(story_folder, tmp_path_factory, name):
    """Folder names with signs that mean something in an address are opened like any other."""
    folder = tmp_path_factory.mktemp("jobs") / name
    folder.mkdir()
    shutil.copy(story_folder / BOOK_NAME, folder)
    with BookWriter.open(folder) as writer:
        writer.append(NOTE)
    with Book.open(folder) as book:
        assert book.size == 15


# What is refused.


@pytest.mark.parametrize("content", [b"", b"LASF" + bytes(400), b"notes\n" * 100, bytes(4096)])
def test_a_file_that_is_no_book_is_refused_in_one_line(tmp_path, content):
    """An empty file, a point file, a text and zeros are no book, and stay as they are."""
    path = tmp_path / BOOK_NAME
    path.write_bytes(content)
    for kind in (Book, BookWriter):
        with pytest.raises(ForeignBookError) as caught:
            kind.open(tmp_path)
        require_one_line(caught.value, path)
    assert path.read_bytes() == content


@pytest.mark.parametrize(
    "statement",
    [
        "PRAGMA application_id = 0",
        "PRAGMA application_id = 1196444487",
        "ALTER TABLE journal ADD COLUMN note",
        "DROP TABLE blobs",
    ],
)
def test_another_programs_database_is_refused(story_folder, open_behind, statement):
    """A file with another application id or other tables is not ours to read."""
    open_behind(story_folder).execute(statement)
    with pytest.raises(ForeignBookError) as caught:
        Book.open(story_folder)
    require_one_line(caught.value, story_folder)


def test_a_newer_book_is_refused_in_one_line(story_folder, open_behind):
    """A book of a later layout is neither read nor written."""
    open_behind(story_folder).execute("PRAGMA user_version = 2")
    for kind in (Book, BookWriter):
        with pytest.raises(NewerBookError, match="found layout 2, expected up to 1") as caught:
            kind.open(story_folder)
        require_one_line(caught.value, story_folder)


def test_a_reader_waits_no_longer_than_said(story_folder, open_behind, monkeypatch):
    """While another program holds the whole file, reading ends with one line."""
    open_behind(story_folder).execute("BEGIN EXCLUSIVE")
    monkeypatch.setattr("ledger.store.connecting.DEFAULT_WAIT_S", 0.05)
    monkeypatch.setattr("ledger.store.connecting.open_for_reading.__defaults__", (0.05,))
    with pytest.raises(BusyBookError) as caught:
        Book.open(story_folder)
    require_one_line(caught.value, story_folder)
