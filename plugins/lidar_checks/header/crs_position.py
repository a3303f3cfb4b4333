"""Would the points lie where their CRS may be used, and not in another zone or state.

A label that is wrong (another zone, swapped axes, feet as metres, degrees as metres) puts the
points somewhere else on Earth. Where the CRS is valid everywhere, or its area of use is unknown,
the position says nothing and the result is *inconclusive*.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import compute_scale_factor, find_utm_zone
from ledger.errors import CrsError
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Area, Crs, CrsKind
from ledger.model.header import LasHeader
from lidar_checks.header.box import Box, find_best_box
from lidar_checks.header.file_check import FileCheck, find_crs, require_criteria
from lidar_checks.header.position import (
    SWAPPED,
    UTM_NORTH_DEG,
    UTM_SOUTH_DEG,
    OtherReading,
    Place,
    compute_distance_outside,
    find_area,
    find_place,
    has_false_origin,
    has_uneven_zones,
    is_web_map,
    list_other_readings,
    looks_like_degrees,
)

AREA_SOURCE = "area of use in the EPSG registry"
_ZONE_WIDTH_DEG = 6.0


class CrsPositionCriteria(Criteria):
    """How strictly an area of use is taken."""

    area_margin_deg: float = Field(
        default=0.1,
        ge=0,
        description="common practice, no source: areas of use are rounded and coasts are ragged",
    )


@dataclass(frozen=True)
class _Site:
    """What is judged: one file in its CRS.

    Args:
        file: the file.
        crs: its governing CRS.
        box: its box, file units.
        place: where the box lies; None where its coordinates are impossible.
        area: where it may lie; None when that is not known.
        margin: degrees by which it may lie outside.
    """

    file: DeliveredFile
    crs: Crs
    box: Box
    place: Place | None
    area: Area | None
    margin: float

    @property
    def where(self) -> Where:
        return Where(self.file.path, lonlat=self.place.centre if self.place else None)

    def outside(self, place: Place | None) -> float:
        """Return by how many degrees the middle of a place lies outside; infinite for none."""
        if place is None:
            return math.inf
        return 0.0 if self.area is None else compute_distance_outside(self.area, *place.centre)

    def is_inside(self, place: Place | None) -> bool:
        return self.outside(place) <= self.margin

    def read(self, other: OtherReading) -> Place | None:
        """Return where the box lies when it is read in another way; None when not inside."""
        place = find_place(other.crs or self.crs, self.box, other.turn)
        area = other.area or (find_area(other.crs) if other.crs is not None else self.area)
        if place is None or (area is None and other.crs is not None):
            return None
        if area is None:
            return place
        return place if compute_distance_outside(area, *place.centre) <= self.margin else None


class CrsPosition(FileCheck):
    """The points lie where the CRS of the header may be used."""

    id = "crs-position"
    title = "The points lie where their coordinate system may be used"
    catalogue = ("CR-01", "CR-07", "CR-10", "CR-13", "UN-01")
    criteria = CrsPositionCriteria

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return where the points of one file would lie."""
        del header
        crs, box = find_crs(file), find_best_box(file)
        if crs is None or crs.kind in (CrsKind.NONE, CrsKind.GEOCENTRIC):
            yield self._tell_missing(file, "it states no map or geographic system", "header CRS")
        elif crs.kind is CrsKind.ENGINEERING:
            yield self.inconclusive(
                file.path,
                f"{file.path} states a local system, which has no place on Earth.",
                where=Where(file.path),
            )
        elif box is None:
            yield self._tell_missing(file, "it has no box of points", "points")
        else:
            margin = require_criteria(plan, CrsPositionCriteria).area_margin_deg
            area = find_area(crs) or _find_specified_area(evidence)
            site = _Site(file, crs, box, find_place(crs, box), area, margin)
            yield from self._judge_site(site, evidence)

    def _tell_missing(self, file: DeliveredFile, reason: str, need: str) -> Finding:
        return self.not_assessed(
            file.path,
            f"{file.path}: {reason}, so its place on Earth is not known.",
            (need,),
            where=Where(file.path),
        )

    def _judge_site(self, site: _Site, evidence: Evidence) -> Iterator[Finding]:
        if is_web_map(site.crs):
            yield self._tell_web_map(site, evidence)
        elif site.area is not None and site.is_inside(site.place):
            yield self._judge_corners(site)
        elif _is_in_degrees(site):
            yield self._tell_degrees(site)
        elif site.area is None:
            yield self._judge_without_area(site, evidence)
        elif self._is_specified_zone(site, evidence):
            yield self._tell_neighbour_zone(site, evidence)
        elif site.place is not None and site.crs.utm_zone and has_uneven_zones(*site.place.centre):
            yield self._tell_uneven_zone(site)
        else:
            yield self._tell_outside(site, evidence)

    def _judge_corners(self, site: _Site) -> Finding:
        """Judge a box whose middle lies inside: one stray point can stretch its corners."""
        path, place = site.file.path, site.place
        corners = place.corners if place is not None else ()
        off = max(
            (compute_distance_outside(site.area, *c) for c in corners if site.area), default=0
        )
        # A site on the edge of a zone may reach into the next one.
        if off > site.margin + (_ZONE_WIDTH_DEG if site.crs.utm_zone else 0):
            return self.nonconforming(
                Grade.MINOR,
                path,
                f"{path}: its middle lies where {site.crs.name} may be used, a corner of its box "
                f"{off:.2f}° outside: a stray point, or a label that is wrong.",
                observed=f"{off:.2f}",
                required=f"at most {site.margin:g}",
                unit="degrees outside",
                criterion_source=AREA_SOURCE,
                remedy="Look for points far away from the site and remove them.",
                where=site.where,
            )
        told = place.sentence() if place is not None else ""
        return self.conforms(
            path, f"{path} lies at {told}, where {site.crs.name} may be used.", where=site.where
        )

    def _judge_without_area(self, site: _Site, evidence: Evidence) -> Finding:
        """Judge a CRS that is valid everywhere, or whose area of use is unknown."""
        path = site.file.path
        swapped = find_place(site.crs, site.box, SWAPPED.turn)
        if site.place is None:
            return self._tell_outside(site, evidence)
        if _is_polar(site.place) and swapped is not None and not _is_polar(swapped):
            return self.nonconforming(
                Grade.MAJOR,
                path,
                f"{path} would lie at {site.place.sentence()}, beyond the span of UTM; with X and "
                f"Y swapped it lies at {swapped.sentence()}.",
                criterion_source="UTM covers 80° S to 84° N (areas of use of EPSG 32600 to 32760)",
                remedy=SWAPPED.remedy,
                catalogue=(SWAPPED.catalogue,),
                where=site.where,
            )
        valid = "valid all over the Earth" if site.crs.area else "of unknown area of use"
        return self.inconclusive(
            path,
            f"{path} lies at {site.place.sentence()}; {site.crs.name} is {valid}, so the place "
            "cannot contradict it.",
            remedy="Look at the place: is it the site?",
            where=site.where,
        )

    def _tell_outside(self, site: _Site, evidence: Evidence) -> Finding:
        """Tell that the points lie outside, and how they would have to be read to lie inside."""
        path = site.file.path
        asked = evidence.specified_crs
        others = list_other_readings(site.crs, asked if asked != site.crs else None)
        fits = [(other, place) for other in others if (place := site.read(other)) is not None]
        zone = self._name_zone(site, fits)
        told = "".join(f" Read {o.words} it lies inside, at {p.sentence()}." for o, p in fits)
        label = f"{site.crs.name}{f' (zone {site.crs.utm_zone})' if site.crs.utm_zone else ''}"
        if site.place is None:
            sentence = f"{path}: its coordinates are impossible in {label}.{told}"
        else:
            sentence = (
                f"{path} would lie at {site.place.sentence()}, "
                f"{site.outside(site.place):.2f}° outside the area of {label}.{zone}{told}"
            )
        remedy = fits[0][0].remedy if len(fits) == 1 else "Export again in the right system."
        return self.nonconforming(
            Grade.MAJOR,
            path,
            sentence,
            observed="impossible" if site.place is None else f"{site.outside(site.place):.2f}",
            required=f"at most {site.margin:g}",
            unit="degrees outside",
            criterion_source=AREA_SOURCE,
            remedy=remedy,
            catalogue=tuple(other.catalogue for other, _ in fits) or ("CR-01",),
            where=site.where,
        )

    def _name_zone(self, site: _Site, fits: list[tuple[OtherReading, Place]]) -> str:
        if not site.crs.utm_zone or site.place is None or fits or _is_polar(site.place):
            return ""
        return f" That place is in zone {find_utm_zone(*site.place.centre)}."

    def _is_specified_zone(self, site: _Site, evidence: Evidence) -> bool:
        """Say whether the job asks for this zone, and the site lies in the zone next to it."""
        asked = evidence.specified_crs
        return bool(
            asked is not None
            and site.crs.utm_zone
            and asked.utm_zone == site.crs.utm_zone
            and site.outside(site.place) <= _ZONE_WIDTH_DEG
        )

    def _tell_neighbour_zone(self, site: _Site, evidence: Evidence) -> Finding:
        path, told = site.file.path, _describe_scale(site)
        return self.conforms_if_confirmed(
            evidence,
            ["coordinates.horizontal"],
            path,
            f"{path} lies {site.outside(site.place):.2f}° outside zone {site.crs.utm_zone}, which "
            f"the job asks for{told}.",
            where=site.where,
        )

    def _tell_uneven_zone(self, site: _Site) -> Finding:
        return self.inconclusive(
            site.file.path,
            f"{site.file.path} lies {site.outside(site.place):.2f}° outside zone "
            f"{site.crs.utm_zone}, in a region where zones are not 6° wide.",
            remedy="Name the zone in job.toml (coordinates.horizontal).",
            where=site.where,
        )

    def _tell_degrees(self, site: _Site) -> Finding:
        (west, east), (south, north) = site.box.bounds(0), site.box.bounds(1)
        return self.nonconforming(
            Grade.MAJOR,
            site.file.path,
            f"{site.file.path}: its coordinates look like degrees (X {west:.6g} to {east:.6g}, "
            f"Y {south:.6g} to {north:.6g}), but {site.crs.name} is a map projection.",
            criterion_source=AREA_SOURCE,
            remedy="Export again in the map projection of the job.",
            catalogue=("CR-10",),
            where=Where(site.file.path),
        )

    def _tell_web_map(self, site: _Site, evidence: Evidence) -> Finding:
        """Tell of web-map metres; less bad only where the job asks for them."""
        asked = evidence.specified_crs is not None and is_web_map(evidence.specified_crs)
        stretch = ""
        if site.place is not None and not _is_polar(site.place):
            factor = 1 / math.cos(math.radians(site.place.centre[1]))
            stretch = f", stretched {factor:.3f} × here"
        return self.nonconforming(
            Grade.MINOR if asked else Grade.MAJOR,
            site.file.path,
            f"{site.file.path} is in web-map metres{stretch}: lengths and areas cannot be "
            "measured in it.",
            criterion_source="EPSG:3857: its scale grows with 1/cos(latitude)",
            remedy="Export again in the map projection of the job.",
            catalogue=("CR-10",),
            where=site.where,
        )


def _is_in_degrees(site: _Site) -> bool:
    """Say whether the coordinates are degrees though the CRS is a map projection.

    Without an area of use, a small local grid whose origin is on site looks the same.
    """
    return (
        site.crs.kind is CrsKind.PROJECTED
        and looks_like_degrees(site.box)
        and (site.area is not None or has_false_origin(site.crs))
    )


def _is_polar(place: Place) -> bool:
    return not UTM_SOUTH_DEG <= place.centre[1] <= UTM_NORTH_DEG


def _find_specified_area(evidence: Evidence) -> Area | None:
    """Return the area of the specified CRS: where the job must lie, whatever a file says."""
    asked = evidence.specified_crs
    return find_area(asked) if asked is not None else None


def _describe_scale(site: _Site) -> str:
    if site.place is None:
        return ""
    try:
        factor = compute_scale_factor(site.crs, *site.place.centre)
    except CrsError:
        return ""
    return f"; the map scale there is {factor:.6f}"
