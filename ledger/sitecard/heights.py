"""Lines and facts about the geoid: each grid at hand, its slope, and one against another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.expected import Place, find_geoid_height, find_geoid_slope
from ledger.sitecard.result import Fact, Line, Missing, Part

Told = Fact | Line | Missing


@dataclass(frozen=True, slots=True)
class Grid:
    """A geoid grid to look at.

    Args:
        name: what it is called: the name of the job, or that of the file.
        path: where it lies; None where no file of it is at hand.
        reason: why it is not at hand; empty when it is.
        why: why it would count as the right one, as a clause.
    """

    name: str
    path: Path | None
    reason: str = ""
    why: str = ""


def tell_geoids(grids: Sequence[Grid], place: Place) -> Iterator[Told]:
    """Yield what is to be expected of heights; the first grid that has a value is the right one.

    A cloud whose heights are above the ellipsoid lies N above the right ones (h = H + N), and one
    from which the geoid was taken twice lies N below.

    Args:
        grids: the grid of the job first, then those named, then others, the finest first.
        place: where.
    """
    if not grids:
        yield Missing(
            "geoid-height", "no geoid grid is at hand: register one, or name its file with --geoid"
        )
    first: tuple[Grid, float] | None = None
    for grid in grids:
        if grid.path is None:
            yield Missing("geoid-height", f"{grid.name}: {grid.reason}")
            continue
        height = find_geoid_height(grid.path, place)
        if height.value is None:
            yield Missing("geoid-height", height.reason)
            continue
        chosen = f" (counts as right: {grid.why})" if first is None and len(grids) > 1 else ""
        label = f"geoid height of {grid.name}{chosen}"
        yield Fact("geoid-height", label, Part("height", height.value, "m"), height.how)
        if first is None:
            first = grid, height.value
            yield from _tell_wrong_kinds(grid, height.value, height.how)
            yield from _tell_slope(grid, grid.path, place)
        else:
            yield _tell_other(first, (grid, height.value), height.how)


def _tell_wrong_kinds(grid: Grid, height: float, how: str) -> Iterator[Line]:
    for topic, off, why in (
        ("ellipsoidal-heights", height, "heights are above the ellipsoid, no geoid was applied"),
        ("geoid-twice", -height, "the geoid was applied twice, or checkpoints are ellipsoidal"),
        ("geoid-reversed", 2 * height, "the geoid was added in place of taken off"),
    ):
        yield Line(topic, (Part("height", off, "m"),), abs(off), f"{why} ({grid.name})", how)


def _tell_slope(grid: Grid, path: Path, place: Place) -> Iterator[Told]:
    """Yield the tilt of heights that were all reduced by the geoid height of one place."""
    slope = find_geoid_slope(path, place)
    if slope.parts is None:
        yield Missing("geoid-slope", f"slope: {slope.reason}")
        return
    east, north, _ = slope.parts
    yield Line(
        "single-geoid-height",
        (Part("tilt to the east", east, "m/km"), Part("to the north", north, "m/km")),
        math.hypot(east, north),
        f"one geoid height was used for the whole site ({grid.name})",
        slope.how,
    )


def _tell_other(right: tuple[Grid, float], used: tuple[Grid, float], how: str) -> Line:
    """H = h - N: heights by another grid lie off by the right geoid less the other one."""
    off = right[1] - used[1]
    why = f"{used[0].name} was used in place of {right[0].name}"
    return Line("other-geoid", (Part("height", off, "m"),), abs(off), why, how)
