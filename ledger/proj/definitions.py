"""Definitions of coordinate systems as the library and its registry know them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, lru_cache
from typing import Any

import pyproj
from pyproj.crs import (  # type: ignore[attr-defined]
    CoordinateOperation,
    Datum,
    Ellipsoid,
    PrimeMeridian,
)
from pyproj.database import get_database_metadata, get_units_map
from pyproj.exceptions import ProjError

from ledger.errors import CrsError
from ledger.geodesy.keyreader import Json
from ledger.geodesy.linear import write_units
from ledger.geodesy.projjson import read_code
from ledger.geodesy.reading import describe_definition, read_keys, read_wkt
from ledger.model.georeferencing import Crs, CrsRecord

TEXTS_REMEMBERED = 256
"""500 tiles carry one text: each distinct text is read once."""


@lru_cache(maxsize=TEXTS_REMEMBERED)
def read_wkt_record(text: str) -> CrsRecord:
    """Return what a WKT record says."""
    return read_wkt(text, _Proj())


@lru_cache(maxsize=TEXTS_REMEMBERED)
def read_key_record(keys: tuple[tuple[int, int | float | str], ...]) -> CrsRecord:
    """Return what GeoTIFF keys say, given as pairs in order."""
    return read_keys(dict(keys), _Proj())


@lru_cache(maxsize=TEXTS_REMEMBERED)
def look_up(code: str) -> Crs | None:
    """Return what the registry has under `EPSG:6346` or `EPSG:6346+5703`; None for nothing."""
    found = _ask(pyproj.CRS.from_user_input, code)
    return None if found is None else describe_definition(found, "code", _Proj())


@lru_cache(maxsize=TEXTS_REMEMBERED)
def _find_datum_code(name: str) -> str:
    found = _ask(Datum.from_name, name)
    return "" if found is None else read_code(found)


@cache
def _list_units() -> Mapping[str, Json]:
    """Return the units of length and angle by EPSG code, as PROJJSON."""
    units: dict[str, Json] = {}
    for category, kind in (("linear", "LinearUnit"), ("angular", "AngularUnit")):
        found = get_units_map(auth_name="EPSG", category=category).values()
        units |= write_units(((u.code, u.name, u.conv_factor) for u in found), kind)
    return units


def _ask(maker: Callable[[Any], Any], given: int | str) -> Json | None:
    """Return as PROJJSON what the library makes of a code or name; None when that is nothing."""
    try:
        found: Json = maker(given).to_json_dict()
    except ProjError:
        return None
    found.pop("$schema", None)
    return found


class _Proj:
    """The library and its registry, as `ledger.geodesy.reading` asks for them."""

    def crs(self, code: int) -> Json | None:
        return _ask(pyproj.CRS.from_epsg, code)

    def datum(self, code: int) -> Json | None:
        return _ask(Datum.from_epsg, code)

    def ellipsoid(self, code: int) -> Json | None:
        return _ask(Ellipsoid.from_epsg, code)

    def meridian(self, code: int) -> Json | None:
        return _ask(PrimeMeridian.from_epsg, code)

    def conversion(self, code: int) -> Json | None:
        return _ask(CoordinateOperation.from_epsg, code)

    def unit(self, code: int) -> Json | None:
        return _list_units().get(str(code))

    def parse(self, text: str) -> Json:
        try:
            found: Json = pyproj.CRS.from_wkt(text).to_json_dict()
        except ProjError as error:
            raise CrsError(tell(error)) from error
        return found

    def write(self, definition: Json) -> str:
        return _take_up(definition).to_wkt()

    def raise_to_3d(self, definition: Json) -> Json:
        raised: Json = _take_up(definition).to_3d().to_json_dict()
        return raised

    def find_datum_code(self, name: str) -> str:
        return _find_datum_code(name)

    def look_up(self, code: str) -> Crs | None:
        return look_up(code)


def _take_up(definition: Json) -> pyproj.CRS:
    try:
        return pyproj.CRS.from_json_dict(definition)
    except ProjError as error:
        raise CrsError(tell(error)) from error


def tell(error: Exception) -> str:
    """Return what the library says of a refusal, in one line."""
    told = str(error).rpartition("Internal Proj Error: ")[2]  # without the text that was refused
    return " ".join(told.split()).removesuffix(")")[:160]


def database_versions() -> dict[str, str]:
    """Return the versions of library, database and registry."""
    return {
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
        "EPSG": str(get_database_metadata("EPSG.VERSION") or ""),
    }
