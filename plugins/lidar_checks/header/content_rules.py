"""What a customer may ask of the content of a LAS file: a row for each of `las-content`."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from ledger.contract.evidence import DeliveredFile
from ledger.dataclass import dataclass
from ledger.model.georeferencing import Crs
from ledger.model.header import LasHeader
from lidar_checks.header.content_criteria import LasContentCriteria
from lidar_checks.header.file_check import find_crs
from lidar_checks.header.unit_size import find_flat_unit, find_height_unit

_EXPORT = "Export again as the customer asks."
_PROJECTION = "LASF_Projection"
_CRS_RECORDS = (2112, 34735)
_NODE = re.compile(r'"[^"]*"|([A-Za-z_]\w*)\s*[\[(]')
_GEOID_IN_NAME = re.compile(r" - \S+")

# Words after the path, what was found, what was asked; None where the file is as asked.
Fault = tuple[str, str, str] | None


@dataclass(frozen=True)
class ContentCase:
    """One file and its header."""

    file: DeliveredFile
    header: LasHeader

    @property
    def crs(self) -> Crs | None:
        """Return the coordinate system that governs; None when absent or not understood."""
        return find_crs(self.file)


@dataclass(frozen=True)
class ContentRow:
    """One criterion.

    Args:
        field: its name in the criteria.
        read: its value, None while blank.
        words: what it is about.
        catalogue: failure that a breach is.
        find: what is not as asked.
        remedy: one thing to do.
        is_told_only: a breach is an observation.
    """

    field: str
    read: Callable[[LasContentCriteria], Any]
    words: str
    catalogue: str
    find: Callable[[ContentCase, Any], Fault]
    remedy: str = _EXPORT
    is_told_only: bool = False


def _join(values: tuple[object, ...]) -> str:
    return " or ".join(str(value) for value in values)


def _find_version(case: ContentCase, asked: tuple[str, ...]) -> Fault:
    found = case.header.version
    if found in asked:
        return None
    return f"is LAS {found}, LAS {_join(asked)} is asked for", found, _join(asked)


def _find_format(case: ContentCase, asked: tuple[int, ...]) -> Fault:
    found = case.header.point_format
    if found in asked:
        return None
    told = f"has point format {found}, {_join(asked)} is asked for"
    return told, str(found), _join(asked)


def _find_uncompressed(case: ContentCase, asked: bool) -> Fault:  # noqa: FBT001
    if case.header.compressed == asked:
        return None
    return "is not compressed, LAZ is asked for", "LAS", "LAZ"


def _find_time(case: ContentCase, asked: str) -> Fault:
    if not case.header.has_gps_time:
        return f"has no GPS time, {asked} is asked for", "none", asked
    found = "adjusted-standard" if case.header.has_adjusted_time else "week-seconds"
    if found == asked:
        return None
    return f"declares GPS time as {found}, {asked} is asked for", found, asked


def _find_wkt(case: ContentCase, asked: tuple[str, ...]) -> Fault:
    crs = case.file.crs.wkt.crs if case.file.crs is not None else None
    found = crs.dialect if crs is not None else "no readable WKT"
    if found in asked:
        return None
    told = f"writes its coordinate system as {found}, {_join(asked)} is asked for"
    return told, found, _join(asked)


def _find_several(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    number = sum(
        record.user_id == _PROJECTION and record.record_id in _CRS_RECORDS
        for record in case.header.vlrs
    )
    if number < 2:
        return None
    told = f"has {number} coordinate system records, all but one have to be marked as superseded"
    return told, str(number), "1"


def _find_no_vertical(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    if case.crs is not None and case.crs.vertical is not None:
        return None
    told = "has no vertical part in its coordinate system, a compound one is asked for"
    return told, "no vertical part", "horizontal and vertical part"


def _find_no_geoid(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    vertical = case.crs.vertical if case.crs is not None else None
    if vertical is not None and (vertical.is_ellipsoidal or _GEOID_IN_NAME.search(vertical.name)):
        return None
    found = vertical.name if vertical is not None else "no vertical part"
    told = f"does not name the geoid model in the name of its vertical system ({found})"
    return told, found, "the geoid model after the name, as in NAVD88 height - GEOID18"


def _find_broken_lines(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    text = case.header.wkt or ""
    outside = "".join(text.split('"')[::2])
    if not any(c.isspace() for c in outside) and all(c.isprintable() for c in text):
        return None
    told = "has line breaks, control characters or blanks outside quotes in its WKT"
    return told, "blanks or control characters", "none"


def _find_forbidden(case: ContentCase, asked: tuple[str, ...]) -> Fault:
    nodes = {match[1].upper() for match in _NODE.finditer(case.header.wkt or "") if match[1]}
    found = [name for name in asked if name.upper() in nodes]
    if not found:
        return None
    told = f"has {' and '.join(found)} in its WKT, which is not wanted"
    return told, ", ".join(found), "none of them"


def _find_mixed(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    flat, height = find_flat_unit(case.crs), find_height_unit(case.crs)
    if flat is None or height is None or flat.is_same(height):
        return None
    told = f"has X and Y in {flat.words} and heights in {height.words}; one unit is asked for"
    return told, f"{flat.words}, {height.words}", "one unit"


def _find_source(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    found = case.header.file_source_id
    if not found:
        return None
    return f"has file source id {found}; tiles have to have 0", str(found), "0"


def _find_no_system(case: ContentCase, _: bool) -> Fault:  # noqa: FBT001
    if case.header.system_identifier.strip():
        return None
    return "does not say the sensor in its system identifier", "blank", "the sensor's code"


ROWS = (
    ContentRow("versions", lambda asked: asked.versions, "LAS version", "FT-08", _find_version),
    ContentRow(
        "point_formats", lambda asked: asked.point_formats, "point format", "FT-08", _find_format
    ),
    ContentRow(
        "compressed", lambda asked: asked.compressed, "compression", "FT-08", _find_uncompressed
    ),
    ContentRow("time_kind", lambda asked: asked.time_kind, "kind of GPS time", "FT-06", _find_time),
    ContentRow(
        "wkt_versions", lambda asked: asked.wkt_versions, "edition of WKT", "CR-05", _find_wkt
    ),
    ContentRow(
        "one_crs_record",
        lambda asked: asked.one_crs_record,
        "number of coordinate system records",
        "FT-08",
        _find_several,
    ),
    ContentRow(
        "vertical_in_compound",
        lambda asked: asked.vertical_in_compound,
        "vertical part",
        "VD-06",
        _find_no_vertical,
    ),
    ContentRow(
        "geoid_in_vertical_name",
        lambda asked: asked.geoid_in_vertical_name,
        "geoid in the vertical name",
        "VD-06",
        _find_no_geoid,
    ),
    ContentRow(
        "single_line_wkt",
        lambda asked: asked.single_line_wkt,
        "WKT on one line",
        "CR-05",
        _find_broken_lines,
    ),
    ContentRow(
        "forbidden_wkt_nodes",
        lambda asked: asked.forbidden_wkt_nodes,
        "parts of the WKT",
        "CR-05",
        _find_forbidden,
    ),
    ContentRow(
        "same_unit",
        lambda asked: asked.same_unit,
        "one unit",
        "UN-03",
        _find_mixed,
        "Make sure that the customer agreed to mixed units, and write it in the report.",
        is_told_only=True,
    ),
    ContentRow(
        "file_source_zero_for_tiles",
        lambda asked: asked.file_source_zero_for_tiles,
        "file source id",
        "FT-08",
        _find_source,
    ),
    ContentRow(
        "system_identifier",
        lambda asked: asked.system_identifier,
        "system identifier",
        "FT-08",
        _find_no_system,
    ),
)
