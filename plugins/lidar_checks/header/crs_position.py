"""Would the points lie where their CRS may be used, and not in another zone or state.

A label that is wrong (another zone, swapped axes, feet as metres, degrees as metres) puts the
points somewhere else on Earth. Where the CRS is valid everywhere, or its area of use is unknown,
the position says nothing and the result is *inconclusive*. A site far south under a northern zone
lies inside the area of that zone, half the Earth away; only where it was flown tells.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from typing import Any

from pydantic import Field

from ledger.contract.check import Answer, Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.shared import ANY_FILE
from ledger.crs import find_utm_zone, has_uneven_zones
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.header import LasHeader
from lidar_checks.header.box import Box, find_best_box
from lidar_checks.header.file_check import (
    COMMON_PRACTICE,
    FileCheck,
    find_crs,
    require_criteria,
)
from lidar_checks.header.flown_place import FlownPlace, find_flown_places, find_nearest
from lidar_checks.header.position import (
    SWAPPED,
    OtherReading,
    Place,
    Places,
    find_area,
    find_place,
    is_web_map,
    list_other_readings,
)
from lidar_checks.header.site import (
    Site,
    describe_degrees,
    describe_scale,
    find_owner,
    is_in_degrees,
    is_polar,
)

AREA_SOURCE = "area of use in the EPSG registry"
_KEY = "coordinates.horizontal"
_ZONE_WIDTH_DEG = 6.0


class CrsPositionCriteria(Criteria):
    """How strictly an area of use is taken, and how far the flight may have been away."""

    area_margin_deg: float = Field(
        default=0.1,
        ge=0,
        description="common practice, no source: areas of use are rounded and coasts are ragged",
    )
    flown_apart_max_km: float = Field(
        default=50.0,
        gt=0,
        description="common practice, no source: further from where the receiver says it flew is "
        "another site",
    )


class CrsPosition(FileCheck):
    """The points lie where the CRS of the header may be used."""

    id = "crs-position"
    title = "The points lie where their coordinate system may be used"
    specification_keys = (_KEY,)
    catalogue = ("CR-01", "CR-07", "CR-10", "CR-13", "UN-01")
    criteria = CrsPositionCriteria
    revision = 2

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Answer]:
        """Find the places of all files at once, then judge those that lie outside one by one."""
        margin = require_criteria(plan, CrsPositionCriteria).area_margin_deg
        flown = find_flown_places(evidence)
        sites, inside = _find_sites(evidence, margin, may_share=not flown)
        placed = Plan(plan.criteria, plan.lattice, sites=sites, inside=inside, flown=flown)
        yield from super().finish(placed, summaries, evidence)

    def find_kind(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Hashable | None:
        """Return what files have alike that lie inside one area of use."""
        del header
        found: Hashable | None = vars(plan)["inside"].get(file.path)
        return found

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return where the points of one file would lie."""
        del header
        site = vars(plan)["sites"].get(file.path)
        crs = find_crs(file)
        if file.path == ANY_FILE and crs is not None:
            yield self._tell_inside(crs, evidence)
        elif site is not None:
            far = self._find_far(site, plan)
            yield from (
                [self._tell_far(site, far, plan)]
                if far is not None
                else self._judge_site(site, evidence)
            )
        elif crs is None or crs.kind in (CrsKind.NONE, CrsKind.GEOCENTRIC):
            yield self._tell_missing(file, "it states no map or geographic system", "header CRS")
        elif crs.kind is CrsKind.ENGINEERING:
            yield self.inconclusive(
                file.path,
                f"{file.path} states a local system, which has no place on Earth.",
                where=Where(file.path),
            )
        else:
            yield self._tell_missing(file, "it has no box of points", "points")

    def _tell_inside(self, crs: Crs, evidence: Evidence) -> Finding:
        """Tell what files share whose boxes lie wholly inside; each has a place of its own."""
        return self.conforms(
            ANY_FILE,
            f"{ANY_FILE} lies where {find_owner(crs, evidence.specified_crs).name} may be used.",
            where=Where(ANY_FILE),
        )

    def _tell_missing(self, file: DeliveredFile, reason: str, need: str) -> Finding:
        return self.not_assessed(
            file.path,
            f"{file.path}: {reason}, so its place on Earth is not known.",
            (need,),
            where=Where(file.path),
        )

    def _find_far(self, site: Site, plan: Plan) -> FlownPlace | None:
        """Return where it was flown instead, of a site that its area of use would let pass."""
        if site.place is None or is_web_map(site.crs) or is_in_degrees(site):
            return None
        nearest = find_nearest(vars(plan)["flown"], site.place.centre)
        limit = require_criteria(plan, CrsPositionCriteria).flown_apart_max_km
        if nearest is None or not site.is_inside(site.place):
            return None
        return nearest if nearest.measure_km(site.place.centre) > limit else None

    def _tell_far(self, site: Site, flown: FlownPlace, plan: Plan) -> Finding:
        place, there = site.place, Place((), flown.lonlat)
        km = 0.0 if place is None else flown.measure_km(place.centre)
        told = "" if place is None else f" would lie at {place.sentence()}"
        zone, stated = "" if is_polar(there) else find_utm_zone(*flown.lonlat), site.crs.utm_zone
        is_other_half = bool(zone and stated) and zone[-1] != stated[-1]
        named = (
            f" That place is in zone {zone}, the header says {stated}." if zone != stated else ""
        )
        return self.nonconforming(
            Grade.MAJOR,
            site.file.path,
            f"{site.file.path}{told}, and {flown.name} was flown at {there.sentence()}, {km:,.0f} "
            f"km away.{named if zone and stated else ''}",
            observed=f"{km:.0f}",
            required=f"at most {require_criteria(plan, CrsPositionCriteria).flown_apart_max_km:g}",
            unit="km",
            criterion_source=COMMON_PRACTICE,
            remedy="Export again in the zone of the site; where the log is of another job, "
            "register the one of this flight.",
            catalogue=("CR-13",) if is_other_half else ("CR-01",),
            where=site.where,
        )

    def _judge_site(self, site: Site, evidence: Evidence) -> Iterator[Finding]:
        if is_web_map(site.crs):
            yield self._tell_web_map(site, evidence)
        elif site.area is not None and site.is_inside(site.place):
            yield self._judge_corners(site, evidence)
        elif is_in_degrees(site):
            yield self._tell_degrees(site)
        elif site.area is None:
            yield self._judge_without_area(site, evidence)
        elif self._is_specified_zone(site, evidence):
            yield self._tell_neighbour_zone(site, evidence)
        elif self._is_in_uneven_zone(site):
            yield self._tell_uneven_zone(site)
        else:
            yield self._tell_outside(site, evidence)

    def _judge_corners(self, site: Site, evidence: Evidence) -> Finding:
        """Judge a box whose middle lies inside: one stray point can stretch its corners."""
        path, place = site.file.path, site.place
        corners = place.corners if place is not None else ()
        off = max((site.area.measure_outside(*c) for c in corners if site.area), default=0)
        # A site on the edge of a zone may reach into the next one.
        if off > site.margin + (_ZONE_WIDTH_DEG if site.crs.utm_zone else 0):
            return self.nonconforming(
                Grade.MINOR,
                path,
                f"{path}: its middle lies where {site.owner} may be used, a corner of its box "
                f"{off:.2f}° outside: a stray point, or a label that is wrong.",
                observed=f"{off:.2f}",
                required=f"at most {site.margin:g}",
                unit="degrees outside",
                criterion_source=AREA_SOURCE,
                remedy="Look for points far away from the site and remove them.",
                where=site.where,
            )
        told = place.sentence() if place is not None else ""
        return self.conforms_if_confirmed(
            evidence,
            [_KEY] if site.owner != site.crs.name else [],
            path,
            f"{path} lies at {told}, where {site.owner} may be used.",
            where=site.where,
        )

    def _judge_without_area(self, site: Site, evidence: Evidence) -> Finding:
        """Judge a CRS that is valid everywhere, or whose area of use is unknown."""
        path = site.file.path
        swapped = find_place(site.crs, site.box, SWAPPED.turn)
        if site.place is None:
            return self._tell_outside(site, evidence)
        if is_polar(site.place) and swapped is not None and not is_polar(swapped):
            return self.nonconforming(
                Grade.MAJOR,
                path,
                f"{path} would lie at {site.place.sentence()}, not between 80° S and 84° N, where "
                f"sites are mapped{describe_degrees(site)}; with X and Y swapped it lies at "
                f"{swapped.sentence()}.",
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

    def _tell_outside(self, site: Site, evidence: Evidence) -> Finding:
        """Tell that the points lie outside, and how they would have to be read to lie inside."""
        path = site.file.path
        asked = evidence.specified_crs
        others = list_other_readings(site.crs, asked if asked != site.crs else None)
        fits = [(other, place) for other in others if (place := site.read(other)) is not None]
        zone = self._name_zone(site, fits)
        told = "".join(f" Read {o.words} it lies inside, at {p.sentence()}." for o, p in fits)
        if site.place is None:
            degrees = describe_degrees(site)
            sentence = f"{path}: its coordinates are impossible in {site.crs.name}{degrees}.{told}"
        else:
            sentence = (
                f"{path} would lie at {site.place.sentence()}, "
                f"{site.outside(site.place):.2f}° outside the area of {site.owner}.{zone}{told}"
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

    def _name_zone(self, site: Site, fits: list[tuple[OtherReading, Place]]) -> str:
        if not site.crs.utm_zone or site.place is None or fits or is_polar(site.place):
            return ""
        return f" That place is in zone {find_utm_zone(*site.place.centre)}."

    def _is_specified_zone(self, site: Site, evidence: Evidence) -> bool:
        """Say whether the job asks for this zone, and the site lies in the zone next to it."""
        asked = evidence.specified_crs
        return bool(
            asked is not None
            and site.crs.utm_zone
            and asked.utm_zone == site.crs.utm_zone
            and site.outside(site.place) <= _ZONE_WIDTH_DEG
        )

    def _tell_neighbour_zone(self, site: Site, evidence: Evidence) -> Finding:
        path, told = site.file.path, describe_scale(site)
        return self.conforms_if_confirmed(
            evidence,
            ["coordinates.horizontal"],
            path,
            f"{path} lies {site.outside(site.place):.2f}° outside zone {site.crs.utm_zone}, which "
            f"the job asks for{told}.",
            where=site.where,
        )

    def _is_in_uneven_zone(self, site: Site) -> bool:
        """Say whether the neighbouring zone may be right: where zones are wider than elsewhere."""
        return (
            site.place is not None
            and bool(site.crs.utm_zone)
            and has_uneven_zones(*site.place.centre)
            and site.outside(site.place) <= _ZONE_WIDTH_DEG
        )

    def _tell_uneven_zone(self, site: Site) -> Finding:
        return self.inconclusive(
            site.file.path,
            f"{site.file.path} lies {site.outside(site.place):.2f}° outside zone "
            f"{site.crs.utm_zone}, in a region where zones are not 6° wide.",
            remedy="Name the zone in job.toml (coordinates.horizontal).",
            where=site.where,
        )

    def _tell_degrees(self, site: Site) -> Finding:
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

    def _tell_web_map(self, site: Site, evidence: Evidence) -> Finding:
        """Tell of web-map metres; less bad only where the job asks for them."""
        asked = evidence.specified_crs is not None and is_web_map(evidence.specified_crs)
        stretch = ""
        if site.place is not None and not is_polar(site.place):
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


def _find_sites(
    evidence: Evidence, margin: float, *, may_share: bool
) -> tuple[dict[str, Site], dict[str, Hashable]]:
    """Return what is judged file by file, and what files have alike that lie inside, by path.

    Files of one system are placed at once. Those whose boxes lie wholly inside its area share an
    answer where there are several, unless it hangs on a key of the job that nobody confirmed.

    Args:
        evidence: the evidence.
        margin: degrees by which a file may lie outside.
        may_share: whether no flight tells where each file has to lie.
    """
    systems: dict[int, tuple[Crs, list[tuple[DeliveredFile, Box]]]] = {}
    for file in evidence.point_files:
        crs, box = find_crs(file), find_best_box(file)
        if crs is not None and crs.kind in (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC) and box:
            systems.setdefault(id(crs), (crs, []))[1].append((file, box))
    sites: dict[str, Site] = {}
    inside: dict[str, Hashable] = {}
    for key, (crs, files) in systems.items():
        owner = find_owner(crs, evidence.specified_crs)
        area = find_area(owner)
        places = Places(crs, [box for _, box in files])
        sure = owner.name == crs.name or evidence.specification.is_confirmed(_KEY)
        within = places.lie_in(area) if sure and not is_web_map(crs) else [False] * len(files)
        share = may_share and sum(within) > 1
        for index, (file, box) in enumerate(files):
            if share and within[index]:
                inside[file.path] = key
            else:
                sites[file.path] = Site(file, crs, box, places.get(index), area, owner.name, margin)
    return sites, inside
