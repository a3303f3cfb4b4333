"""Taking names and places out of what a job says, the same name always by the same stand-in.

Invariants:

- What is not known to be harmless is left out: only numbers, choices, dates, codes of registered
  systems of coordinates and names of programs pass, and no text with a word by which the job names
  its site, its client or a thing of theirs.
- Plan coordinates are moved by one secret distance; heights stay, since it is mostly they that are
  asked about. Longitudes and latitudes are left out, and so is what would give the distance away:
  a corner at 0, and the offset of a header, of which the way to the least corner is told instead.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Mapping, Sequence
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
    | {FieldType.DATE, FieldType.TIME}
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
_FREE = frozenset({"software", "system"})  # facts that somebody typed
_PLACES = ("minimum", "maximum")
_CODE = re.compile(r"EPSG:\d+(?:\+\d+)?")
# Names of height systems that whole countries share; others may be those of a site.
_COMMON_HEIGHTS = re.compile(
    r"(?:NAVD88|NGVD29|CGVD28|CGVD2013|EGM84|EGM96|EGM2008|EVRF2000|EVRF2007|EVRF2019|DHHN92|"
    r"DHHN2016|ODN|AHD|NZVD2009|NZVD2016|JGD2011|JGD2024)(?: \(vertical\)| height)*"
)
_WORD = re.compile(r"[^\W_]+")
_SHORTEST = 3  # letters of a word that can tell a site
_FAR_M = 100_000  # an offset farther from the points than this would tell where they lie
_DEGREES = (360, 90)
# Metres or feet: far enough that nobody finds the site, round enough that nothing is rounded.
_STEP, _STEPS = 1_000, 9_000


class Redactor:
    """Replaces names and moves places, alike for one bundle."""

    def __init__(self, private: Iterable[str] = ()) -> None:
        """Choose the distance by which places are moved.

        Args:
            private: texts that name the job, its site or its people; no word of them passes.
        """
        self._private = {word for text in private for word in _list_words(text)}
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

    def text(self, kind: str, text: str) -> str:
        """Return text that somebody typed, or a stand-in where it has a word of the job's own."""
        return self.name(kind, text) if self._private & set(_list_words(text)) else text

    def system(self, text: str) -> str:
        """Return the codes of a system of coordinates; what has none may be a site's own name."""
        return " + ".join(self._system(part) for part in text.split(" + ")) if text else ""

    def _system(self, text: str) -> str:
        code = _CODE.search(text)
        if code is not None:
            return code[0]
        return text if _COMMON_HEIGHTS.fullmatch(text) else self.name("system", text)

    def place(self, numbers: Sequence[str]) -> list[str]:
        """Return X, Y and what follows them, moved in plan.

        Nothing is returned of what is no number, nor of what would tell the distance or the place
        all the same: a coordinate of 0, and longitudes and latitudes, which no distance hides.
        """
        try:
            known = [Decimal(number) for number in numbers]
        except InvalidOperation:
            return []
        plan = known[: len(self._shift)]
        if not all(plan) or all(abs(n) <= most for n, most in zip(plan, _DEGREES, strict=False)):
            return []
        moved = [number + shift for number, shift in zip(plan, self._shift, strict=False)]
        return [format(number, "f") for number in (*moved, *known[2:])]

    def criterion(self, value: object) -> object:
        """Return the value of a criterion: numbers, yes or no, and text that is not the job's."""
        if isinstance(value, (list, tuple)):
            return [self.criterion(part) for part in value]
        if isinstance(value, dict):
            return {self.text("key", str(k)): self.criterion(part) for k, part in value.items()}
        return self.text("criterion", value) if isinstance(value, str) else value

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
        if field is not None and field.type is FieldType.CRS:
            return self.system(show_value(known))
        if field is not None and field.type in _TYPES:
            return show_value(known)
        if field is not None and name in _HARMLESS:
            return self.text(name.replace("_", "-"), show_value(known))
        if field is not None and field.type is FieldType.FILE:
            return self.name("file", str(known.value))
        return self.name(name.replace("_", "-"), show_value(known))

    def facts(self, facts: Mapping[str, Any]) -> dict[str, Any]:
        """Return what the header of a point file says, moved in plan."""
        told = {key: facts[key] for key in _FACTS if key in facts}
        told |= {key: self.text(key, str(told[key])) for key in _FREE & told.keys()}
        if "crs" in told:
            told["crs"] = self.system(str(told["crs"] or ""))
        for key in _PLACES:
            if isinstance(facts.get(key), (list, tuple)):
                told[key] = self.place([str(number) for number in facts[key]])
        if told.get("minimum") and isinstance(facts.get("offset"), (list, tuple)):
            told["offset_from_minimum"] = _measure_offset(facts["minimum"], facts["offset"])
        return told


def _measure_offset(minimum: Sequence[str], offset: Sequence[str]) -> list[str] | str:
    """Return the way from the least corner of the points to the offset, in units of the file."""
    try:
        way = [
            Decimal(str(there)) - Decimal(str(here))
            for here, there in zip(minimum, offset, strict=True)
        ]
    except (InvalidOperation, ValueError):
        return "not known"
    if any(abs(part) > _FAR_M for part in way[:2]):
        return "far from the points"
    return [format(part, "f") for part in way]


def _list_words(text: str) -> list[str]:
    """Return the words of a text in small letters, those with enough letters to tell a site."""
    parts = (word.casefold() for word in _WORD.findall(text))
    return [word for word in parts if len(word) >= _SHORTEST and not word.isdigit()]
