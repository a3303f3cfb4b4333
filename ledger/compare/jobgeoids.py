"""Whether two jobs used one geoid: by the bytes of the grids, or by what they say at the site.

A grid that was renamed, cut or resampled has other bytes and gives the same heights.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from ledger.crs import describe, to_lonlat
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.gridfiles import find_grid_file
from ledger.loading import load_part
from ledger.model.process import Process
from ledger.model.sitegeoid import GeoidComparison, Likeness, compare_site_geoids
from ledger.store.reading import Book

Place = tuple[float, float]


@dataclass(frozen=True)
class UsedGeoid:
    """The geoid grid of the runs of one job.

    Args:
        sha256: digest of the grid; empty where the runs name none, or several.
        path: a file with these bytes; None where none is at hand.
        corners: longitude and latitude of the corners of what the runs made, degrees; none without
            a path.
    """

    sha256: str = ""
    path: Path | None = None
    corners: tuple[Place, ...] = ()


def read_used_geoid(book: Book, runs: Iterable[Process]) -> UsedGeoid:
    """Return the grid that all runs of a job share, and where they lie.

    Args:
        book: the open book of the job.
        runs: the runs that speak for it.
    """
    listed = tuple(runs)
    grids = {
        (str(known.value), known.where)
        for run in listed
        if (known := run.find_value("geoid_file")) is not None
    }
    if len({sha256 for sha256, _ in grids}) != 1:
        return UsedGeoid()
    sha256, seen_at = min(grids)
    path = find_grid_file(book, sha256, seen_at)
    if path is None:
        return UsedGeoid(sha256)  # nothing will be read at the site
    return UsedGeoid(sha256, path, tuple(place for run in listed for place in _list_corners(run)))


def compare_used(one: UsedGeoid, two: UsedGeoid) -> GeoidComparison:
    """Hold the grids of two jobs against each other at five places of the first one's site."""
    if one.sha256 and one.sha256 == two.sha256:
        return GeoidComparison(Likeness.BYTES, 0.0)
    if one.path is None or two.path is None:
        return GeoidComparison(
            Likeness.UNKNOWN, reason="no file with the bytes of a grid is at hand"
        )
    corners = one.corners or two.corners
    if not corners:
        return GeoidComparison(Likeness.UNKNOWN, reason="nothing says where the site lies")
    places = load_part("ledger.expected", "list_five_places")(*zip(*corners, strict=True))
    read = load_part("ledger.expected", "read_site_geoid")
    return compare_site_geoids(
        read(one.path, one.sha256, places), read(two.path, two.sha256, places)
    )


def _list_corners(run: Process) -> Iterator[Place]:
    """Yield the corners of each output that says its box, where its system is understood."""
    named = run.find_value("crs")
    if named is None:
        return
    for output in run.outputs:
        low, high = output.file.facts.get("minimum"), output.file.facts.get("maximum")
        if not low or not high:
            continue
        for x in (low[0], high[0]):
            for y in (low[1], high[1]):
                try:
                    yield to_lonlat(describe(str(named.value)), float(x), float(y))
                except SwathbookError:
                    continue  # a box that lies nowhere on Earth is told by other checks
