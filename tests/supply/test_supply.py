"""What is wrong with the points of a file shows before any of them is decoded.

Offsets of the header: ASPRS LAS 1.4 R15, public header block.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable
from pathlib import Path

import pytest
from imports import list_imports

from ledger.errors import MalformedFileError, SwathbookError, UnreadableFileError
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.points import read_points
from ledger.supply import find_shortfalls
from ledger.testing import Layout, Scene, SurveyBuilder

LAS = Layout(compressed=False)
LAZ = Layout(compressed=True)
OLD_LAZ = Layout(version="1.2", point_format=1, compressed=True)
SMALL = Scene(columns=1, density=2.0)
OFFSETS = 155


def put_offsets(*values: float) -> Callable[[Path], None]:
    """Return damage that overwrites the three offsets."""

    def overwrite(path: Path) -> None:
        content = bytearray(path.read_bytes())
        struct.pack_into("<3d", content, OFFSETS, *values)
        path.write_bytes(content)

    return overwrite


# Layout, damage to a file of n points, and what is told of it.
Spoil = Callable[[SurveyBuilder, int], object]
DAMAGED: dict[str, tuple[Layout, Spoil, str]] = {
    "LAS cut on a record": (LAS, lambda s, n: s.cut_on_record(0), "found {less}, expected {n}"),
    "LAS cut mid-record": (LAS, lambda s, n: s.cut_mid_record(0), "found {less}, expected {n}"),
    "LAS of 2^60 points": (LAS, lambda s, n: s.wrong_count(0, 2**60), f"{{n}}, expected {2**60}"),
    "LAZ of 2^60 points": (LAZ, lambda s, n: s.wrong_count(0, 2**60), f"{{n}}, expected {2**60}"),
    "LAZ of one more": (LAZ, lambda s, n: s.wrong_count(0, n + 1), "found {n}, expected {more}"),
    "LAZ of one less": (LAZ, lambda s, n: s.wrong_count(0, n - 1), "{n} or more, expected {less}"),
    "LAZ cut to half": (LAZ, lambda s, n: s.cut_share(0, 0.5), "ends before its chunk table"),
    "old LAZ cut": (OLD_LAZ, lambda s, n: s.cut_share(0, 0.9), "ends before its chunk table"),
    "scale 0": (LAS, lambda s, n: s.stored_scale(0, 0.0, 0.001, 0.001), "X coordinates cannot"),
    "scale no number": (LAZ, lambda s, n: s.stored_scale(0, 1, math.nan, 1), "found scale nan"),
    "scale infinite": (LAS, lambda s, n: s.stored_scale(0, 1, 1, math.inf), "Z coordinates cannot"),
    "offset no number": (LAS, lambda s, n: s.damage(0, put_offsets(0, math.nan, 0)), "offset nan"),
    "offset too large": (LAS, lambda s, n: s.damage(0, put_offsets(1e300, 0, 0)), "pass the range"),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_damage_shows_undecoded_as_it_shows_to_the_reader(tmp_path: Path, name: str) -> None:
    """One line with what was found, in the words of the reader that would meet it later."""
    layout, spoil, told = DAMAGED[name]
    survey = SurveyBuilder(tmp_path, layout, SMALL)
    points = survey.count_points()
    spoil(survey, points)
    path = survey.path(0)
    header = read_las_header(path)
    (shortfall,) = find_shortfalls(path, header)
    sentence = shortfall.sentence()
    assert told.format(n=points, less=points - 1, more=points + 1) in sentence
    assert shortfall.remedy
    assert str(path) not in sentence
    with pytest.raises(SwathbookError) as caught:
        for _ in read_points(path, header, choose_lattice(header)):
            pass
    (raised,) = caught.value.faults
    assert shortfall.what.removeprefix("X ").removeprefix("Y ").removeprefix("Z ") == raised.what


def test_two_kinds_of_damage_are_both_told(tmp_path: Path) -> None:
    """A file that was cut and has no usable scale has two shortfalls."""
    survey = SurveyBuilder(tmp_path, LAS, SMALL)
    points = survey.count_points()
    path = survey.stored_scale(0, 0.0, 0.0, 0.0).cut_on_record(0).path(0)
    told = [fault.sentence() for fault in find_shortfalls(path, read_las_header(path))]
    assert len(told) == 2
    assert f"found {points - 1}, expected {points}" in told[0]
    assert "scale 0.0" in told[1]


@pytest.mark.parametrize("layout", [LAS, LAZ, OLD_LAZ], ids=["LAS", "LAZ", "old LAZ"])
def test_a_sound_file_has_no_shortfall(tmp_path: Path, layout: Layout) -> None:
    """What can be read whole raises no alarm."""
    path = SurveyBuilder(tmp_path, layout, SMALL).path(0)
    assert find_shortfalls(path, read_las_header(path)) == ()


def test_a_file_of_no_points_needs_no_scale(tmp_path: Path) -> None:
    """Where nothing has to be computed, a scale of zero stops nobody."""
    survey = SurveyBuilder(tmp_path, LAS, SMALL).wrong_count(0, 0).stored_scale(0, 0.0, 0.0, 0.0)
    path = survey.path(0)
    assert find_shortfalls(path, read_las_header(path)) == ()


def test_a_file_that_is_gone_is_one_error(tmp_path: Path) -> None:
    """Between its header and its chunks a file may go away."""
    path = SurveyBuilder(tmp_path, LAZ, SMALL).path(0)
    header = read_las_header(path)
    path.unlink()
    with pytest.raises(UnreadableFileError, match="cannot be read"):
        find_shortfalls(path, header)


def test_shortfalls_load_no_library_of_points() -> None:
    """Neither laspy nor its decoder is needed to see that a file was cut."""
    assert not list_imports("ledger.supply") & {"laspy", "lazrs", "pyproj", "pydantic"}


def test_the_reader_refuses_the_same_kinds_of_items(tmp_path: Path) -> None:
    """Items of an unknown type or version are refused before the decoder is asked."""
    for kind, version in ((5, 1), (15, 1), (6, 0), (7, 6)):
        survey = SurveyBuilder(tmp_path / f"{kind}-{version}", OLD_LAZ, SMALL)
        path = survey.path(0)
        content = bytearray(path.read_bytes())
        # User id 2 bytes into the record, its payload behind 54 bytes, items behind 34 of those.
        items = content.find(b"laszip encoded") - 2 + 54 + 34
        struct.pack_into("<HHH", content, items, kind, 20, version)
        path.write_bytes(content)
        header = read_las_header(path)
        (shortfall,) = find_shortfalls(path, header)
        assert f"unknown kind of item (type {kind}, version {version})" in shortfall.what
        with pytest.raises(MalformedFileError, match="unknown kind of item"):
            list(read_points(path, header, choose_lattice(header)))
