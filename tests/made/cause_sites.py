"""Sites on several continents, their ground and their geoids, for jobs with a hidden mistake.

The systems and frames are real ones of the EPSG registry. Geoid grids are real files of the open
collection where it is at hand, and made-up planes elsewhere. Grids are sampled here by their own
bilinear look-up, and places are transformed by pyproj itself, so that nothing that predicts is used
to plant.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pyproj
import tifffile
from made_geoid import write_geoid
from numpy.typing import NDArray
from open_data import find_collection

Floats = NDArray[np.float64]
ITRF = "EPSG:9989"


@dataclass(frozen=True)
class Region:
    """A part of the earth where sites lie.

    Args:
        name: for the table.
        crs: projected system of the job.
        frame: three-dimensional geographic system of its frame.
        box: west, south, east and north, degrees.
        own: file of the geoid of the job, in the collection; empty for a made-up one.
        other: file of another geoid; empty for a made-up one.
        geoid_m: height of the made-up geoid.
        sigma_m: how far the geoid is off the truth.
    """

    name: str
    crs: str
    frame: str
    box: tuple[float, float, float, float]
    own: str = ""
    other: str = ""
    geoid_m: float = 0.0
    sigma_m: float = 0.015


_EGM = "us_nga_egm96_15.tif"
_HAWAII, _GUAM = "us_noaa_g2012bh0.tif", "us_noaa_g2012bg0.tif"
REGIONS = (
    Region(
        "Puerto Rico",
        "EPSG:6348",
        "EPSG:6319",
        (-67.0, 18.1, -66.1, 18.4),
        "us_noaa_g2018p0.tif",
        "us_noaa_g2012bp0.tif",
        -41.0,
    ),
    Region(
        "Hawaii",
        "EPSG:6635",
        "EPSG:6321",
        (-155.9, 19.3, -155.1, 20.0),
        "us_noaa_g2012bh0.tif",
        _EGM,
        20.0,
    ),
    Region(
        "Guam",
        "EPSG:8693",
        "EPSG:6324",
        (144.68, 13.3, 144.9, 13.6),
        "us_noaa_g2012bg0.tif",
        _EGM,
        53.0,
    ),
    Region("Colorado", "EPSG:6342", "EPSG:6319", (-107.5, 37.5, -102.5, 40.5), geoid_m=-16.5),
    Region("Florida", "EPSG:6346", "EPSG:6319", (-82.5, 27.0, -80.5, 29.5), geoid_m=-28.0),
    Region("Quebec", "EPSG:22718", "EPSG:8254", (-77.0, 45.5, -73.0, 48.0), geoid_m=-31.5),
    Region("Germany", "EPSG:25832", "EPSG:10570", (7.0, 48.0, 11.5, 53.0), _EGM, "", 47.0, 0.05),
    Region("Victoria", "EPSG:7855", "EPSG:7843", (144.5, -38.0, 149.0, -36.0), geoid_m=5.0),
    Region(
        "Queensland", "EPSG:7856", "EPSG:7843", (150.5, -28.0, 153.0, -24.0), _EGM, "", 42.0, 0.05
    ),
    Region("Brazil", "EPSG:31983", "", (-47.5, -24.0, -43.0, -20.0), _EGM, "", -6.0, 0.05),
    Region("Japan", "EPSG:6691", "", (138.5, 35.5, 140.5, 37.5), geoid_m=40.0),
    Region("Kenya", "EPSG:32737", "", (36.5, -1.8, 38.5, -0.2), _EGM, "", -14.0, 0.05),
)


@dataclass(frozen=True)
class Grid:
    """A geoid grid, for its own bilinear look-up.

    Args:
        path: its file.
        west, south: of the first node, degrees.
        step: degrees to the east and to the north.
        nodes: heights from the south-west, rows to the north, metres.
    """

    path: Path
    west: float
    south: float
    step: tuple[float, float]
    nodes: Floats

    def sample(self, lon: Floats, lat: Floats) -> Floats:
        """Return the heights at places, metres; a place outside the grid is an error."""
        column = ((lon - self.west) % 360.0) / self.step[0]
        row = (lat - self.south) / self.step[1]
        i, j = np.floor(column).astype(int), np.floor(row).astype(int)
        u, v = column - i, row - j
        z = self.nodes
        low = z[j, i] * (1 - u) + z[j, i + 1] * u
        high = z[j + 1, i] * (1 - u) + z[j + 1, i + 1] * u
        return np.asarray(low * (1 - v) + high * v)


@cache
def read_grid(path: Path) -> Grid:
    """Return a grid of a GTX or GeoTIFF file."""
    return _read_gtx(path) if path.suffix == ".gtx" else _read_tiff(path)


def _read_gtx(path: Path) -> Grid:
    content = path.read_bytes()
    south, west, step_y, step_x, rows, columns = struct.unpack(">4d2i", content[:40])
    nodes = np.frombuffer(content[40:], dtype=">f4").reshape(rows, columns)
    return Grid(path, west, south, (step_x, step_y), nodes.astype(np.float64))


def _read_tiff(path: Path) -> Grid:
    with tifffile.TiffFile(path) as file:
        page = file.pages.first
        step_x, step_y, _ = page.tags[33550].value
        _, _, _, west, north, _ = page.tags[33922].value[:6]
        keys = page.tags[34735].value
        nodes = _read_nodes(page, path.read_bytes())
    entries = dict(zip(keys[4::4], keys[7::4], strict=True))
    if entries.get(1025) == 1:  # the place of a pixel is its corner, a node its middle
        west, north = west + step_x / 2, north - step_y / 2
    return Grid(path, west, north - step_y * (len(nodes) - 1), (step_x, step_y), nodes[::-1])


def _read_nodes(page: tifffile.TiffPage, content: bytes) -> Floats:
    """Return the values of a page of deflated tiles or strips of 32-bit floats with predictor 3.

    The bytes of each row are differences, and its numbers are split into planes of equal bytes,
    the highest first (Adobe Photoshop TIFF Technical Note 3, "floating point predictor").
    """
    rows, columns = page.shape
    down, along = page.tilelength or page.rowsperstrip, page.tilewidth or columns
    across = -(-columns // along)
    whole = np.zeros((-(-rows // down) * down, across * along))
    for number, (offset, size) in enumerate(
        zip(page.dataoffsets, page.databytecounts, strict=True)
    ):
        packed = np.frombuffer(zlib.decompress(content[offset : offset + size]), dtype=np.uint8)
        planes = np.cumsum(packed.reshape(down, -1), axis=1, dtype=np.uint8)
        numbers = planes.reshape(down, 4, along).transpose(0, 2, 1).copy().view(">f4")[:, :, 0]
        row, column = (number // across) * down, (number % across) * along
        whole[row : row + down, column : column + along] = numbers
    return whole[:rows, :columns]


@dataclass(frozen=True, eq=False)
class Site:
    """One site with its ground and points.

    Args:
        region: where.
        east: of the points, metres, (n,).
        north: (n,).
        ground: heights of the ground at places, both metres.
        grid: geoid of the job.
        other: another geoid.
    """

    region: Region
    east: Floats
    north: Floats
    ground: Callable[[Floats, Floats], Floats]
    grid: Grid
    other: Grid

    @property
    def height(self) -> Floats:
        """Return the heights of the points, metres."""
        return self.ground(self.east, self.north)

    @property
    def lonlat(self) -> tuple[Floats, Floats]:
        """Return the points on the earth, degrees."""
        way = find_way(self.region.crs)
        lon, lat = way.transform(self.east, self.north)
        return np.asarray(lon), np.asarray(lat)

    def sample(self, grid: Grid) -> Floats:
        """Return the geoid heights of a grid at the points, metres."""
        return grid.sample(*self.lonlat)

    def move_to(self, epoch: float, back: float | None = None) -> Floats:
        """Return how far coordinates in ITRF2020 lie from those of the job, metres, (n, 3).

        Args:
            epoch: of the coordinates in ITRF2020.
            back: epoch at which they are brought to the frame of the job by mistake; None to leave
                them in ITRF2020.
        """
        geoid = self.sample(self.grid)
        lon, lat = self.lonlat
        to_itrf = _find_frames(self.region.frame, ITRF)
        moved = to_itrf.transform(lon, lat, self.height + geoid, np.full(len(lon), epoch))
        if back is not None:
            when = np.full(len(lon), back)
            moved = to_itrf.transform(*moved[:3], when, direction="INVERSE")
        way = find_way(self.region.crs)
        east, north = way.transform(moved[0], moved[1], direction="INVERSE")
        up = moved[2] - self.height - geoid
        return np.column_stack([east - self.east, north - self.north, up])


@cache
def find_way(crs: str) -> pyproj.Transformer:
    """Return the way from a projected system to its longitude and latitude."""
    projected = pyproj.CRS(crs)
    return pyproj.Transformer.from_crs(projected, projected.geodetic_crs, always_xy=True)


@cache
def find_geod(crs: str) -> pyproj.Geod:
    """Return the ellipsoid of a projected system."""
    geod = pyproj.CRS(crs).get_geod()
    assert geod is not None
    return geod


@cache
def _find_frames(source: str, target: str) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


def make_site(region: Region, random: np.random.Generator, count: int, folder: Path) -> Site:
    """Return a site somewhere in a region.

    Args:
        region: where.
        random: decides.
        count: points on it.
        folder: for geoid grids that are made up.
    """
    lon, lat = (random.uniform(region.box[i], region.box[i + 2]) for i in (0, 1))
    middle = find_way(region.crs).transform(lon, lat, direction="INVERSE")
    size = random.uniform(250, 900)
    east, north = (centre + random.uniform(-size / 2, size / 2, count) for centre in middle)
    grid = _take_grid(region.own, region, (lon, lat), random, folder)
    other = _take_grid(region.other, region, (lon, lat), random, folder)
    return Site(region, east, north, _make_ground(random, middle), grid, other)


def _make_ground(
    random: np.random.Generator, middle: tuple[float, float]
) -> Callable[[Floats, Floats], Floats]:
    """Return ground of one slope and two waves, less steep than one in ten."""
    level, rise = random.uniform(5, 900), random.uniform(-0.04, 0.04, 2)
    turn = random.uniform(0, 2 * np.pi, 2)
    length = random.uniform(60, 160, 2)
    swell = random.uniform(0.0, 0.03, 2) * length

    def ground(east: Floats, north: Floats) -> Floats:
        x, y = east - middle[0], north - middle[1]
        waves = swell[0] * np.sin(x / length[0] + turn[0])
        waves = waves + swell[1] * np.sin(y / length[1] + turn[1])
        return np.asarray(level + rise[0] * x + rise[1] * y + waves)

    return ground


def _take_grid(
    name: str,
    region: Region,
    place: tuple[float, float],
    random: np.random.Generator,
    folder: Path,
) -> Grid:
    """Return a real grid where it is at hand, else a made-up plane near the region's height."""
    height, slope = region.geoid_m + random.uniform(-0.6, 0.6), random.uniform(-4.0, 4.0, 2)
    collection = find_collection()
    real = collection / "geoid" / name if collection is not None and name else None
    if real is not None and real.is_file():
        return read_grid(real)
    path = folder / f"{region.name}-{random.integers(1 << 48):012x}.gtx"
    write_geoid(path, place, height, (float(slope[0]), float(slope[1])), step_deg=0.02, nodes=21)
    return read_grid(path)
