"""Rules on variable length records: how many, how long, by whom.

Sources: ASPRS LAS 1.4 R15, variable length records, extended variable length records, and the
records that the document defines; LAS 1.5 R00 where it differs.
"""

from __future__ import annotations

from collections.abc import Callable

from ledger.model.finding import Grade
from ledger.model.phrases import agree, count_things
from lidar_checks.header.las_rule import (
    KEY_DIRECTORY,
    LAS,
    LAS_15,
    PROJECTION,
    SPECIFICATION,
    HeaderCase,
    LasRule,
)

_RECORDS = f"{LAS}, variable length records"
_EXTENDED = f"{LAS}, extended variable length records"
_EXPORT = "Export the file again with another setting or program."
_HARMLESS = "Nothing has to be done unless a program of the client stumbles over it."

_LOOKUP, _TEXT, _EXTRA, _SUPERSEDED = 0, 3, 4, 7
_DOUBLES, _ASCII, _MATH = 34736, 34737, 2111
_DESCRIPTORS = range(100, 355)
_PACKETS = 65535
_DEFINED = {
    PROJECTION: frozenset({_MATH, 2112, KEY_DIRECTORY, _DOUBLES, _ASCII}),
    SPECIFICATION: frozenset({_LOOKUP, _TEXT, _EXTRA, _SUPERSEDED, _PACKETS, *_DESCRIPTORS}),
}
_LOOKUP_SIZE, _EXTRA_SIZE, _KEY_SIZE, _DOUBLE_SIZE, _DESCRIPTOR_SIZE = 256 * 16, 192, 8, 8, 26


def _find_lost_records(case: HeaderCase) -> str:
    found = sum(not record.extended for record in case.header.vlrs)
    if found >= case.header.vlr_count:
        return ""
    told = count_things(case.header.vlr_count, "variable length record")
    return (
        f"it states {told} and {found} {agree(found, 'lies', 'lie')} before its points; "
        "some programs take points for records"
    )


def _find_lost_extended(case: HeaderCase) -> str:
    found = sum(record.extended for record in case.header.vlrs)
    if found >= case.header.evlr_count:
        return ""
    told = count_things(case.header.evlr_count, "extended record")
    return f"it states {told} after its points and holds {found}"


def _find_extended_among_points(case: HeaderCase) -> str:
    header = case.header
    end = header.offset_to_points + header.point_count * header.record_length
    if not header.evlr_count or header.compressed or header.evlr_start >= end:
        return ""
    return f"its extended records begin at byte {header.evlr_start:,}, before the points end"


def _find_start_without_extended(case: HeaderCase) -> str:
    if case.header.evlr_count or not case.header.evlr_start:
        return ""
    return f"it states no extended record, and that the first begins at {case.header.evlr_start:,}"


def _find_wrong_lengths(case: HeaderCase) -> str:
    """Return the first record whose length cannot be that of its kind."""
    kinds = (
        ("classification lookup", SPECIFICATION, (_LOOKUP,), lambda size: size == _LOOKUP_SIZE),
        ("GeoTIFF key directory", PROJECTION, (KEY_DIRECTORY,), _is_multiple(_KEY_SIZE)),
        ("GeoTIFF numbers", PROJECTION, (_DOUBLES,), _is_multiple(_DOUBLE_SIZE)),
        (
            "waveform packet descriptor",
            SPECIFICATION,
            tuple(_DESCRIPTORS),
            lambda size: size == _DESCRIPTOR_SIZE,
        ),
    )
    for name, user, ids, fits in kinds:
        for size in case.list_sizes(user, *ids):
            if not fits(size):
                return f"the record with the {name} is {count_things(size, 'byte')} long"
    return ""


def _is_multiple(unit: int) -> Callable[[int], bool]:
    return lambda size: size % unit == 0


def _find_wrong_extra(case: HeaderCase) -> str:
    for size in case.list_sizes(SPECIFICATION, _EXTRA):
        if size % _EXTRA_SIZE:
            return (
                f"the record on extra bytes is {count_things(size, 'byte')} long, no multiple of "
                f"{_EXTRA_SIZE}"
            )
    return ""


def _find_keys_without_directory(case: HeaderCase) -> str:
    texts = case.list_sizes(PROJECTION, _DOUBLES, _ASCII)
    if not texts or case.count_records(PROJECTION, KEY_DIRECTORY):
        return ""
    return "it has values of GeoTIFF keys and no key directory"


def _find_strange_users(case: HeaderCase) -> str:
    """Return the first record without an owner, or with the standard's name misspelt."""
    for record in case.header.vlrs:
        if not record.user_id.strip():
            return f"record {record.record_id} has no user id"
        for name in _DEFINED:
            if record.user_id != name and record.user_id.strip().casefold() == name.casefold():
                return f"a record is signed {record.user_id!r}, which only {name!r} is"
    return ""


def _find_undefined(case: HeaderCase) -> str:
    for record in case.header.vlrs:
        if record.record_id not in _DEFINED.get(record.user_id, {record.record_id}):
            return f"{record.user_id} {record.record_id} is not a record that the standard defines"
    return ""


def _find_unended_wkt(case: HeaderCase) -> str:
    return "" if case.header.wkt_terminated else "its WKT text does not end with a NUL"


def _find_new_wkt(case: HeaderCase) -> str:
    crs = case.file.crs.wkt.crs if case.file.crs is not None else None
    if case.minor != 4 or crs is None or crs.dialect != "WKT2":
        return ""
    return "its coordinate system is WKT of the second edition, LAS 1.4 asks for that of 2001"


def _find_several_extra(case: HeaderCase) -> str:
    number = case.count_records(SPECIFICATION, _EXTRA)
    return (
        f"it has {count_things(number, 'record')} on extra bytes"
        if case.minor >= 5 and number > 1
        else ""
    )


def _find_lookup_in_15(case: HeaderCase) -> str:
    has_it = case.minor >= 5 and case.count_records(SPECIFICATION, _LOOKUP)
    return "it has a classification lookup, deprecated in LAS 1.5" if has_it else ""


def _find_keys_in_15(case: HeaderCase) -> str:
    crs = case.file.crs
    has_it = case.minor >= 5 and crs is not None and crs.wkt.present and crs.geotiff.present
    return "it has GeoTIFF keys, which LAS 1.5 dropped" if has_it else ""


RULES = (
    LasRule(
        "LAS-30",
        f"{LAS}, public header block, number of variable length records",
        Grade.MINOR,
        _find_lost_records,
        _EXPORT,
        ("FT-05",),
    ),
    LasRule("LAS-31", _EXTENDED, Grade.MINOR, _find_lost_extended, _EXPORT, ("FT-05",)),
    LasRule(
        "LAS-32",
        _EXTENDED,
        Grade.MINOR,
        _find_extended_among_points,
        _EXPORT,
        ("FT-05",),
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-33",
        f"{LAS}, public header block, start of first extended variable length record",
        Grade.OBSERVATION,
        _find_start_without_extended,
        _HARMLESS,
        is_of_one_file=True,
    ),
    LasRule("LAS-34", _RECORDS, Grade.OBSERVATION, _find_wrong_lengths, _EXPORT),
    LasRule(
        "LAS-35", f"{LAS}, extra bytes", Grade.OBSERVATION, _find_wrong_extra, _EXPORT, ("FT-09",)
    ),
    LasRule(
        "LAS-36",
        f"{LAS}, georeferencing records",
        Grade.OBSERVATION,
        _find_keys_without_directory,
        _EXPORT,
    ),
    LasRule("LAS-37", f"{_RECORDS}, user id", Grade.OBSERVATION, _find_strange_users, _EXPORT),
    LasRule("LAS-38", f"{_RECORDS}, record id", Grade.OBSERVATION, _find_undefined, _HARMLESS),
    LasRule(
        "LAS-39",
        f"{LAS}, OGC coordinate system WKT record",
        Grade.OBSERVATION,
        _find_unended_wkt,
        _HARMLESS,
    ),
    LasRule(
        "LAS-40",
        f"{LAS}, OGC coordinate system WKT record",
        Grade.OBSERVATION,
        _find_new_wkt,
        "Export again with WKT of the 2001 edition where the client's programs are old.",
    ),
    LasRule("LAS-41", f"{LAS_15}, extra bytes", Grade.OBSERVATION, _find_several_extra, _EXPORT),
    LasRule(
        "LAS-42",
        f"{LAS_15}, classification lookup",
        Grade.OBSERVATION,
        _find_lookup_in_15,
        _HARMLESS,
    ),
    LasRule(
        "LAS-43",
        f"{LAS_15}, coordinate reference system",
        Grade.OBSERVATION,
        _find_keys_in_15,
        _EXPORT,
    ),
)
