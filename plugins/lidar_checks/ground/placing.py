"""Surveyed points in the system of the job: by exact unit factors, by an exact operation, or not.

A point that cannot be placed says why; it is never placed nearly. Declared height kinds and
vertical datums that differ from those of the job are such a reason: heights are converted in unit
alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from ledger.contract.evidence import Evidence
from ledger.crs import (
    change_frame_at,
    compare,
    compare_vertical,
    describe,
    from_lonlat_at,
    to_lonlat_at,
)
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.model.georeferencing import Crs, CrsKind, VerticalCrs
from ledger.model.known import KnownValue
from ledger.model.surveypoints import PointTable, SurveyPoint
from ledger.units import LINEAR_UNITS

HEIGHT_KINDS = ("orthometric", "ellipsoidal", "site")
PLACING_KEYS = (
    "coordinates.horizontal",
    "coordinates.vertical",
    "coordinates.vertical_crs",
)

# What has to be declared of a table before a height of the cloud may be held against it.
_DECIDING = ("horizontal", "vertical", "unit_horizontal", "unit_vertical")
_UNIT, _DATUM = "unit", "datum"
_ELLIPSOIDAL = "ellipsoidal"

NO_HEIGHT = "the table gives no height for it"


@dataclass(frozen=True)
class PlacedPoint:
    """A surveyed point in the horizontal system of the job.

    Args:
        point: as the table has it.
        table: path of the table.
        kind: `control` or `checkpoints`.
        east_m, north_m, height_m: metres; NaN where they cannot be known.
        measured_m: easting and northing of the target as picked in the cloud, metres; None
            without.
        fault: why the cloud cannot be held against the point, as a clause; empty otherwise.
    """

    point: SurveyPoint
    table: str
    kind: str
    east_m: float
    north_m: float
    height_m: float
    measured_m: tuple[float, float] | None = None
    fault: str = ""

    @property
    def is_placed(self) -> bool:
        """Say whether easting and northing are known."""
        return math.isfinite(self.east_m) and math.isfinite(self.north_m)


def place_points(evidence: Evidence) -> tuple[PlacedPoint, ...]:
    """Return all points of all tables, in the order of the tables and their rows."""
    return tuple(placed for table in evidence.tables for placed in _place_table(table, evidence))


def list_unproven(table: PointTable) -> tuple[str, ...]:
    """Return the declarations that nothing may pass on: assumed, or carried and not confirmed."""
    known = ((name, table.declared[name]) for name in _DECIDING if name in table.declared)
    return tuple(name for name, value in known if not value.can_prove)


def _place_table(table: PointTable, evidence: Evidence) -> Iterator[PlacedPoint]:
    heights = _Heights.of(table, evidence)
    try:
        places, measured = _place_plan(table, evidence)
        plan_fault = ""
    except _UnplacedError as error:
        places, measured, plan_fault = {}, {}, str(error)
    for index, point in enumerate(table.points):
        east, north = places.get(index, (math.nan, math.nan))
        height = math.nan
        if point.height is not None and heights.unit is not None:
            height = float(Fraction(point.height) * heights.unit)
        missing = "" if point.height is not None else NO_HEIGHT
        yield PlacedPoint(
            point=point,
            table=table.path,
            kind=table.kind,
            east_m=east,
            north_m=north,
            height_m=height,
            measured_m=measured.get(index),
            fault=plan_fault or heights.fault or missing,
        )


class _UnplacedError(Exception):
    """Why a table has no place, as a clause; never leaves this module."""


Places = dict[int, tuple[float, float]]


def _place_plan(table: PointTable, evidence: Evidence) -> tuple[Places, Places]:
    """Return easting and northing in metres, as surveyed and as picked in the cloud, by index."""
    target = evidence.specified_crs
    if target is None:
        raise _UnplacedError("coordinates.horizontal is blank in job.toml")
    if target.metres_per_unit is None:
        raise _UnplacedError(f"the job's system, {target.name}, has no unit of length")
    source = _find_source(table)
    factor = _find_plan_factor(table, source)
    surveyed = {i: (point.east, point.north) for i, point in enumerate(table.points)}
    picked = {
        i: point.measured[:2] for i, point in enumerate(table.points) if point.measured is not None
    }
    known = table.declared.get("epoch")
    way = _Way(source, target, factor, None if known is None else float(known.value), table.path)
    return way.convert(surveyed), way.convert(picked)


def _find_source(table: PointTable) -> Crs:
    stated = table.declared.get("horizontal")
    if stated is None or not stated.value:
        raise _UnplacedError(f"{table.path} does not say in what coordinate system it is")
    try:
        found = describe(str(stated.value))
    except SwathbookError as error:
        raise _UnplacedError(
            f"the system declared for {table.path} cannot be used: {error}"
        ) from None
    if found.kind not in (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC):
        raise _UnplacedError(
            f"{found.name}, declared for {table.path}, is neither projected nor geographic"
        )
    return found


def _find_plan_factor(table: PointTable, source: Crs) -> Fraction:
    """Return units of the system in one unit of the table, exact."""
    if source.metres_per_unit is None:
        return Fraction(1)  # degrees, as the table holds them
    size = source.unit.factor if source.unit is not None else Fraction(source.metres_per_unit)
    stated = _read_unit(table.declared.get("unit_horizontal"))
    return Fraction(1) if stated is None else stated / size


def _read_unit(known: KnownValue | None) -> Fraction | None:
    unit = LINEAR_UNITS.get(str(known.value)) if known is not None else None
    return None if unit is None else unit.factor


@dataclass(frozen=True)
class _Way:
    """How the numbers of a table become metres of the job's system.

    Args:
        source: the system of the table.
        target: that of the job.
        factor: units of `source` in one unit of the table, exact.
        epoch: year of the coordinates; None where nobody said.
        path: the table, for messages.
    """

    source: Crs
    target: Crs
    factor: Fraction
    epoch: float | None
    path: str

    def convert(self, numbers: Mapping[int, tuple[Decimal, Decimal]]) -> Places:
        """Return places in metres: by unit factor where that is all, else by an exact operation."""
        if not numbers:
            return {}
        differing = {each.part for each in compare(_flatten(self.source), _flatten(self.target))}
        if differing <= {_UNIT}:
            metres = self.factor * _find_size(self.source)
            return {
                index: (float(Fraction(east) * metres), float(Fraction(north) * metres))
                for index, (east, north) in numbers.items()
            }
        east, north = (
            [float(Fraction(pair[axis]) * self.factor) for pair in numbers.values()]
            for axis in (0, 1)
        )
        try:
            lon, lat = to_lonlat_at(self.source, east, north)
            if _DATUM in differing:
                lon, lat = change_frame_at(self.source, self.target, lon, lat, self.epoch)
            x, y = from_lonlat_at(self.target, lon, lat)
        except SwathbookError as error:
            told = f"{self.path} cannot be put into the job's system: {error}"
            raise _UnplacedError(told) from None
        size = float(_find_size(self.target))
        return {
            index: (a * size, b * size)
            for index, a, b in zip(numbers, x.tolist(), y.tolist(), strict=True)
        }


def _find_size(crs: Crs) -> Fraction:
    """Return metres in one unit of a projected system, exact where its unit is a known one."""
    return crs.unit.factor if crs.unit is not None else Fraction(crs.metres_per_unit or 1)


def _flatten(crs: Crs) -> Crs:
    """Return a system without its heights, which are looked at by themselves."""
    return replace(crs, vertical=None)


@dataclass(frozen=True)
class _Heights:
    """What the heights of a table are.

    Args:
        unit: metres in one unit, exact; None where nobody said.
        fault: why they cannot be held against the cloud; empty otherwise.
    """

    unit: Fraction | None
    fault: str = ""

    @classmethod
    def of(cls, table: PointTable, evidence: Evidence) -> _Heights:
        stated = table.declared.get("vertical") or _find_heights_beside(table)
        text = "" if stated is None else str(stated.value)
        unit = _read_unit(table.declared.get("unit_vertical"))
        if not text:
            return cls(unit, f"{table.path} does not say what its heights are above")
        system: VerticalCrs | None = None
        if text not in HEIGHT_KINDS:
            try:
                system = describe(text).vertical
            except SwathbookError as error:
                return cls(unit, f"the heights declared for {table.path} cannot be used: {error}")
            if system is None:
                return cls(
                    unit, f"{text}, declared for the heights of {table.path}, has no heights"
                )
        if unit is None and system is not None:
            unit = _read_size(system)
        if unit is None:
            return cls(None, f"{table.path} does not say the unit of its heights")
        return cls(unit, _find_contradiction(table, text, system, evidence))


def _find_heights_beside(table: PointTable) -> KnownValue | None:
    """Return the declared system of a table where it has a vertical part; None where it has not."""
    stated = table.declared.get("horizontal")
    try:
        has_heights = stated is not None and describe(str(stated.value)).vertical is not None
    except SwathbookError:
        return None  # told with the plan
    return stated if has_heights else None


def _read_size(system: VerticalCrs) -> Fraction | None:
    if system.unit is not None:
        return system.unit.factor
    return Fraction(system.metres_per_unit) if system.metres_per_unit else None


def _find_contradiction(
    table: PointTable, text: str, system: VerticalCrs | None, evidence: Evidence
) -> str:
    """Return why heights of this kind are not those that the job asks for; empty otherwise."""
    path = table.path
    asked = evidence.specification.coordinates.vertical
    kind = text
    if system is not None:
        kind = _ELLIPSOIDAL if system.is_ellipsoidal else "orthometric"
    if asked is not None and kind != asked:
        return f"the heights of {path} are {kind}, and the job asks for {asked} ones"
    if kind == _ELLIPSOIDAL and _has_other_datum(table, evidence):
        return f"the heights of {path} are above the ellipsoid of another datum than the job's"
    wanted = evidence.specified_vertical.vertical if evidence.specified_vertical else None
    if system is None or wanted is None:
        return ""
    apart = [each for each in compare_vertical(system, wanted) if each.part == "vertical datum"]
    if not apart:
        return ""
    return f"the heights of {path} are {apart[0].a}, and the job asks for {apart[0].b}"


def _has_other_datum(table: PointTable, evidence: Evidence) -> bool:
    try:
        source = _find_source(table)
    except _UnplacedError:
        return False  # told with the plan
    target = evidence.specified_crs
    return target is not None and any(
        each.part == _DATUM for each in compare(_flatten(source), _flatten(target))
    )
