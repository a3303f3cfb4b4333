"""Which foot does a header mean: by size, by name and by the code of its system.

The two feet differ by 2 millionths: nothing in heights, metres where coordinates count in millions,
and no checkpoint height shows it. So the text has to be without contradiction.

Sizes: 0.3048 m and 1200/3937 m (EPSG units of measure 9002 and 9003).
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterator

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import describe
from ledger.errors import CrsError
from ledger.expected import compute_misread_foot
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.header import LasHeader
from ledger.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT
from lidar_checks.header.box import find_best_box
from lidar_checks.header.file_check import FileCheck, find_crs

_SOURCE = "EPSG units of measure 9002 (0.3048 m) and 9003 (1200/3937 m)"
_INTERNATIONAL, _SURVEY = float(INTERNATIONAL_FOOT.factor), float(US_SURVEY_FOOT.factor)
_WORDS = {_INTERNATIONAL: "international feet", _SURVEY: "US survey feet"}

# Written factors may be rounded; a billionth is a millimetre in a thousand kilometres.
_EXACT = 1e-9
# Anything between these sizes is meant to be one of the two feet.
_LEAST, _MOST = 0.3047, 0.3049

_UNIT = re.compile(r'(?:LENGTHUNIT|UNIT)\s*[\[(]\s*"([^"]*)"\s*,\s*([0-9.eE+-]+)', re.IGNORECASE)


class FootKind(FileCheck):
    """A header in feet says without contradiction which foot."""

    id = "foot-kind"
    title = "A header in feet says without contradiction which foot it means"
    catalogue = ("UN-02",)
    rests_on = ("crs",)

    def find_kind(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Hashable | None:
        """Return what files have alike; one in feet stands alone: its place says what it costs."""
        crs = find_crs(file)
        return super().find_kind(file, header, plan) if crs is None or not _is_foot(crs) else None

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return whether size, name and code of the unit of one file fit."""
        del plan, evidence
        crs = find_crs(file)
        if crs is None or crs.kind is CrsKind.NONE:
            yield self.not_assessed(
                file.path,
                f"{file.path} states no readable coordinate system, so no unit.",
                ("header CRS",),
                where=Where(file.path),
            )
            return
        size = crs.metres_per_unit
        if size is None or not _is_foot(crs):
            yield self.conforms(
                file.path, f"{file.path} has X and Y in no kind of foot.", where=Where(file.path)
            )
            return
        foot = find_foot(size)
        cost = _describe_cost(file)
        fault = _find_fault(header, crs, size, foot)
        if fault:
            yield self.nonconforming(
                Grade.MINOR,
                file.path,
                f"{file.path}: {fault}{cost}.",
                observed=fault,
                required="one kind of foot",
                criterion_source=_SOURCE,
                remedy="Find out which foot the processing used, and export again with that one.",
                where=Where(file.path),
            )
        elif foot is not None:
            yield self.conforms(
                file.path,
                f"{file.path} has X and Y in {_WORDS[foot]}{cost}.",
                where=Where(file.path),
            )


def _is_foot(crs: Crs) -> bool:
    """Say whether a system counts in a unit that is meant to be one of the two feet."""
    return crs.metres_per_unit is not None and _LEAST < crs.metres_per_unit < _MOST


def find_foot(size: float) -> float | None:
    """Return the exact size of the foot that a written size is; None for neither."""
    for foot in (_INTERNATIONAL, _SURVEY):
        if abs(size / foot - 1) <= _EXACT:
            return foot
    return None


def _find_fault(header: LasHeader, crs: Crs, size: float, foot: float | None) -> str:
    if foot is None:
        return f"its unit of {size:.12g} m is neither the international nor the US survey foot"
    for name, factor in _UNIT.findall(header.wkt or ""):
        named, written = _find_named(name), find_foot(_read(factor))
        if named is not None and written is not None and named != written:
            return f"a unit called {name!r} has {factor} m, which is that of {_WORDS[written]}"
    registered = _find_registered(crs)
    if registered is not None and registered != foot:
        return f"its unit is that of {_WORDS[foot]}, and {crs.code} is in {_WORDS[registered]}"
    return ""


def _find_named(name: str) -> float | None:
    """Return the foot that a name names; None where it says `foot` only, or something else."""
    plain = re.sub(r"[^a-z]", "", name.casefold())
    if "us" in plain or "survey" in plain:
        return _SURVEY
    return _INTERNATIONAL if "internat" in plain else None


def _read(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0


def _find_registered(crs: Crs) -> float | None:
    """Return the foot in which the registry has the system of that code."""
    if not crs.code:
        return None
    try:
        size = describe(crs.code).metres_per_unit
    except CrsError:
        return None
    return find_foot(size) if size is not None else None


def _describe_cost(file: DeliveredFile) -> str:
    """Return what confusing the two would cost at the coordinates of a file."""
    box = find_best_box(file)
    if box is None:
        return ""
    largest = max(abs(bound) for axis in (0, 1) for bound in box.bounds(axis))
    off = float(compute_misread_foot(largest))
    return f"; taken for the other foot, the points are {off:.3g} m off here"
