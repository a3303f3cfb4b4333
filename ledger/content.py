"""What a file says about itself, by its content and not by its name where content can tell.

Never raises for bad content: a damaged file is a fact too, and its bytes are registered all the
same. Invariant: every value is canonical (text, whole number, boolean, list of those).
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from ledger.crs import read_crs
from ledger.errors import SwathbookError
from ledger.fieldlogs.nmea import looks_like_nmea, read_nmea
from ledger.fieldlogs.rinex import looks_like_rinex, open_text, read_rinex
from ledger.fieldlogs.trajectory import read_trajectory
from ledger.grids import looks_like_tiff, read_grid
from ledger.lasheader import looks_like_las, read_las_header
from ledger.model.artefact import Facts, Role
from ledger.model.georeferencing import CrsRecord
from ledger.model.header import LasHeader
from ledger.shortfile import read_short_file
from ledger.supply import find_shortfalls
from ledger.tables import read_point_table

_START_BYTES = 4096
_LARGEST_WHOLE = 2**53
_WITHOUT_TIME = (0, 2)  # ASPRS LAS 1.4 R15, point data record formats
_PHOTO_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"II*\x00\x10\x00\x00\x00CR")
_SETTINGS_SUFFIXES = (".json", ".xml", ".ini", ".cfg", ".conf", ".toml", ".yaml", ".yml")
_TABLE_SUFFIXES = (".csv", ".tsv", ".txt")
_REPORT_SUFFIXES = (".pdf", ".docx", ".html", ".md")


def read_facts(path: Path) -> Facts:
    """Guess the role of a file and read what it says about itself."""
    try:
        start = _read_start(path)
    except (OSError, EOFError, zlib.error) as error:
        return Facts(_guess_by_name(path, text=False), fault=f"cannot be read: {error}")
    known = _find_format(path, start)
    if known is None:
        return Facts(_guess_by_name(path, text=b"\x00" not in start))
    role = known.role(path)
    try:
        return Facts(role, known.read(path), known.judge(path))
    except SwathbookError as error:
        return Facts(role, fault=_shorten(error, path))


def _shorten(error: SwathbookError, path: Path) -> str:
    # The book stores the path beside; inside the sentence it would tie the fact to one place.
    return str(error).splitlines()[0].replace(f"{path}: ", "").replace(str(path), path.name)


def _read_start(path: Path) -> bytes:
    with open_text(path) as stream:
        return stream.read(_START_BYTES)


@dataclass(frozen=True)
class _Format:
    """A kind of content: how it is recognised, what it is in a job, what it says.

    `judge` returns why it cannot be read to its end, where that shows without reading it.
    """

    matches: Callable[[Path, bytes], bool]
    role: Callable[[Path], Role]
    read: Callable[[Path], Mapping[str, Any]]
    judge: Callable[[Path], str] = lambda _: ""


def _find_format(path: Path, start: bytes) -> _Format | None:
    return next((known for known in _FORMATS if known.matches(path, start)), None)


def _guess_raster(path: Path) -> Role:
    try:
        is_geoid = read_grid(path).is_geoid
    except SwathbookError:
        is_geoid = False
    # The folder beside counts and no folder above it: the job itself may be called after a geoid.
    named = f"{path.parent.name}/{path.name}".lower()
    return Role.GEOID if is_geoid or "geoid" in named else Role.RASTER


def _is_boundary(path: Path, start: bytes) -> bool:
    return path.suffix.lower() == ".geojson" or (b'"Polygon"' in start and b"coordinates" in start)


def _is_table(path: Path, start: bytes) -> bool:
    return b"\x00" not in start and path.suffix.lower() in _TABLE_SUFFIXES


def _guess_by_name(path: Path, *, text: bool) -> Role:
    name, suffix = path.name.lower(), path.suffix.lower()
    if "calib" in name:
        return Role.CALIBRATION
    if suffix in _SETTINGS_SUFFIXES:
        return Role.CONFIG
    if suffix == ".log":
        return Role.RUN_LOG
    if suffix in _REPORT_SUFFIXES:
        return Role.REPORT
    return Role.DOCUMENT if text else Role.CAPTURE


def _guess_table(path: Path) -> Role:
    name = path.stem.lower()
    if "control" in name:
        return Role.CONTROL
    if "track" in name or "traj" in name:
        return Role.TRAJECTORY
    try:
        is_points = read_point_table(path).is_point_table
    except SwathbookError:
        is_points = False
    return Role.CHECKPOINTS if is_points else Role.DOCUMENT


def _describe_table(path: Path) -> Mapping[str, Any]:
    if _guess_table(path) is Role.DOCUMENT:
        return {}
    return _plain(asdict(read_point_table(path)))


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    # Blanks are left out: a fact that a file does not state is not a fact.
    return {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in values.items()
        if value not in ("", None, (), {})
    }


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
        "notes": list(header.notes),
    }
    return _plain({key: value for key, value in facts.items() if value != []})


def _judge_points(path: Path) -> str:
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


def _describe_record(record: CrsRecord) -> str:
    if not record.present:
        return "none"
    if record.crs is None:
        return f"not readable: {record.fault}"
    crs = record.crs
    code = f" ({crs.code})" if crs.code else ""
    vertical = f" + {crs.vertical.name}" if crs.vertical else ", no vertical part"
    return f"{crs.name}{code}{vertical}"


def _describe_boundary(path: Path) -> dict[str, Any]:
    try:
        content = json.loads(read_short_file(path, "the boundary").decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise SwathbookError("the boundary cannot be read", found=str(error)[:80]) from error
    features = content.get("features", [content]) if isinstance(content, dict) else None
    if not isinstance(features, list):
        raise SwathbookError("the boundary is no GeoJSON object with features")
    return {"features": len(features)}


# In order: the first that matches decides.
_FORMATS = (
    _Format(
        lambda path, start: looks_like_las(start) or path.suffix.lower() in (".las", ".laz"),
        lambda _: Role.CAPTURE,
        lambda path: describe_las(read_las_header(path)),
        _judge_points,
    ),
    _Format(
        lambda _, start: looks_like_rinex(start),
        lambda _: Role.BASE_LOG,
        lambda path: _plain(asdict(read_rinex(path))),
    ),
    _Format(
        lambda _, start: start.startswith(_PHOTO_STARTS),
        lambda _: Role.PHOTO,
        lambda _: {},
    ),
    _Format(
        lambda path, start: looks_like_tiff(start) or path.suffix.lower() == ".gtx",
        _guess_raster,
        lambda path: _plain(asdict(read_grid(path))),
    ),
    _Format(
        lambda _, start: looks_like_nmea(start),
        lambda _: Role.FLIGHT_LOG,
        lambda path: _plain(asdict(read_nmea(path))),
    ),
    _Format(
        lambda path, _: path.suffix.lower() == ".sbet",
        lambda _: Role.TRAJECTORY,
        lambda path: _plain(asdict(read_trajectory(path))),
    ),
    _Format(_is_boundary, lambda _: Role.BOUNDARY, _describe_boundary),
    _Format(_is_table, _guess_table, _describe_table),
)
