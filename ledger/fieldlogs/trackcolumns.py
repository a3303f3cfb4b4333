"""What the columns of a trajectory hold, by the names that people give them.

Common practice, no source: the names are those met in tables of the trade. What no name tells is
left open; nothing is guessed from a column's place.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError

# Meaning to names, without unit and case.
_NAMES: dict[str, tuple[str, ...]] = {
    "time": (
        "time",
        "gps_time",
        "gpstime",
        "gps_seconds",
        "gps_week_seconds",
        "gps_sow",
        "gps_tow",
        "seconds_of_week",
        "sow",
        "tow",
        "timestamp",
        "unix_time",
        "unix_timestamp",
        "utc",
        "utc_time",
        "time_utc",
        "datetime",
        "bds_time",
        "t",
    ),
    "east": ("e", "east", "easting", "x"),
    "north": ("n", "north", "northing", "y"),
    "longitude": ("lon", "long", "lng", "longitude"),
    "latitude": ("lat", "latitude"),
    "height": (
        "h",
        "z",
        "u",
        "up",
        "height",
        "alt",
        "altitude",
        "elevation",
        "elev",
        "h_ell",
        "height_ell",
        "ellipsoidal_height",
        "ellipsoid_height",
        "h_ort",
        "orthometric_height",
    ),
    "quality": ("fix", "quality", "fix_quality", "gps_quality", "gps_fix", "q", "fix_type"),
    "satellites": ("sats", "satellites", "ns", "nsat", "num_sats", "sv"),
    "hdop": ("hdop",),
    "pdop": ("pdop",),
    "age": ("age", "correction_age", "diff_age"),
    "sigma": ("sdu", "sd_u", "sigma_u", "sigma_z", "std_u", "std_z", "sigma_h", "h_std"),
    "roll": ("roll",),
    "pitch": ("pitch",),
    "heading": ("heading", "yaw", "azimuth"),
    # Points have names; positions of an aircraft have none.
    "point": ("id", "point", "point_id", "pt", "name", "label"),
}
_MEANINGS = {name: meaning for meaning, names in _NAMES.items() for name in names}

# Endings of a name, or what stands in brackets behind it, by unit.
_UNITS = {
    "s": "s",
    "sec": "s",
    "seconds": "s",
    "m": "m",
    "metre": "m",
    "meter": "m",
    "metres": "m",
    "meters": "m",
    "ft": "ft",
    "feet": "ft",
    "deg": "deg",
    "degree": "deg",
    "degrees": "deg",
    "rad": "rad",
    "radian": "rad",
    "radians": "rad",
    "gon": "gon",
}
_NUMBERED = re.compile(r"(?:column )?(\d{1,3})")
_BRACKET = re.compile(r"[\[(]\s*([A-Za-z]+)\s*[\])]")


@dataclass(frozen=True)
class Column:
    """One column that was understood.

    Args:
        at: its place, from 0.
        name: as the file has it.
        unit: `s`, `m`, `ft`, `deg`, `rad` or `gon` where the name tells; else empty.
    """

    at: int
    name: str
    unit: str = ""


def understand_columns(header: Sequence[str]) -> dict[str, Column]:
    """Return what the columns of a header hold, by meaning; of two alike the first.

    Eastings and northings count only where both are there, and so do longitudes and latitudes.
    """
    found: dict[str, Column] = {}
    for at, name in enumerate(header):
        bare, unit = _split_unit(name)
        meaning = _MEANINGS.get(bare)
        if meaning is not None and meaning not in found:
            found[meaning] = Column(at, name.strip(), unit)
    for pair in (("east", "north"), ("longitude", "latitude")):
        if not set(pair) <= set(found):
            for name in pair:
                found.pop(name, None)
    return found


def is_track(columns: dict[str, Column]) -> bool:
    """Say whether columns make a trajectory: a time and a place, and no name of a point."""
    is_placed = "east" in columns or "longitude" in columns
    return is_placed and "time" in columns and "point" not in columns


def _split_unit(name: str) -> tuple[str, str]:
    """Return a name without its unit, in lower case with `_`, and the unit."""
    text = name.strip().lstrip("#%").strip()
    bracket = _BRACKET.search(text)
    unit = _UNITS.get(bracket.group(1).lower(), "") if bracket else ""
    bare = re.sub(r"[^a-z0-9]+", "_", _BRACKET.sub("", text).lower()).strip("_")
    if bare in _MEANINGS:
        return bare, unit
    start, _, end = bare.rpartition("_")
    if start in _MEANINGS and end in _UNITS:
        return start, unit or _UNITS[end]
    return bare, unit


def read_declared(text: str) -> dict[str, str]:
    """Return what somebody wrote about columns: meaning to name or `column 3`.

    Args:
        text: such as `time=column 1, easting=column 2`; meanings by any of their names.

    Raises:
        MalformedFileError: a part of it names no meaning that is known.
    """
    declared = {}
    for part in filter(None, (each.strip() for each in text.split(","))):
        name, sign, column = (each.strip() for each in part.partition("="))
        meaning = _MEANINGS.get(_split_unit(name)[0])
        if not sign or not column or meaning is None or meaning == "point":
            raise MalformedFileError(
                "what a column of the trajectory is cannot be understood",
                found=part[:40],
                expected="such as time=column 1",
                where="flight.track_columns",
                remedy="put it right with swathbook amend",
            )
        declared[meaning] = column
    return declared


def place_declared(declared: Mapping[str, str], header: Sequence[str]) -> dict[str, Column] | None:
    """Return the columns that somebody named, in a table of so many; None where one is not there.

    Args:
        declared: meaning to name or `column 3`.
        header: names of the columns, or blanks where the table has none.
    """
    names = [name.strip().lower() for name in header]
    found = {}
    for meaning, told in declared.items():
        number = _NUMBERED.fullmatch(told.lower())
        if number is not None and 1 <= int(number[1]) <= len(header):
            at = int(number[1]) - 1
        elif told.lower() in names:
            at = names.index(told.lower())
        else:
            return None
        found[meaning] = Column(at, told, _split_unit(header[at])[1])
    return found
