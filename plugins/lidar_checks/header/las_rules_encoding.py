"""Rules on the global encoding: how the CRS is written, how time is told, reserved bits.

Sources: ASPRS LAS 1.4 R15 and 1.5 R00, public header block, global encoding; coordinate reference
system. Bits of the versions before 1.4 are from memory, so a breach there is an observation.
"""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.header.las_rule import (
    KEY_DIRECTORY,
    LAS,
    LAS_15,
    PROJECTION,
    WKT_RECORD,
    HeaderCase,
    LasRule,
)

_ENCODING = f"{LAS}, global encoding"
_BIT_4_OF_15 = f"{LAS_15}, global encoding, bit 4"
_CRS = f"{LAS}, coordinate reference system"
_MEMORY = "global encoding of LAS before 1.4, from memory"
_AS_WKT = "Export again with the coordinate system as WKT."
_EXPORT = "Export again; no program should have to guess."

# Bits that have a meaning, by minor version.
_KNOWN_BITS = {0: 0, 1: 0, 2: 0b1, 3: 0b1111, 4: 0b1_1111, 5: 0b101_1111}
_RESERVED_IN_15 = 5


def _has_wkt(case: HeaderCase) -> bool:
    return case.file.crs is not None and case.file.crs.wkt.present


def _has_keys(case: HeaderCase) -> bool:
    return case.file.crs is not None and case.file.crs.geotiff.present


def _find_keys_for_new_format(case: HeaderCase) -> str:
    """Points of the new formats need WKT: many programs see no system otherwise."""
    if not case.is_extended or not (_has_wkt(case) or _has_keys(case)):
        return ""
    told = f"point format {case.header.point_format} needs its coordinate system as WKT, and it "
    if not _has_wkt(case):
        return told + "has GeoTIFF keys only; many programs will see none"
    if not case.has_bit(4):
        return told + "does not set bit 4, which says so; many programs will see none"
    return ""


def _find_clear_bit_without_crs(case: HeaderCase) -> str:
    if not case.is_extended or case.has_bit(4) or _has_wkt(case) or _has_keys(case):
        return ""
    return f"bit 4 (WKT) is clear for point format {case.header.point_format}"


def _find_flag_without_wkt(case: HeaderCase) -> str:
    if case.minor < 4 or not case.has_bit(4) or _has_wkt(case) or case.is_extended:
        return ""
    return (
        "bit 4 says that the coordinate system is WKT, and there "
        f"{'are GeoTIFF keys only' if _has_keys(case) else 'is no such record'}"
    )


def _find_wkt_without_flag(case: HeaderCase) -> str:
    if case.minor < 4 or case.is_extended or case.has_bit(4):
        return ""
    if not _has_wkt(case) or _has_keys(case):
        return ""
    return "it has a WKT record, and bit 4, which says so, is clear"


def _find_wkt_in_old_version(case: HeaderCase) -> str:
    if case.minor >= 4 or not _has_wkt(case):
        return ""
    return f"it has a WKT record, which LAS {case.header.version} does not know"


def _find_both(case: HeaderCase) -> str:
    if not (_has_wkt(case) and _has_keys(case)) or case.minor < 4:
        return ""
    return "it has a WKT record and GeoTIFF keys, of which there may be one"


def _find_several(case: HeaderCase) -> str:
    for record, name in ((WKT_RECORD, "WKT records"), (KEY_DIRECTORY, "GeoTIFF key directories")):
        number = case.count_records(PROJECTION, record)
        if number > 1 and not (record == WKT_RECORD and case.header.other_wkts):
            return f"it has {number} {name}, none marked as superseded"
    return ""


def _find_different_wkts(case: HeaderCase) -> str:
    if not case.header.other_wkts:
        return ""
    return f"it has {len(case.header.other_wkts) + 1} WKT records that differ"


def _find_reserved_bits(case: HeaderCase) -> str:
    if case.minor < 4:
        return ""
    return _tell_reserved(case)


def _find_reserved_bits_of_old(case: HeaderCase) -> str:
    return _tell_reserved(case) if case.minor < 4 else ""


def _tell_reserved(case: HeaderCase) -> str:
    stray = case.header.global_encoding & ~_KNOWN_BITS[case.minor]
    bits = [str(bit) for bit in range(16) if stray >> bit & 1]
    if not bits:
        return ""
    return (
        f"bit{'s' if len(bits) > 1 else ''} {', '.join(bits)} of the global encoding "
        f"{'are' if len(bits) > 1 else 'is'} set, reserved in LAS {case.header.version}"
    )


def _find_offset_without_type(case: HeaderCase) -> str:
    if case.minor < _RESERVED_IN_15 or not case.has_bit(6) or case.has_bit(0):
        return ""
    return "bit 6 (time offset) is set without bit 0, so nobody can tell which times these are"


def _find_clear_bit_in_15(case: HeaderCase) -> str:
    if case.minor < _RESERVED_IN_15 or case.is_extended or case.has_bit(4):
        return ""  # the formats from 6 on are judged by the rules above
    return "bit 4 (WKT) is clear, and LAS 1.5 has no other way to state a coordinate system"


RULES = (
    LasRule(
        "LAS-10",
        f"{_ENCODING}, bit 4",
        Grade.MINOR,
        _find_keys_for_new_format,
        _AS_WKT,
        ("CR-05", "FT-08"),
        _BIT_4_OF_15,
    ),
    LasRule(
        "LAS-11",
        f"{_ENCODING}, bit 4",
        Grade.OBSERVATION,
        _find_clear_bit_without_crs,
        _AS_WKT,
        clause_15=_BIT_4_OF_15,
    ),
    LasRule(
        "LAS-12", f"{_ENCODING}, bit 4", Grade.MINOR, _find_flag_without_wkt, _EXPORT, ("CR-05",)
    ),
    LasRule(
        "LAS-13", f"{_ENCODING}, bit 4", Grade.MINOR, _find_wkt_without_flag, _EXPORT, ("CR-05",)
    ),
    LasRule("LAS-14", _MEMORY, Grade.OBSERVATION, _find_wkt_in_old_version, _EXPORT),
    LasRule("LAS-15", _CRS, Grade.OBSERVATION, _find_both, _EXPORT, ("FT-08",)),
    LasRule("LAS-16", _CRS, Grade.OBSERVATION, _find_several, _EXPORT),
    LasRule("LAS-17", _CRS, Grade.MINOR, _find_different_wkts, _EXPORT, ("CR-06",)),
    LasRule(
        "LAS-18",
        _ENCODING,
        Grade.OBSERVATION,
        _find_reserved_bits,
        _EXPORT,
        clause_15=f"{LAS_15}, global encoding",
    ),
    LasRule("LAS-19", _MEMORY, Grade.OBSERVATION, _find_reserved_bits_of_old, _EXPORT),
    LasRule(
        "LAS-20",
        f"{LAS_15}, global encoding, bit 6",
        Grade.MINOR,
        _find_offset_without_type,
        "Export again with one kind of GPS time.",
        ("FT-06",),
    ),
    LasRule(
        "LAS-21",
        f"{LAS_15}, global encoding, bit 4",
        Grade.MINOR,
        _find_clear_bit_in_15,
        _AS_WKT,
        ("CR-05",),
    ),
)
