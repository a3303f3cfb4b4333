"""The truth of the made-up site: ground, geoids, flight lines, tiles.

Coordinates are NAD83(2011) / UTM zone 17N, metres; heights metres.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Floats = NDArray[np.float64]

WEST, SOUTH = 552_000.0, 4_272_000.0
TILE_SIDE_M = 80.0
COLUMNS, ROWS = 6, 4
TILES = COLUMNS * ROWS
CENTRE = (552_240.0, 4_272_160.0)
ABOVE_GROUND_M = 45.0
SPEED_M_PER_S = 5.0
LINES = 8
LINE_SPACING_M = 35.0
LINE_SECONDS = 104
TURN_SECONDS = 14
TAKEOFF = datetime(2026, 5, 12, 14, 0, 0, tzinfo=UTC)
FLIGHT_SECONDS = (LINES + 1) * (LINE_SECONDS + TURN_SECONDS)

# 18 s since 2017-01-01: the leap-second list of the IERS, from memory.
GPS_MINUS_UTC_S = 18
_GPS_ORIGIN = datetime(1980, 1, 6, tzinfo=UTC)


@dataclass(frozen=True)
class Tile:
    """One square of the delivery, numbered row by row from the south-west.

    Args:
        number: 1 to 24.
        west: least easting.
        south: least northing.
    """

    number: int
    west: float
    south: float

    @property
    def name(self) -> str:
        """Return the name without a suffix."""
        return f"tile_{self.number:02d}"


@dataclass(frozen=True)
class Checkpoint:
    """A checkpoint on a hard, smooth spot, and what the two clouds are above it. Invented.

    Args:
        name: its id.
        east: easting.
        north: northing.
        rejected_m: height of the rejected cloud less that of the point, metres.
        accepted_m: the same of the accepted cloud.
    """

    name: str
    east: float
    north: float
    rejected_m: float
    accepted_m: float


CHECKPOINTS = (
    Checkpoint("C01", 552_031.0, 4_272_044.0, -31.903, 0.019),
    Checkpoint("C02", 552_118.0, 4_272_027.0, -31.919, -0.022),
    Checkpoint("C03", 552_212.0, 4_272_061.0, -31.924, 0.038),
    Checkpoint("C04", 552_307.0, 4_272_038.0, -31.919, 0.026),
    Checkpoint("C05", 552_421.0, 4_272_052.0, -31.906, -0.006),
    Checkpoint("C06", 552_449.0, 4_272_150.0, -31.888, 0.003),
    Checkpoint("C07", 552_352.0, 4_272_141.0, -31.899, 0.010),
    Checkpoint("C08", 552_258.0, 4_272_166.0, -31.924, -0.005),
    Checkpoint("C09", 552_149.0, 4_272_152.0, -31.937, 0.018),
    Checkpoint("C10", 552_052.0, 4_272_171.0, -31.886, 0.023),
    Checkpoint("C11", 552_067.0, 4_272_279.0, -31.914, 0.018),
    Checkpoint("C12", 552_171.0, 4_272_262.0, -31.873, 0.019),
    Checkpoint("C13", 552_276.0, 4_272_289.0, -31.871, 0.030),
    Checkpoint("C14", 552_389.0, 4_272_271.0, -31.954, 0.040),
)


def list_tiles() -> tuple[Tile, ...]:
    """Return all tiles in order."""
    return tuple(
        Tile(
            number=row * COLUMNS + column + 1,
            west=WEST + column * TILE_SIDE_M,
            south=SOUTH + row * TILE_SIDE_M,
        )
        for row in range(ROWS)
        for column in range(COLUMNS)
    )


def compute_ground(easting: Floats, northing: Floats) -> Floats:
    """Return orthometric ground heights, (n,)."""
    waves = np.sin((easting - WEST) / 70) * np.cos((northing - SOUTH) / 55)
    return np.asarray(214 + 0.03 * (easting - WEST) + 2.5 * waves, dtype=np.float64)


def compute_geoid_a(easting: Floats, northing: Floats) -> Floats:
    """Return geoid heights of demo-geoid-A, metres, (n,)."""
    return np.asarray(
        -31.912 + 2.0e-5 * (easting - CENTRE[0]) - 1.1e-5 * (northing - CENTRE[1]),
        dtype=np.float64,
    )


def compute_geoid_b(easting: Floats, northing: Floats) -> Floats:
    """Return geoid heights of demo-geoid-B, metres, (n,)."""
    return compute_geoid_a(easting, northing) + 0.382 + 3.5e-5 * (easting - CENTRE[0])


def find_line(northing: Floats) -> NDArray[np.int64]:
    """Return the number (1 to 8) of the nearest east-west flight line, (n,)."""
    first = SOUTH + 37.5
    nearest = np.rint((northing - first) / LINE_SPACING_M).astype(np.int64)
    return np.clip(nearest, 0, LINES - 1) + 1


def compute_time(easting: Floats, line: NDArray[np.int64]) -> Floats:
    """Return adjusted standard GPS seconds at which a line passed an easting, (n,)."""
    along = (easting - (WEST - 20)) / SPEED_M_PER_S
    eastward = line % 2 == 1
    into_line = np.where(eastward, along, LINE_SECONDS - along)
    started = gps_seconds(TAKEOFF) - 1e9 + (line - 1) * float(LINE_SECONDS + TURN_SECONDS)
    return np.asarray(started + into_line, dtype=np.float64)


def gps_seconds(moment: datetime) -> float:
    """Return GPS seconds since 1980-01-06 of a UTC moment after 2017."""
    return (moment - _GPS_ORIGIN).total_seconds() + GPS_MINUS_UTC_S
