"""Reading needs no writing: from read-only media, after half a write, without derived tables."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from imports import list_imports

from ledger.model.ask import NoProgress
from ledger.model.entry import Kind
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME

JOURNAL_NAME = f"{BOOK_NAME}-journal"


def list_folder(folder: Path) -> list[tuple[str, int, int]]:
    """Return name, size and time of everything in a folder."""
    found = ((path.name, path.stat()) for path in sorted(folder.iterdir()))
    return [(name, stat.st_size, stat.st_mtime_ns) for name, stat in found]


def read_everything(book: Book) -> None:
    """Use every question a book answers."""
    assert book.check(NoProgress()).unbroken
    assert [run.id for run in book.processes()] == ["R1", "R2", "S1"]
    assert book.cards("flight")
    assert book.files_last_seen()
    assert list(book.entries())
    assert book.acceptances()
    assert book.blob(book.last(Kind.SPECIFICATION).values["sha256"])


def test_reading_changes_nothing(story_folder):
    """Every question leaves file and folder as they were."""
    before = list_folder(story_folder)
    with Book.open(story_folder) as book:
        read_everything(book)
    assert list_folder(story_folder) == before


def test_a_reading_book_cannot_write(story_folder):
    """The connection of a reader refuses to change the book."""
    with Book.open(story_folder) as book, pytest.raises(sqlite3.OperationalError, match="readonly"):
        book._connection.execute("INSERT INTO journal VALUES (15, x'00', zeroblob(32))")


READ_ONLY_PROGRAM = """
import os
import sys
from pathlib import Path
from typing import Any
from ledger.errors import BookError
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft
from ledger.store.reading import Book
from ledger.store.writing import Addition, BookWriter, create_book
"".encode("utf-16be")  # loaded at first use, perhaps from where only the superuser may read
if os.getuid() == 0:  # permissions do not bind the superuser
    os.setuid(65534)
folder = Path(sys.argv[1])
try:
    with Book.open(folder) as book:
        runs, files = len(book.processes()), len(book.files_last_seen())
        print(f"unbroken: {book.check(NoProgress()).unbroken}, {runs} processes, {files} files")
except BookError as error:
    print(error)
    sys.exit()
try:
    (folder / "probe").touch()
except OSError:
    print("the folder is read-only")
with BookWriter.open(folder, machine="0123abcd") as writer:
    for write in (lambda: writer.append(Draft("recheck", {})), writer.require_sound):
        try:
            write()
        except BookError as error:
            print(error)
"""


def run_read_only(book: Path, *beside: Path) -> list[str]:
    """Return what a process prints that may write neither to the folder of a book nor the book."""
    folder = Path(tempfile.mkdtemp(prefix="read-only-"))
    try:
        for path in (book, *beside):
            shutil.copy(path, folder)
            (folder / path.name).chmod(0o444)
        folder.chmod(0o555)
        done = subprocess.run(
            [sys.executable, "-c", READ_ONLY_PROGRAM, str(folder)],
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)
    assert done.stderr == ""
    return done.stdout.splitlines()


POSIX_ONLY = pytest.mark.skipif(os.name == "nt", reason="needs POSIX permissions")


@POSIX_ONLY
@pytest.mark.parametrize("derived", [True, False], ids=["whole", "without derived tables"])
def test_read_only_media_will_do(story_folder, open_behind, derived):
    """From a folder that nobody may write to, a book is read; writing is refused in one line."""
    if not derived:
        open_behind(story_folder).execute("DROP TABLE files")
    lines = run_read_only(story_folder / BOOK_NAME)
    assert lines[:2] == ["unbroken: True, 3 processes, 8 files", "the folder is read-only"]
    for line in lines[2:]:
        assert "the book cannot be written to: found read-only" in line
    assert len(lines) == 4


def leave_half_a_write(folder: Path, target: Path) -> None:
    """Copy a book as a writer leaves it that is killed with half of its pages on the medium."""
    connection = sqlite3.connect(folder / BOOK_NAME, isolation_level=None)
    connection.execute("PRAGMA cache_size = 2")
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("CREATE TABLE half (bytes BLOB)")
    for _ in range(200):
        connection.execute("INSERT INTO half VALUES (randomblob(3000))")
    for name in (BOOK_NAME, JOURNAL_NAME):
        shutil.copy(folder / name, target)
    connection.execute("ROLLBACK")
    connection.close()


def test_half_a_write_is_undone_at_the_next_opening(story_folder, tmp_path_factory):
    """After a killed writer, a reader sees the book as it was before, and nothing is left over."""
    target = tmp_path_factory.mktemp("copy")
    leave_half_a_write(story_folder, target)
    size = (story_folder / BOOK_NAME).stat().st_size
    assert (target / BOOK_NAME).stat().st_size > size + 400_000
    with Book.open(target) as book:
        read_everything(book)
    assert [path.name for path in target.iterdir()] == [BOOK_NAME]
    assert (target / BOOK_NAME).stat().st_size == size


@POSIX_ONLY
def test_half_a_write_on_a_read_only_medium_is_said(story_folder, tmp_path_factory):
    """Where the half cannot be undone the book is not read as if it were whole."""
    target = tmp_path_factory.mktemp("copy")
    leave_half_a_write(story_folder, target)
    lines = run_read_only(target / BOOK_NAME, target / JOURNAL_NAME)
    assert len(lines) == 1
    assert "an interrupted write has to be undone" in lines[0]


def test_without_derived_tables_a_reader_makes_them_in_memory(story_folder, open_behind):
    """A book without derived tables answers as before and is not written to."""
    with Book.open(story_folder) as book:
        before = (book.processes(), book.files_last_seen(), book.cards("flight"))
    tables = open_behind(story_folder)
    for name in ("files", "processes", "nodes", "derived"):
        tables.execute(f"DROP TABLE {name}")
    content = (story_folder / BOOK_NAME).read_bytes()
    with Book.open(story_folder) as book:
        assert (book.processes(), book.files_last_seen(), book.cards("flight")) == before
        state = book.check(NoProgress())
        assert (state.unbroken, state.derived_difference) == (True, "derived")
        assert book.processes() == before[0]
    assert (story_folder / BOOK_NAME).read_bytes() == content


def test_derived_tables_of_another_version_are_not_used(story_folder, open_behind):
    """What another version derived is not believed: a reader makes its own."""
    tables = open_behind(story_folder)
    tables.execute("UPDATE derived SET version = 9")
    tables.execute("UPDATE processes SET decision = 'accepted'")
    with Book.open(story_folder) as book:
        assert book.process("R1").decision == "rejected"


def test_reading_loads_no_heavy_library():
    """Reading a book imports no library of points or models."""
    heavy = {"numpy", "pydantic", "laspy", "pyproj", "scipy", "rich", "click", "pluggy"}
    assert not list_imports("ledger.store.reading") & heavy
