"""What a file says about itself, by its content and not by its name where content can tell.

Never raises for bad content: a damaged file is a fact too, and its bytes are registered all the
same. Invariant: every value is canonical (text, whole number, boolean, list of those).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import IO, Any

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, SwathbookError
from ledger.loading import load_part
from ledger.model.artefact import Facts, Role, leave_out_blanks
from ledger.shortfile import read_short_file
from ledger.signs import looks_like_las, looks_like_nmea, looks_like_rinex, looks_like_tiff

_START_BYTES = 4096
# UTF-16: what a console of Windows writes into a file.
_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")
_PACKED_SUFFIXES = (".gz", ".bz2")
_COPY_AGAIN = "copy it again from where it came, or register what it unpacks to there"
# Names of observation files, RINEX 2.11 (section 4) and 3.05 (section 4.2).
_OBSERVATIONS = re.compile(r"(\.\d\d[od]|o\.(rnx|crx))(\.gz|\.bz2)?$", re.IGNORECASE)
_PHOTO_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"II*\x00\x10\x00\x00\x00CR")
_SETTINGS_SUFFIXES = (".json", ".xml", ".ini", ".cfg", ".conf", ".toml", ".yaml", ".yml")
_TABLE_SUFFIXES = (".csv", ".tsv", ".txt")
_REPORT_SUFFIXES = (".pdf", ".docx", ".html", ".md")


def read_facts(path: Path) -> Facts:
    """Guess the role of a file and read what it says about itself."""
    try:
        start = _read_start(path)
    except MalformedFileError as error:
        (fault,) = error.faults
        told = f"it cannot be unpacked ({fault.found or fault.what}); {_COPY_AGAIN}"
        return Facts(_guess_by_name(path, text=False), fault=told)
    except OSError as error:
        told = error.strerror or str(error) or type(error).__name__
        return Facts(_guess_by_name(path, text=False), fault=told)
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
    if path.suffix.lower() in _PACKED_SUFFIXES:
        return _read_text_start(path)
    with path.open("rb") as stream:
        start = stream.read(_START_BYTES)
    return _read_text_start(path) if start[:2] in _WIDE_MARKS else start


def _read_text_start(path: Path) -> bytes:
    """Return the beginning of a text that is packed, or has two bytes a letter, as it reads."""
    opened: IO[bytes] = load_part("ledger.fieldlogs.opening", "open_text")(path)
    with opened as stream:
        return stream.read(_START_BYTES)


@dataclass(frozen=True)
class _Format:
    """A kind of content: how it is recognised, what it is in a job, what it says.

    `judge` returns why it cannot be read to its end, where that shows without reading it. What
    reads a file is loaded when the first one of its kind is met.
    """

    matches: Callable[[Path, bytes], bool]
    role: Callable[[Path], Role]
    read: Callable[[Path], Mapping[str, Any]]
    judge: Callable[[Path], str] = lambda _: ""


def _find_format(path: Path, start: bytes) -> _Format | None:
    return next((known for known in _FORMATS if known.matches(path, start)), None)


def _guess_raster(path: Path) -> Role:
    try:
        is_geoid = _read_grid(path).is_geoid
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
    if _read_track(path) is not None or "track" in name or "traj" in name:
        return Role.TRAJECTORY
    try:
        is_points = _read_table(path).is_point_table
    except SwathbookError:
        is_points = False
    return Role.CHECKPOINTS if is_points else Role.DOCUMENT


def _describe_table(path: Path) -> Mapping[str, Any]:
    role = _guess_table(path)
    if role is Role.DOCUMENT:
        return {}
    track = _read_track(path) if role is Role.TRAJECTORY else None
    return _list_facts(_read_table(path) if track is None else track)


def _read_track(path: Path) -> Any:  # noqa: ANN401 - its reader is not loaded yet
    try:
        return load_part("ledger.fieldlogs.trackfacts", "read_track_facts")(path)
    except SwathbookError:
        return None


def _read_table(path: Path) -> Any:  # noqa: ANN401 - its reader is not loaded yet
    return load_part("ledger.tables.facts", "read_point_table")(path)


def _read_grid(path: Path) -> Any:  # noqa: ANN401 - its reader is not loaded yet
    return load_part("ledger.grids", "read_grid")(path)


def _read_las(path: Path) -> Mapping[str, Any]:
    facts: Mapping[str, Any] = load_part("ledger.lasfacts", "read_las_facts")(path)
    return facts


def _judge_las(path: Path) -> str:
    fault: str = load_part("ledger.lasfacts", "judge_points")(path)
    return fault


def _list_facts(record: Any) -> Mapping[str, Any]:  # noqa: ANN401 - any frozen record
    return leave_out_blanks(asdict(record))


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
        _read_las,
        _judge_las,
    ),
    _Format(
        lambda path, start: looks_like_rinex(start) or bool(_OBSERVATIONS.search(path.name)),
        lambda _: Role.BASE_LOG,
        lambda path: _list_facts(load_part("ledger.fieldlogs.rinex", "read_rinex")(path)),
    ),
    _Format(
        lambda _, start: start.startswith(_PHOTO_STARTS),
        lambda _: Role.PHOTO,
        lambda _: {},
    ),
    _Format(
        lambda path, start: looks_like_tiff(start) or path.suffix.lower() == ".gtx",
        _guess_raster,
        lambda path: _list_facts(_read_grid(path)),
    ),
    _Format(
        lambda _, start: looks_like_nmea(start),
        lambda _: Role.FLIGHT_LOG,
        lambda path: _list_facts(load_part("ledger.fieldlogs.nmea", "read_nmea")(path)),
    ),
    _Format(
        lambda path, _: path.suffix.lower() == ".sbet",
        lambda _: Role.TRAJECTORY,
        lambda path: _list_facts(load_part("ledger.fieldlogs.trajectory", "read_trajectory")(path)),
    ),
    _Format(_is_boundary, lambda _: Role.BOUNDARY, _describe_boundary),
    _Format(_is_table, _guess_table, _describe_table),
)
