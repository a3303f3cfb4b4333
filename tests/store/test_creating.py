"""Beginning a book: once in a folder, and again after a start that was interrupted."""

from __future__ import annotations

import pytest
from checked_book import NOTE

from ledger import merkle
from ledger.errors import BookError
from ledger.store.connecting import connect
from ledger.store.schema import BOOK_NAME
from ledger.store.writing import BookWriter, _lay_out, create_book


def test_a_book_is_begun_once(tmp_path):
    """A second book in the same folder is refused, and the first one stays."""
    create_book(tmp_path).close()
    with pytest.raises(BookError, match="already"):
        create_book(tmp_path)
    with BookWriter.open(tmp_path) as writer:
        assert (writer.size, writer.root) == (0, merkle.EMPTY_ROOT)


def test_two_starts_at_once_make_one_book(tmp_path):
    """A start that finds a book inside its own transaction leaves that book as it is."""
    create_book(tmp_path, machine="0123abcd").close()
    connection = connect(tmp_path / BOOK_NAME, "rwc", 1.0)
    with pytest.raises(BookError, match="already"):
        _lay_out(connection, tmp_path / BOOK_NAME)
    connection.close()
    with BookWriter.open(tmp_path) as writer:
        assert writer.append(NOTE).seq == 1


def test_an_empty_file_left_by_an_interrupted_start_is_taken_over(tmp_path):
    """A start that was killed before its first commit can be tried again."""
    (tmp_path / BOOK_NAME).touch()
    with create_book(tmp_path) as writer:
        assert writer.append(NOTE).seq == 1


def test_a_folder_that_is_not_there_is_one_line(tmp_path):
    """Beginning a book in a missing folder is an error of one line."""
    with pytest.raises(BookError) as caught:
        create_book(tmp_path / "missing")
    assert "\n" not in str(caught.value)
