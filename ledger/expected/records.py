"""What is asked, and what is answered: a number with how it is known, or why there is none.

Three things are kept apart: a number, a number that is not there for a named reason, and an error
of whoever asks (a place at a pole), which is raised.
"""

from __future__ import annotations

import calendar
import datetime as dt
import math

from ledger.dataclass import dataclass
from ledger.errors import UsageError

# East and north mean nothing at a pole, and nobody maps one with a drone.
_NEAREST_TO_POLE_DEG = 89.9


@dataclass(frozen=True, slots=True)
class Place:
    """Where and when.

    Args:
        lon: degrees east; given as any number of turns, kept in [-180, 180).
        lat: degrees north.
        date: day of the work; None where only the place counts.
        height_m: height above the ellipsoid, metres; None where nobody knows it.

    Raises:
        UsageError: it is no place on Earth, or so near to a pole that east and north mean nothing.
    """

    lon: float
    lat: float
    date: dt.date | None = None
    height_m: float | None = None

    def __post_init__(self) -> None:
        """Wrap the longitude and refuse what is no place."""
        if not (math.isfinite(self.lon) and abs(self.lon) <= 540):
            raise UsageError(
                "this is no longitude", found=str(self.lon), expected="degrees from -180 to 180"
            )
        if not (math.isfinite(self.lat) and abs(self.lat) <= _NEAREST_TO_POLE_DEG):
            raise UsageError(
                "there is nothing to expect at this latitude",
                found=str(self.lat),
                expected=f"degrees from -{_NEAREST_TO_POLE_DEG} to {_NEAREST_TO_POLE_DEG}",
                remedy="give longitude first, then latitude",
            )
        if not -180.0 <= self.lon < 180.0:
            object.__setattr__(self, "lon", (self.lon + 180.0) % 360.0 - 180.0)

    @property
    def epoch(self) -> float:
        """Return the day as a year with its fraction, as epochs are written: 2026.37.

        Raises:
            UsageError: the place has no day.
        """
        if self.date is None:
            raise UsageError("what changes with the years needs a day", remedy="name the day")
        return to_epoch(self.date)


@dataclass(frozen=True, slots=True)
class Expected:
    """One number to expect, or why there is none.

    Args:
        value: the number; None when it cannot be told.
        unit: `m`, `degree`, `s`, `ppm` or empty for a ratio.
        how: what it was computed from and with, for a reader.
        reason: why there is no number: what is missing by name; empty when there is one.
    """

    value: float | None
    unit: str = ""
    how: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Vector:
    """A number in each direction, or why there is none. True east and north, not those of a grid.

    Args:
        east: eastward part; None when it cannot be told, as all others then.
        north: northward part.
        up: upward part; None for a vector that has none.
        unit: of all parts: `m`, or `m/km` for a slope.
        how: what it was computed from and with.
        reason: why there is none; empty when there is one.
    """

    east: float | None
    north: float | None
    up: float | None = None
    unit: str = "m"
    how: str = ""
    reason: str = ""

    @property
    def parts(self) -> tuple[float, float, float] | None:
        """Return east, north and up, 0 for an upward part that is none; None when there is none."""
        if self.east is None or self.north is None:
            return None
        return self.east, self.north, self.up or 0.0

    def on_grid(self, convergence_deg: float) -> Vector:
        """Return the same vector along the axes of a map grid.

        Args:
            convergence_deg: degrees by which grid north lies east of true north.
        """
        if self.east is None or self.north is None:
            return self
        turn = math.radians(convergence_deg)
        return Vector(
            east=self.east * math.cos(turn) - self.north * math.sin(turn),
            north=self.east * math.sin(turn) + self.north * math.cos(turn),
            up=self.up,
            unit=self.unit,
            how=self.how,
        )


def to_epoch(day: dt.date) -> float:
    """Return a day, at noon, as a year with its fraction: 2026-07-02 is 2026.5."""
    days = 366 if calendar.isleap(day.year) else 365
    return day.year + (day.timetuple().tm_yday - 0.5) / days
