"""The book against itself, drives that are away, and what a recheck enters."""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from made_book import MadeBook

from ledger.errors import NoBookError
from ledger.model.ask import NoProgress
from ledger.model.entry import Entry
from ledger.recheck import recheck
from ledger.rechecked import read_broken_note
from ledger.store.reading import BOOK_NAME, Book
from ledger.volumes import find_volume, is_connected, is_outside_job


def test_an_edited_entry_breaks_the_book_from_there_on(job: MadeBook) -> None:
    """A changed byte in entry 2 is found there; files are read all the same; nothing is entered."""
    edit_entry(job.folder / BOOK_NAME, 2)
    result = recheck(job.folder)
    assert (result.book, result.first_broken_entry) == ("broken", 2)
    assert not result.state_ok
    assert not result.is_incomplete
    assert result.entry is None
    assert "broken book takes no entries" in result.not_entered
    assert "2" in result.book_sentence


def test_a_broken_book_whose_lists_cannot_be_read_is_still_an_answer(job: MadeBook) -> None:
    """Where an entry is no entry any more and no list can be made, that is told, not raised."""
    edit_entry(job.folder / BOOK_NAME, 2, "kind", 'kin"d')
    connection = sqlite3.connect(job.folder / BOOK_NAME)
    connection.execute("DROP TABLE files")
    connection.commit()
    connection.close()
    result = recheck(job.folder)
    assert (result.book, result.first_broken_entry, result.files) == ("broken", 2, ())
    assert "none was looked at" in result.book_sentence


def test_the_book_alone(job: MadeBook) -> None:
    """With the book only, no file is read, and a missing one is not noticed."""
    shutil.rmtree(job.folder / "raw")
    result = recheck(job.folder, book_only=True)
    assert result.state_ok
    assert (result.files, result.bytes, result.book_only) == ((), 0, True)
    assert result.entry == 4
    edit_entry(job.folder / BOOK_NAME, 3)
    assert recheck(job.folder, book_only=True).first_broken_entry == 3


def test_a_book_that_cannot_be_written_to_is_rechecked_and_that_is_said(
    job: MadeBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nothing can be written the result is given, and why it was not entered."""

    def refuse(*_: object, **__: object) -> None:
        raise sqlite3.OperationalError("attempt to write a readonly database")

    monkeypatch.setattr("ledger.recheck.BookWriter.open", refuse)
    result = recheck(job.folder)
    assert result.state_ok
    assert result.entry is None
    assert "readonly" in result.not_entered


def test_progress_is_told_every_byte(job: MadeBook) -> None:
    """The announced bytes are those of the files, and all of them are reported as read."""
    told: list[tuple[str, int]] = []

    class Listener(NoProgress):
        def start(self, label: str, total: int, unit: str) -> None:
            told.append((label, total))

        def advance(self, amount: int) -> None:
            label, _ = told[-1]
            done[label] = done.get(label, 0) + amount

    done: dict[str, int] = {}
    result = recheck(job.folder, progress=Listener())
    total = sum(path.stat().st_size for path in job.folder.rglob("*.bin"))
    total += sum(path.stat().st_size for path in job.folder.rglob("*.las"))
    assert dict(told)["reading files"] == total == done["reading files"] == result.bytes


def test_outside_a_job_there_is_no_book(tmp_path: Path) -> None:
    """Without a book the error says so."""
    with pytest.raises(NoBookError):
        recheck(tmp_path)


@pytest.mark.parametrize(
    ("path", "volume"),
    [
        ("raw/cap.bin", ""),
        ("E:/DCIM/cap.bin", "E:/"),
        ("//server/share/job/cap.bin", "//server/share"),
        ("/media/user/COPY-1/cap.bin", "/media/user/COPY-1"),
        ("/run/media/user/COPY-1/a/b.bin", "/run/media/user/COPY-1"),
        ("/Volumes/COPY-1/cap.bin", "/Volumes/COPY-1"),
        ("/mnt/copy/cap.bin", "/mnt/copy"),
        ("/home/user/cap.bin", "/home"),
    ],
)
def test_the_drive_of_a_path_is_told_from_the_path(path: str, volume: str) -> None:
    """Each kind of absolute path names its drive; a path inside the job has none."""
    assert find_volume(path) == volume
    assert is_outside_job(path) is bool(volume)


def test_an_empty_mount_folder_is_an_unplugged_drive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Below a folder of mounts, an empty folder that is no mount counts as not connected."""
    monkeypatch.setattr("ledger.volumes._MOUNT_DEPTH", {tmp_path.as_posix(): 1})
    drive = tmp_path / "COPY-1"
    volume = find_volume((drive / "cap.bin").as_posix())
    assert not is_connected(volume)
    drive.mkdir()
    assert not is_connected(volume)
    (drive / "cap.bin").write_bytes(b"")
    assert is_connected(volume)


def edit_entry(path: Path, seq: int, old: str = "technician", new: str = "somebody") -> None:
    """Change one byte of a stored entry, as a text editor or a careless script would."""
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER journal_keeps_entries")
    connection.execute(
        "UPDATE journal SET body = CAST(replace(CAST(body AS TEXT), ?, ?) AS BLOB) WHERE seq = ?",
        (old, new, seq),
    )
    connection.commit()
    connection.close()


# What a recheck leaves behind for whoever asks later.


def test_the_entry_says_what_was_looked_at(job: MadeBook) -> None:
    """A later reader must know which files a recheck spoke for: it cannot clear the others."""
    recheck(job.folder, [job.folder / "raw", job.folder / "raw/../out/tile_09.las"])
    with Book.open(job.folder) as book:
        entry = book.last("recheck")
        assert entry is not None
        assert entry.values["paths"] == ["out/tile_09.las", "raw"]
        assert entry.values["book_only"] is False
    recheck(job.folder, book_only=True)
    with Book.open(job.folder) as book:
        entry = book.last("recheck")
        assert entry is not None
        assert (entry.values["paths"], entry.values["book_only"]) == ([], True)


def test_new_times_of_unchanged_files_are_entered_once(job: MadeBook) -> None:
    """After a restore the times are others: a sighting says so, and the next recheck has none."""
    for name in ("raw/cap_p1.bin", "deliver/tile_10.las"):
        os.utime(job.folder / name, ns=(1, 1))
    assert recheck(job.folder).state_ok
    assert recheck(job.folder).state_ok
    with Book.open(job.folder) as book:
        assert [entry.kind for entry in book.entries(since=4)] == [
            "sighting",
            "recheck",
            "recheck",
        ]
        seen = {record.path: record.mtime_ns for record in book.files_last_seen()}
        assert seen["raw/cap_p1.bin"] == seen["deliver/tile_10.las"] == 1
        assert seen["raw/cap_p2.bin"] != 1


def test_a_broken_book_leaves_a_note_until_it_is_whole_again(job: MadeBook) -> None:
    """A broken book takes no entry that could say so: a note beside it does, and goes with it."""
    whole = (job.folder / BOOK_NAME).read_bytes()
    connection = sqlite3.connect(job.folder / BOOK_NAME)
    connection.execute("DROP TRIGGER journal_keeps_entries")
    connection.execute("UPDATE journal SET body = replace(body, 'tile', 'tilt') WHERE seq = 2")
    connection.commit()
    connection.close()
    assert recheck(job.folder, book_only=True).book == "broken"
    note = read_broken_note(job.folder)
    assert note is not None
    assert "entry 2" in note.sentence
    (job.folder / BOOK_NAME).write_bytes(whole)
    assert recheck(job.folder, book_only=True).book == "unbroken"
    assert read_broken_note(job.folder) is None


def test_a_wrong_file_is_told_with_what_was_recorded_of_it(job: MadeBook) -> None:
    """Entry, time and size of the record stand beside size and digest of what is there now."""
    (job.folder / "deliver/tile_10.las").write_text("longer than it was", encoding="utf-8")
    (file,) = [each for each in recheck(job.folder).files if each.path == "deliver/tile_10.las"]
    assert file.noted is not None
    entry = find_entry(job, file.noted.entry)
    assert (entry.kind, file.noted.time) == ("audit", entry.time)
    assert file.noted.bytes == len("tile 10")
    assert file.found_bytes == len("longer than it was")


def test_the_entry_that_put_a_file_in_counts_not_one_that_met_it_again(job: MadeBook) -> None:
    """A sighting after the registration does not take its place in what is told."""
    os.utime(job.folder / "raw/cap_p1.bin", (1, 1))
    assert recheck(job.folder).state_ok  # enters the new time as a sighting
    (job.folder / "raw/cap_p1.bin").unlink()
    (file,) = [each for each in recheck(job.folder).files if each.path == "raw/cap_p1.bin"]
    assert file.noted is not None
    assert find_entry(job, file.noted.entry).kind == "files"


def test_where_the_recorded_bytes_still_lie_is_told(job: MadeBook) -> None:
    """A changed delivered file names the output with the recorded bytes, read or only known."""
    (job.folder / "deliver/tile_10.las").write_text("changed", encoding="utf-8")
    (whole,) = [each for each in recheck(job.folder).files if each.path == "deliver/tile_10.las"]
    assert (whole.good_at, whole.known_at) == ("out/tile_10.las", "")
    (alone,) = recheck(job.folder, [job.folder / "deliver/tile_10.las"]).files
    assert (alone.good_at, alone.known_at) == ("", "out/tile_10.las")
    (job.folder / "out/tile_10.las").unlink()
    lost = recheck(job.folder)
    (gone,) = [each for each in lost.files if each.path == "deliver/tile_10.las"]
    assert (gone.good_at, gone.known_at) == ("", "")


def find_entry(job: MadeBook, number: int) -> Entry:
    """Return an entry of the book."""
    with Book.open(job.folder) as book:
        entry = book.entry(number)
    assert entry is not None
    return entry


def test_a_book_cut_short_is_broken_not_an_error(job: MadeBook) -> None:
    """A file that lost its end cannot be opened; whoever asks whether it is unbroken hears no."""
    job.close()
    path = job.folder / "swathbook.sqlite"
    path.write_bytes(path.read_bytes()[:20_480])
    result = recheck(job.folder)
    assert (result.book, result.first_broken_entry, result.entry) == ("broken", None, None)
    assert "damaged" in result.book_sentence
    assert result.not_entered
