"""Raster tags of real geoid grids and of broken ones."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import tifffile
from open_data import OpenFile

from ledger.errors import MalformedFileError
from ledger.grids import read_grid
from ledger.model.phrases import count_things


def test_a_world_geoid(open_file: OpenFile) -> None:
    """EGM96 at 15 minutes: 721 rows by 1440 columns, nodes from 90 N to 90 S (NGA description)."""
    facts = read_grid(open_file("geoid/us_nga_egm96_15.tif"))
    assert (facts.rows, facts.columns, facts.is_geoid) == (721, 1440, True)
    assert (facts.north, facts.south, facts.west, facts.east) == ("90", "-90", "-180", "179.75")


@pytest.mark.parametrize(
    ("name", "vertical", "words"),
    [
        ("geoid/us_noaa_g2018p0.tif", "EPSG:6641", "NAD83(2011) (EPSG:6319) to PRVD02 height"),
        ("geoid/us_nga_egm96_15.tif", "EPSG:5773", "WGS 84 (EPSG:4979) to EGM96 height"),
    ],
)
def test_a_geoid_names_the_heights_that_it_leads_to(
    open_file: OpenFile, name: str, vertical: str, words: str
) -> None:
    """The target of the grid, not the ellipsoidal system of its GeoKey, which it starts from.

    Codes as the grid's own description says; 6641, 5773: EPSG registry.
    """
    facts = read_grid(open_file(name))
    assert facts.vertical == vertical
    assert facts.description.startswith(words)
    assert vertical in facts.description


def test_the_older_form(open_file: OpenFile) -> None:
    """A GTX grid gives its frame from 40 bytes."""
    facts = read_grid(open_file("geoid-test/test_nodata.gtx"))
    assert (facts.rows, facts.columns, facts.west, facts.north) == (4, 4, "4", "52.3")


@pytest.mark.parametrize(
    "name", ["egm96_15_uncompressed_truncated.tif", "test_vgrid_single_strip_truncated.tif"]
)
def test_a_cut_grid_is_malformed(open_file: OpenFile, name: str) -> None:
    """A grid whose pixels end early is refused, which a geodesy library does not do."""
    with pytest.raises(MalformedFileError, match="ends early"):
        read_grid(open_file(f"geoid-test/{name}"))


def test_a_raster_that_is_no_geoid(open_file: OpenFile) -> None:
    """A raster that does not say so is not taken for a geoid."""
    assert not read_grid(open_file("geoid-test/test_vgrid_invalid_channel_type.tif")).is_geoid


@pytest.mark.parametrize(("turn", "box"), [(0.0, ("10", "50", "11", "48.5")), (0.1, ("",) * 4)])
def test_a_raster_placed_by_a_matrix(
    tmp_path: Path, turn: float, box: tuple[str, str, str, str]
) -> None:
    """A matrix gives the frame (OGC 19-008r4 GeoTIFF 1.1, tag 34264), unless it turns the raster.

    Two columns and three rows of half a unit from 10, 50: a turned raster has no such frame.
    """
    matrix = (0.5, turn, 0, 10, turn, -0.5, 0, 50, 0, 0, 0, 0, 0, 0, 0, 1)
    path = tmp_path / "placed.tif"
    tags = [(34264, "d", 16, tuple(map(float, matrix)), True)]
    tifffile.imwrite(path, np.zeros((3, 2), np.float32), extratags=tags)
    facts = read_grid(path)
    assert (facts.west, facts.north, facts.east, facts.south) == box


def test_a_gtx_of_the_wrong_size(tmp_path: Path) -> None:
    """A GTX file whose size does not fit its header is refused."""
    path = tmp_path / "cut.gtx"
    path.write_bytes(struct.pack(">4d2i", 0, 0, 1, 1, 10, 10))
    with pytest.raises(MalformedFileError, match="440"):
        read_grid(path)


@pytest.mark.parametrize("size", [0, 1, 39])
def test_a_gtx_cut_in_its_header(tmp_path: Path, size: int) -> None:
    """A GTX file that ends inside its header of 40 bytes is refused."""
    path = tmp_path / "cut.gtx"
    path.write_bytes(bytes(size))
    with pytest.raises(MalformedFileError, match=f"found {count_things(size, 'byte')},"):
        read_grid(path)


@pytest.mark.parametrize(
    "content", [b"II*\x00", b"II*\x00\xff\xff\xff\xff", b"II*\x00\x08\x00\x00\x00\x00\x00"]
)
def test_rubbish_after_the_sign_of_a_tiff(tmp_path: Path, content: bytes) -> None:
    """A file that only begins like a TIFF is one of our errors."""
    path = tmp_path / "rubbish.tif"
    path.write_bytes(content)
    with pytest.raises(MalformedFileError):
        read_grid(path)
