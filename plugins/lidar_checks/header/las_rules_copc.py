"""Rules on COPC: where its records stand, and what they say of its octree.

Source: COPC 1.0, implementation.
"""

from __future__ import annotations

import math

from ledger.model.copc import COPC_USER, HIERARCHY_RECORD, INFO_RECORD, CopcInfo
from ledger.model.finding import Grade
from ledger.model.phrases import count_things
from lidar_checks.header.las_rule import HeaderCase, LasRule

_COPC = "COPC 1.0, implementation"
_AGAIN = "Write the file again with a program that writes COPC; a plain LAZ file is no COPC."
_FORMATS = (6, 7, 8)
_HEADER_SIZE, _INFO_SIZE, _NODE_SIZE = 375, 160, 32


def _is_copc(case: HeaderCase) -> bool:
    return case.count_records(COPC_USER, INFO_RECORD) > 0


def _find_misplaced(case: HeaderCase) -> str:
    header = case.header
    if not _is_copc(case):
        return ""
    if not header.copc:
        return "its COPC record is not the first one"
    if header.header_size != _HEADER_SIZE:
        return f"its COPC record begins at byte {header.header_size}, not at {_HEADER_SIZE}"
    size = header.vlrs[0].size
    told = f"its COPC record is {count_things(size, 'byte')} long, not {_INFO_SIZE}"
    return told if size != _INFO_SIZE else ""


def _find_format(case: HeaderCase) -> str:
    header = case.header
    if not _is_copc(case):
        return ""
    if header.version != "1.4" or header.point_format not in _FORMATS:
        return f"it is COPC in LAS {header.version}, point format {header.point_format}"
    return "" if header.compressed else "it is COPC without compression"


def _find_lost_hierarchy(case: HeaderCase) -> str:
    if not _is_copc(case) or case.count_records(COPC_USER, HIERARCHY_RECORD):
        return ""
    return "it is COPC without its hierarchy of nodes"


def _find_lost_root(case: HeaderCase) -> str:
    """Look where the first page of the hierarchy is stated: readers begin there."""
    info = case.header.copc_info
    if info is None or not info.pages:
        return ""
    start, end = info.root_start, info.root_start + info.root_size
    page = f"the first page of its octree is stated at byte {start:,}, "
    if not info.root_size or info.root_size % _NODE_SIZE:
        return f"{page}{count_things(info.root_size, 'byte')} long, no multiple of {_NODE_SIZE}"
    if any(first <= start and end <= last for first, last in info.pages):
        return ""
    return f"{page}outside its hierarchy of nodes"


def _find_shape(case: HeaderCase) -> str:
    info = case.header.copc_info
    if info is None:
        return ""
    for name, value in (("spacing", info.spacing), ("half side", info.half_side)):
        if not (math.isfinite(value) and value > 0):
            return f"the {name} of its octree is stated as {value:.12g}"
    axis = _find_outside(case, info)
    return f"its octree does not hold its box along {axis}" if axis else ""


def _find_outside(case: HeaderCase, info: CopcInfo) -> str:
    """Return the axis along which the box of the header lies outside the octree; empty for none."""
    header = case.header
    if not header.has_points:
        return ""
    for axis, name in enumerate("XYZ"):
        low, high = info.centre[axis] - info.half_side, info.centre[axis] + info.half_side
        slack = header.scale[axis] + 4 * math.ulp(max(abs(low), abs(high)))
        if not (low - slack <= header.minimum[axis] and header.maximum[axis] <= high + slack):
            return name
    return ""


def _find_turned_times(case: HeaderCase) -> str:
    info = case.header.copc_info
    if info is None or info.time_range[0] <= info.time_range[1]:
        return ""
    least, greatest = info.time_range
    return f"its octree states a least GPS time of {least:.12g} and a greatest of {greatest:.12g}"


RULES = (
    LasRule("LAS-70", f"{_COPC}, info VLR", Grade.MINOR, _find_misplaced, _AGAIN),
    LasRule("LAS-71", f"{_COPC}, LAS PDRFs", Grade.MINOR, _find_format, _AGAIN),
    LasRule("LAS-72", f"{_COPC}, hierarchy VLR", Grade.MINOR, _find_lost_hierarchy, _AGAIN),
    LasRule(
        "LAS-73",
        f"{_COPC}, info VLR, root_hier_offset and root_hier_size",
        Grade.MINOR,
        _find_lost_root,
        _AGAIN,
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-74",
        f"{_COPC}, info VLR, center, halfsize and spacing",
        Grade.MINOR,
        _find_shape,
        _AGAIN,
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-75",
        f"{_COPC}, info VLR, gpstime_minimum and gpstime_maximum",
        Grade.OBSERVATION,
        _find_turned_times,
        _AGAIN,
        ("FT-06",),
        is_of_one_file=True,
    ),
)
