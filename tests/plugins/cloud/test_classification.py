"""Classification: codes asked for, codes allowed, and the tables of the standard."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery, make_header, make_points, read_open_file
from open_data import OpenFile
from pydantic import ValidationError

from ledger.contract.check import Finding, Grade, Outcome
from ledger.testing import check_tally_laws
from lidar_checks.cloud.classification import Classification, ClassificationCriteria


def judge(
    *tiles: list[int], point_format: int = 6, version: str = "", **criteria: Any
) -> list[Finding]:
    """Return what the check finds in tiles whose points have these classes."""
    delivery = Delivery()
    for number, codes in enumerate(tiles):
        place = np.arange(len(codes), dtype=np.float64)
        header = make_header(point_format=point_format)
        header = replace(header, version=version or header.version)
        points = make_points(place, place, classification=codes)
        delivery.add(f"tile_{number}.laz", points, header=header)
    return list(delivery.drive(Classification(), criteria))


def _list_codes(observed: str) -> str:
    """Return the codes of "class 8", "classes 1, 2 only"; nothing else may stand there."""
    match = re.fullmatch(r"(?:class (\d+)|classes (\d+(?:, \d+)+))(?: only)?", observed)
    assert match, observed
    return match[1] or match[2]


def list_faults(findings: list[Finding]) -> list[tuple[str, Grade | None, str]]:
    """Return subject, grade and observed codes of what does not conform."""
    return [
        (f.subject, f.grade, _list_codes(f.observed))
        for f in findings
        if f.outcome is Outcome.NONCONFORMING
    ]


def test_nothing_asked_is_nothing_missing() -> None:
    """Without criteria any defined code conforms, and is told with its name and count."""
    (finding,) = judge([2, 2, 5, 200])
    assert finding.outcome is Outcome.CONFORMS
    assert "2 (ground): 2, 5 (high vegetation): 1, 200 (user's own): 1" in finding.sentence


def test_a_required_class_may_be_in_any_tile() -> None:
    """A class that only one tile has is there: not every tile has water or noise."""
    assert not list_faults(judge([1, 2], [2, 7], required=[2, 7]))


def test_a_missing_required_class_is_a_minor_of_the_delivery() -> None:
    """A class that no tile has is reported once, with what is there."""
    findings = judge([1, 2], [2], required=[2, 7])
    assert list_faults(findings) == [("delivery", Grade.MINOR, "1, 2")]
    assert "asks for class 7 (low noise)" in findings[0].sentence
    assert findings[0].catalogue == ("CL-04",)


@pytest.mark.parametrize("code", [0, 1])
def test_a_delivery_that_nobody_classified_is_one_minor(code: int) -> None:
    """Only code 0, or only 1, where ground is asked for: one finding, not one a tile."""
    assert list_faults(judge([code] * 3, [code], required=[2])) == [
        ("delivery", Grade.MINOR, str(code))
    ]


@pytest.mark.parametrize("required", [[2], [1]])
def test_one_unclassified_tile_among_others_is_found(required: list[int]) -> None:
    """A tile of code 0 alone is a minor when anything is required, though others have it."""
    findings = judge([1, 2, 2], [0, 0], required=required)
    assert list_faults(findings) == [("tile_1.laz", Grade.MINOR, "0")]


def test_never_classified_conforms_where_nothing_is_asked() -> None:
    """Code 0 alone is no fault without an order for classes."""
    assert not list_faults(judge([0, 0, 0]))


def test_never_classified_is_told_where_nothing_is_asked() -> None:
    """A file of code 0 alone conforms with a note, so that it is no surprise to the customer."""
    (finding,) = judge([0, 0])
    assert finding.sentence.endswith("nobody classified it, and nobody asks for it.")


def test_a_tile_left_out_is_observed_where_nothing_is_asked() -> None:
    """One tile of code 0 among classified ones is an observation; one of code 1 may be honest."""
    assert list_faults(judge([2, 5], [0, 0])) == [("tile_1.laz", Grade.OBSERVATION, "0")]
    assert not list_faults(judge([2, 5], [1, 1]))
    assert not list_faults(judge([2, 5], [0, 2]))


@pytest.mark.parametrize(("stray", "said"), [(0, "no point"), (1, "only 1 point"), (2, "")])
def test_a_tile_without_ground_is_found_beside_strays(stray: int, said: str) -> None:
    """Up to one point in two thousand that came in from a neighbour makes no ground."""
    told = judge([2, 5] * 500, [2, 5] * 500, [1] * (2_000 - stray) + [2] * stray)
    faults = [finding for finding in told if finding.outcome is Outcome.NONCONFORMING]
    assert [finding.subject for finding in faults] == ["tile_2.laz"] * bool(said)
    assert all(f"has {said} of ground (class 2)" in finding.sentence for finding in faults)


def test_the_first_version_has_no_table() -> None:
    """Codes of LAS 1.0 are held against no table, those of 1.1 to 1.3 against that of 1.4."""
    assert not list_faults(judge([2, 31], point_format=1, version="1.0"))
    assert list_faults(judge([2, 31], point_format=1, version="1.1"))


def test_a_code_that_is_not_allowed_is_a_minor_of_its_file() -> None:
    """Each file with a code outside the list is named with the codes and counts."""
    findings = judge([1, 2, 5, 5], [1, 2], allowed=[1, 2, 7])
    assert list_faults(findings) == [("tile_0.laz", Grade.MINOR, "5")]
    assert "5 (high vegetation): 2, which is not allowed" in findings[0].sentence
    assert [f.outcome for f in findings] == [Outcome.NONCONFORMING, Outcome.CONFORMS]


def test_an_empty_list_allows_nothing() -> None:
    """An empty list of allowed codes is a list, and not the absence of one."""
    assert list_faults(judge([2], allowed=[])) == [("tile_0.laz", Grade.MINOR, "2")]


@pytest.mark.parametrize(("point_format", "code"), [(6, 12), (6, 8), (6, 63), (3, 11), (1, 31)])
def test_a_reserved_code_is_an_observation(point_format: int, code: int) -> None:
    """A code that the table of the format keeps for later is observed, no more."""
    findings = judge([2, code], point_format=point_format)
    assert list_faults(findings) == [("tile_0.laz", Grade.OBSERVATION, str(code))]


def test_both_kinds_of_fault_are_told_of_one_file() -> None:
    """A reserved code that is not allowed either is a minor and an observation."""
    assert list_faults(judge([2, 12], allowed=[2])) == [
        ("tile_0.laz", Grade.MINOR, "12"),
        ("tile_0.laz", Grade.OBSERVATION, "12"),
    ]


def test_no_points_are_no_pass() -> None:
    """Without any point the check says that none was read; an empty tile beside others is left."""
    assert judge([], required=[2])[0].outcome is Outcome.NOT_ASSESSED
    assert [f.subject for f in judge([], [2], required=[2])] == ["tile_1.laz"]


@pytest.mark.parametrize("section", ['{"required": [256]}', '{"allowed": [-1]}', '{"wanted": []}'])
def test_criteria_are_codes(section: str) -> None:
    """A code beyond a byte, or an unknown key, is refused before any point is read."""
    with pytest.raises(ValidationError):
        ClassificationCriteria.model_validate_json(section)


def test_the_tally_keeps_the_laws() -> None:
    """Cutting, order, merging and pickling leave the histogram as it is."""
    codes = np.random.default_rng(2).integers(0, 256, 500)
    place = np.arange(500.0)
    check_tally_laws(Classification(), [make_points(place, place, classification=codes)])


@pytest.mark.parametrize(
    ("name", "reserved"),
    [
        ("vegetation_1_3.las", "11"),  # LAS 1.3, format 1: road surface only exists from format 6
        ("5points_14.las", "41, 42"),
        ("crop.las", ""),  # format 3: 12 is overlap
        ("append-bug.laz", ""),  # format 8: 17 and 65 are defined
        ("point-version-1-point-wise.laz", "15"),
    ],
)
def test_real_files(open_file: OpenFile, name: str, reserved: str) -> None:
    """Codes of open files against the table of their own point format."""
    findings = list(read_open_file(open_file(f"las/{name}")).drive(Classification()))
    observed = [_list_codes(f.observed) for f in findings if f.grade is Grade.OBSERVATION]
    assert observed == ([reserved] if reserved else [])
