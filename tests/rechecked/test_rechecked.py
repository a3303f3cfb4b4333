"""What past rechecks say of a path, and when a later one takes it back."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_book import MadeBook

from ledger.canonical import compute_digest, encode
from ledger.rechecked import (
    LastLook,
    drop_broken_note,
    find_last_look,
    is_inside,
    keep_broken_note,
    read_broken_note,
    read_rechecks,
)


@pytest.fixture
def book(tmp_path: Path) -> MadeBook:
    """Give an empty job."""
    return MadeBook(tmp_path / "job")


def enter(book: MadeBook, states: dict[str, str], **values: object) -> None:
    """Enter a recheck that found these files not as recorded."""
    listed = encode([{"path": path, "state": state} for path, state in states.items()])
    given = {"counts": {}, "book": "unbroken", "files": compute_digest(listed), **values}
    book.enter("recheck", given, (listed,))


def look(book: MadeBook, path: str) -> LastLook | None:
    """Return what the latest recheck of a path found."""
    return find_last_look(read_rechecks(book.writer), path)


def state(book: MadeBook, path: str) -> str | None:
    """Return the state at the latest recheck of a path; None for never looked at."""
    found = look(book, path)
    return None if found is None else found.state


def test_a_path_that_nobody_looked_at_has_no_state(book: MadeBook) -> None:
    """No recheck, or one of other paths, says nothing of a file."""
    assert state(book, "a.las") is None
    enter(book, {}, paths=["raw"])
    assert state(book, "a.las") is None
    assert state(book, "raw/x/a.bin") == ""


def test_a_later_recheck_of_the_same_path_counts(book: MadeBook) -> None:
    """Wrong, and later right again: the later one counts; one of another path changes nothing."""
    enter(book, {"out/a.las": "changed"}, paths=[])
    enter(book, {}, paths=["raw"])
    assert state(book, "out/a.las") == "changed"
    enter(book, {}, paths=["out"])
    assert state(book, "out/a.las") == ""


@pytest.mark.parametrize("values", [{}, {"paths": [], "book_only": True}])
def test_a_recheck_that_read_no_file_clears_nothing(
    book: MadeBook, values: dict[str, object]
) -> None:
    """One of the book alone, or one that does not say what it looked at, takes nothing back."""
    enter(book, {"out/a.las": "missing"}, paths=[])
    enter(book, {}, **values)
    assert state(book, "out/a.las") == "missing"


def test_a_recheck_of_unknown_paths_still_says_what_it_found(book: MadeBook) -> None:
    """What is listed was looked at, whatever else was."""
    enter(book, {"out/a.las": "changed"})
    assert state(book, "out/a.las") == "changed"
    assert state(book, "out/b.las") is None


@pytest.mark.parametrize(
    ("path", "folder", "inside"),
    [
        ("out/a.las", "out", True),
        ("out/a.las", "out/a.las", True),
        ("out2/a.las", "out", False),
        ("out/a.las", ".", True),
        ("/media/d/a.las", ".", False),
        ("D:/a.las", ".", False),
        ("/media/d/a.las", "/media/d", True),
        ("/media/d/a.las", "/", True),
    ],
)
def test_what_lies_inside_a_folder(path: str, folder: str, inside: bool) -> None:
    """Whole names are compared; `.` is the job folder and holds no absolute path."""
    assert is_inside(path, folder) == inside


def test_the_note_of_a_broken_book(book: MadeBook) -> None:
    """The note is kept, read with its time, and taken away."""
    assert read_broken_note(book.folder) is None
    keep_broken_note(book.folder, "entry 3 does not fit")
    note = read_broken_note(book.folder)
    assert note is not None
    assert note.sentence == "entry 3 does not fit"
    assert note.time.endswith("Z")
    drop_broken_note(book.folder)
    assert read_broken_note(book.folder) is None
