"""From a file, flight or rig on to everything that depends on it."""

from __future__ import annotations

import hashlib
from pathlib import Path

from made_book import MadeBook, known, make_fingerprint

from ledger.model.entry import Draft
from ledger.model.known import KnownValue
from ledger.store.writing import BookWriter
from ledger.trace import ChainNode, trace


def follow(book: MadeBook, text: str) -> dict[str, ChainNode]:
    """Return what was made of something, by id."""
    return {node.id: node for node in trace(book.folder, text, onward=True).onward}


def test_a_calibration_leads_through_its_rig_to_the_runs(tmp_path: Path) -> None:
    """A file that a rig names is behind every flight of that rig, and behind no other."""
    book = MadeBook(tmp_path)
    calibration = KnownValue("c" * 64, where="cal/SU-07.xml")
    book.card("rig", "G1", {"rig.calibration_file": calibration})
    book.card("rig", "G2")
    for name, rig in (("F1", "G1"), ("F2", "G2")):
        book.card("flight", name, {"flight.rig": known(rig)})
        book.write(f"out/{name}.las", name)
        book.run(f"out/{name}.las", inputs=[{"flight": name}])
    book.close()
    made = follow(book, "c" * 64)
    assert list(made) == ["R1"]
    assert made["R1"].sources == ("F1",)


def test_a_rig_that_a_flight_names_by_its_name_is_found(tmp_path: Path) -> None:
    """Both ways a flight may name its rig lead onward, as they lead back."""
    book = MadeBook(tmp_path)
    book.enter("rig", {"id": "G1", "name": "rig-K", "values": {}})
    book.card("flight", "F1", {"flight.rig": known("rig-K")})
    book.write("out/a.las", "a")
    book.run("out/a.las", inputs=[{"flight": "F1"}])
    book.close()
    assert list(follow(book, "G1")) == ["R1"]


def test_a_run_on_one_file_of_a_flight_depends_on_the_flight(tmp_path: Path) -> None:
    """Whoever used a part of a flight used the flight."""
    book = MadeBook(tmp_path)
    book.write("raw/a.bin", "a")
    book.card("flight", "F1")
    book.register("raw/a.bin", flight="F1")
    book.write("out/a.las", "points")
    book.run("out/a.las", inputs=[book.use("raw/a.bin", "capture")])
    book.close()
    assert list(follow(book, "F1")) == ["R1"]


def test_a_grid_that_took_the_path_of_another_is_not_held_against_the_run(tmp_path: Path) -> None:
    """A run that named a path means the bytes that lay there then."""
    book = MadeBook(tmp_path)
    book.write("geoid/A.tif", "first")
    book.register("geoid/A.tif", role="geoid")
    book.write("out/a.las", "a")
    use = book.use("geoid/A.tif", "geoid")
    book.run("out/a.las", inputs=[use], values={"run.geoid_file": known("geoid/A.tif")})
    book.write("geoid/A.tif", "second")
    book.register("geoid/A.tif", role="geoid")
    book.close()
    assert list(follow(book, hashlib.sha256(b"first").hexdigest())) == ["R1"]
    assert follow(book, hashlib.sha256(b"second").hexdigest()) == {}


def test_a_compressed_copy_in_a_delivery_is_made_of_the_output(tmp_path: Path) -> None:
    """A delivered file with the same points under another header counts as audited."""
    book = MadeBook(tmp_path)
    points = make_fingerprint("p", "f")
    book.write("out/a.las", "a")
    book.write("out/b.las", "b")
    book.run(book.output("out/a.las", points), "out/b.las")
    book.write("deliver/a.laz", "a compressed")
    book.audit("deliver", fingerprints={"a.laz": points})
    book.write("raw/x.bin", "x")
    book.close()
    made = follow(book, "R1")
    assert made["D1"].values["audit.files_concerned"].value == 1
    result = trace(book.folder, hashlib.sha256(b"a").hexdigest(), onward=True)
    assert [node.id for node in result.onward] == ["D1"]


def test_how_much_of_a_run_was_audited_is_counted(survey: MadeBook) -> None:
    """Of each run the files it made and those in an audit are told; sending is not recorded."""
    result = trace(survey.folder, "F1", onward=True)
    made = {node.id: node for node in result.onward}
    assert made["R1"].values["run.files_made"].value == 2
    assert made["R1"].values["run.files_audited"].value == 1
    assert "transmittal" in result.not_recorded


def test_a_folder_that_was_audited_again_is_marked(survey: MadeBook) -> None:
    """The earlier audit of a folder says by which one it was replaced."""
    with BookWriter.open(survey.folder) as writer:
        first = next(writer.entries("audit"))
        writer.append(Draft("audit", {**first.values, "id": "D2"}))
    made = follow(survey, "R1")
    assert made["D1"].values["audit.replaced_by"].value == "D2"
    assert "audit.replaced_by" not in made["D2"].values
