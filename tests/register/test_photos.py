"""Photos as evidence: their digest is kept, and where they were taken enters nothing.

A phone writes the place into each photo (Exif 2.32, GPS tags); a book travels further than the
photo does.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from pathlib import Path

import pytest
from job_bench import JobBench
from photo import RATIONALS, WRITTEN, make_photo

from ledger.content import read_facts
from ledger.model.artefact import Role
from ledger.store.reading import BOOK_NAME, Book

DIGEST = hashlib.sha256(make_photo()).hexdigest()


def require_no_place(text: str) -> None:
    """Require that a text does not say where the photo was taken."""
    assert not [words for words in WRITTEN if words in text.replace(DIGEST, "")]


def require_no_place_in_book(job: Path) -> None:
    """Require that no entry, no blob and no other byte of a book says where it was."""
    with Book.open(job) as book:
        for entry in book.entries():
            require_no_place(json.dumps(dict(entry.values), default=str))
    stored = (job / BOOK_NAME).read_bytes()
    assert RATIONALS not in stored
    for start in range(len(stored) - 1):
        if stored[start : start + 2] in (b"\x78\x9c", b"\x78\xda", b"\x78\x01", b"\x78\x5e"):
            try:
                content = zlib.decompressobj().decompress(stored[start:])
            except zlib.error:
                continue
            assert RATIONALS not in content
            require_no_place(content.decode("utf-8", "replace"))


def test_the_photo_of_the_tests_has_a_place():
    """What is looked for below is there to be found."""
    assert RATIONALS in make_photo()


@pytest.mark.parametrize("name", ["base.jpg", "base.JPEG", "without-suffix"])
def test_a_photo_says_nothing_of_itself(tmp_path, name):
    """Its role is told from its content; no fact is read."""
    path = tmp_path / name
    path.write_bytes(make_photo())
    facts = read_facts(path)
    assert (facts.role, dict(facts.values), facts.fault) == (Role.PHOTO, {}, "")


def test_a_registered_photo_is_its_digest(bench: JobBench):
    """With a flight, as a photo, and nothing else."""
    bench.write("photos/base.jpg", make_photo())
    stored = bench.ask("register", "photos", "--flight", "F1")
    (file,) = stored["files"]
    assert (file["role"], file["sha256"], file["facts"]) == ("photo", DIGEST, {})
    require_no_place(json.dumps(stored))
    require_no_place_in_book(bench.job)


def test_a_photo_in_a_record_is_its_digest(bench: JobBench):
    """Of the base antenna in a flight, of the arm in a rig, of the settings of a run."""
    photo = bench.write("photos/base.jpg", make_photo())
    bench.write("out/R1/tile.txt", b"points")
    shown = [
        bench.ask("record", "rig", "--set", "scanner_serial=SU-07", "--set", f"photo_arm={photo}"),
        bench.ask("record", "flight", "--set", "rig=G1", "--set", f"photo_base={photo}"),
        bench.ask("trace", "F1"),
        bench.ask("trace", str(photo)),
        bench.ask("find", "--ask", "9"),
    ]
    with Book.open(bench.job) as book:
        card = book.card("F1")
        assert card is not None
        assert card.values["flight.photo_base"].value == DIGEST
    for each in shown:
        require_no_place(json.dumps(each))
    assert "photo photos/base.jpg" in json.dumps(shown[-1])
    require_no_place_in_book(bench.job)
