"""Does anything of the delivery lie within the boundary of the site, by the boxes of its files.

Where nothing does, the folder is likely to be that of another job. Told from headers, before a
point is read; how much of the site holds points is for `boundary-coverage`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from ledger.contract.check import Check, Finding, Grade, Plan, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import compare, transform
from ledger.errors import CrsError
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.boundary import Polygon
from ledger.model.georeferencing import CrsKind
from ledger.model.phrases import count_things
from lidar_checks.header.box import find_best_box
from lidar_checks.header.file_check import SPECIFICATION_SOURCE, find_crs

Flat = tuple[float, float, float, float]


class BoundaryPlace(Check):
    """Something lies within the boundary."""

    id = "boundary-place"
    title = "The delivery lies where the boundary of the site lies"
    catalogue = ("PS-08",)
    needs = ("headers", "boundary")
    specification_keys = ("delivery.boundary", "coordinates.horizontal")

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Compare every box with the boundary."""
        del plan, summaries
        boundary = evidence.boundary
        placed = [box for file in evidence.point_files if (box := _place(file, evidence))]
        if boundary is None or not placed:
            told = "No point file has a box that can be compared with the boundary."
            yield self.not_assessed(WHOLE_DELIVERY, told, ("boxes in headers",))
            return
        inside = sum(any(touches(each, box) for each in boundary.polygons) for box in placed)
        files = count_things(len(placed), "file")
        if inside:
            told = f"{inside:,} of {files} reach into the boundary."
            yield self.conforms(WHOLE_DELIVERY, told)
            return
        west, south, east, north = boundary.box
        x, y = (placed[0][0] + placed[0][2]) / 2, (placed[0][1] + placed[0][3]) / 2
        away = float(np.hypot((west + east) / 2 - x, (south + north) / 2 - y))
        left_out = len(evidence.point_files) - len(placed)
        named = evidence.specification.delivery.boundary
        sentence = (
            f"Nothing of {files} lies within the boundary of the site, whose middle is {away:,.0f} "
            "units away: this may be the folder of another job."
        )
        parts: dict[str, Any] = {
            "observed": "0",
            "required": "1 or more",
            "unit": "files within the boundary",
            "criterion_source": f"{SPECIFICATION_SOURCE}: {named}",
            "where": Where(xy=(x, y)),
        }
        if left_out:
            more = f" {count_things(left_out, 'file')} could not be compared."
            yield self.inconclusive(WHOLE_DELIVERY, sentence + more, **parts)
            return
        remedy = "Look whether folder and boundary belong to this job, then at the system of both."
        yield self.nonconforming(Grade.MAJOR, WHOLE_DELIVERY, sentence, remedy=remedy, **parts)


def _place(file: DeliveredFile, evidence: Evidence) -> Flat | None:
    """Return the box of a file in the specified system; None where there is none."""
    box, stated, asked = find_best_box(file), find_crs(file), evidence.specified_crs
    if box is None:
        return None
    corners = box.corners()
    x, y = (np.array(axis) for axis in zip(*corners, strict=True))
    if asked is not None and stated is not None and stated.kind is not CrsKind.NONE:
        source, target = replace(stated, vertical=None), replace(asked, vertical=None)
        if compare(target, source):
            try:
                x, y, _ = transform(stated, asked, x, y)
            except CrsError:
                return None
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def touches(polygon: Polygon, box: Flat) -> bool:
    """Say whether a polygon and an upright box have a place in common."""
    rings = [np.array(ring, dtype=np.float64) for ring in polygon]
    a = np.concatenate([ring[:-1] for ring in rings])
    b = np.concatenate([ring[1:] for ring in rings])
    # The part of each edge that lies between both pairs of sides (Liang and Barsky 1984).
    begin, end = np.zeros(len(a)), np.ones(len(a))
    for axis in (0, 1):
        step = b[:, axis] - a[:, axis]
        level = step == 0
        with np.errstate(divide="ignore", invalid="ignore"):
            one = (box[axis] - a[:, axis]) / step
            other = (box[axis + 2] - a[:, axis]) / step
        within = (a[:, axis] >= box[axis]) & (a[:, axis] <= box[axis + 2])
        low = np.where(level, np.where(within, 0.0, 2.0), np.minimum(one, other))
        high = np.where(level, np.where(within, 1.0, -1.0), np.maximum(one, other))
        begin, end = np.maximum(begin, low), np.minimum(end, high)
    if bool((begin <= end).any()):
        return True
    # No edge meets the box: it lies within the polygon as a whole or outside of it.
    crossed = (a[:, 1] > box[1]) != (b[:, 1] > box[1])
    a, b = a[crossed], b[crossed]
    at = a[:, 0] + (box[1] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return bool(np.count_nonzero(at > box[0]) % 2)
