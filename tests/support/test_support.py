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
from ledger.errors import UsageError
from ledger.merkle import hash_leaf, verify_inclusion
from ledger.model.artefact import Output
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.store.reading import Book
from ledger.support import make_bundle
from ledger.support.redaction import Redactor
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
        "run.geoid_name": known("quillmarsh-geoid"),  # as the folder of the job is called
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


@pytest.mark.parametrize("folder", ["raw", "out", "raw/../raw/deeper", "linked"])
def test_no_bundle_is_written_among_raw_or_delivered_files(book: BookBuilder, folder: str) -> None:
    """Neither by a plain name nor by a link; nothing is entered."""
    (book.folder / "raw/deeper").mkdir(parents=True, exist_ok=True)
    (book.folder / "linked").symlink_to(book.folder / "raw", target_is_directory=True)
    with pytest.raises(UsageError, match="nothing is written among the"):
        make_bundle(book.folder, book.folder / folder / "bundle.zip")
    assert not list(book.folder.rglob("bundle.zip"))


def test_no_bundle_is_written_over_a_file(book: BookBuilder) -> None:
    """A raw file that was named by mistake keeps its bytes; so does any other file."""
    book.write("elsewhere/cap.bin", "capture")
    for name in ("elsewhere/cap.bin", "out/quillmarsh_tile_14.las"):
        kept = (book.folder / name).read_bytes()
        with pytest.raises(UsageError):
            make_bundle(book.folder, book.folder / name)
        assert (book.folder / name).read_bytes() == kept


def test_nothing_gives_away_by_how_much_places_were_moved() -> None:
    """An offset of 0, as most writers leave it, and a corner at 0 would show the distance."""
    redactor = Redactor()
    facts = {
        "minimum": ["552103.5", "4272010.25", "214.1"],
        "maximum": ["0", "0", "0"],
        "offset": ["0", "0", "0"],
    }
    told = redactor.facts(facts)
    moved = [float(each) for each in told["minimum"]]
    distance = [moved[0] - 552103.5, moved[1] - 4272010.25]
    assert all(distance)
    for each in distance:
        assert f"{each:.0f}" not in json.dumps(told)
    assert told["maximum"] == []
    assert told["offset_from_minimum"] == "far from the points"
    near = redactor.facts(facts | {"offset": ["552000", "4272000", "0"]})
    assert near["offset_from_minimum"] == ["-103.5", "-10.25", "-214.1"]


def test_longitude_and_latitude_are_left_out() -> None:
    """Moved by whole thousands they could still be read off the last digits."""
    redactor = Redactor()
    assert redactor.place(["-80.401", "38.596", "214"]) == []
    assert redactor.place(["361", "38.596", "214"]) != []


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("NAD83(2011) / UTM zone 17N (EPSG:6346) + NAVD88 height", "EPSG:6346 + NAVD88 height"),
        ("Quillmarsh site grid", "system-1"),
        ("Quillmarsh grid (EPSG:6346) + Quillmarsh bench height", "EPSG:6346 + system-1"),
        ('PROJCRS["Quillmarsh site grid"]', "system-1"),
        ("EPSG:6346", "EPSG:6346"),
    ],
)
def test_a_system_of_coordinates_is_told_by_its_code(text: str, told: str) -> None:
    """A local name in front of a code, or in place of one, tells the site."""
    assert Redactor().facts({"crs": text})["crs"] == told


def test_text_with_a_word_of_the_job_gets_a_stand_in() -> None:
    """A geoid, a program or a system identifier named after the site is not harmless."""
    redactor = Redactor(["Quillmarsh borrow pit, QM-0412"])
    facts = redactor.facts({"software": "demo-proc 4.1", "system": "QUILLMARSH rover"})
    assert facts == {"software": "demo-proc 4.1", "system": "system-1"}
    values = {"run.geoid_name": known("quillmarsh-geoid-v2"), "run.software": known("demo-proc")}
    told = redactor.values(values)
    assert told["run.geoid_name"]["value"] == "geoid-name-1"
    assert told["run.software"]["value"] == "demo-proc"
    assert redactor.criterion(["pit_{n}.laz", 4, None]) == ["criterion-1", 4, None]
