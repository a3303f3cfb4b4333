"""Places of findings in degrees, for maps and telephones.

Worked out for findings alone, never for points, so that an audit without a finding against the
delivery loads no coordinate library for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from ledger.contract.evidence import DeliveredFile
from ledger.crs import compare, to_lonlat
from ledger.errors import CrsError
from ledger.model.finding import Finding, Outcome
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.header import LasHeader

_USABLE = (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC)


class Places:
    """Finds longitude and latitude of findings about one delivery."""

    def __init__(self, specified: Crs | None, files: Iterable[DeliveredFile]) -> None:
        """Take what is known of systems.

        Args:
            specified: the specified horizontal system; None when blank.
            files: the delivered files.
        """
        self._specified = specified
        self._files = {file.path: file for file in files}

    def add_lonlat(self, finding: Finding) -> Finding:
        """Return a finding with longitude and latitude.

        They are those of its easting and northing; of the middle of its file where it has none and
        says that something is wrong or open. Nothing is added where the system is unknown, or where
        file and specification state different ones: then nobody can say where the place is.
        """
        where = finding.where
        if where.lonlat is not None:
            return finding
        file = self._files.get(where.file)
        xy = where.xy
        if xy is None and file is not None and finding.outcome is not Outcome.CONFORMS:
            xy = _find_middle(file.header)
        system = self._find_system(file) if xy is not None else None
        if xy is None or system is None:
            return finding
        try:
            return replace(finding, where=replace(where, lonlat=to_lonlat(system, *xy)))
        except CrsError:
            return finding  # the place in its own units is there all the same

    def _find_system(self, file: DeliveredFile | None) -> Crs | None:
        reading = file.crs if file is not None else None
        stated = reading.governing.crs if reading is not None else None
        if stated is None or stated.kind not in _USABLE:
            return self._specified
        if self._specified is None:
            return stated
        alike = not compare(_flatten(stated), _flatten(self._specified))
        return self._specified if alike else None


def _flatten(system: Crs) -> Crs:
    """Return a system without its heights, which move no place on a map."""
    return replace(system, vertical=None)


def _find_middle(header: LasHeader | None) -> tuple[float, float] | None:
    """Return the middle of the box that a header states; None for none or an impossible one."""
    if header is None or not header.point_count:
        return None
    x, y = (
        (least + most) / 2
        for least, most in zip(header.minimum[:2], header.maximum[:2], strict=True)
    )
    return (x, y) if math.isfinite(x) and math.isfinite(y) else None
