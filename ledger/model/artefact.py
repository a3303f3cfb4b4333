"""Files as the book knows them: a file is its SHA-256; a path is only where it was seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum
from typing import Any

from ledger.dataclass import dataclass


class Role(StrEnum):
    """What a file is in a job. The role belongs to the use of a file, not to its digest."""

    CAPTURE = "capture"
    BASE_LOG = "base-log"
    FLIGHT_LOG = "flight-log"
    TRAJECTORY = "trajectory"
    CONTROL = "control"
    CHECKPOINTS = "checkpoints"
    GEOID = "geoid"
    CALIBRATION = "calibration"
    BOUNDARY = "boundary"
    PHOTO = "photo"
    CONFIG = "config"
    RUN_LOG = "run-log"
    REPORT = "report"
    DOCUMENT = "document"
    POINTS = "points"
    RASTER = "raster"


# Facts that are numbers and stand as decimal text, since the book holds whole numbers only.
MEASURED_FACTS = frozenset(
    {
        "points",
        "scale",
        "offset",
        "minimum",
        "maximum",
        "position_deg",
        "position_m",
        "antenna_delta_m",
        "interval_s",
        "step_s",
        "longest_gap_s",
        "gap_seconds",
        "separation_m",
        "first_s",
        "last_s",
        "longitude",
        "latitude",
        "height_m",
        "west",
        "south",
        "east",
        "north",
        "step_x",
        "step_y",
        "nodata",
    }
)

POINT_SUFFIXES = (".las", ".laz")
RASTER_SUFFIXES = (".tif", ".tiff")


@dataclass(frozen=True)
class Facts:
    """What a file says about itself.

    Args:
        role: the role guessed from its content.
        values: canonical values read from it, by short name (`points`, `crs`, `first_epoch` …).
        fault: why it could not be read; empty when it could.
    """

    role: Role
    values: Mapping[str, Any] = field(default_factory=dict)
    fault: str = ""


def leave_out_blanks(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the facts among values: what a file does not state is not a fact."""
    return {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in values.items()
        if value not in ("", None, (), {})
    }


@dataclass(frozen=True)
class FileRecord:
    """One file as a command saw it.

    Args:
        path: `/`-separated, NFC; relative to the job folder when inside it, else absolute.
        sha256: digest of its bytes, in hex.
        bytes: size.
        mtime_ns: modification time, nanoseconds since the epoch of the system.
        role: what the file is in this job.
        facts: what it says about itself.
        fault: why its content could not be read; empty when it could.
        path_bytes: the name as stored by the system, in hex, when `path` is not exactly it.
    """

    path: str
    sha256: str
    bytes: int
    mtime_ns: int
    role: str
    facts: Mapping[str, Any] = field(default_factory=dict)
    fault: str = ""
    path_bytes: str = ""


@dataclass(frozen=True)
class FingerprintValue:
    """Order-free, tiling-free digest of a set of points, at three nested levels.

    Args:
        version: version tag of the method, with the lattice steps.
        count: number of points.
        geometry: 32 hex digits, coordinates alone.
        pulse: 32 hex digits, with GPS time, returns and point source; empty when only some
            fields were decoded.
        full: 32 hex digits, with every field; empty when only some fields were decoded.
        rounded: whether coordinates had to be rounded to the lattice.
    """

    version: str
    count: int
    geometry: str
    pulse: str
    full: str
    rounded: bool = False


@dataclass(frozen=True)
class Output:
    """One file that a run or step made.

    Args:
        file: the file as it was seen when it was recorded.
        points: points counted by decoding it; None for a file without points or not read.
        fingerprint: of its points; None where there are none or they were not read.
    """

    file: FileRecord
    points: int | None = None
    fingerprint: FingerprintValue | None = None
