"""Empty, cut, doubled and missing parts of captures."""

from __future__ import annotations

import pytest
from made_raw import grade, judge, make_flight, make_job, make_raw

from ledger.contract.check import Grade, Outcome
from ledger.model.artefact import FileRecord
from lidar_checks.lineage.capture_files import LARGEST_ON_FAT, CaptureFiles
from lidar_checks.lineage.parts import find_sequences


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        (0, Grade.MAJOR),
        (1, Outcome.CONFORMS),
        (4_294_967_294, Outcome.CONFORMS),
        (4_294_967_295, Grade.MAJOR),
        (4_294_967_296, Outcome.CONFORMS),
    ],
)
def test_sizes_that_no_whole_file_has(size: int, expected: Grade | Outcome) -> None:
    """Nothing, and 2^32 - 1 bytes: the most that a FAT file holds."""
    assert LARGEST_ON_FAT == 4_294_967_295
    (found,) = judge(CaptureFiles(), make_job(make_raw("cap_p1.bin", bytes=size))).values()
    assert grade(found) is expected
    if expected is Grade.MAJOR:
        assert (found.subject, found.catalogue) == ("cap_p1.bin", ("RC-01",))


def test_a_full_part_with_the_next_one_is_whole() -> None:
    """A split capture has parts of just that size; only the last may not."""
    full = [make_raw(f"cap_p{n}.bin", bytes=LARGEST_ON_FAT) for n in (1, 2)]
    rest = make_raw("cap_p3.bin")
    assert list(judge(CaptureFiles(), make_job(*full, rest))) == ["F1"]
    assert list(judge(CaptureFiles(), make_job(*full))) == ["cap_p2.bin"]


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (("cap_p1.bin", "cap_p2.bin", "cap_p3.bin"), Outcome.CONFORMS),
        (("cap_p1.bin", "cap_p3.bin"), Grade.MAJOR),
        (("cap_p2.bin", "cap_p3.bin"), Grade.MAJOR),
        (("cap_p0.bin", "cap_p1.bin"), Outcome.CONFORMS),
        (("cap.001", "cap.003"), Grade.MAJOR),
        (("scan_part 1.bin", "scan_part 3.bin"), Grade.MAJOR),
        # A bare number may count captures; the one between may be another flight's.
        (("scan_004.bin", "scan_006.bin"), Grade.OBSERVATION),
        (("scan_004.bin", "scan_005.bin"), Outcome.CONFORMS),
        # Days and times count nothing.
        (("20260512_140000.bin", "20260512_143000.bin"), Outcome.CONFORMS),
        (("map1.bin", "map2.bin"), Outcome.CONFORMS),
        (("capture.bin",), Outcome.CONFORMS),
    ],
)
def test_gaps_in_names(names: tuple[str, ...], expected: Grade | Outcome) -> None:
    """Only a number that is surely one of a part makes a missing part."""
    (found,) = judge(CaptureFiles(), make_job(*(make_raw(f"raw/{n}") for n in names))).values()
    assert grade(found) is expected
    if expected is not Outcome.CONFORMS:
        assert found.catalogue == ("RC-02",)


def test_the_missing_part_is_named_as_its_neighbours() -> None:
    """The name has as many digits, so that it can be looked for on the card."""
    found = judge(CaptureFiles(), make_job(make_raw("raw/c_p01.bin"), make_raw("raw/c_p03.bin")))
    assert found["raw/c_p#.bin"].where.file == "raw/c_p02.bin"
    (sequence,) = find_sequences([make_raw("raw/c_p01.bin"), make_raw("raw/c_p03.bin")])
    assert (sequence.missing, sequence.is_certain) == ((2,), True)


def test_a_part_that_another_flight_has_is_not_missing() -> None:
    """A counter goes on through the flights of a day."""
    known = FileRecord("raw/s_002.bin", "b" * 64, 1, 1, "capture")
    evidence = make_job(
        make_raw("raw/s_001.bin"), make_raw("raw/s_003.bin"), registered={"b" * 64: known}
    )
    assert list(judge(CaptureFiles(), evidence)) == ["F1"]


def test_one_part_in_the_place_of_another() -> None:
    """The same bytes under two part numbers: one part was copied twice, the other is lost."""
    found = judge(
        CaptureFiles(),
        make_job(make_raw("c_p1.bin", sha256="a" * 64), make_raw("c_p2.bin", sha256="a" * 64)),
    )
    assert (grade(found["c_p2.bin"]), found["c_p2.bin"].catalogue) == (Grade.MAJOR, ("RC-02",))


@pytest.mark.parametrize(
    ("parts", "expected"),
    [(1, Grade.OBSERVATION), (2, Outcome.CONFORMS), (3, Grade.MAJOR)],
)
def test_the_card_states_how_many_parts(parts: int, expected: Grade | Outcome) -> None:
    """Fewer files than the scanner wrote, or some of another capture among them."""
    evidence = make_job(
        make_raw("a.bin"), make_raw("b.bin"), flights=(make_flight(capture_parts=parts),)
    )
    assert grade(judge(CaptureFiles(), evidence)["F1"]) is expected


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("20260511_235959.bin", Grade.OBSERVATION),
        ("2026-05-12_140000_p1.bin", Outcome.CONFORMS),
        ("scan_20260513.bin", Outcome.CONFORMS),
        ("20260514.bin", Grade.OBSERVATION),
        # Numbers that are no day, or that are several, say nothing.
        ("20260631.bin", Outcome.CONFORMS),
        ("20250101_20260101.bin", Outcome.CONFORMS),
        ("120260511.bin", Outcome.CONFORMS),
        ("capture.bin", Outcome.CONFORMS),
    ],
)
def test_a_capture_is_named_for_the_day_of_its_flight(name: str, expected: Grade | Outcome) -> None:
    """14:00 UTC is the same day or the next one, wherever on Earth."""
    times = {"takeoff": "2026-05-12T14:00:00Z", "landing": "2026-05-12T14:16:40Z"}
    raw = make_raw(f"raw/20200101/{name}")
    (found,) = judge(CaptureFiles(), make_job(raw, flights=(make_flight(**times),))).values()
    assert grade(found) is expected
    (found,) = judge(CaptureFiles(), make_job(raw, flights=(make_flight(),))).values()
    assert found.outcome is Outcome.CONFORMS


def test_parts_of_two_captures_are_told_apart() -> None:
    """The parts that one lacks are there under the name of another; two whole ones are let be."""
    names = ("r/a_p1.bin", "r/a_p2.bin", "r/b_p3.bin")
    found = judge(CaptureFiles(), make_job(*map(make_raw, names)))
    assert "r/a_p#.bin has them, so parts of two captures are mixed" in found["r/b_p#.bin"].sentence
    elsewhere = judge(CaptureFiles(), make_job(*map(make_raw, (*names[:2], "s/b_p3.bin"))))
    assert "mixed" not in elsewhere["s/b_p#.bin"].sentence
    whole = ("a_p1.bin", "a_p2.bin", "b_p1.bin", "b_p2.bin")
    (kept,) = judge(CaptureFiles(), make_job(*map(make_raw, whole))).values()
    assert kept.outcome is Outcome.CONFORMS


def test_without_a_capture_nothing_is_said() -> None:
    """A base log alone is no capture."""
    (found,) = judge(CaptureFiles(), make_job(make_raw("b.obs", "base-log"))).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("capture",))
