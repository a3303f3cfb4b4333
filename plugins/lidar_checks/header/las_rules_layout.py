"""Rules on sizes and formats: header, point records, what a version allows.

Sources: ASPRS LAS 1.4 R15 and 1.5 R00, public header block and point data record formats.
Which formats LAS 1.0 to 1.3 have, and the mark of LAZ, are from memory: a breach there is an
observation.
"""

from __future__ import annotations

from ledger.model.finding import Grade
from ledger.model.phrases import count_things
from lidar_checks.header.las_rule import LAS, LAS_15, HeaderCase, LasRule

_EXPORT = "Export the file again with another setting or program."

# Bytes of the header by minor version, and of a point record by format.
_HEADERS = (227, 227, 227, 235, 375, 393)
_RECORDS = (20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67)
_LAST_FORMATS = (1, 1, 3, 5, 10, 10)
_LASZIP = "laszip encoded"


def _find_long_header(case: HeaderCase) -> str:
    header, size = case.header, _HEADERS[case.minor]
    if header.header_size <= size:
        return ""
    length = count_things(header.header_size, "byte")
    return f"its header is {length} long, {size} in LAS {header.version}"


def _find_dropped_format(case: HeaderCase) -> str:
    if case.minor < 5 or case.is_extended:
        return ""
    return f"it uses point format {case.header.point_format}, which LAS 1.5 dropped"


def _find_newer_format(case: HeaderCase) -> str:
    header = case.header
    if header.point_format <= _LAST_FORMATS[case.minor]:
        return ""
    return f"it uses point format {header.point_format}, newer than LAS {header.version}"


def _find_undescribed(case: HeaderCase) -> str:
    header = case.header
    extra = header.record_length - _RECORDS[header.point_format]
    if extra <= header.described_bytes:
        return ""
    told = f"{extra - header.described_bytes} of {count_things(extra, 'extra byte')} of a point"
    return f"{told} are not described"


def _find_overdescribed(case: HeaderCase) -> str:
    header = case.header
    extra = header.record_length - _RECORDS[header.point_format]
    if extra >= header.described_bytes:
        return ""
    return f"it describes {header.described_bytes} extra bytes, and a point has {extra}"


def _find_turned_times(case: HeaderCase) -> str:
    times = case.header.time_range
    if times is None or times[0] <= times[1]:
        return ""
    return f"its least GPS time is {times[0]:.12g}, its greatest {times[1]:.12g}"


def _find_unmarked_compression(case: HeaderCase) -> str:
    if case.header.compressed or all(each.user_id != _LASZIP for each in case.header.vlrs):
        return ""
    return "it holds a LASzip record, and its point format does not say that points are compressed"


RULES = (
    LasRule(
        "LAS-50",
        f"{LAS}, public header block, header size",
        Grade.OBSERVATION,
        _find_long_header,
        _EXPORT,
    ),
    LasRule(
        "LAS-51",
        f"{LAS_15}, point data record format",
        Grade.MINOR,
        _find_dropped_format,
        "Export again with a point format from 6 on.",
        ("FT-08",),
    ),
    LasRule(
        "LAS-52",
        "point formats of LAS 1.0 to 1.3, from memory",
        Grade.OBSERVATION,
        _find_newer_format,
        _EXPORT,
        ("FT-08",),
    ),
    LasRule(
        "LAS-53",
        f"{LAS}, extra bytes",
        Grade.OBSERVATION,
        _find_undescribed,
        "Make sure that nothing the client needs lies in them; nobody can read it.",
        ("FT-09",),
    ),
    LasRule("LAS-54", f"{LAS}, extra bytes", Grade.MINOR, _find_overdescribed, _EXPORT, ("FT-09",)),
    LasRule(
        "LAS-55",
        f"{LAS_15}, public header block, GPS times",
        Grade.OBSERVATION,
        _find_turned_times,
        _EXPORT,
        ("FT-06",),
    ),
    LasRule(
        "LAS-56",
        "high bit of the point format of LAZ, from memory",
        Grade.OBSERVATION,
        _find_unmarked_compression,
        "Export it again; a program changed the header and left the points compressed.",
        ("FT-05",),
    ),
)
