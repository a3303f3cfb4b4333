"""The bundle for support: what is in it, and what must not be."""

from __future__ import annotations

import hashlib
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from job_bench import run_here
from made_book import MadeBook, known

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.merkle import hash_leaf, verify_inclusion
from ledger.model.artefact import Output
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.store.reading import Book
from ledger.support import make_bundle
from ledger.testing.books import BookBuilder

# Everything in the job that names somebody, something of the client's, or a place.
PLANTED = (
    "quillmarsh",
    "tile_14",
    "su-07",
    "qm1",
    "552103",
    "4272010",
    "rejected because",
    "-80.4",
    "38.59",
)
FINDING = Finding(
    check="seams",
    outcome=Outcome.NONCONFORMING,
    grade=Grade.MAJOR,
    subject="quillmarsh_tile_14.las",
    sentence="quillmarsh_tile_14.las lies 31.91 m below its neighbours.",
    observed="-31.915",
    required="0.05",
    unit="m",
    remedy="Replace quillmarsh_tile_14.las.",
    where=Where(file="quillmarsh_tile_14.las", xy=(552103.5, 4272010.25), lonlat=(-80.401, 38.596)),
)


@pytest.fixture
def book(tmp_path: Path) -> BookBuilder:
    """Give a job full of names and places."""
    made = MadeBook(tmp_path / "quillmarsh")
    made.card("rig", "G1", {"rig.scanner_serial": known("SU-07")})
    flight = {
        "flight.rig": known("G1"),
        "flight.base_mark": known("QM1"),
        "flight.base_height": known("1.523"),
        "flight.mount_mode": known("drone"),
    }
    made.card("flight", "F1", flight)
    path = "out/quillmarsh_tile_14.las"
    made.write(path, "tile")
    facts: dict[str, Any] = {
        "minimum": ["552103.5", "4272010.25", "214.125"],
        "software": "demo-proc 4.1.0",
        "owner": "quillmarsh",
    }
    values = {
        "run.software": known("demo-proc"),
        "run.output_height_type": known("ellipsoidal"),
        "run.purpose": known("for Quillmarsh"),
        "run.geoid_file": known(compute_digest(b"grid")),
    }
    seen = made.see(path, **facts)
    made.run(Output(seen), flights=["F1"], values=values, reason="rejected because of Quillmarsh")
    content = encode([write_finding(FINDING)])
    made.audit("out", blobs=(content,), findings=compute_digest(content))
    made.close()
    return made


def read(archive: Path) -> tuple[bytes, dict[str, Any]]:
    """Return the content of a bundle, as it is and read."""
    with zipfile.ZipFile(archive) as packed:
        content = packed.read("bundle.json")
    return content, json.loads(content)


def test_nothing_in_it_names_anybody_or_any_place(book: BookBuilder) -> None:
    """None of what was planted is in any file of the archive, in any case."""
    result = make_bundle(book.folder)
    with zipfile.ZipFile(result.file) as packed:
        texts = [packed.read(name).decode().lower() for name in packed.namelist()]
        names = " ".join(packed.namelist()).lower()
    for word in PLANTED:
        assert all(word not in text for text in [*texts, names]), word


def test_what_helps_is_in_it(book: BookBuilder) -> None:
    """Settings with how they are known, versions, heights, and the finding's numbers."""
    _, told = read(make_bundle(book.folder).file)
    values = told["processes"][0]["values"]
    assert values["run.output_height_type"]["value"] == "ellipsoidal"
    assert values["run.software"]["value"] == "demo-proc"
    assert told["flights"][0]["values"]["flight.base_height"]["value"].startswith("1.523")
    assert told["headers"][0]["facts"]["minimum"][2] == "214.125"
    finding = told["audits"][0]["findings"][0]
    assert (finding["check"], finding["observed"], finding["unit"]) == ("seams", "-31.915", "m")


def test_places_are_moved_alike_within_a_bundle(book: BookBuilder) -> None:
    """Header and finding keep their distance; two bundles are moved by different ways."""
    first, second = (read(make_bundle(book.folder).file)[1] for _ in range(2))
    places = []
    for told in (first, second):
        header = told["headers"][0]["facts"]["minimum"]
        assert header[:2] == told["audits"][0]["findings"][0]["xy"][:2]
        places.append(tuple(header[:2]))
    assert places[0] != places[1]


def test_the_same_name_has_the_same_stand_in(book: BookBuilder) -> None:
    """A file is recognised wherever it is named."""
    _, told = read(make_bundle(book.folder).file)
    header, finding = told["headers"][0], told["audits"][0]["findings"][0]
    assert header["file"] == finding["file"]
    assert header["file"].startswith("file-")
    assert header["file"].endswith(".las")


def test_the_book_shows_that_it_came_from_it(book: BookBuilder) -> None:
    """The entry holds the digest of the content, and its proof stands under the root."""
    result = make_bundle(book.folder)
    content, _ = read(result.file)
    with zipfile.ZipFile(result.file) as packed:
        proof = json.loads(packed.read("proof.json"))
    body = proof["body"].encode()
    assert json.loads(body)["values"]["sha256"] == hashlib.sha256(content).hexdigest()
    parts = [bytes.fromhex(part) for part in proof["proof"]]
    root = bytes.fromhex(proof["root"])
    assert verify_inclusion(hash_leaf(body), proof["index"], proof["size"], parts, root)
    with Book.open(book.folder) as opened:
        assert opened.root_at(proof["size"]) == root


def test_the_command(book: BookBuilder, tmp_path: Path) -> None:
    """It says to look through it first."""
    ran = run_here(["support", tmp_path / "for them.zip"], book.folder)
    assert ran.status == 0, ran.err
    assert "Look through it" in ran.out
    assert (tmp_path / "for them.zip").exists()
    ran = run_here(["support", "--json"], book.folder)
    assert json.loads(ran.out)["counts"]["processes"] == 1
