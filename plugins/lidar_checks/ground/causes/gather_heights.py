"""The geoids of a job at the points: its own, others that it registered, and the receiver's."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.expected import find_geoid_heights
from lidar_checks.ground.causes.site_facts import GridHeights, Missing
from lidar_checks.ground.causes.site_place import Site

# Names of worldwide models (common practice, no source).
_WORLDWIDE = re.compile(r"e[gx]m[-_ ]?\d|xgm|eigen|ggm|goco", re.IGNORECASE)


@dataclass(frozen=True)
class Geoids:
    """What is known of geoids at the points; see `SiteFacts` for the parts."""

    grid: GridHeights | None = None
    others: tuple[GridHeights, ...] = ()
    receiver_m: float | None = None
    receiver_log: str = ""
    missing: tuple[Missing, ...] = ()

    @property
    def height_m(self) -> float:
        """Return the mean geoid height at the points; 0 where it is not known."""
        return 0.0 if self.grid is None else float(self.grid.heights.mean())


def gather_geoids(site: Site, evidence: Evidence) -> Geoids:
    """Return the geoid heights at the points, by each grid at hand and by the receiver."""
    found: list[GridHeights] = []
    missing: list[Missing] = []
    if site.has_place:
        for sha256, path in _list_grids(evidence):
            heights = _read(site, sha256, path, evidence)
            if isinstance(heights, GridHeights):
                found.append(heights)
            else:
                missing.append(heights)
    else:
        missing.append(Missing("grid", site.reason))
    own = next((each for each in found if each.sha256 == evidence.geoid_sha256), None)
    if own is None and not evidence.geoid_sha256 and found:
        # The job names no grid: the first that it uses stands for it, which is told by name.
        own = found[0]
    if own is None:
        missing.append(Missing("grid", "no grid that the job names is at hand"))
    others = tuple(each for each in found if each is not own)
    if not others:
        missing.append(Missing("other_grids", "no second grid is registered"))
    receiver, log = _find_receiver(evidence)
    if receiver is None:
        missing.append(Missing("receiver_m", "no position log states the receiver's own geoid"))
    return Geoids(own, others, receiver, log, tuple(missing))


def _list_grids(evidence: Evidence) -> list[tuple[str, str]]:
    """Return digest and path of each grid at hand, that of the specification first."""
    grids = {evidence.geoid_sha256: evidence.geoid_grid} if evidence.geoid_grid else {}
    for sha256, geoid in evidence.geoids.items():
        if geoid.path:
            grids.setdefault(sha256, geoid.path)
    return list(grids.items())


def _read(site: Site, sha256: str, path: str, evidence: Evidence) -> GridHeights | Missing:
    known = evidence.registered.get(sha256)
    name = known.path if known is not None else Path(path).name
    fact = "grid" if sha256 == evidence.geoid_sha256 else "other_grids"
    try:
        heights = find_geoid_heights(Path(path), site.lon, site.lat)
    except SwathbookError as error:
        return Missing(fact, str(error))
    if not np.isfinite(heights).all():
        return Missing(fact, f"{name} does not cover every point")
    return GridHeights(name, sha256, heights, bool(_WORLDWIDE.search(name)))


def _find_receiver(evidence: Evidence) -> tuple[float | None, str]:
    for track in evidence.logs.tracks:
        if track.separation_m is not None:
            first, last = track.separation_m
            return float(first + last) / 2, track.file.path
    return None, ""
