"""A raw file of another job or day is told when it is registered."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench
from PIL import Image

from ledger.model.artefact import FileRecord
from ledger.photos import find_day
from ledger.register.misplaced import remark_on_misplaced
from ledger.store.reading import Book
from ledger.testing import BookBuilder, known


def test_a_file_of_another_job_is_told_at_once(bench: JobBench) -> None:
    """Nothing is refused: the remark names the other job and the file there."""
    bench.write("raw/scan.bin", b"\x00scan")
    assert bench.ask("register", "raw")["remarks"] == []
    other = bench.base / "other"
    assert bench.run("start", str(other), cwd=bench.base).status == 0
    (other / "raw" / "copy.bin").write_bytes(b"\x00scan")
    ran = bench.run("register", "raw", cwd=other)
    assert ran.status == 0
    told = " ".join(ran.out.split())
    assert "raw/copy.bin is registered in job job too" in told
    assert "as raw/scan.bin: see to which of the two it belongs" in told


def test_files_without_a_byte_are_told_while_the_card_is_there(bench: JobBench) -> None:
    """An empty capture has no content that would tell its role, and was a quiet document."""
    bench.write("raw/scan.bin", b"\x00")
    assert bench.ask("register", "raw")["remarks"] == []
    for number in range(5):
        bench.write(f"raw/cap_{number}.bin", b"")
    told = bench.ask("register", "raw")["remarks"]
    assert told[0] == "raw/cap_0.bin holds no byte: copy it again, while it is still on the card"
    assert told[3:] == ["2 more files of this call without a byte"]


@pytest.mark.parametrize(
    ("day", "is_told"),
    [("2026-05-15T13:00:00", False), ("2026-05-16T13:00:00", True), ("1980-01-06T00:00:00", True)],
)
def test_a_log_of_another_day_is_told(tmp_path: Path, day: str, *, is_told: bool) -> None:
    """Three days from the flight are let pass; a clock that was never set is told."""
    with BookBuilder(tmp_path / "job") as builder:
        builder.card("flight", "F1", {"flight.takeoff": known("2026-05-12T14:00:00Z")})
    record = FileRecord("raw/b.obs", "a" * 64, 1, 1, "base-log", {"first_epoch": day})
    with Book.open(builder.folder) as book:
        told = list(remark_on_misplaced(builder.folder, book, [record], "F1"))
        assert bool(told) == is_told
        assert list(remark_on_misplaced(builder.folder, book, [record], "")) == []


def write_log(bench: JobBench, name: str, day: str) -> Path:
    """Write a log of one position; NMEA 0183, RMC, with its sum."""
    body = f"GNRMC,10360{ord(name[0]) % 10}.00,A,5327.03942,N,00214.42462,W,0.046,,{day},,,A,V"
    total = 0
    for letter in body.encode():
        total ^= letter
    return bench.write(f"raw/{name}", f"${body}*{total:02X}\r\n".encode())


def write_photo(bench: JobBench, name: str, taken: str) -> Path:
    """Write a photo; Exif 2.32, DateTimeOriginal."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = taken
    path = bench.write(f"raw/{name}", b"")
    Image.new("RGB", (8, 8)).save(path, exif=exif)
    return path


def test_files_of_several_days_are_told_before_the_flight_is_recorded(bench: JobBench) -> None:
    """The card comes after the files in the guide; the day of most of them stands for it."""
    for name, day in (("a.log", "120526"), ("b.log", "120526"), ("c.log", "060321")):
        write_log(bench, name, day)
    (told,) = bench.ask("register", "raw", "--flight", "F1")["remarks"]
    assert told.startswith("raw/c.log is of 6 March 2021, and raw/a.log of 12 May 2026, both as F1")
    for each in (bench.job / "raw").iterdir():
        each.unlink()
    write_log(bench, "d.log", "130526")
    assert bench.ask("register", "raw", "--flight", "F1")["remarks"] == []
    write_log(bench, "e.log", "010126")
    (told,) = bench.ask("register", "raw/e.log", "--flight", "F1")["remarks"]
    assert "raw/e.log is of 1 January 2026, and raw/a.log of 12 May 2026" in told


def test_a_flight_recorded_after_its_files_is_held_against_them(bench: JobBench) -> None:
    """What `register` could not know yet is told with the card; a landing alone repeats nothing."""
    write_log(bench, "a.log", "120526")
    write_photo(bench, "mount.jpg", "2026:05:12 13:40:00")
    assert bench.ask("register", "raw", "--flight", "F1")["remarks"] == []
    wrong = ("record", "flight", "F1", "--set", "takeoff=2026-05-22T14:00:00Z")
    notes = bench.ask(*wrong)["notes"]
    assert [note.partition(",")[0] for note in notes] == [
        "raw/a.log is of 12 May 2026",
        "raw/mount.jpg is of 12 May 2026",
    ]
    assert all("F1 was flown on 22 May 2026" in note for note in notes)
    landing = ("record", "flight", "F1", "--set", "landing=2026-05-22T14:20:00Z")
    assert bench.ask(*landing)["notes"] == []
    right = ("record", "flight", "F1", "--set", "takeoff=2026-05-12T14:00:00Z")
    assert bench.ask(*right)["notes"] == []


def test_many_files_of_another_day_are_three_and_a_number(bench: JobBench) -> None:
    """A whole card of another day does not fill the screen."""
    bench.ask("record", "flight", "F1", "--set", "takeoff=2026-05-12T14:00:00Z")
    for number in range(5):
        write_photo(bench, f"{number}.jpg", f"2024:01:0{number + 1} 10:00:00")
    told = bench.ask("register", "raw", "--flight", "F1")["remarks"]
    assert len(told) == 4
    assert told[-1] == "2 more files of F1 of another day"


@pytest.mark.parametrize("taken", ["0000:00:00 00:00:00", "soon", ""])
def test_a_photo_that_tells_no_day_is_let_pass(bench: JobBench, taken: str) -> None:
    """A phone without a clock, or one that writes something else, tells nothing."""
    bench.ask("record", "flight", "F1", "--set", "takeoff=2026-05-12T14:00:00Z")
    assert find_day(write_photo(bench, "a.jpg", taken)) is None
    assert bench.ask("register", "raw", "--flight", "F1")["remarks"] == []
