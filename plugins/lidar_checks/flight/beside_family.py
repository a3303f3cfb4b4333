"""The family of the checks that look at points beside the trajectory: one tally serves them all."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Mapping
from pathlib import Path as FilePath
from typing import Any, cast

import numpy as np

from ledger.contract.check import (
    Criteria,
    DeliveredFile,
    Evidence,
    Family,
    FamilyCheck,
    Finding,
    NoCriteria,
    Plan,
    Tally,
)
from ledger.crs import sample_geoid
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.model.artefact import Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.fieldlogs import Track
from ledger.model.timescale import WEEK_S
from lidar_checks.cloud.file_units import (
    HEIGHT_KEYS,
    PLAN_KEYS,
    Scale,
    find_horizontal_scale,
    find_vertical_scale,
)
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.flight.beside_tally import BesideSummary, BesideTally, FileView, PathIndex
from lidar_checks.flight.flight_check import name_file
from lidar_checks.flight.paths import BROKEN_S, Floats, Path, find_lines, make_path, mark_lines
from lidar_checks.header.middle import find_site

# A line is cut where its turn begins; what was measured just there belongs to it.
_LINE_MARGIN_S = 3.0

NO_TRAJECTORY = "No trajectory with known times and places stands behind the points."


@dataclass(frozen=True, eq=False)
class Beside:
    """The path that points are looked at beside.

    Args:
        index: where it was at each moment.
        tracks: the tracks that it was put together from.
        shift_m: what was taken off heights for the geoid; 0 for none.
        geoid_m: geoid height at the site; None where it is not known.
        heights: `same` as those of the points, `unlike` them (an ellipsoidal path beside
            orthometric points, with no grid at hand), or `unknown`.
        flights: flights that have a path.
        without: flights that have none.
    """

    index: PathIndex
    tracks: tuple[Track, ...]
    shift_m: float
    geoid_m: float | None
    heights: str
    flights: tuple[str, ...]
    without: tuple[str, ...]

    @property
    def names(self) -> str:
        """Return the names of the files."""
        return ", ".join(name_file(track) for track in self.tracks)

    @property
    def can_prove(self) -> bool:
        """Say whether the clock of every track is known well enough to pass on."""
        return all(track.scale is not None and track.scale.can_prove for track in self.tracks)


class BesidePlan(Plan):
    """What was worked out before the points.

    Attributes:
        beside: the path; None where there is none.
        views: how the numbers of each file are read, by path of those that can be.
    """

    beside: Beside | None
    views: dict[str, FileView]


class BesideFamily(Family):
    """Points beside the path that they were measured from."""

    id = "beside-path"
    dimensions = frozenset({"gps_time"})

    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        """Take the path and the units from any member; all have found the same."""
        first = cast("BesidePlan", next(iter(members.values())))
        return BesidePlan(NoCriteria(), evidence.lattice, beside=first.beside, views=first.views)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally, or one that passes over a file beside no path."""
        laid = cast("BesidePlan", plan)
        if laid.beside is None or file.path not in laid.views:
            return IdleTally()
        stated = file.header.point_count if file.header is not None else 0
        return BesideTally(laid.beside.index, laid.views[file.path], stated)


FAMILY = BesideFamily()


class BesideCheck(FamilyCheck):
    """A check of points beside the path; a subclass says what it makes of the counts."""

    family = FAMILY
    needs = ("points",)
    specification_keys = (
        *PLAN_KEYS,
        *HEIGHT_KEYS,
        "coordinates.vertical",
        "coordinates.geoid.file",
    )

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Put the path together."""
        beside = find_beside(evidence)
        begin = 0.0 if beside is None else float(beside.index.time_s[0])
        views = find_views(evidence, begin)
        return BesidePlan(criteria, evidence.lattice, beside=beside, views=views)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge all files together; each flight has one path, whatever the tiles."""
        beside = cast("BesidePlan", plan).beside
        counted = {
            path: each for path, each in summaries.items() if isinstance(each, BesideSummary)
        }
        if beside is None:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                NO_TRAJECTORY,
                needs=("trajectory",),
                remedy="Register the trajectory with its flight (swathbook register FILE --flight "
                "F1)",
            )
        elif not any(each.looked for each in counted.values()):
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No point with a GPS time and a known unit was read.",
                needs=("points: GPS time",),
            )
        else:
            yield from self.judge(plan, beside, counted, evidence)

    @abstractmethod
    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Return what the files show together; some have points."""


def find_beside(evidence: Evidence, *, with_heights: bool = True) -> Beside | None:
    """Return the path behind a delivery, of one track a flight; None where there is none.

    Args:
        evidence: what is known.
        with_heights: bring its heights to those of the points, as far as the job tells how.
    """
    chosen: list[tuple[Track, Path]] = []
    without = []
    for card in evidence.flights:
        best = _choose(evidence.logs.list_tracks(card.id))
        if best is None:
            without.append(card.id)
        elif best[0] not in [track for track, _ in chosen]:
            chosen.append(best)
    if not chosen:
        return None
    chosen.sort(key=lambda each: float(each[1].time_s[0]))
    tracks = tuple(track for track, _ in chosen)
    heights, shift, geoid = "unknown", 0.0, None
    if with_heights:
        heights, shift, geoid = _settle_heights(tracks, evidence)
    index = _join([path for _, path in chosen], shift)
    flights = tuple(card.id for card in evidence.flights if card.id not in without)
    return Beside(index, tracks, shift, geoid, heights, flights, tuple(without))


def _choose(tracks: Iterable[Track]) -> tuple[Track, Path] | None:
    """Return the track to look points up on: a run's before a raw trajectory before a log."""
    usable = [
        (track, path)
        for track in tracks
        if track.place != "local" and (path := make_path(track)) is not None
    ]
    order = {Role.TRAJECTORY: 0, Role.FLIGHT_LOG: 1}
    return min(
        usable,
        key=lambda each: (order.get(Role(each[0].file.role), 2), not each[0].file.run),
        default=None,
    )


def _settle_heights(
    tracks: tuple[Track, ...], evidence: Evidence
) -> tuple[str, float, float | None]:
    """Return whether heights of path and points are alike, what brings them together, and N."""
    geoid = _find_geoid(evidence)
    wanted = evidence.specification.coordinates.vertical
    kinds = {None if track.height_type is None else track.height_type.value for track in tracks}
    if wanted is None or len(kinds) != 1 or None in kinds:
        return "unknown", 0.0, geoid
    (kind,) = kinds
    if kind == wanted:
        return "same", 0.0, geoid
    if kind == "ellipsoidal" and wanted == "orthometric" and geoid is not None:
        return "same", geoid, geoid
    return "unlike", 0.0, geoid


def _find_geoid(evidence: Evidence) -> float | None:
    site = find_site(evidence)
    if not evidence.geoid_grid or site is None:
        return None
    try:
        return sample_geoid(FilePath(evidence.geoid_grid), *site)
    except SwathbookError:
        return None


def _join(paths: list[Path], shift: float) -> PathIndex:
    """Return one index; between two flights nothing is known, as they lie far apart in time."""
    parts = []
    reached = -np.inf
    for path in paths:
        later = path.time_s > reached
        lines = mark_lines(path.time_s, find_lines(path)) > 0
        parts.append([each[later] for each in (*_columns(path), _widen(path.time_s, lines))])
        reached = max(reached, float(path.time_s[-1]))
    time, east, north, height, line = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    steps = [float(np.median(np.diff(path.time_s))) for path in paths]
    return PathIndex(
        time, east, north, height - shift, line, max(BROKEN_S, *(3 * s for s in steps))
    )


def _columns(path: Path) -> tuple[Floats, Floats, Floats, Floats]:
    return path.time_s, path.east_m, path.north_m, path.height_m


def _widen(times: Floats, lines: Any) -> Any:  # noqa: ANN401 - arrays of booleans
    """Return lines with what was flown just before and after them."""
    inside = times[lines]
    if not len(inside):
        return lines
    after = np.clip(np.searchsorted(inside, times), 0, len(inside) - 1)
    before = np.clip(after - 1, 0, len(inside) - 1)
    apart = np.minimum(np.abs(inside[after] - times), np.abs(times - inside[before]))
    return apart <= _LINE_MARGIN_S


def find_views(evidence: Evidence, begin: float) -> dict[str, FileView]:
    """Return how each file is read; seconds of a week are those of the week of a moment."""
    views = {}
    for file in evidence.point_files:
        scale = find_horizontal_scale(file, evidence)
        if file.header is None or not isinstance(scale, Scale):
            continue
        height = find_vertical_scale(file, evidence, scale)
        week = float(np.floor(begin / WEEK_S) * WEEK_S)
        origin = file.header.time_origin_s
        views[file.path] = FileView(
            float(scale.metres / evidence.lattice.steps_xy),
            float(height.metres / evidence.lattice.steps_z),
            week if origin is None else origin,
        )
    return views


def add_up(counted: Iterable[BesideSummary], name: str) -> int:
    """Return a count over all files, each weighted by what it stands for."""
    return sum(int(getattr(each, name)) * each.weight for each in counted)


def add_bins(counted: Iterable[BesideSummary], name: str) -> Any:  # noqa: ANN401 - an array
    """Return bins over all files, (n,), int64."""
    return sum(getattr(each, name) * each.weight for each in counted)


def find_percentile(bins: Any, share: float, lowest: int = 0) -> float | None:  # noqa: ANN401
    """Return the value below which a share of all lies, as if each bin were evenly filled.

    None for empty bins.
    """
    total = int(bins.sum())
    if not total:
        return None
    reached = np.cumsum(bins)
    at = int(np.searchsorted(reached, share * total))
    within = (share * total - (reached[at] - bins[at])) / bins[at]
    return float(lowest + at + within)
