"""What the header of a LAS or LAZ file says, as the book keeps it."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from ledger.crs import read_crs
from ledger.lasheader import read_las_header
from ledger.model.artefact import leave_out_blanks
from ledger.model.georeferencing import CrsRecord
from ledger.model.header import LasHeader
from ledger.supply import find_shortfalls

CRS_DIGEST = "crs_digest"
"""Fact: SHA-256 over the text and keys of the coordinate system as they are written."""

_LARGEST_WHOLE = 2**53
_WITHOUT_TIME = (0, 2)  # ASPRS LAS 1.4 R15, point data record formats


def read_las_facts(path: Path) -> dict[str, Any]:
    """Return the facts of a LAS or LAZ file; see `read_las_header` for what it raises."""
    return describe_las(read_las_header(path))


def describe_las(header: LasHeader) -> dict[str, Any]:
    """Return the facts of a LAS or LAZ header as canonical values."""
    reading = read_crs(header)
    facts = {
        "version": header.version,
        "point_format": header.point_format,
        "points": _whole(header.point_count),
        "compressed": header.compressed,
        "copc": header.copc,
        "software": header.generating_software,
        "system": header.system_identifier,
        "created": _format_creation(header),
        "scale": [repr(value) for value in header.scale],
        "offset": [repr(value) for value in header.offset],
        "minimum": [repr(value) for value in header.minimum],
        "maximum": [repr(value) for value in header.maximum],
        "time": _name_time(header),
        "crs": _describe_record(reading.governing),
        CRS_DIGEST: _digest_records(header),
        "notes": list(header.notes),
    }
    return leave_out_blanks({key: value for key, value in facts.items() if value != []})


def judge_points(path: Path) -> str:
    """Return why the points cannot all be read, in one line; none is decoded."""
    shortfalls = find_shortfalls(path, read_las_header(path))
    return "; ".join(fault.sentence() for fault in shortfalls)


def _name_time(header: LasHeader) -> str:
    """Return the kind of time that the header declares; nothing where points carry none."""
    if header.point_format in _WITHOUT_TIME:
        return ""
    return "adjusted GPS" if header.has_adjusted_time else "GPS seconds of week"


def _whole(number: int) -> int | str:
    return number if number < _LARGEST_WHOLE else str(number)


def _format_creation(header: LasHeader) -> str:
    if not header.creation_year or not header.creation_day:
        return ""
    return f"{header.creation_year:04d}-{header.creation_day:03d}"


def _digest_records(header: LasHeader) -> str:
    """Return the digest of what is written of the system; empty where nothing is.

    The book does not keep the text, and two texts may have one name.
    """
    if header.wkt is None and header.geo_keys is None:
        return ""
    keys = sorted((header.geo_keys or {}).items())
    return hashlib.sha256(f"{header.wkt}\n{keys}".encode()).hexdigest()


def _describe_record(record: CrsRecord) -> str:
    if not record.present:
        return "none"
    if record.crs is None:
        return f"not readable: {record.fault}"
    crs = record.crs
    code = f" ({crs.code})" if crs.code else ""
    vertical = f" + {crs.vertical.name}" if crs.vertical else ", no vertical part"
    return f"{crs.name}{code}{vertical}"
