"""Frames and ellipsoids by the names that people type."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

import pyproj
from pyproj.crs import CoordinateOperation, Ellipsoid  # type: ignore[attr-defined]
from pyproj.exceptions import ProjError

from ledger.model.georeferencing import Crs
from ledger.proj.definitions import TEXTS_REMEMBERED, read_wkt_record

_INVERSE = re.compile(r"^\s*inverse of\s+", re.IGNORECASE)
_OPERATION_CODE = re.compile(
    r"\s*(?:urn:ogc:def:coordinateOperation:)?EPSG:{1,2}(\d+)\s*", re.IGNORECASE
)


@lru_cache(maxsize=TEXTS_REMEMBERED)
def look_up_frame(name: str) -> Crs | None:
    """Return the geodetic system of a frame; see `ledger.crs.describe_frame`.

    The library also takes a name that is only like one (`NAD83(201)`), so the answer has to bear
    the name that was asked for.
    """
    try:
        found = pyproj.CRS.from_user_input(name)
    except ProjError:
        return None
    datum = found.datum.name if found.datum is not None else ""
    if not found.is_geographic or _spell(name) not in (_spell(found.name), _spell(datum)):
        return None
    return read_wkt_record(found.to_wkt()).crs


@lru_cache(maxsize=TEXTS_REMEMBERED)
def look_up_zone(frame: str, zone: str) -> Crs | None:
    """Return the system of a UTM zone in a frame; see `ledger.crs.describe_zone`."""
    for name in (f"{frame} / UTM zone {zone}", f"{frame} / MGA zone {zone[:-1]}"):
        try:
            found = pyproj.CRS.from_user_input(name)
        except ProjError:
            continue
        if found.is_projected and _spell(found.name) == _spell(name):
            return read_wkt_record(found.to_wkt()).crs
    return None


@lru_cache(maxsize=TEXTS_REMEMBERED)
def name_geodetic(wkt: str) -> str:
    """Return the name of the geodetic system below a system; empty where there is none."""
    try:
        found = pyproj.CRS.from_wkt(wkt).geodetic_crs
    except ProjError:
        return ""
    return "" if found is None else found.name


@lru_cache(maxsize=TEXTS_REMEMBERED)
def look_up_ellipsoid(name: str) -> tuple[float, float] | None:
    """Return the size of an ellipsoid; see `ledger.crs.describe_ellipsoid`."""
    for written in (name, re.sub(r"[\s_-]+", "", name)):
        try:
            found = Ellipsoid.from_name(written)
        except ProjError:
            continue
        return found.semi_major_metre, found.inverse_flattening
    return None


@lru_cache(maxsize=TEXTS_REMEMBERED)
def look_up_accuracy(name: str) -> float | None:
    """Return how good an operation is; see `ledger.expected.find_operation_accuracy`."""
    found = _look_up_operation(name)
    return float(found.accuracy) if found is not None and found.accuracy >= 0 else None


def is_conversion(name: str) -> bool:
    """Say whether an operation is a mere conversion; see `ledger.expected.is_conversion`."""
    found = _look_up_operation(name)
    return found is not None and str(found.type_name) == "Conversion"


@lru_cache(maxsize=TEXTS_REMEMBERED)
def _look_up_operation(name: str) -> Any:  # noqa: ANN401 - a class of the library without types
    written = _INVERSE.sub("", name)
    code = _OPERATION_CODE.fullmatch(written)
    try:
        if code is not None:
            return CoordinateOperation.from_authority("EPSG", code[1])
        found: Any = CoordinateOperation.from_user_input(written)
    except ProjError:
        return None
    return found if _spell(found.name) == _spell(written) else None


def _spell(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", name.casefold())
