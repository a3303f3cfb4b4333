"""Places on drives: a drive, a path below its root, and the bytes last seen there."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from made_book import MadeBook

from ledger import driveplaces
from ledger.driveplaces import DriveFinder, read_drive_places

READ_BACK: dict[str, Any] = {"volume": "label:7", "reread": True}


@pytest.fixture
def job(tmp_path: Path) -> MadeBook:
    """Give a job with a registered file."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/a.bin", "capture a")
    book.register("raw/a.bin")
    return book


def put(book: MadeBook, path: str, *, raw: str = "", other: bool = False, **values: Any) -> None:
    """Enter the file, or other bytes, under a path."""
    record = replace(book.see("raw/a.bin", "capture"), path=path, path_bytes=raw)
    book.sight(replace(record, sha256="0" * 64) if other else record, **values)


def test_a_letter_is_only_where_a_drive_was_last(job):
    """Seen under two letters it is one place, a copy since it was read back once."""
    put(job, "E:/QM/a.bin", root="E:/", **READ_BACK)
    put(job, "F:/QM/a.bin", root="F:/", volume="label:7")
    (place,) = read_drive_places(job.writer)
    assert (place.file.path, place.root, place.inside) == ("F:/QM/a.bin", "F:/", "QM/a.bin")
    assert place.reread


def test_two_drives_under_one_letter_are_two_places(job):
    """Drives are told apart by themselves."""
    put(job, "E:/a.bin", root="E:/", **READ_BACK)
    put(job, "E:/a.bin", root="E:/", volume="label:8", reread=True)
    assert [place.volume for place in read_drive_places(job.writer)] == ["label:7", "label:8"]


def test_other_bytes_take_a_place_over(job):
    """What was seen there last counts, and nothing that was said of other bytes."""
    put(job, "E:/a.bin", root="E:/", **READ_BACK)
    put(job, "E:/a.bin", root="E:/", other=True, volume="label:7")
    (place,) = read_drive_places(job.writer)
    assert place.file.sha256 == "0" * 64
    assert not place.reread


def test_an_older_entry_tells_no_root(job):
    """The root is told from the path then."""
    put(job, "/media/u/D1/QM/a.bin", **READ_BACK)
    (place,) = read_drive_places(job.writer)
    assert (place.root, place.inside) == ("/media/u/D1", "QM/a.bin")


def test_the_number_of_a_device_is_no_drive(job):
    """It holds until the computer starts again: path and bytes are all that is known."""
    put(job, "/data/one/a.bin", volume="device:fe00", reread=True)
    put(job, "/data/two/a.bin", volume="device:fe00", reread=True)
    assert [place.volume for place in read_drive_places(job.writer)] == ["", ""]


@pytest.mark.parametrize("copied_first", [True, False])
def test_a_copy_from_which_more_are_made_is_no_card(job, copied_first):
    """A card is read from and never copied to."""
    told: list[dict[str, Any]] = [READ_BACK, {"volume": "label:7", "copied_from": True}]
    for values in told if copied_first else reversed(told):
        put(job, "E:/a.bin", root="E:/", **values)
    (place,) = read_drive_places(job.writer)
    assert place.is_source
    assert not place.is_card


def test_nothing_in_the_job_folder_is_a_card(job):
    """More copies of what lies in the job make no card of it."""
    put(job, "raw/a.bin", copied_from=True)
    assert [place.is_card for place in read_drive_places(job.writer)] == [False]


def test_a_name_that_is_no_text_is_found_below_another_root(job, tmp_path):
    """Its raw bytes are kept below the new root."""
    raw = os.fsencode("/media/u/D1/QM/") + b"a\xff.bin"
    put(job, "/media/u/D1/QM/a\\xff.bin", raw=raw.hex(), root="/media/u/D1", **READ_BACK)
    (place,) = read_drive_places(job.writer)
    assert os.fsencode(place.locate(tmp_path)) == os.fsencode(tmp_path) + b"/QM/a\xff.bin"


def test_of_a_drive_that_is_connected_twice_the_place_with_the_file_counts(
    job, tmp_path, monkeypatch
):
    """As where one file system is shown at two folders."""
    put(job, "/media/u/D1/QM/a.bin", root="/media/u/D1", **READ_BACK)
    (place,) = read_drive_places(job.writer)
    roots = (tmp_path / "empty", tmp_path / "full")
    (roots[1] / "QM").mkdir(parents=True)
    (roots[1] / "QM" / "a.bin").touch()
    monkeypatch.setattr(
        driveplaces, "find_roots", lambda drive: roots if drive == "label:7" else ()
    )
    assert DriveFinder().find(place) == (roots[1] / "QM" / "a.bin", roots[1])
    monkeypatch.setattr(driveplaces, "find_roots", lambda _: ())
    assert DriveFinder().find(place) is None
