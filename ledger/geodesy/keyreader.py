"""GeoTIFF keys as values: what is a code, what is a number, and what a registry knows about it."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any, Protocol

from ledger.errors import CrsError
from ledger.geodesy.linear import read_length

Keys = Mapping[int, int | float | str]
Json = dict[str, Any]

MODEL, NAME = 1024, 1026
GEOGRAPHIC, GEOGRAPHIC_NAME = 2048, 2049
DATUM, MERIDIAN, ANGULAR_UNIT, ANGULAR_SIZE = 2050, 2051, 2054, 2055
ELLIPSOID, MAJOR, MINOR, FLATTENING, MERIDIAN_LONGITUDE = 2056, 2057, 2058, 2059, 2061
PROJECTED, PROJECTED_NAME, CONVERSION, METHOD = 3072, 3073, 3074, 3075
LINEAR_UNIT, LINEAR_SIZE = 3076, 3077
VERTICAL, VERTICAL_NAME, VERTICAL_DATUM, VERTICAL_UNIT = 4096, 4097, 4098, 4099

USER_DEFINED = 32767

_SAME_SIZE = 1e-9


class Registry(Protocol):
    """What a registry knows, as PROJJSON; None for a code that it does not have."""

    def crs(self, code: int) -> Json | None:
        """Return a coordinate reference system."""

    def datum(self, code: int) -> Json | None:
        """Return a datum, geodetic or vertical."""

    def ellipsoid(self, code: int) -> Json | None:
        """Return an ellipsoid."""

    def meridian(self, code: int) -> Json | None:
        """Return a prime meridian."""

    def conversion(self, code: int) -> Json | None:
        """Return a map projection with its parameters."""

    def unit(self, code: int) -> Json | None:
        """Return a unit of length or angle, as a mapping with name and factor."""


class KeyReader:
    """Looks values up in the keys of one file, and collects notes on the way."""

    def __init__(self, keys: Keys, registry: Registry) -> None:
        """Take the keys and what the codes in them mean."""
        self.keys = keys
        self.registry = registry
        self.notes: list[str] = []

    def code(self, key: int) -> int | None:
        """Return the code in a key; None when absent, zero or user-defined."""
        value = self.keys.get(key)
        return value if isinstance(value, int) and value not in (0, USER_DEFINED) else None

    def number(self, key: int) -> float | None:
        """Return the number in a key, None where it holds none."""
        value = self.keys.get(key)
        return float(value) if isinstance(value, int | float) else None

    def text(self, key: int) -> str:
        """Return the text in a key, empty where it holds none."""
        value = self.keys.get(key)
        return value if isinstance(value, str) else ""

    def read_angle(self) -> Json | str:
        """Return the unit of angles, degrees where no key states another."""
        code, size = self.code(ANGULAR_UNIT), self.number(ANGULAR_SIZE)
        if self.keys.get(ANGULAR_UNIT) == USER_DEFINED and size:
            return {"type": "AngularUnit", "name": "unnamed", "conversion_factor": size}
        found = self.registry.unit(code) if code is not None else None
        return found if found is not None and found["type"] == "AngularUnit" else "degree"

    def read_unit(self, key: int, size_key: int | None) -> Json | str | None:
        """Return the unit of length that a key states, None when it states none."""
        code = self.code(key)
        size = self.number(size_key) if size_key is not None else None
        if self.keys.get(key) == USER_DEFINED and size:
            return {"type": "LinearUnit", "name": "unnamed", "conversion_factor": size}
        if code is None:
            return None
        found = self.registry.unit(code)
        if found is None or found["type"] != "LinearUnit":
            self.notes.append(f"key {key} holds {code}, which is no unit of length")
            return None
        return found

    def require(self, found: Json | None, key: int, code: int) -> Json:
        """Return what a code means.

        Raises:
            CrsError: no registry has it.
        """
        if found is None:
            raise CrsError(f"GeoTIFF key {key} holds a code that is not known", found=str(code))
        return found

    def with_unit(self, definition: Json, unit: Json | str | None, code: int, key: int) -> Json:
        """Return the definition with the unit that a unit key states, no longer under its code."""
        axes = definition["coordinate_system"]["axis"]
        own = read_length(axes[0].get("unit", "metre"), "unit")
        stated = read_length(unit, "unit") if unit is not None else None
        if own is None or stated is None or abs(stated.metres / own.metres - 1.0) < _SAME_SIZE:
            return definition
        changed = copy.deepcopy(definition)
        del changed["id"]
        for axis in changed["coordinate_system"]["axis"]:
            axis["unit"] = unit
        names = [_name_unit(axes[0].get("unit", "metre")), _name_unit(unit)]
        self.notes.append(f"EPSG:{code} is in {names[0]}, key {key} says {names[1]}")
        return changed


def _name_unit(unit: Any) -> str:  # noqa: ANN401 - text or mapping
    return unit if isinstance(unit, str) else str(unit["name"])
