"""Where the points of a diagnosis lie, and when they were flown."""

from __future__ import annotations

from datetime import date

import numpy as np

from ledger.contract.evidence import Evidence
from ledger.crs import to_lonlat
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.expected import Place
from ledger.model.georeferencing import Crs
from lidar_checks.ground.causes.observed import Floats, Observed

_DAY = len("2026-05-12")
NO_DAY = date(2000, 1, 1)
"""Stands where a place needs a day and nothing depends on it."""


@dataclass(frozen=True, eq=False)
class Site:
    """The points of a diagnosis on the earth.

    Args:
        observed: the points, metres in the system of the job.
        crs: that system; None where the job names none.
        lon: degrees east, (n,); empty where there is no way to them.
        lat: degrees north, (n,).
        day: of the flight; None where no take-off is recorded.
        reason: why there are no longitudes, or no day, as a clause.
        remark: what stands for a day that is not recorded; empty where it is.
    """

    observed: Observed
    crs: Crs | None
    lon: Floats
    lat: Floats
    day: date | None
    reason: str = ""
    remark: str = ""

    @property
    def has_place(self) -> bool:
        """Say whether the points have longitude and latitude."""
        return bool(self.lon.size)

    def find_place(self, geoid_m: float = 0.0) -> Place | None:
        """Return the middle of the points; None where place or day are not known.

        Args:
            geoid_m: height of the geoid, where the points have heights above it.
        """
        if not self.has_place or self.day is None:
            return None
        height = float(self.observed.height.mean()) + geoid_m
        return Place(float(self.lon.mean()), float(self.lat.mean()), self.day, height)


def find_site(observed: Observed, evidence: Evidence) -> Site:
    """Return where the points lie and when they were flown."""
    crs, day, none = evidence.specified_crs, find_day(evidence), np.zeros(0)
    told, remark = "", ""
    if day is None:
        # A year more or less moves a frame by centimetres.
        day = _read_day(evidence.job.time)
        told = "" if day is not None else "no flight of this delivery says when it took off"
        remark = "" if day is None else "; on the day of the audit, for no take-off is recorded"
    if crs is None or crs.metres_per_unit is None:
        why = "job.toml names no coordinate system with a unit of length"
        return Site(observed, crs, none, none, day, why)
    size = float(crs.metres_per_unit)
    try:
        places = [
            to_lonlat(crs, east / size, north / size)
            for east, north in zip(observed.east, observed.north, strict=True)
        ]
    except SwathbookError as error:
        return Site(observed, crs, none, none, day, str(error))
    lon, lat = np.array(places, dtype=np.float64).T
    return Site(observed, crs, lon, lat, day, told, remark)


def find_day(evidence: Evidence) -> date | None:
    """Return the day of the first flight behind the delivery that says when it took off."""
    for card in evidence.flights:
        known = card.values.get("flight.takeoff")
        day = None if known is None else _read_day(str(known.value))
        if day is not None:
            return day
    return None


def _read_day(moment: str) -> date | None:
    try:
        return date.fromisoformat(moment[:_DAY])
    except ValueError:
        return None
