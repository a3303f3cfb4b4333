"""Checks of the records behind a delivery, on evidence made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from delivered_runs import R1, R2, R3, S4, deliver, judge, make_process

from ledger.contract.check import Grade, Outcome
from ledger.model.artefact import FileRecord
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import MatchedBy
from ledger.model.process import Card, Decision
from ledger.model.typed import quote_path
from ledger.testing import drive_check, make_evidence, make_file
from lidar_checks.lineage.custody_of_points import CustodyOfPoints
from lidar_checks.lineage.late_record import LateRecord
from lidar_checks.lineage.unconfirmed_values import UnconfirmedValues


def test_a_stale_tile_names_run_day_reason_others_and_replacement() -> None:
    """One tile of a rejected run among tiles of another: a major finding that says all of it."""
    found = judge(
        CustodyOfPoints(),
        deliver("tile_12.las", R2),
        deliver("tile_13.las", R2),
        deliver("tile_14.las", R1),
    )
    stale = found["tile_14.las"]
    assert (stale.outcome, stale.grade) == (Outcome.NONCONFORMING, Grade.MAJOR)
    assert stale.catalogue == ("RH-02",)
    assert stale.sentence == (
        "tile_14.las was made by run R1, which was rejected on 14 May 2026 (heights are"
        " ellipsoidal); every other file comes from run R2."
    )
    assert stale.remedy == "Replace it with out/R2/tile_14.las of run R2"
    assert (stale.observed, stale.where.file) == ("run R1, rejected", "tile_14.las")
    assert found["tile_12.las"].outcome is found["tile_13.las"].outcome is Outcome.CONFORMS


def test_a_superseded_run_is_as_bad_as_a_rejected_one() -> None:
    """A tile of a superseded run is a major finding."""
    old = make_process("R1", Decision.SUPERSEDED, reason="reflown")
    assert judge(CustodyOfPoints(), deliver("a.las", old))["a.las"].grade is Grade.MAJOR


def test_a_step_on_files_of_a_rejected_run_names_both() -> None:
    """Behind an accepted step the rejected run is named, and repeating the step is the remedy."""
    found = judge(CustodyOfPoints(), deliver("tile_20.las", S4, R1))["tile_20.las"]
    assert found.grade is Grade.MAJOR
    assert found.sentence.startswith(
        "tile_20.las was made by step S4 from files of run R1, which was rejected"
    )
    assert "other file" not in found.sentence
    assert found.remedy == "Repeat step S4 on files of an accepted run and deliver those"


def test_a_delivery_of_mixed_runs_says_how_many_come_from_which() -> None:
    """Where the other files have several makers, the largest share is told as a number."""
    other = make_process("R5", Decision.ACCEPTED)
    found = judge(
        CustodyOfPoints(),
        deliver("a.las", R2),
        deliver("b.las", R2),
        deliver("c.las", other),
        deliver("d.las", R1),
    )["d.las"]
    assert found.sentence.endswith("; 2 of the 3 other files come from run R2.")


def test_an_orphan_is_minor_and_says_what_to_type() -> None:
    """A point file that no process made needs a record; the command is given with its path."""
    found = judge(CustodyOfPoints(), deliver("my tile.las"))["my tile.las"]
    assert (found.outcome, found.grade) == (Outcome.NONCONFORMING, Grade.MINOR)
    assert found.catalogue == ("RH-03",)
    quoted = quote_path("deliver/my tile.las")
    assert quoted[0] == quoted[-1] in "'\""
    assert found.remedy == f"Record what made it (swathbook record {quoted})"


def test_an_undecided_run_is_minor_and_asks_for_the_decision() -> None:
    """Nobody has decided: a minor finding that names the run to decide on."""
    found = judge(CustodyOfPoints(), deliver("tile_15.las", S4, R3))["tile_15.las"]
    assert (found.outcome, found.grade) == (Outcome.NONCONFORMING, Grade.MINOR)
    assert "nobody has decided on run R3" in found.sentence
    assert "swathbook record decision R3 accepted --reason" in found.remedy


def test_a_match_by_coordinates_alone_is_an_observation() -> None:
    """Equal coordinates with other fields point to a step that was not recorded."""
    file = deliver(
        "tile_13.las",
        R2,
        matched_by=MatchedBy.GEOMETRY,
        recorded_path="out/R2/tile_13.las",
    )
    found = judge(CustodyOfPoints(), file)["tile_13.las"]
    assert found.grade is Grade.OBSERVATION
    assert "has the coordinates of out/R2/tile_13.las, made by run R2" in found.sentence
    assert found.remedy == (
        "Record what changed it (swathbook record step deliver/tile_13.las --input R2)"
    )


def test_a_match_by_coordinates_with_a_rejected_run_stays_major() -> None:
    """The coordinates of a rejected run are wrong whatever the other fields are."""
    file = deliver("a.las", R1, matched_by=MatchedBy.GEOMETRY, recorded_path="out/R1/a.las")
    assert judge(CustodyOfPoints(), file)["a.las"].grade is Grade.MAJOR


def test_a_match_by_points_conforms_and_says_so() -> None:
    """Other bytes with all the points of an accepted run conform, and the match is told."""
    file = deliver("a.las", R2, matched_by=MatchedBy.POINTS, recorded_path="out/R2/tile_13.las")
    found = judge(CustodyOfPoints(), file)["a.las"]
    assert found.outcome is Outcome.CONFORMS
    assert "has the points of out/R2/tile_13.las" in found.sentence


def test_rasters_need_a_process_and_documents_do_not() -> None:
    """A raster without a process is an orphan, a document gives no finding at all."""
    found = judge(
        CustodyOfPoints(),
        deliver("dtm.tif", kind="raster"),
        deliver("report.pdf", kind="document"),
    )
    assert list(found) == ["dtm.tif"]
    assert found["dtm.tif"].grade is Grade.MINOR


@pytest.mark.parametrize(
    ("kind", "role", "outcome"),
    [
        ("raster", "geoid", Outcome.CONFORMS),
        ("raster", "raster", Outcome.NONCONFORMING),
        ("points", "points", Outcome.NONCONFORMING),
        ("points", "geoid", Outcome.NONCONFORMING),
    ],
)
def test_a_registered_grid_was_handed_in_but_points_are_always_made(
    kind: str, role: str, outcome: Outcome
) -> None:
    """Registering an output does not stand for the run that made it; a geoid grid needs none."""
    record = FileRecord("geoid/A.tif", "a" * 64, 1, 1, role)
    found = judge(
        CustodyOfPoints(),
        deliver("A.tif", kind=kind, sha256="a" * 64),
        registered={"a" * 64: record},
    )
    assert found["A.tif"].outcome is outcome


def test_what_was_not_looked_up_is_not_assessed() -> None:
    """Without custody a file is *not assessed*, and a folder without traced files inconclusive."""
    assert judge(CustodyOfPoints(), make_file("a.las"))["a.las"].outcome is Outcome.NOT_ASSESSED
    found = judge(CustodyOfPoints(), deliver("report.pdf", kind="document"))
    assert [finding.outcome for finding in found.values()] == [Outcome.INCONCLUSIVE]


def test_custody_is_always_required() -> None:
    """The check of custody cannot be left open or switched off."""
    assert CustodyOfPoints.always_required


@pytest.mark.parametrize(
    ("hours", "outcome", "grade"),
    [
        (1, Outcome.CONFORMS, None),
        (23.9, Outcome.CONFORMS, None),
        (24.1, Outcome.NONCONFORMING, Grade.OBSERVATION),
        (-23, Outcome.CONFORMS, None),
        (-25, Outcome.INCONCLUSIVE, None),
    ],
)
def test_a_record_is_late_after_a_day(hours: float, outcome: Outcome, grade: Grade | None) -> None:
    """The delay from the newest output to the record is held against 24 h, on both sides."""
    run = make_process("R2", Decision.ACCEPTED, "out/a.las", hours=hours)
    found = judge(LateRecord(), deliver("a.las", run))["R2"]
    assert (found.outcome, found.grade) == (outcome, grade)
    assert (found.observed, found.required, found.unit) == (f"{hours:.1f}", "24", "h")
    if outcome is Outcome.NONCONFORMING:
        assert "(swathbook trace R2)" in found.remedy


def test_a_record_of_the_second_in_which_its_file_was_written_is_not_early() -> None:
    """Entries tell whole seconds, so that such a file looks some tenths younger."""
    run = make_process("R2", Decision.ACCEPTED, "out/a.las", hours=-0.9 / 3600)
    (found,) = judge(LateRecord(), deliver("a.las", run)).values()
    assert (found.outcome, found.observed) == (Outcome.CONFORMS, "0.0")


def test_a_record_without_times_cannot_be_judged() -> None:
    """A run without timed outputs is inconclusive; a delivery without runs is not assessed."""
    run = make_process("R2", Decision.ACCEPTED)
    assert judge(LateRecord(), deliver("a.las", run))["R2"].outcome is Outcome.INCONCLUSIVE
    (found,) = judge(LateRecord(), deliver("a.las")).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("records",))


def test_the_newest_output_counts() -> None:
    """A run whose last file was written an hour ago is not late because of its first one."""
    run = make_process("R2", Decision.ACCEPTED, "out/a.las", hours=1)
    old = make_process("R2", Decision.ACCEPTED, "out/b.las", hours=99).outputs
    both = replace(run, outputs=(*old, *run.outputs))
    assert judge(LateRecord(), deliver("a.las", both))["R2"].observed == "1.0"


def test_the_limit_of_lateness_is_a_criterion() -> None:
    """The specification may set another limit."""
    run = make_process("R2", Decision.ACCEPTED, "out/a.las", hours=30)
    evidence = make_evidence(deliver("a.las", run), processes=(run,))
    (found,) = drive_check(LateRecord(), evidence, criteria={"max_delay_h": 48.0})
    assert found.outcome is Outcome.CONFORMS


def test_unconfirmed_values_are_listed_by_record() -> None:
    """Assumed and unconfirmed carried values are an observation for each record that has any."""
    run = make_process(
        "R2",
        Decision.ACCEPTED,
        values={
            "run.lever_arm": KnownValue("0 0 0", "m", KnownBy.ASSUMED, confirmed=False),
            "run.crs": KnownValue("EPSG:6346"),
        },
    )
    rig = Card(
        "G1",
        "",
        1,
        "",
        "technician",
        {
            "rig.calibration_date": KnownValue("2026-01-12", "", KnownBy.CARRIED, confirmed=False),
            "rig.scanner_serial": KnownValue("SU-07", "", KnownBy.CARRIED, confirmed=True),
        },
    )
    flight = Card("F1", "", 2, "", "technician", {"flight.mount_mode": KnownValue("drone")})
    found = judge(UnconfirmedValues(), deliver("a.las", run), rigs=(rig,), flights=(flight,))
    assert found["R2"].grade is found["G1"].grade is Grade.OBSERVATION
    assert "1 value: run.lever_arm (assumed)" in found["R2"].sentence
    assert "rig.calibration_date (carried)" in found["G1"].sentence
    assert "scanner_serial" not in found["G1"].sentence
    assert found["F1"].outcome is Outcome.CONFORMS
    assert found["R2"].remedy == (
        'Look each one up and enter it (swathbook amend R2 --set lever_arm="…" --reason "…")'
    )
    assert found["G1"].remedy == "Look each one up and enter it (swathbook record rig G1)"
    assert judge(UnconfirmedValues(), make_file("a.las"))["delivery"].outcome is (
        Outcome.NOT_ASSESSED
    )
