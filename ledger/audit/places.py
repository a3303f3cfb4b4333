"""Places of findings in degrees, for maps and telephones."""

from __future__ import annotations

from dataclasses import replace

from ledger.crs import to_lonlat
from ledger.errors import CrsError
from ledger.model.finding import Finding
from ledger.model.georeferencing import Crs


def add_lonlat(finding: Finding, crs: Crs | None) -> Finding:
    """Return a finding with longitude and latitude beside its easting and northing.

    Args:
        finding: a finding; its place is in the units of the specified CRS.
        crs: the specified CRS; None when blank, and then nothing is added.
    """
    where = finding.where
    if crs is None or where.xy is None or where.lonlat is not None:
        return finding
    try:
        return replace(finding, where=replace(where, lonlat=to_lonlat(crs, *where.xy)))
    except CrsError:
        return finding  # the place in its own units is there all the same
