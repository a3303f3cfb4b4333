"""Where the receiver of the aircraft says it flew: the one witness that no label of a file changes.

Sentences of a receiver (NMEA 0183) state longitude and latitude, so they need no coordinate system
to be read in; a trajectory in eastings and northings would repeat the label that is in doubt.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePosixPath

import numpy as np

from ledger.contract.evidence import Evidence
from ledger.crs import to_lonlat
from ledger.dataclass import dataclass
from ledger.errors import CrsError
from ledger.expected.earth import measure_distance_m
from ledger.model.artefact import Role
from ledger.model.fieldlogs import Track
from ledger.model.georeferencing import Crs


@dataclass(frozen=True)
class FlownPlace:
    """The middle of a flight.

    Args:
        name: of the log, without its folders.
        lonlat: degrees east and north.
    """

    name: str
    lonlat: tuple[float, float]

    def measure_km(self, lonlat: tuple[float, float]) -> float:
        """Return how far another place is away, kilometres."""
        return measure_distance_m(self.lonlat, lonlat) / 1000


def find_flown_places(evidence: Evidence) -> tuple[FlownPlace, ...]:
    """Return the middle of every position log that states longitude and latitude."""
    crs = evidence.specified_crs
    if crs is None:
        return ()
    places = (_find_middle(track, crs) for track in evidence.logs.tracks)
    return tuple(place for place in places if place is not None)


def find_nearest(places: Iterable[FlownPlace], lonlat: tuple[float, float]) -> FlownPlace | None:
    """Return the flight that came nearest to a place; None where no log tells."""
    return min(places, key=lambda place: place.measure_km(lonlat), default=None)


def _find_middle(track: Track, crs: Crs) -> FlownPlace | None:
    """Return the middle of a log, which was laid out in the system of the job, in metres."""
    is_stated = track.file.role == Role.FLIGHT_LOG and track.kind == "sentences"
    if not is_stated or track.place != "job" or track.series is None:
        return None
    east, north = track.series.east_m, track.series.north_m
    known = np.isfinite(east) & np.isfinite(north)
    if not known.any():
        return None
    metres = crs.metres_per_unit or 1.0
    try:
        lonlat = to_lonlat(
            crs,
            float(np.median(east[known])) / metres,
            float(np.median(north[known])) / metres,
        )
    except CrsError:
        return None
    name = PurePosixPath(track.file.path).name
    return FlownPlace(name, lonlat) if np.isfinite(lonlat).all() else None
