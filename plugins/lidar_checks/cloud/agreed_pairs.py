"""Tiles that may hold points of each other: those that reach no further than the agreed buffer."""

from __future__ import annotations

from ledger.contract.evidence import Evidence
from lidar_checks.cloud.seam_plan import find_pairs, measure_overlap
from lidar_checks.cloud.tile_boxes import find_boxes
from lidar_checks.header.tile_buffer import find_buffer_m

_EDGE_M = 0.5
"""How much further boxes may lie on each other: points on the edge itself, as tiles are judged by
their boxes (common practice, no source)."""


def find_agreed_pairs(evidence: Evidence) -> frozenset[tuple[str, str]]:
    """Return pairs of paths, in order, whose boxes lie on each other within agreed buffers."""
    buffer = find_buffer_m(evidence)
    tiles = find_boxes(evidence)
    if not buffer or tiles.common is None:
        return frozenset()
    boxes = tiles.boxes
    allowed = (2 * buffer + _EDGE_M) / float(tiles.common.metres) * evidence.lattice.steps_xy
    return frozenset(
        (min(pair), max(pair))
        for pair in find_pairs(boxes, 0)
        if 0 <= measure_overlap(boxes[pair[0]], boxes[pair[1]]) <= allowed
    )
