"""What damaged real files teach, each as a made file that goes through the real commands.

The faults are those that real files have (the table of origins and the collection of open files
name some that do).
"""

from __future__ import annotations

import time
from pathlib import Path

import laspy
import numpy as np
import pytest
from job_bench import JobBench
from spoiled_survey import ONE_TILE, PLAIN, REAL, audit_spoiled, tell_one

from ledger.testing import Layout, SurveyBuilder

# Processor time. Believing a count of billions takes minutes, and most of the memory.
MUCH_LESS_THAN_BILLIONS_S = 5


def test_billions_of_records_are_answered_at_once(bench: JobBench) -> None:
    """Lesson 1: a count of records in the billions is held against the room before it is used."""
    begun = time.process_time()
    result = audit_spoiled(bench, lambda survey: survey.huge_vlr_count(0))
    assert time.process_time() - begun < MUCH_LESS_THAN_BILLIONS_S
    outcome, grade, sentence = tell_one(result, "file-readable")
    assert (outcome, grade) == ("nonconforming", "major")
    assert "found 4294967280" in sentence


def test_billions_of_records_are_registered_at_once(bench: JobBench) -> None:
    """Lesson 1: registering such a file says what is wrong with it, at once."""
    SurveyBuilder(bench.job / "raw", PLAIN, ONE_TILE).huge_vlr_count(0)
    begun = time.process_time()
    (file,) = bench.ask("register", "raw")["files"]
    assert time.process_time() - begun < MUCH_LESS_THAN_BILLIONS_S
    assert "count of variable length records is impossible" in file["fault"]


@pytest.mark.parametrize("cut", ["cut_on_record", "cut_mid_record"])
def test_a_cut_file_lost_points(bench: JobBench, cut: str) -> None:
    """Lesson 2: cut on a record boundary or within one, the lost point is a major finding.

    laspy 2.7.0 reads the first without a word.
    """
    whole = SurveyBuilder(bench.base / "whole", PLAIN, ONE_TILE).count_points()
    result = audit_spoiled(bench, lambda survey: getattr(survey, cut)(0))
    assert (result["verdict"], result["points"]) == ("do not send", whole - 1)
    _, grade, sentence = tell_one(result, "file-readable")
    assert grade == "major"
    assert f"{whole - 1:,} of {whole:,} points" in sentence


def test_a_decoder_that_panics_is_a_finding(
    bench: JobBench, capfd: pytest.CaptureFixture[str]
) -> None:
    """Lesson 3: a panic of the decoder, which is no Exception, ends in one finding and no noise."""
    with pytest.raises(BaseException) as panic:  # noqa: PT011 - that it is no Exception is the point
        laspy.read(REAL / "broken_coder.laz")
    assert not isinstance(panic.value, Exception)
    capfd.readouterr()
    bench.copy(REAL / "broken_coder.laz", "out/a.laz")
    bench.copy(REAL / "broken_type.laz", "out/b.laz")
    bench.copy(REAL / "srs_vertcs.las", "out/c.las")
    result = bench.ask("audit", "out", status=1)
    majors = {f["subject"] for f in result["findings"] if "FT-05" in f["catalogue"] and f["grade"]}
    assert majors == {"a.laz", "b.laz"}
    assert result["points"] == 10  # those of the sound file, which went on
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("seed", range(8))
def test_rubbish_in_compressed_points_never_breaks_an_audit(
    bench: JobBench, capfd: pytest.CaptureFixture[str], seed: int
) -> None:
    """Lesson 3: whatever a bad sector left in compressed points, the audit ends with a verdict."""

    def spoil(path: Path) -> None:
        content = bytearray(path.read_bytes())
        random = np.random.default_rng(seed)
        for place in random.integers(375, len(content), 40):
            content[place] = random.integers(256)
        path.write_bytes(content)

    result = audit_spoiled(bench, lambda survey: survey.damage(0, spoil), Layout())
    assert result["verdict"] in ("do not send", "incomplete")
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    assert capfd.readouterr() == ("", "")


def test_an_indexed_file_without_its_tail_is_damaged(bench: JobBench) -> None:
    """Lesson 4: cut to 99 % a COPC file still gives all points; its index is gone, and that shows.

    laspy 2.7.0 reads all 1,065 points of it.
    """
    whole = (REAL / "1.2-with-color.copc.laz").read_bytes()
    bench.write("out/a.copc.laz", whole[: len(whole) * 99 // 100])
    result = bench.ask("audit", "out", status=1)
    assert result["points"] == 1065
    _, grade, sentence = tell_one(result, "file-readable")
    assert grade == "major"
    assert "damaged, though 1,065 points can be read" in sentence
