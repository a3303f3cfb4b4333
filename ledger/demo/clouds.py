"""The point clouds of the two runs, tile by tile.

Both runs see the same ground with their own noise; the rejected one left the heights ellipsoidal,
and wanders by a few centimetres from place to place besides.
"""

from __future__ import annotations

from datetime import date
from importlib.resources import files
from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.demo import site
from ledger.laswriter import LasTemplate, write_las
from ledger.model.ask import Progress

# One first return in each square of this side: 6.25 a square metre.
_SPACING_M = 0.4
_NOISE_M = 0.012
# The hard, smooth spot round a checkpoint, and how far the wander of the rejected run reaches.
_SPOT_M, _SPOT_NOISE_M = 2.5, 0.003
_WANDER_M = 15.0
_SECOND_SHARE = 0.07
_GRASS_SHARE = 0.10
_NOISE_POINTS = 5
_GROUND, _UNCLASSIFIED, _LOW_NOISE = 2, 1, 7
_DTM_CELL_M = 1.0


@dataclass(frozen=True)
class Export:
    """One run's export.

    Args:
        run: `R1` or `R2`.
        seed: seed of its noise.
        ellipsoidal: heights were left above the ellipsoid.
        created: creation date in the headers.
    """

    run: str
    seed: int
    ellipsoidal: bool
    created: date


REJECTED = Export("R1", seed=1, ellipsoidal=True, created=date(2026, 5, 13))
ACCEPTED = Export("R2", seed=2, ellipsoidal=False, created=date(2026, 5, 14))


def write_export(folder: Path, export: Export, progress: Progress) -> None:
    """Write 24 tiles and a terrain raster of one run into a new folder."""
    folder.mkdir(parents=True)
    progress.start(f"making {export.run}", site.TILES, "tiles")
    for tile in site.list_tiles():
        _write_tile(folder / f"{tile.name}.laz", tile, export)
        progress.advance(1)
    progress.finish()
    _write_dtm(folder / "dtm.tif", export)


def _write_tile(path: Path, tile: site.Tile, export: Export) -> None:
    # The same capture: places do not depend on the run, noise does.
    easting, northing = _spread(tile, np.random.default_rng(tile.number))
    random = np.random.default_rng([export.seed, tile.number])
    count = len(easting)
    spot = _find_spots(easting, northing)
    scatter = random.normal(0, 1, count) * np.where(spot, _SPOT_NOISE_M, _NOISE_M)
    height = site.compute_ground(easting, northing) + scatter
    grass = (random.random(count) < _GRASS_SHARE) & ~spot
    height[grass] += random.uniform(0.02, 0.25, int(grass.sum()))
    classes = np.where(grass, _UNCLASSIFIED, _GROUND)
    noise = random.choice(np.flatnonzero(~spot), _NOISE_POINTS, replace=False)
    height[noise] -= 1.5
    classes[noise] = _LOW_NOISE
    if export.ellipsoidal:
        height += site.compute_geoid_a(easting, northing) + _compute_wander(easting, northing)
    pulses = np.ones(count, np.uint8)
    echo = np.flatnonzero(grass & (random.random(count) < _SECOND_SHARE / _GRASS_SHARE))
    pulses[echo] = 2
    order = np.concatenate([np.arange(count), echo])
    returns = np.repeat(np.array([1, 2], np.uint8), [count, len(echo)])
    height = np.concatenate([height, height[echo] - 0.02])
    line = site.find_line(northing)[order]
    points = np.column_stack([easting[order], northing[order], height])
    fields: dict[str, NDArray[np.generic]] = {
        "classification": classes[order].astype(np.uint8),
        "return_number": returns,
        "number_of_returns": pulses[order],
        "point_source_id": line.astype(np.uint16),
        "gps_time": site.compute_time(points[:, 0], line),
        "intensity": random.integers(4_000, 40_000, len(order)).astype(np.uint16),
    }
    write_las(path, _make_template(tile, export), points, fields)


def _find_spots(easting: site.Floats, northing: site.Floats) -> NDArray[np.bool_]:
    """Say of each point whether it lies on the smooth spot round a checkpoint, (n,)."""
    near = np.zeros(len(easting), dtype=np.bool_)
    for each in site.CHECKPOINTS:
        near |= np.hypot(easting - each.east, northing - each.north) < _SPOT_M
    return near


def _compute_wander(easting: site.Floats, northing: site.Floats) -> site.Floats:
    """Return how far the rejected run lies off, beside its geoid, metres, (n,)."""
    wander = np.zeros(len(easting))
    for each in site.CHECKPOINTS:
        geoid = site.compute_geoid_a(np.array([each.east]), np.array([each.north]))[0]
        size = each.rejected_m - geoid - each.accepted_m
        square = (easting - each.east) ** 2 + (northing - each.north) ** 2
        wander += size * np.exp(-square / (2 * _WANDER_M**2))
    return wander


def _spread(tile: site.Tile, random: np.random.Generator) -> tuple[site.Floats, site.Floats]:
    steps = np.arange(0, site.TILE_SIDE_M, _SPACING_M) + _SPACING_M / 2
    east, north = np.meshgrid(tile.west + steps, tile.south + steps)
    jitter = random.uniform(-0.15, 0.15, (2, east.size))
    return east.ravel() + jitter[0], north.ravel() + jitter[1]


def _make_template(tile: site.Tile, export: Export) -> LasTemplate:
    return LasTemplate(
        wkt=files("ledger.demo").joinpath("crs.wkt").read_text(encoding="ascii"),
        offset=(tile.west, tile.south, 200.0),
        scale=0.001,
        software="demo-proc 4.1.0",
        created=export.created,
    )


def _write_dtm(path: Path, export: Export) -> None:
    columns = int(site.COLUMNS * site.TILE_SIDE_M / _DTM_CELL_M)
    rows = int(site.ROWS * site.TILE_SIDE_M / _DTM_CELL_M)
    north = site.SOUTH + rows * _DTM_CELL_M
    east, down = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
    easting, northing = site.WEST + east.ravel(), north - down.ravel()
    height = site.compute_ground(easting, northing)
    if export.ellipsoidal:
        height += site.compute_geoid_a(easting, northing)
    # GeoKeys: projected (1024=1), pixel is area (1025=1), EPSG:6346 (3072), EPSG:5703 (4096).
    keys = (1, 1, 0, 4, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 6346, 4096, 0, 1, 5703)
    tifffile.imwrite(
        path,
        height.reshape(rows, columns).astype(np.float32),
        photometric="minisblack",
        metadata=None,
        extratags=[
            (33550, "d", 3, (_DTM_CELL_M, _DTM_CELL_M, 0.0), True),
            (33922, "d", 6, (0.0, 0.0, 0.0, site.WEST, north, 0.0), True),
            (34735, "H", len(keys), keys, True),
            (42113, "s", 0, "-999999", True),
        ],
    )
