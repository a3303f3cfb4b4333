"""Questions that are put to the book weeks later, on the book of a small survey."""

from __future__ import annotations

import hashlib
from pathlib import Path

from made_book import MadeBook, known
from traced import ask, find_node

from ledger.model.known import KnownBy
from ledger.model.lineage import CustodyState
from ledger.trace import trace


def test_which_geoid_did_the_tile_use(survey: MadeBook) -> None:
    """Name, version, file and the digest of the very grid that the run of a tile used are told."""
    result = ask(survey, "deliver/tile_13.las")
    run = find_node(result, "R2")
    assert run.values["run.geoid_name"].value == "demo-geoid-A"
    assert run.values["run.geoid_version"].value == "1"
    digest = hashlib.sha256(b"grid A").hexdigest()
    assert run.values["run.geoid_file.sha256"].value == digest
    assert run.values["run.geoid_file.sha256"].known_by is KnownBy.READ
    assert digest[:12] in run.sources
    assert find_node(result, digest[:12]).values["file.role"].value == "geoid"


def test_a_geoid_that_was_not_recorded_is_said_to_be_so(survey: MadeBook) -> None:
    """A run without geoid version or grid says *not recorded* for both and for the digest."""
    book = MadeBook(survey.folder.parent / "other")
    book.write("out/a.las", "a")
    book.run("out/a.las", values={"run.geoid_name": known("some geoid")})
    book.close()
    result = ask(book, "out/a.las")
    assert {"run.geoid_version", "run.geoid_file"} <= set(result.not_recorded)
    book = MadeBook(survey.folder.parent / "third")
    book.write("out/a.las", "a")
    book.run("out/a.las", values={"run.geoid_file": known("geoid/never-seen.tif")})
    book.close()
    assert "run.geoid_file.sha256" in ask(book, "out/a.las").not_recorded


def test_a_grid_seen_only_after_the_run_is_an_assumption(tmp_path: Path) -> None:
    """That a grid registered later is the one that was used is assumed, and marked so."""
    book = MadeBook(tmp_path)
    book.write("out/a.las", "a")
    book.run("out/a.las", values={"run.geoid_file": known("geoid/A.tif")})
    book.write("geoid/A.tif", "grid")
    book.register("geoid/A.tif", role="geoid")
    book.close()
    digest = find_node(ask(book, "out/a.las"), "R1").values["run.geoid_file.sha256"]
    assert (digest.known_by, digest.confirmed) == (KnownBy.ASSUMED, False)


def test_which_raw_files_made_the_tile_and_where_are_copies(survey: MadeBook) -> None:
    """A tile leads to its flight and the raw files of it; without copies that is not recorded."""
    result = ask(survey, "deliver/tile_13.las")
    flight = find_node(result, "F1")
    names = {find_node(result, name).name for name in flight.sources if name != "G1"}
    assert names == {"raw/cap_p1.bin", "raw/cap_p2.bin"}
    assert result.backing.copies == ()
    assert "copies" in result.not_recorded


def test_copies_on_another_drive_are_told(tmp_path: Path) -> None:
    """A raw file seen on another drive is a copy, with the entry that saw it; one beside is not."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    book.write("backup/cap.bin", "capture")
    book.card("flight", "F1", {"flight.rig": known("G9")})
    book.register("raw/cap.bin", flight="F1")
    seen = book.see("raw/cap.bin", "capture")
    away = type(seen)("/Volumes/COPY-1/cap.bin", seen.sha256, seen.bytes, seen.mtime_ns, "capture")
    book.sight(away, book.see("backup/cap.bin", "capture"))
    book.write("out/a.las", "a")
    book.run("out/a.las", inputs=[{"flight": "F1"}])
    book.close()
    backing = ask(book, "out/a.las").backing
    (copy,) = backing.copies
    assert (copy.path, copy.volume) == ("/Volumes/COPY-1/cap.bin", "/Volumes/COPY-1")
    assert (copy.of, copy.time) == ("raw/cap.bin", "2026-05-14T10:00:00Z")
    assert (copy.verified, backing.good, backing.needed) == (False, 0, 2)


def test_which_mount_mode_position_source_and_lever_arm(survey: MadeBook) -> None:
    """Mount mode, position source and lever arm of run, flight and rig stand in the chain."""
    result = ask(survey, "deliver/tile_13.las")
    run, flight, rig = (find_node(result, name) for name in ("R2", "F1", "G1"))
    assert run.values["run.mount_mode"].value == flight.values["flight.mount_mode"].value == "drone"
    assert run.values["run.position_source"].value == "aircraft receiver"
    arm = run.values["run.lever_arm"]
    assert (arm.value, arm.unit) == ("0.000 0.105 -0.312", "m")
    assert rig.values["rig.lever_arm_aircraft"].known_by is KnownBy.MEASURED
    assert "run.lever_arm_from" in run.not_recorded


def test_which_frame_and_epoch(survey: MadeBook) -> None:
    """The frame is told; the epoch, which nobody recorded, is listed as such."""
    result = ask(survey, "deliver/tile_13.las")
    assert find_node(result, "R2").values["run.frame"].value == "NAD83(2011)"
    assert "run.epoch" in find_node(result, "R2").not_recorded
    assert "run.epoch" in result.not_recorded


def test_what_differs_from_the_run_before(survey: MadeBook) -> None:
    """The settings that differ from the run before of the same flight are told, no others."""
    run = find_node(ask(survey, "deliver/tile_13.las"), "R2")
    assert run.run_before == "R1"
    changes = {
        change.field: (change.before and change.before.value, change.now and change.now.value)
        for change in run.changes
    }
    assert next(iter(changes)) == "run.output_height_type"  # in the order in which they are asked
    assert changes == {
        "run.output_height_type": ("ellipsoidal", "orthometric"),
        "run.geoid_name": ("none", "demo-geoid-A"),
        "run.geoid_version": (None, "1"),
        "run.geoid_file": (None, "geoid/demo-geoid-A.tif"),
    }
    assert find_node(ask(survey, "deliver/tile_14.las"), "R1").run_before == ""


def test_of_several_runs_before_the_last_one_counts(tmp_path: Path) -> None:
    """A third run is compared with the second; what a run was for is no setting."""
    book = MadeBook(tmp_path)
    for number in (1, 2, 3):
        book.write(f"out/{number}.las", str(number))
        values = {"run.version": known(str(number)), "run.purpose": known(f"try {number}")}
        book.run(f"out/{number}.las", inputs=[{"flight": "F1"}], values=values)
    book.close()
    node = find_node(ask(book, "out/3.las"), "R3")
    assert node.run_before == "R2"
    assert [(change.field, change.before and change.before.value) for change in node.changes] == [
        ("run.version", "2")
    ]


def test_without_a_geoid_its_version_and_grid_are_not_missing(survey: MadeBook) -> None:
    """A run that says that no geoid was applied owes neither its version nor its grid."""
    missing = find_node(trace(survey.folder, "R1"), "R1").not_recorded
    assert not {"run.geoid_name", "run.geoid_version", "run.geoid_file"} & set(missing)


def test_a_run_of_another_flight_is_no_run_before(tmp_path: Path) -> None:
    """Settings are compared between runs of the same capture only."""
    book = MadeBook(tmp_path)
    book.write("out/a.las", "a")
    book.write("out/b.las", "b")
    book.run("out/a.las", inputs=[{"flight": "F1"}], values={"run.version": known("1")})
    book.run("out/b.las", inputs=[{"flight": "F2"}], values={"run.version": known("2")})
    book.close()
    node = find_node(ask(book, "out/b.las"), "R2")
    assert (node.run_before, node.changes) == ("", ())


def test_a_step_is_held_against_the_step_before_of_its_kind(tmp_path: Path) -> None:
    """Two cleanings of one run are compared; a tiling of it is no other attempt at a cleaning."""
    book = MadeBook(tmp_path)
    for name in "abcd":
        book.write(f"out/{name}.las", name)
    book.run("out/a.las", inputs=[{"flight": "F1"}])
    used = [book.use("out/a.las")]
    for name, kind, purpose in (
        ("b", "cleaning", "try"),
        ("c", "tiling", ""),
        ("d", "cleaning", "again"),
    ):
        values = {"step.kind": known(kind), "step.settings": known(name)}
        values |= {"step.purpose": known(purpose)} if purpose else {}
        book.step(f"out/{name}.las", inputs=used, values=values)
    book.close()
    assert find_node(ask(book, "out/c.las"), "S2").run_before == ""
    last = find_node(ask(book, "out/d.las"), "S3")
    assert last.run_before == "S1"
    assert [change.field for change in last.changes] == ["step.settings"]


def test_which_values_were_assumed_or_carried(survey: MadeBook) -> None:
    """Every value that was assumed or carried is listed with its record, and no other is."""
    result = ask(survey, "deliver/tile_13.las")
    assert {(item.node, item.field, item.value.known_by) for item in result.unmeasured} == {
        ("R2", "run.lever_arm", KnownBy.ASSUMED),
        ("G1", "rig.calibration_date", KnownBy.CARRIED),
    }


def test_a_stale_tile_is_named_with_its_run(survey: MadeBook) -> None:
    """The sentence says which run made a stale tile, when it was rejected and why."""
    result = ask(survey, "deliver/tile_14.las")
    assert result.state is CustodyState.STALE
    assert result.sentence == (
        "tile_14.las was made by run R1 (demo-proc 4.1.0), rejected on 14 May 2026"
        " (heights are ellipsoidal)."
    )
    assert [node.id for node in result.chain[:3]] == [result.sha256[:12], "D1", "R1"]
    assert result.chain[1].values["audit.verdict"].value == "do not send"
    assert result.chain[1].sources == (result.sha256[:12],)


def test_who_recorded_it_is_told(survey: MadeBook) -> None:
    """Every record of the chain says by which function and when it was entered."""
    result = ask(survey, "deliver/tile_13.las")
    for name in ("R2", "F1", "G1", "D1"):
        node = find_node(result, name)
        assert node.by == "technician"
        assert node.time.startswith("2026-05-1")
        assert node.entry > 0
