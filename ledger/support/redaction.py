"""Taking names and places out of what a job says, the same name always by the same stand-in.

Invariants:

- What is not known to be harmless is left out: only numbers, choices, dates, systems of coordinates
  and names of programs pass.
- Plan coordinates are moved by one secret distance; heights stay, since it is mostly they that are
  asked about. Longitudes and latitudes are left out.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from pathlib import PurePosixPath
from typing import Any

from ledger.model.field import Field, FieldType
from ledger.model.fields import FIELDS
from ledger.model.known import KnownValue, show_value

# Text that names no person, place or thing of the client's.
_HARMLESS = frozenset(
    {
        "software",
        "version",
        "build",
        "frame",
        "ellipsoid",
        "frame_operation",
        "zone",
        "vertical_datum",
        "geoid_name",
        "geoid_version",
        "geoid_frame",
        "decision",
    }
)
_TYPES = frozenset(
    {FieldType.CHOICE, FieldType.NUMBER, FieldType.COUNT, FieldType.YES_NO, FieldType.VECTOR}
    | {FieldType.DATE, FieldType.TIME, FieldType.CRS}
)
_FACTS = (
    "version",
    "point_format",
    "points",
    "scale",
    "software",
    "system",
    "time",
    "created",
    "crs",
    "compressed",
    "copc",
)
_PLACES = ("minimum", "maximum", "offset")
# Metres or feet: far enough that nobody finds the site, round enough that nothing is rounded.
_STEP, _STEPS = 1_000, 9_000


class Redactor:
    """Replaces names and moves places, alike for one bundle."""

    def __init__(self) -> None:
        """Choose the distance by which places are moved."""
        self._names: dict[tuple[str, str], str] = {}
        self._shift = tuple(_STEP * (1 + secrets.randbelow(_STEPS)) for _ in range(2))

    def name(self, kind: str, text: str) -> str:
        """Return the stand-in of a name: `file-3.laz`, `serial-1`."""
        known = self._names.get((kind, text))
        if known is None:
            number = 1 + sum(each == kind for each, _ in self._names)
            known = self._names[kind, text] = f"{kind}-{number}"
        return known

    def file(self, path: str) -> str:
        """Return the stand-in of a file, with what its name ends with.

        A tile has one name in every folder: so it has one stand-in.
        """
        name = PurePosixPath(path)
        return f"{self.name('file', name.name.lower())}{name.suffix.lower()}"

    def place(self, numbers: Sequence[str]) -> list[str]:
        """Return X, Y and what follows them, moved in plan; what is no number is left out."""
        try:
            known = [Decimal(number) for number in numbers]
        except InvalidOperation:
            return []
        moved = [number + shift for number, shift in zip(known, self._shift, strict=False)]
        return [format(number, "f") for number in (*moved, *known[2:])]

    def values(self, values: Mapping[str, KnownValue]) -> dict[str, Any]:
        """Return the values of a record: those that tell nothing, stand-ins for the others."""
        return {
            key: {
                "value": self._value(FIELDS.get(key), key, known),
                "known_by": str(known.known_by),
                "confirmed": known.confirmed,
            }
            for key, known in values.items()
        }

    def _value(self, field: Field | None, key: str, known: KnownValue) -> str:
        name = key.rpartition(".")[2]
        if field is not None and (field.type in _TYPES or name in _HARMLESS):
            return show_value(known)
        if field is not None and field.type is FieldType.FILE:
            return self.name("file", str(known.value))
        return self.name(name.replace("_", "-"), show_value(known))

    def facts(self, facts: Mapping[str, Any]) -> dict[str, Any]:
        """Return what the header of a point file says, moved in plan."""
        told = {key: facts[key] for key in _FACTS if key in facts}
        return told | {
            key: self.place([str(number) for number in facts[key]])
            for key in _PLACES
            if isinstance(facts.get(key), (list, tuple))
        }
