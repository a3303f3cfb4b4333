"""One file in its coordinate system: where it lies, and where it may lie."""

from __future__ import annotations

import math

from ledger.contract.evidence import DeliveredFile
from ledger.crs import compute_scale_factor
from ledger.dataclass import dataclass
from ledger.errors import CrsError
from ledger.model.finding import Where
from ledger.model.georeferencing import Area, Crs, CrsKind
from lidar_checks.header.box import Box
from lidar_checks.header.position import (
    UTM_NORTH_DEG,
    UTM_SOUTH_DEG,
    OtherReading,
    Place,
    find_area,
    find_place,
    has_false_origin,
    looks_like_degrees,
)


@dataclass(frozen=True)
class Site:
    """What is judged: one file in its CRS.

    Args:
        file: the file.
        crs: its governing CRS.
        box: its box, file units.
        place: where the box lies; None where its coordinates are impossible.
        area: where it may lie; None when that is not known.
        owner: name of the system whose area that is.
        margin: degrees by which it may lie outside.
    """

    file: DeliveredFile
    crs: Crs
    box: Box
    place: Place | None
    area: Area | None
    owner: str
    margin: float

    @property
    def where(self) -> Where:
        """Return the place for a finding."""
        return Where(self.file.path, lonlat=self.place.centre if self.place else None)

    def outside(self, place: Place | None) -> float:
        """Return by how many degrees the middle of a place lies outside; infinite for none."""
        if place is None:
            return math.inf
        return 0.0 if self.area is None else self.area.measure_outside(*place.centre)

    def is_inside(self, place: Place | None) -> bool:
        """Say whether the middle of a place lies where it may, or close enough."""
        return self.outside(place) <= self.margin

    def read(self, other: OtherReading) -> Place | None:
        """Return where the box lies when it is read in another way; None when not inside."""
        place = find_place(other.crs or self.crs, self.box, other.turn)
        area = other.area or (find_area(other.crs) if other.crs is not None else self.area)
        if place is None or (area is None and other.crs is not None):
            return None
        if area is None:
            return place
        return place if area.measure_outside(*place.centre) <= self.margin else None


def is_in_degrees(site: Site) -> bool:
    """Say whether the coordinates are degrees though the CRS is a map projection.

    Without an area of use, a small local grid whose origin is on site looks the same.
    """
    return (
        site.crs.kind is CrsKind.PROJECTED
        and looks_like_degrees(site.box)
        and (site.area is not None or has_false_origin(site.crs))
    )


def is_polar(place: Place) -> bool:
    """Say whether the middle of a place lies beyond the latitudes of UTM."""
    return not UTM_SOUTH_DEG <= place.centre[1] <= UTM_NORTH_DEG


def find_owner(crs: Crs, asked: Crs | None) -> Crs:
    """Return the system whose area of use counts.

    Where the file's own is valid everywhere or has no known area, the points must still lie where
    the job's system may be used.
    """
    if find_area(crs) is None and asked is not None and find_area(asked) is not None:
        return asked
    return crs


def describe_degrees(site: Site) -> str:
    """Return the clause that says that X and Y are degrees; empty where they are lengths."""
    if site.crs.kind is not CrsKind.GEOGRAPHIC:
        return ""
    return f" ({site.crs.name} is geographic: X and Y are read as degrees, not as metres)"


def describe_scale(site: Site) -> str:
    """Return the clause that says the map scale at a site; empty where it cannot be told."""
    if site.place is None:
        return ""
    try:
        factor = compute_scale_factor(site.crs, *site.place.centre)
    except CrsError:
        return ""
    return f"; the map scale there is {factor:.6f}"
