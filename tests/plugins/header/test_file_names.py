"""Names with coordinates, as tiles are commonly named; no document demands any of them."""

from __future__ import annotations

import pytest

from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.file_names import FileNames


def make(delivered, name, x, y, **header):
    """Return a tile of 1000 m with its south-west corner there."""
    box = {"minimum": (x, y, 200.0), "maximum": (x + 999.99, y + 999.99, 230.0)}
    return delivered(name, header={**box, **header}, reading=None)


def judge(*files):
    """Return the findings about some files."""
    return drive_check(FileNames(), make_evidence(*files))


@pytest.mark.parametrize(
    "pattern",
    [
        "{x}_{y}.las",
        "E{x}_N{y}.las",
        "n{y}-e{x}.las",
        "20260512_{kx}_{ky}_1.las",
        "t_{kx}_{ky}.las",
    ],
)
def test_the_tile_that_is_misnamed_is_told(delivered, pattern):
    """Metres or kilometres, easting or northing first, a date before: the odd one is found."""
    places = [
        (552_000, 4_272_000),
        (553_000, 4_272_000),
        (552_000, 4_273_000),
        (553_000, 4_273_000),
    ]

    def name(x, y):
        return pattern.format(x=x, y=y, kx=x // 1000, ky=y // 1000)

    files = [make(delivered, name(x, y), x, y) for x, y in places]
    assert judge(*files)[0].outcome is Outcome.CONFORMS
    assert "4 names with coordinates fit the points" in judge(*files)[0].sentence
    odd = make(delivered, name(560_000, 4_272_000), 554_000, 4_272_000)
    (finding,) = judge(*files, odd)
    assert (finding.subject, finding.grade) == (odd.path, Grade.OBSERVATION)
    assert "560,000 east, 4,272,000 north" in finding.sentence
    assert "554,000.00" in finding.sentence


@pytest.mark.parametrize(
    "names", [("a1.las", "a2.las", "a3.las"), ("120_450.las",) * 3, ("x.las",)]
)
def test_names_without_coordinates_say_nothing(delivered, names):
    """Numbers that are no places, and files that are too few, contradict nothing."""
    files = [make(delivered, n, 552_000 + 1000 * i, 4_272_000) for i, n in enumerate(names)]
    (finding,) = judge(*files)
    assert finding.outcome is Outcome.CONFORMS
    assert "no way of writing coordinates" in finding.sentence


@pytest.mark.parametrize(
    ("name", "header", "words"),
    [
        ("a.laz", {}, "is named LAZ and is not compressed"),
        ("a.las", {"compressed": True}, "is named LAS and is compressed"),
        ("a.copc.laz", {"compressed": True}, "is named COPC and is none"),
        ("a.copc.laz", {"compressed": True, "copc": True}, ""),
        ("a.LAZ", {"compressed": True}, ""),
    ],
)
def test_endings_that_mislead_are_told(delivered, name, header, words):
    """Programs choose the decoder by the ending."""
    (finding,) = judge(delivered(name, header=header))
    assert finding.grade is (Grade.OBSERVATION if words else None)
    assert words in finding.sentence


def test_an_unreadable_header_is_not_assessed(delivered):
    """What cannot be read is not compared, and that is said."""
    (finding,) = judge(delivered("a.las", header=None))
    assert finding.outcome is Outcome.NOT_ASSESSED
