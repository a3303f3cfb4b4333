"""Trajectories: the widespread binary form of 17 little-endian doubles a record.

The layout is a de-facto one: time in GPS seconds of week, latitude and longitude in radians,
ellipsoidal height in metres, then velocities, angles and rates (17 doubles, 136 bytes; read in a
public test file, no published standard known).
"""

from __future__ import annotations

import math
import struct
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.model.phrases import count_things

RECORD_BYTES = 136
_WEEK_S = 604_800


@dataclass(frozen=True)
class TrajectoryFacts:
    """What a binary trajectory says.

    Args:
        records: number of records.
        first_s: time of the first record, GPS seconds of week, as text.
        last_s: time of the last record.
        longitude: of the first record, degrees, as text.
        latitude: of the first record, degrees, as text.
        height_m: of the first record, metres above the ellipsoid, as text.
    """

    records: int
    first_s: str
    last_s: str
    longitude: str
    latitude: str
    height_m: str


def read_trajectory(path: Path) -> TrajectoryFacts:
    """Read the first and last record of a binary trajectory.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: its size is no whole number of records, or its values are impossible.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            first = stream.read(RECORD_BYTES)
            stream.seek(max(0, size - RECORD_BYTES))
            last = stream.read(RECORD_BYTES)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    if size == 0 or size % RECORD_BYTES:
        raise MalformedFileError(
            "a binary trajectory ends inside a record",
            found=count_things(size, "byte"),
            expected=f"a multiple of {RECORD_BYTES}",
            where=str(path),
            remedy="copy it again",
        )
    time, latitude, longitude, height = struct.unpack_from("<4d", first)
    (last_time,) = struct.unpack_from("<d", last)
    possible = 0 <= time <= last_time < 2 * _WEEK_S and abs(latitude) <= math.pi / 2
    if not possible or not abs(longitude) <= 2 * math.pi:
        raise MalformedFileError("its first record holds impossible values", where=str(path))
    return TrajectoryFacts(
        records=size // RECORD_BYTES,
        first_s=f"{time:.4f}",
        last_s=f"{last_time:.4f}",
        longitude=f"{math.degrees(longitude):.7f}",
        latitude=f"{math.degrees(latitude):.7f}",
        height_m=f"{height:.4f}",
    )
