"""What a recheck shows: the answer first, then each wrong file, recorded against found."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from made_book import MadeBook
from printed import hold_golden, print_screen

from ledger.recheck import recheck
from ledger.recheck.states import FileState
from ledger.report.recheck import make_screen
from ledger.store.reading import BOOK_NAME
from ledger.store.schema import TRIGGERS

COLUMNS = 80


@pytest.fixture
def job(tmp_path: Path) -> MadeBook:
    """Give a job with raw files here and on a drive that is away, a run, and a delivery."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap_p1.bin", "capture 1")
    book.write("raw/cap_p2.bin", "capture 2")
    book.card("flight", "F1")
    book.register("raw/cap_p1.bin", "raw/cap_p2.bin", flight="F1")
    for number in range(1, 11):
        book.write(f"out/tile_{number:02d}.las", f"tile {number}")
        book.write(f"deliver/tile_{number:02d}.las", f"tile {number}")
    book.run(*(f"out/tile_{number:02d}.las" for number in range(1, 11)), inputs=[{"flight": "F1"}])
    book.audit("deliver")
    book.close()
    return book


def show(book: MadeBook, *paths: Path, everything: bool = False, book_only: bool = False) -> str:
    """Return the screen of a recheck at 80 columns."""
    result = recheck(book.folder, paths, all_files=everything, book_only=book_only)
    return print_screen(make_screen(result), COLUMNS)


def edit_entry(book: MadeBook, number: int) -> None:
    """Alter one byte of an entry, as no tool of ours would."""
    connection = sqlite3.connect(book.folder / BOOK_NAME)
    for name in TRIGGERS:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(
        "UPDATE journal SET body = CAST(replace(CAST(body AS TEXT), 'technician', 'techniciam')"
        " AS BLOB) WHERE seq = ?",
        (number,),
    )
    connection.commit()
    connection.close()


def test_all_is_well(job: MadeBook, request: pytest.FixtureRequest) -> None:
    """Where nothing is wrong that is the first line, and nothing is listed."""
    shown = show(job)
    assert shown.startswith("Everything is as recorded.\n")
    hold_golden("recheck-fine", shown, request)


def test_changed_and_missing_files(job: MadeBook, request: pytest.FixtureRequest) -> None:
    """Each wrong file shows entry, time, size and digest then, and size and digest now."""
    job.write("deliver/tile_09.las", "tile nine")
    (job.folder / "raw/cap_p2.bin").unlink()
    (job.folder / "out/tile_03.las").unlink()
    (job.folder / "out/tile_03.las").mkdir()
    shown = show(job)
    assert shown.startswith("3 files are not as recorded: 1 changed, 1 missing, 1 cannot be read.")
    assert "the recorded bytes are at out/tile_09.las" in shown
    assert "no other place of the recorded bytes is known" in shown
    hold_golden("recheck-wrong", shown, request)


def test_many_wrong_files_are_counted_not_dropped(
    job: MadeBook, request: pytest.FixtureRequest
) -> None:
    """Of ten missing files five are told in full, the rest by name and number; --all tells all."""
    for number in range(1, 11):
        (job.folder / f"deliver/tile_{number:02d}.las").unlink()
    shown = show(job)
    assert "and 5 more: deliver/tile_06.las" in shown
    lines = shown.splitlines()
    assert sum(line == "10 files are not as recorded: missing." for line in lines) == 2
    everything = show(job, everything=True)
    assert "more:" not in everything
    assert everything.count("nothing there") == 10
    assert "As recorded\n" in everything
    hold_golden("recheck-many", shown, request)


def test_a_drive_that_is_away_is_told_by_drive(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Files on an unplugged drive are no loss; how many lie nowhere else is said."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/a.bin", "a")
    book.write("raw/b.bin", "b")
    one, two = book.see("raw/a.bin", "capture"), book.see("raw/b.bin", "capture")
    book.register("raw/a.bin")
    (book.folder / "raw/b.bin").unlink()
    away = (("a.bin", one), ("b.bin", two))
    book.sight(*(type(r)(f"/media/u/ONE/{n}", r.sha256, 1, 0, "capture") for n, r in away))
    book.close()
    shown = show(book)
    assert "/media/u/ONE: 2 files; 1 of them was read nowhere else: --all" in shown
    assert shown.rstrip().endswith("once the drive is connected")
    hold_golden("recheck-away", shown, request)


def test_a_broken_book_says_what_to_do(job: MadeBook, request: pytest.FixtureRequest) -> None:
    """The first bad entry stands in the first line; then what still holds, and what to do."""
    edit_entry(job, 2)
    shown = show(job)
    assert shown.startswith("The book is broken at entry 2: ")
    assert "Entry 1 is as it was entered" in shown
    assert "Next: swathbook recheck --book-only --job FOLDER" in shown
    hold_golden("recheck-broken", shown, request)
    assert show(job, book_only=True).startswith("The book is broken at entry 2: ")


def test_a_state_in_a_list_of_counts_has_no_comma_of_its_own(job: MadeBook) -> None:
    """`1 points unchanged, header changed` would read as two states."""
    counts = {FileState.HEADER_CHANGED: 1, FileState.AS_RECORDED: 23}
    result = replace(recheck(job.folder), counts=counts)
    shown = print_screen(make_screen(result), COLUMNS)
    assert "Files: 1 changed in the header only, 23 as recorded;" in shown
