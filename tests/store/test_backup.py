"""The copy of a book is a book, and never takes the place of one that knows more."""

from __future__ import annotations

import shutil
import threading

import pytest

from ledger.errors import BookError, UnwritableFileError
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store.backup import copy_book
from ledger.store.reading import Book
from ledger.store.writing import BookWriter, create_book


@pytest.fixture
def job(tmp_path):
    """Return a job folder whose book holds three entries."""
    folder = tmp_path / "job"
    folder.mkdir()
    with create_book(folder) as writer:
        for number in range(3):
            writer.append(Draft(Kind.FLIGHT, {"name": str(number), "values": {}}), id_prefix="F")
    return folder


def add(folder, name="x"):
    """Add an entry."""
    with BookWriter.open(folder) as writer:
        writer.append(Draft(Kind.FLIGHT, {"name": name, "values": {}}), id_prefix="F")


def test_the_copy_is_an_unbroken_book_with_the_same_root(job, tmp_path):
    """It can be read, checked and written to like the book itself."""
    place = copy_book(job, tmp_path / "E" / "job")
    with Book.open(place) as copy, Book.open(job) as book:
        assert copy.check(NoProgress()).unbroken
        assert copy.root == book.root
    add(place.parent)
    assert [path.name for path in place.parent.iterdir() if "part" in path.name] == []


def test_an_older_copy_is_brought_up_to_date(job, tmp_path):
    """The old one is a beginning of the new one."""
    target = tmp_path / "E"
    copy_book(job, target)
    add(job)
    copy_book(job, target)
    with Book.open(target) as copy:
        assert copy.size == 4


def test_a_copy_that_went_on_by_itself_is_left_as_it_is(job, tmp_path):
    """Its entries are nowhere else."""
    target = tmp_path / "E"
    place = copy_book(job, target)
    add(target, "there")
    add(job, "here")
    before = place.read_bytes()
    with pytest.raises(BookError, match="went on by itself"):
        copy_book(job, target)
    assert place.read_bytes() == before


def test_a_longer_copy_is_left_too(job, tmp_path):
    """Ours is the older one."""
    copy_book(job, tmp_path / "E")
    add(tmp_path / "E")
    with pytest.raises(BookError, match="went on by itself"):
        copy_book(job, tmp_path / "E")


def test_another_file_of_that_name_is_left(job, tmp_path):
    """What is no book of ours is not replaced."""
    target = tmp_path / "E"
    target.mkdir()
    (target / "swathbook.sqlite").write_bytes(b"something else")
    with pytest.raises(BookError):
        copy_book(job, target)
    assert (target / "swathbook.sqlite").read_bytes() == b"something else"


def test_a_folder_that_cannot_be_made_is_one_line(job, tmp_path):
    """A file stands in the way."""
    (tmp_path / "E").write_text("file", encoding="utf-8")
    with pytest.raises(UnwritableFileError):
        copy_book(job, tmp_path / "E" / "job")


def test_a_book_that_is_written_to_meanwhile_is_copied_whole(job, tmp_path):
    """Every copy is an unbroken beginning of the book, whenever it is made."""
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            add(job)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(10):
            place = copy_book(job, tmp_path / f"E{number}")
            with Book.open(place) as copy, Book.open(job) as book:
                assert copy.check(NoProgress()).unbroken
                entry = book.entry(copy.size)
                assert entry is not None
                assert entry.root == copy.root
    finally:
        stop.set()
        writer.join()
    shutil.rmtree(tmp_path / "E0")
