"""What headers and times of real files teach, each as a made file that is really audited."""

from __future__ import annotations

import pytest
from job_bench import JobBench
from spoiled_survey import Build, audit_spoiled, conforms, tell, tell_one


def test_a_sound_survey_has_none_of_these_faults(bench: JobBench) -> None:
    """The survey that is spoiled is sound, or the tests of these lessons would show nothing."""
    result = audit_spoiled(bench, lambda _: None)
    assert result["verdict"] == "incomplete"
    for check in (
        "classification",
        "crs-position",
        "crs-present",
        "file-readable",
        "gps-time-kind",
        "header-counts",
        "header-extent",
        "return-numbers",
    ):
        assert conforms(result, check), check


@pytest.mark.parametrize(
    ("dx", "words"),
    [(100.0, "ends 100 beyond its points in X"), (-1.0, "ends 1 short of its points in X")],
)
def test_a_box_that_is_not_that_of_the_points(bench: JobBench, dx: float, words: str) -> None:
    """Lesson 9: a box that is looser than the points, or too small for one, is told."""
    result = audit_spoiled(bench, lambda survey: survey.wrong_box(0, dx))
    _, grade, sentence = tell_one(result, "header-extent")
    assert grade == "minor"
    assert words in sentence, sentence


def test_a_stray_point_does_not_thin_the_density(bench: JobBench) -> None:
    """Lesson 9: one point far away stretches the box; the density is that of the ground."""
    wishes = "[criteria.point-density]\nmin_pts_per_m2 = 2.0\n"
    result = audit_spoiled(bench, lambda survey: survey.move_point(0, 7, dx=3000.0), wishes=wishes)
    assert conforms(result, "point-density"), tell(result, "point-density")


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((5, 4, 3), "the header counts 5 returns of number 1"),
        ((0,) * 15, "counts no return at all"),
    ],
)
def test_counts_by_return_can_be_stale(
    bench: JobBench, counts: tuple[int, ...], words: str
) -> None:
    """Lesson 10: counts by return of a parent file, or none at all, are told."""
    result = audit_spoiled(bench, lambda survey: survey.wrong_return_counts(0, *counts))
    assert words in tell_one(result, "header-counts")[2]


def test_a_legacy_count_beside_another_one(bench: JobBench) -> None:
    """Lesson 10: format 6 wants a legacy count of 0 (ASPRS LAS 1.4 R15, legacy counts)."""
    result = audit_spoiled(bench, lambda survey: survey.legacy_count(0, 100))
    assert "legacy count is 100" in tell_one(result, "las-conformance")[2]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda survey: survey.time_flag(0, adjusted=False), "can only be adjusted standard time"),
        (lambda survey: survey.week_times(0), "can only be seconds of the week"),
        (lambda survey: survey.all_times_zero(0), "every GPS time is 0"),
        (lambda survey: survey.set_field(0, "gps_time", float("nan")), "are not numbers"),
        (lambda survey: survey.set_field(0, "gps_time", 1e300), "1e+300"),
        (lambda survey: survey.coarse_times(0), "32-bit float"),
    ],
)
def test_gps_times_that_are_none(bench: JobBench, spoil: Build, words: str) -> None:
    """Lesson 11: times against their flag, of zero, no numbers, absurd or rounded are told."""
    result = audit_spoiled(bench, spoil)
    outcome, _, sentence = tell_one(result, "gps-time-kind")
    assert outcome != "conforms"
    assert words in sentence, sentence
