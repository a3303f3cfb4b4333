"""From a CRS record of a file to its parts: absent, unreadable, or understood with contradictions.

What the library does with a text comes in as a `Library`; nothing here depends on which one it is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

from ledger.errors import CrsError
from ledger.geodesy.contradiction import contradict_code, contradict_vertical
from ledger.geodesy.keyed import KeyedDefinition, define
from ledger.geodesy.keyreader import Json, Keys, Registry
from ledger.geodesy.projjson import understand, understand_vertical
from ledger.geodesy.wkttext import find_dialect, find_vertical_element
from ledger.model.georeferencing import Crs, CrsKind, CrsRecord

# What a definition of the right form and wrong content raises while it is taken apart.
_MISSHAPEN = (CrsError, ArithmeticError, AttributeError, LookupError, TypeError, ValueError)


class Library(Registry, Protocol):
    """What a coordinate library does with texts and definitions."""

    def parse(self, text: str) -> Json:
        """Return the PROJJSON of WKT; raises `CrsError` where it is none."""

    def write(self, definition: Json) -> str:
        """Return the WKT2 of PROJJSON; raises `CrsError` where it cannot be taken up."""

    def raise_to_3d(self, definition: Json) -> Json:
        """Return a horizontal system with heights above its ellipsoid."""

    def find_datum_code(self, name: str) -> str:
        """Return the authority code of a datum of this name, empty for none."""

    def look_up(self, code: str) -> Crs | None:
        """Return what a registry has under `EPSG:6346`; None when that is nothing."""


def describe_definition(definition: Json, dialect: str, library: Library) -> Crs:
    """Return the parts of a definition, with the datum code where only its name is given."""
    crs, _ = understand(definition, dialect, library.write(definition))
    return _add_datum_code(crs, library)


def _add_datum_code(crs: Crs, library: Library) -> Crs:
    if crs.datum_code or not crs.datum:
        return crs
    return replace(crs, datum_code=library.find_datum_code(crs.datum))


def _describe(definition: Json, dialect: str, library: Library) -> tuple[Crs, tuple[str, ...]]:
    """Return the parts, with the area of the code, and all contradictions."""
    crs, notes = understand(definition, dialect, library.write(definition))
    crs = _add_datum_code(crs, library)
    registered = library.look_up(crs.code) if crs.code else None
    if crs.area is None and registered is not None:
        crs = replace(crs, area=registered.area)
    return crs, (*notes, *contradict_code(crs, registered), *_contradict_heights(crs, library))


def _contradict_heights(crs: Crs, library: Library) -> tuple[str, ...]:
    code = crs.vertical.code if crs.vertical is not None else ""
    return contradict_vertical(crs, library.look_up(code)) if code else ()


def read_wkt(text: str, library: Library) -> CrsRecord:
    """Return what a WKT record says."""
    if not text.strip():
        return CrsRecord(present=True, fault="the WKT record is empty", text=text)
    try:
        definition = library.parse(text)
        crs, notes = _describe(definition, find_dialect(text), library)
        if crs.vertical is None and crs.kind is not CrsKind.NONE:
            crs, recovered = _recover_vertical(crs, definition, text, library)
            notes += recovered
    except _MISSHAPEN as error:
        fault = f"the WKT text cannot be understood ({_tell(error)})"
        return CrsRecord(present=True, fault=fault, text=text)
    return CrsRecord(present=True, crs=crs, text=text, notes=notes)


def _recover_vertical(
    crs: Crs, definition: Json, text: str, library: Library
) -> tuple[Crs, tuple[str, ...]]:
    """Return the system with a vertical part that is written where libraries pass over it."""
    element = find_vertical_element(text)
    if element is None:
        return crs, ()
    height = library.parse(element)
    vertical, notes = understand_vertical(height)
    whole = replace(
        crs, vertical=vertical, wkt=library.write(_join(_unbind(definition), _unbind(height)))
    )
    nested = "the vertical system is written inside the projected one, not beside it"
    return whole, (nested, *notes, *_contradict_heights(whole, library))


def _unbind(definition: Json) -> Json:
    while definition["type"] == "BoundCRS":
        definition = definition["source_crs"]
    return {part: value for part, value in definition.items() if part != "$schema"}


def _join(horizontal: Json, vertical: Json) -> Json:
    name = f"{horizontal['name']} + {vertical['name']}"
    return {"type": "CompoundCRS", "name": name, "components": [horizontal, vertical]}


def read_keys(keys: Keys, library: Library) -> CrsRecord:
    """Return what GeoTIFF keys say."""
    text = "; ".join(f"{key}={value}" for key, value in sorted(keys.items()))
    try:
        defined = define(keys, library)
        crs, notes = _describe(_assemble(defined, library), "GeoTIFF", library)
    except _MISSHAPEN as error:
        return CrsRecord(present=True, fault=_tell(error), text=text)
    return CrsRecord(present=True, crs=crs, text=text, notes=(*defined.notes, *notes))


def _assemble(defined: KeyedDefinition, library: Library) -> Json:
    """Return the system that GeoTIFF keys define, its parts joined."""
    horizontal, vertical = defined.horizontal, defined.vertical
    if horizontal is None or vertical is None:
        only = horizontal or vertical or {}
        lifted = defined.is_ellipsoidal and horizontal is not None
        return library.raise_to_3d(only) if lifted else only
    return _join(horizontal, vertical)


def _tell(error: Exception) -> str:
    told = error.faults[0].sentence() if isinstance(error, CrsError) else str(error)
    return " ".join(told.split())[:200]
