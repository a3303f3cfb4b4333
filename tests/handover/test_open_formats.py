"""What goes along in open formats, read back by the general libraries of those formats.

Sources: RFC 8493 (BagIt), read by the library bagit; W3C PROV-JSON, read by the library prov;
Exif 2.32 (CIPA DC-008) for photos.
"""

from __future__ import annotations

import io
import json
import shutil
from pathlib import Path

import bagit
import pytest
from job_bench import JobBench, run_here
from made_book import MadeBook, known
from photo import make_photo
from PIL import Image
from prov.model import ProvActivity, ProvDocument, ProvEntity

from ledger.photos import tells_place
from ledger.testing.books import BookBuilder

WORDS = ["handover", "deliver", "--to", "client engineer", "--use", "tests"]


@pytest.fixture
def book(tmp_path: Path) -> BookBuilder:
    """Give a job with a flight, a run on it and two tiles in a folder to be delivered."""
    made = MadeBook(tmp_path / "job")
    made.write("raw/cap.bin", "capture")
    made.card("flight", "F1")
    made.register("raw/cap.bin", flight="F1")
    names = ["out/tile_0.las", "out/a/größe, 1.txt"]
    for name in names:
        made.write(name, name)
    made.run(*names, flights=["F1"], values={"run.software": known("demo-proc")})
    shutil.copytree(made.folder / "out", made.folder / "deliver")
    return made


def take_photo() -> bytes:
    """Return a picture that any program opens, with the Exif block of a phone's photo in it."""
    picture = io.BytesIO()
    Image.new("RGB", (8, 8)).save(picture, "JPEG")
    photo = make_photo()
    block = photo[2 : 4 + int.from_bytes(photo[4:6], "big")]
    return picture.getvalue()[:2] + block + picture.getvalue()[2:]


def finish(book: BookBuilder) -> Path:
    """Audit the folder and close the book."""
    book.audit("deliver")
    book.close()
    return book.folder


def test_a_bag_is_valid_also_where_it_was_moved(book: BookBuilder, tmp_path: Path) -> None:
    """Delivery and papers are in it; the library that knows bags validates every digest."""
    job = finish(book)
    ran = run_here([*WORDS, "--bag", "--json"], job)
    assert ran.status == 0, ran.err
    moved = tmp_path / "another place"
    shutil.move(json.loads(ran.out)["bag"], moved)
    bag = bagit.Bag(str(moved))
    bag.validate()
    held = set(bag.payload_entries())
    assert {"data/delivery/tile_0.las", "data/delivery/a/größe, 1.txt"} <= held
    assert {"data/papers/manifest-sha256.txt", "data/papers/report.html"} <= held
    assert bag.info["External-Identifier"].startswith("H1 ")
    (moved / "data/delivery/tile_0.las").write_text("other", encoding="utf-8")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(moved)).validate()


def test_a_bag_is_made_anew_and_leaves_nothing_else(book: BookBuilder) -> None:
    """The same handover again replaces the bag; no part of it lies beside."""
    job = finish(book)
    for _ in range(2):
        assert run_here([*WORDS, "--revision", "1", "--bag"], job).status == 0
    papers = job / "handover" / "1"
    assert not [path.name for path in papers.iterdir() if path.name.startswith(".")]
    bagit.Bag(str(papers / "bag")).validate()


def test_lineage_is_read_back_by_a_general_library(book: BookBuilder) -> None:
    """The delivery comes from the run, the run from the flight, the flight made the raw file."""
    job = finish(book)
    assert run_here(WORDS, job).status == 0
    document = ProvDocument.deserialize(job / "handover/1/lineage.prov.json", format="json")
    activities = {str(a.identifier) for a in document.get_records(ProvActivity)}
    entities = {str(e.identifier) for e in document.get_records(ProvEntity)}
    assert activities == {"job:R1", "job:F1"}
    assert {"job:D1", "job:H1"} <= entities
    told = document.get_provn()
    assert "wasGeneratedBy(job:D1, job:R1" in told
    assert "wasInformedBy(job:R1, job:F1" in told
    assert "wasDerivedFrom(job:H1, job:D1" in told
    assert "demo-proc" in told
    raw = next(name for name in entities if name not in ("job:D1", "job:H1"))
    assert f"wasGeneratedBy({raw}, job:F1" in told


def test_a_photo_that_tells_its_place_does_not_go_out_unasked(book: BookBuilder) -> None:
    """It is named; asked for, it goes out as it is, and no byte of it is altered."""
    photo = book.folder / "deliver" / "mount.jpg"
    photo.write_bytes(take_photo())
    job = finish(book)
    ran = run_here(WORDS, job)
    assert ran.status == 1
    assert "mount.jpg first, tells where it was taken" in " ".join(ran.out.split())
    ran = run_here([*WORDS, "--despite", "never mind"], job)
    assert ran.status == 1
    assert run_here([*WORDS, "--with-places"], job).status == 0
    assert photo.read_bytes() == take_photo()


def test_a_picture_that_cannot_be_read_is_not_taken_for_harmless(book: BookBuilder) -> None:
    """A form that is not known here may tell a place as well."""
    (book.folder / "deliver" / "mount.heic").write_bytes(b"\0\0\0\x18ftypheic")
    ran = run_here(WORDS, finish(book))
    assert ran.status == 1
    assert "cannot be looked into" in " ".join(ran.out.split())


def test_whether_a_photo_tells_its_place(tmp_path: Path) -> None:
    """With the block, without it, and no picture at all."""
    photo = tmp_path / "a.jpg"
    photo.write_bytes(take_photo())
    assert tells_place(photo) is True
    Image.new("RGB", (8, 8)).save(photo)
    assert tells_place(photo) is False
    photo.write_bytes(b"no picture")
    assert tells_place(photo) is None


def test_the_real_command_line_of_the_guide(bench: JobBench) -> None:
    """A folder that was never audited is named with what to type."""
    (bench.job / "deliver").mkdir()
    ran = bench.run(*WORDS)
    assert (ran.status, len(ran.lines)) == (2, 1)
    assert "swathbook audit deliver" in ran.err
