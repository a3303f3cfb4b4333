"""Coordinate systems that records and `job.toml` name, as operands of rules."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace

from ledger.contract.evidence import Evidence
from ledger.crs import compare, describe, name_frame
from ledger.dataclass import dataclass
from ledger.errors import CrsError
from ledger.model.georeferencing import Crs
from lidar_checks.settings.conditions import Answer, Condition, Values

# By key: the field of the run whose text names the system.
SYSTEMS = {"run.system": "run.crs", "run.trajectory_system": "run.trajectory_crs"}

NO_ZONE = "none"
_ZONE = re.compile(r"(?<!\d)([1-5]\d|60|[1-9])(?!\d)\s*([A-Za-z]?)(?![a-z])")
# In the grid of the military a letter is a band: C to M are south of the equator, N to X north.
_FIRST_NORTHERN_BAND = "N"


@dataclass(frozen=True)
class System:
    """A coordinate system that somebody named.

    Args:
        text: as it was written.
        crs: what it is; None where it cannot be understood.
    """

    text: str
    crs: Crs | None = None

    def __str__(self) -> str:
        """Return its name, or the text where it is not understood."""
        return self.text if self.crs is None else self.crs.name


def read_system(text: str) -> System:
    """Return the system that a code or WKT names."""
    try:
        return System(text, describe(text))
    except CrsError:
        return System(text)


def same_system(a: str, b: str) -> Condition:
    """Return the condition that two systems place points alike; what is unreadable is unclear.

    Heights are compared by other rules.
    """

    def judge(values: Values) -> Answer:
        first, second = (_take_flat(values.by_key.get(key)) for key in (a, b))
        if first is None or second is None:
            return Answer.UNCLEAR
        return Answer.BROKEN if compare(first, second) else Answer.HOLDS

    return judge


def _take_flat(system: object) -> Crs | None:
    if not isinstance(system, System) or system.crs is None:
        return None
    return replace(system.crs, vertical=None)


def same_zone(a: str, b: str) -> Condition:
    """Return the condition that two zones are one.

    Unclear are a zone without a hemisphere, and `S`, which is also a band of the north.
    """

    def judge(values: Values) -> Answer:
        zones = [_ZONE.search(str(values.by_key.get(key, ""))) for key in (a, b)]
        if zones[0] is None or zones[1] is None:
            return Answer.UNCLEAR
        (number, letter), (other, second) = (zone.groups() for zone in zones if zone is not None)
        if int(number) != int(other):
            return Answer.BROKEN
        letter, second = letter.upper(), second.upper()
        if letter == second:
            return Answer.HOLDS
        if not letter or not second or "S" in (letter, second):
            return Answer.UNCLEAR
        return Answer.HOLDS if _is_north(letter) == _is_north(second) else Answer.BROKEN

    return judge


def _is_north(letter: str) -> bool:
    return letter >= _FIRST_NORTHERN_BAND


def read_wish(key: str, evidence: Evidence) -> tuple[str, object]:
    """Return the key of `job.toml` that decides about something, and what it says."""
    name, read = WISHES[key]
    return name, read(evidence)


def _read_system(evidence: Evidence) -> System | None:
    crs = evidence.specified_crs
    return None if crs is None else System(crs.name, crs)


def _read_frame(evidence: Evidence) -> str:
    return "" if evidence.specified_crs is None else name_frame(evidence.specified_crs)


def _read_ellipsoid(evidence: Evidence) -> str:
    return "" if evidence.specified_crs is None else evidence.specified_crs.ellipsoid


def _read_zone(evidence: Evidence) -> str:
    crs = evidence.specified_crs
    return "" if crs is None else crs.utm_zone or NO_ZONE


def _read_flat_unit(evidence: Evidence) -> str:
    named = evidence.specification.coordinates.unit.horizontal
    crs = evidence.specified_crs
    return named or ("" if crs is None or crs.unit is None else crs.unit.name)


def _read_height_unit(evidence: Evidence) -> str:
    named = evidence.specification.coordinates.unit.vertical
    crs = evidence.specified_vertical
    vertical = None if crs is None else crs.vertical
    return named or ("" if vertical is None or vertical.unit is None else vertical.unit.name)


def _read_density(evidence: Evidence) -> str:
    section = evidence.specification.criteria.get("point-density")
    density = section.get("min_pts_per_m2") if isinstance(section, Mapping) else None
    return "" if density is None else f"{density}"


WISHES: Mapping[str, tuple[str, Callable[[Evidence], object]]] = {
    "job.system": ("coordinates.horizontal", _read_system),
    "job.frame": ("coordinates.horizontal", _read_frame),
    "job.ellipsoid": ("coordinates.horizontal", _read_ellipsoid),
    "job.zone": ("coordinates.horizontal", _read_zone),
    "job.density": ("criteria.point-density.min_pts_per_m2", _read_density),
    "job.unit_horizontal": ("coordinates.unit.horizontal", _read_flat_unit),
    "job.unit_vertical": ("coordinates.unit.vertical", _read_height_unit),
}
