"""What the geoid grids behind a delivery say at its site, so that checks can hold them together."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from ledger.contract.evidence import DeliveredFile
from ledger.crs import to_lonlat
from ledger.errors import CrsError
from ledger.expected.fiveplaces import list_five_places, read_site_geoid
from ledger.model.boundary import Boundary
from ledger.model.georeferencing import Crs
from ledger.model.sitegeoid import SiteGeoid

# A file whose label is wrong lies anywhere on Earth; no site reaches so far from its middle.
_FARTHEST_DEG = 0.5

Places = tuple[tuple[float, float], ...]


def find_site_places(
    boundary: Boundary | None, horizontal: Crs | None, files: Iterable[DeliveredFile]
) -> Places:
    """Return the middle and the corners of a site, degrees; empty where it has no place on Earth.

    Args:
        boundary: the outline, in the specified system; None without one.
        horizontal: the specified system; None when blank.
        files: the delivered files, of whose headers the boxes count where there is no outline.
    """
    if boundary is not None and boundary.polygons and horizontal is not None:
        found = list(_place_box(horizontal, boundary.box))
    else:
        found = [place for file in files for place in _list_corners(file, horizontal)]
    if not found:
        return ()
    lon, lat = (statistics.median(axis) for axis in zip(*found, strict=True))
    near = [
        place
        for place in found
        if abs((place[0] - lon + 180.0) % 360.0 - 180.0) <= _FARTHEST_DEG
        and abs(place[1] - lat) <= _FARTHEST_DEG
    ]
    return list_five_places(*zip(*near, strict=True)) if near else ()


def read_site_geoids(grids: Mapping[str, Path | None], places: Places) -> dict[str, SiteGeoid]:
    """Return what grids say at some places, by the digest of each.

    Args:
        grids: a file of each digest; None where none is at hand.
        places: longitude and latitude, degrees; none where the site has no place on Earth.
    """
    return {sha256: _read(path, sha256, places) for sha256, path in grids.items()}


def _read(path: Path | None, sha256: str, places: Places) -> SiteGeoid:
    if path is None:
        return SiteGeoid(sha256, reason="no file with the bytes of this grid is at hand")
    if not places:
        return SiteGeoid(sha256, str(path), reason="nothing says where the site lies")
    return read_site_geoid(path, sha256, places)


def _list_corners(file: DeliveredFile, horizontal: Crs | None) -> Iterator[tuple[float, float]]:
    governing = file.crs.governing.crs if file.crs is not None else None
    crs, header = governing or horizontal, file.header
    if crs is None or header is None or header.point_count == 0:
        return
    yield from _place_box(crs, (*header.minimum[:2], *header.maximum[:2]))


def _place_box(crs: Crs, box: tuple[float, float, float, float]) -> Iterator[tuple[float, float]]:
    """Yield the corners of a box that lie somewhere on Earth."""
    for x in (box[0], box[2]):
        for y in (box[1], box[3]):
            try:
                yield to_lonlat(crs, x, y)
            except CrsError:
                continue  # a box that is no place on Earth is a finding of another check
