"""Runs that are all on record as the makers of the same points, with settings that exclude that.

Heights above the ellipsoid and above the geoid lie metres apart, another mount mode or antenna
moves every point: no two of them give the same points. So one of the records is wrong. Source:
common practice, no source.

A step that left a file as it was, and a run made from what the other made, contradict nothing.
"""

from __future__ import annotations

import re
from itertools import combinations

from ledger.contract.check import DeliveredFile
from ledger.dataclass import dataclass
from ledger.model.lineage import Line, MatchedBy
from ledger.model.process import Process

_HEIGHTS, _GEOID, _CRS = "output_height_type", "geoid_name", "crs"
_MOVING = (_HEIGHTS, "mount_mode", "position_source", _GEOID, _CRS)
# What leaves room for the other: post-processed positions are of either antenna, no geoid was
# applied to heights that came in as orthometric.
_VAGUE = frozenset({"post-processed", "none"})
_CODE = re.compile(r"EPSG:\d+", re.IGNORECASE)
_SPELLING = re.compile(r"[\W_]+")


@dataclass(frozen=True)
class Contradiction:
    """Two runs that cannot both have made the same points.

    Args:
        one: the run that is recorded as the maker.
        other: the other one.
        settings: names of the settings that differ, without the kind of record.
    """

    one: Process
    other: Process
    settings: tuple[str, ...]

    def describe(self, process: Process) -> str:
        """Return what one of the two has on record: `output height type ellipsoidal`."""
        told = ((name, _prove(name, process)) for name in self.settings)
        return ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in told)


def find_contradiction(file: DeliveredFile) -> Contradiction | None:
    """Return the first two runs behind a point file that contradict each other; None for none.

    A raster may be the same for other heights, and so is every file without any points.
    """
    custody = file.custody
    if custody is None or file.kind != "points" or (file.header and not file.header.point_count):
        return None
    if custody.matched_by not in (MatchedBy.DIGEST, MatchedBy.POINTS):
        return None
    runs = [line for line in custody.lines if line.processes[0].kind == "run"]
    for first, second in combinations(runs, 2):
        one, other = first.processes[0], second.processes[0]
        settings = () if _descends(first, second) else _list_settings(one, other)
        if settings:
            return Contradiction(one, other, settings)
    return None


def _descends(first: Line, second: Line) -> bool:
    return first.processes[0] in second.processes or second.processes[0] in first.processes


def _list_settings(one: Process, other: Process) -> tuple[str, ...]:
    return tuple(name for name in _MOVING if _excludes(name, one, other))


def _excludes(name: str, one: Process, other: Process) -> bool:
    """Say whether two runs with these values cannot give the same points.

    Only what both can prove counts. Site heights may be orthometric ones; a geoid matters to
    orthometric heights alone; names count without their spelling, and codes only against codes.
    """
    first, second = _prove(name, one), _prove(name, other)
    if not first or not second or first == second or {first, second} & _VAGUE:
        return False
    if name == _HEIGHTS:
        return "ellipsoidal" in (first, second)
    if name == _GEOID:
        heights = _prove(_HEIGHTS, one), _prove(_HEIGHTS, other)
        return heights == ("orthometric", "orthometric") and _spell(first) != _spell(second)
    if name == _CRS:
        return all(map(_CODE.fullmatch, (first, second))) and _spell(first) != _spell(second)
    return True


def _prove(name: str, process: Process) -> str:
    """Return a value as text; empty where none is known that can prove something."""
    known = process.find_value(name)
    return str(known.value) if known is not None and known.can_prove and known.value else ""


def _spell(name: str) -> str:
    return _SPELLING.sub("", name).casefold()
