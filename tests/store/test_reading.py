"""Opening a book: where it is found, what is refused, and what needs no writing."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest
from imports import list_imports

from ledger.errors import (
    BookError,
    BrokenBookError,
    BusyBookError,
    ContractError,
    ForeignBookError,
    NewerBookError,
    NoBookError,
)
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store.reading import Book, find_book
from ledger.store.schema import BOOK_NAME
from ledger.store.writing import Addition, BookWriter, create_book

JOURNAL_NAME = f"{BOOK_NAME}-journal"
NOTE = Draft(Kind.RECHECK, {"book": "unbroken", "counts": {}})


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


def test_a_row_that_is_no_entry_is_one_line(story_folder, open_behind):
    """A row without an entry in it is a broken book, naming the row."""
    tables = open_behind(story_folder)
    tables.execute("INSERT INTO journal VALUES (15, x'7b7d', zeroblob(32))")
    with Book.open(story_folder) as book, pytest.raises(BrokenBookError, match="entry 15"):
        book.entry(15)


# What needs no writing.


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


# Entries.


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
