"""A geoid grid by what it says at five places of a site: its middle and its corners."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ledger.crs import sample_geoid_at
from ledger.errors import SwathbookError
from ledger.model.sitegeoid import SiteGeoid

_DECIMALS = 7  # about a centimetre on the ground


def list_five_places(
    lons: Sequence[float], lats: Sequence[float]
) -> tuple[tuple[float, float], ...]:
    """Return the middle and the four corners of the box round some places, degrees.

    Args:
        lons: degrees east, at least one; on both sides of 180 they are taken the short way.
        lats: degrees north, as many.
    """
    near = [lons[0] + (lon - lons[0] + 180.0) % 360.0 - 180.0 for lon in lons]
    west, east, south, north = min(near), max(near), min(lats), max(lats)
    middle = (west + east) / 2, (south + north) / 2
    corners = [(x, y) for y in (south, north) for x in (west, east)]
    return tuple(
        (round((lon + 180.0) % 360.0 - 180.0, _DECIMALS), round(lat, _DECIMALS))
        for lon, lat in (middle, *corners)
    )


def read_site_geoid(grid: Path, sha256: str, places: tuple[tuple[float, float], ...]) -> SiteGeoid:
    """Return what a grid says at some places, or why it says nothing.

    Args:
        grid: a file that PROJ reads as a grid of geoid heights.
        sha256: digest of its bytes.
        places: longitude and latitude, degrees.
    """
    lons, lats = zip(*places, strict=True)
    try:
        heights = tuple(float(height) for height in sample_geoid_at(grid, lons, lats))
    except SwathbookError as error:
        return SiteGeoid(sha256, str(grid), places, reason=str(error))
    return SiteGeoid(sha256, str(grid), places, heights)
