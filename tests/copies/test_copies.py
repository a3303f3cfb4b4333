"""Where the raw files lie, and whether the card may be cleared: told from the book, never assumed.

The rule is the project's own: two copies, each read back from its medium, on different volumes.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from made_book import MadeBook

from ledger.copies import Copies, find_copies
from ledger.model.artefact import FileRecord
from ledger.recheck import recheck


@pytest.fixture
def job(tmp_path: Path) -> MadeBook:
    """Give a job with two registered files."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/a.bin", "capture a")
    book.write("raw/b.bin", "capture b")
    book.register("raw/a.bin", "raw/b.bin")
    return book


def copy(book: MadeBook, name: str, drive: str) -> FileRecord:
    """Return the record of a raw file as it would lie on a drive that is away now."""
    return replace(book.see(f"raw/{name}", "capture"), path=f"{drive}/{name}")


def read_back(book: MadeBook, drive: str, *names: str, volume: str = "") -> None:
    """Enter that copies on a drive were read again from its medium."""
    book.sight(*(copy(book, name, drive) for name in names), volume=volume, reread=True)


def ask(book: MadeBook) -> Copies:
    """Return where the raw files lie."""
    return find_copies(book.writer)


def test_one_place_is_no_copy(job: MadeBook) -> None:
    """A file that was only registered lies at one place, and the card stays."""
    found = ask(job)
    assert [(place.path, place.verified) for place in found.places] == [
        ("raw/a.bin", False),
        ("raw/b.bin", False),
    ]
    assert {place.last_seen for place in found.places} == {"2026-05-14T08:00:00Z"}
    assert (found.needed, found.good, found.card_may_be_cleared) == (2, 0, False)
    assert found.answer == (
        "Do not clear the card: no copy was read back from its drive, 2 copies needed."
    )
    assert found.sightings == (
        "Each file was seen at 1 place: the job's own drive (last 14 May 2026)."
    )


def test_places_that_were_only_seen_do_not_count(job: MadeBook) -> None:
    """However many drives the bytes were come across on, none of them was read back."""
    for drive in ("/media/u/D1", "/media/u/D2", "/media/u/D3"):
        job.sight(copy(job, "a.bin", drive))
    found = ask(job)
    assert len(found.places) == 5
    assert not found.card_may_be_cleared
    assert "no copy was read back" in found.answer
    assert found.sightings == (
        "Each file was seen at 1 to 4 places on 4 volumes: the job's own drive (last 14 May 2026),"
        " /media/u/D1 1 of 2 (last 14 May 2026), /media/u/D2 1 of 2 (last 14 May 2026),"
        " /media/u/D3 1 of 2 (last 14 May 2026)."
    )


def test_two_drives_that_were_read_back_clear_the_card(job: MadeBook) -> None:
    """Every file on two volumes, read again from each: the card may be cleared."""
    read_back(job, "/media/u/D1", "a.bin", "b.bin")
    assert not ask(job).card_may_be_cleared
    read_back(job, "/media/u/D2", "a.bin", "b.bin")
    found = ask(job)
    assert (found.good, found.card_may_be_cleared) == (2, True)
    assert found.answer == "The card may be cleared: every file was read back from 2 volumes."


def test_one_file_that_lacks_a_copy_keeps_the_card(job: MadeBook) -> None:
    """The worst file counts, not the best and not the number of copies in all."""
    read_back(job, "/media/u/D1", "a.bin", "b.bin")
    read_back(job, "/media/u/D2", "a.bin")
    read_back(job, "/media/u/D3", "a.bin")
    found = ask(job)
    assert not found.card_may_be_cleared
    assert found.answer == (
        "Do not clear the card: 1 file with fewer than 2 copies read back from a drive."
    )
    (digest,) = {place.sha256 for place in found.places if place.path == "raw/a.bin"}
    assert find_copies(job.writer, [digest]).card_may_be_cleared


def test_two_folders_of_one_drive_are_one_copy(job: MadeBook) -> None:
    """Copies on one volume count once, whether told by the path or by the noted id."""
    read_back(job, "/media/u/D1/x", "a.bin", "b.bin")
    read_back(job, "/media/u/D1/y", "a.bin", "b.bin")
    assert (ask(job).good, ask(job).card_may_be_cleared) == (1, False)


def test_one_volume_under_two_names_is_one_copy(job: MadeBook) -> None:
    """A drive that was mounted elsewhere the second time is known by its id."""
    read_back(job, "/media/u/D1", "a.bin", "b.bin", volume="drive-7")
    read_back(job, "/media/u/other", "a.bin", "b.bin", volume="drive-7")
    assert (ask(job).good, ask(job).card_may_be_cleared) == (1, False)


def test_two_drives_under_one_name_are_told_apart(job: MadeBook) -> None:
    """Drives that took the same letter one after the other are two copies, and shown as two."""
    read_back(job, "E:", "a.bin", "b.bin", volume="drive-7")
    read_back(job, "E:/again", "a.bin", "b.bin", volume="drive-8")
    found = ask(job)
    assert (found.good, found.card_may_be_cleared) == (2, True)
    assert "3 places on 3 volumes" in found.sightings
    assert "E:/ (last 14 May 2026), E:/ (drive-8) (last 14 May 2026)" in found.sightings


def test_folders_that_the_system_keeps_on_one_volume_are_one_copy(
    job: MadeBook, tmp_path: Path
) -> None:
    """Two folders beside the job, both there, lie on one file system however they are called."""
    for name in ("left", "right"):
        folder = tmp_path / name
        folder.mkdir()
        read_back(job, folder.as_posix(), "a.bin", "b.bin")
    found = ask(job)
    assert len({place.key for place in found.places}) == 1
    assert (found.good, found.card_may_be_cleared) == (1, False)
    assert found.sightings == (
        "Each file was seen at 3 places on 1 volume: the job's own drive (last 14 May 2026)."
    )


@pytest.mark.parametrize(
    ("asked", "needed"),
    [("1", 1), ("3", 3), ("0", 2), ("-1", 2), ("true", 2), ('"two"', 2), ("99", 2)],
)
def test_the_number_of_copies_comes_from_the_specification(
    job: MadeBook, asked: str, needed: int
) -> None:
    """`[folders] copies` counts; a value that the specification refuses never clears a card."""
    job.write("job.toml", f"[folders]\ncopies = {asked}\n")
    assert ask(job).needed == needed
    assert not ask(job).card_may_be_cleared
    read_back(job, "/media/u/D1", "a.bin", "b.bin")
    assert ask(job).card_may_be_cleared == (needed == 1)


def test_nothing_registered_clears_nothing(tmp_path: Path) -> None:
    """Of no files at all, none lacks a copy, and the card is not cleared for that."""
    book = MadeBook(tmp_path / "job")
    assert not ask(book).card_may_be_cleared
    assert ask(book).answer == "No raw file is registered."


def test_a_geoid_grid_of_no_flight_keeps_no_card(job: MadeBook) -> None:
    """A grid was registered by itself: the lamp speaks of what came off a card.

    One that was registered with a flight lay on the card, and needs its copies like anything.
    """
    job.write("geoid/g.tif", "grid")
    job.register("geoid/g.tif", role="geoid")
    for drive in ("D1", "D2"):
        read_back(job, f"/media/u/{drive}", "a.bin", "b.bin")
    found = ask(job)
    assert len(found.files) == 2
    assert found.card_may_be_cleared
    job.write("raw/from-card.tif", "another grid")
    job.register("raw/from-card.tif", role="geoid", flight="F1")
    assert len(ask(job).files) == 3
    assert not ask(job).card_may_be_cleared


def test_a_table_of_points_keeps_no_card(job: MadeBook) -> None:
    """Checkpoints registered at the desk, days after the copies, turn no lamp back.

    They are told as what still needs copies; of a flight, they lay on the card like anything.
    """
    for drive in ("D1", "D2"):
        read_back(job, f"/media/u/{drive}", "a.bin", "b.bin")
    job.write("control/checks.csv", "id,e,n,h")
    job.register("control/checks.csv", role="checkpoints")
    found = ask(job)
    assert found.card_may_be_cleared
    assert found.answer == (
        "The card may be cleared: every file of it was read back from 2 volumes. "
        "control/checks.csv, from no card, has fewer than 2 copies read back."
    )
    assert (found.good, found.tally) == (
        0,
        "3 raw files, 2 of them with 2 good copies on different volumes",
    )
    job.write("raw/points.csv", "id,e,n")
    job.register("raw/points.csv", role="control", flight="F1")
    assert not ask(job).card_may_be_cleared


def test_a_table_alone_lets_no_card_be_cleared(tmp_path: Path) -> None:
    """Where nothing of a card is known, nothing says that one may be cleared."""
    book = MadeBook(tmp_path / "job")
    book.write("control/checks.csv", "id,e,n,h")
    book.register("control/checks.csv", role="checkpoints")
    found = ask(book)
    assert not found.card_may_be_cleared
    assert found.answer == (
        "No file that came off a card is registered. "
        "control/checks.csv, from no card, has fewer than 2 copies read back."
    )


def test_grids_alone_are_no_raw_data(tmp_path: Path) -> None:
    """After a grid was registered, the raw files are still to come."""
    book = MadeBook(tmp_path / "job")
    book.write("geoid/g.tif", "grid")
    book.register("geoid/g.tif", role="geoid")
    assert ask(book).answer == "No raw file is registered."


def test_a_place_with_other_bytes_now_is_no_place(job: MadeBook) -> None:
    """Where other bytes were seen since under the path, the copy is gone."""
    read_back(job, "/media/u/D1", "a.bin", "b.bin")
    job.sight(replace(copy(job, "a.bin", "/media/u/D1"), sha256="0" * 64))
    found = ask(job)
    assert [place.path for place in found.places] == ["/media/u/D1/b.bin", "raw/a.bin", "raw/b.bin"]
    assert found.good == 0


def test_a_recheck_says_when_a_place_was_last_good(job: MadeBook, tmp_path: Path) -> None:
    """A place that a recheck read as recorded was seen then; one that it found changed is wrong."""
    drive = tmp_path / "drive"
    shutil.copytree(job.folder / "raw", drive)
    read_back(job, drive.as_posix(), "a.bin", "b.bin")
    job.close()
    recheck(job.folder)
    before = {place.path: place.last_seen for place in _reopen(job).places}
    assert all(time > "2026-05-15" for time in before.values())
    (drive / "a.bin").write_text("capture A", encoding="ascii")
    recheck(job.folder, [drive])
    found = _reopen(job)
    wrong = {place.path: place.wrong for place in found.places if place.wrong}
    assert wrong == {f"{drive.as_posix()}/a.bin": "changed"}
    assert found.good == 0
    (drive / "b.bin").rename(drive / "moved.bin")
    recheck(job.folder)
    assert {place.wrong for place in _reopen(job).places} == {"", "changed", "missing"}


def _reopen(job: MadeBook) -> Copies:
    with job.writer.open(job.folder) as book:
        return find_copies(book)
