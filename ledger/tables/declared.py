"""What a table declares of itself: frame, heights, unit, base, surface.

Comment lines such as `# heights: orthometric, GEOID18; unit: metre`, then names of columns such as
`Ellipsoidal height (m)`. What is not said in these words is
left to be asked; a foot without its kind is no unit.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ledger.model.known import KnownBy, KnownValue
from ledger.tables.columns import (
    EAST,
    HEIGHT,
    NORTH,
    SOME_FEET,
    SOME_FOOT,
    find_unit,
    fold_name,
    split_unit,
)
from ledger.tables.rows import TableText
from ledger.units import INTERNATIONAL_FOOT, METRE, US_SURVEY_FOOT

_CRS_KEYS = ("crs", "coordinate_system", "horizontal", "horizontal_crs", "system", "epsg", "srs")
_FRAME_KEYS = ("frame", "reference_frame", "datum", "horizontal_datum")
_HEIGHT_KEYS = ("heights", "height", "vertical", "vertical_crs", "vertical_datum", "elevations")
_BOTH_UNITS = ("unit", "units")
_TEXT_KEYS = {
    "geoid": "geoid",
    "base": "base",
    "base_mark": "base",
    "base_station": "base",
    "surface": "surface",
    "epoch": "epoch",
    "kind": "role",
    "role": "role",
}
_UNIT_KEYS = {
    "unit_horizontal": "unit_horizontal",
    "horizontal_unit": "unit_horizontal",
    "unit_vertical": "unit_vertical",
    "vertical_unit": "unit_vertical",
    "height_unit": "unit_vertical",
}
_UNITS = {
    **dict.fromkeys(("metre", "metres", "meter", "meters", "m"), METRE.name),
    **dict.fromkeys(
        ("us_survey_foot", "us_survey_feet", "survey_feet", "ftus", "us_ft", "usft", "sft"),
        US_SURVEY_FOOT.name,
    ),
    **dict.fromkeys(
        ("international_foot", "international_feet", "ift", "intl_ft", "intft"),
        INTERNATIONAL_FOOT.name,
    ),
    **dict.fromkeys(SOME_FEET, SOME_FOOT),
}
_CODE = re.compile(r"\b(EPSG|ESRI):\s*(\d{3,6})(?:\s*\+\s*(?:EPSG:)?\s*(\d{3,6}))?", re.IGNORECASE)
_EPOCH = re.compile(r"\b(?:19|20)\d\d(?:\.\d{1,4})?\b")
_KINDS = {
    **dict.fromkeys(("orthometric", "ellipsoidal", "site"), ""),
    **dict.fromkeys(("ellipsoid",), "ellipsoidal"),
    **dict.fromkeys(("local",), "site"),
}
_NAMED_KINDS = {
    **dict.fromkeys(("ellipsoidal_height", "ellipsoid_height", "ellh", "h_ell"), "ellipsoidal"),
    **dict.fromkeys(("orthometric_height", "ortho_height", "h_ortho"), "orthometric"),
}
_PAIR = re.compile(r"\s*([^:=]{1,40}?)\s*[:=]\s*(.+)")
_TABLE_KINDS = {
    **dict.fromkeys(("control", "gcp", "ground_control"), "control"),
    **dict.fromkeys(("checkpoint", "checkpoints", "check", "checks"), "checkpoints"),
}


def read_declared(table: TableText, understood: dict[str, int], name: str) -> dict[str, KnownValue]:
    """Return what a table declares of itself, by name as in `PointTable.declared`, and `role`.

    Args:
        table: the table taken apart.
        understood: index of the column behind each meaning.
        name: the file, for `where`.
    """
    found: dict[str, KnownValue] = {}
    for meaning, known in list_declared(table, understood, name):
        if known.value != SOME_FOOT:
            found.setdefault(meaning, known)
    return found


def list_declared(
    table: TableText, understood: dict[str, int], name: str
) -> Iterator[tuple[str, KnownValue]]:
    """Yield all that a table declares, the strongest first: comment lines, then names of columns.

    The same may be said twice, and differently; `SOME_FOOT` is a unit whose kind is not said.

    Args:
        table: the table taken apart.
        understood: index of the column behind each meaning.
        name: the file, for `where`.
    """
    for line, text in table.comments:
        for meaning, value in _read_line(text):
            yield meaning, KnownValue(value, known_by=KnownBy.READ, where=f"{name} line {line}")
    header = f"{name} line {table.header_line}"
    for meaning, value in _read_header(table, understood):
        yield meaning, KnownValue(value, known_by=KnownBy.READ, where=header)


def _read_header(table: TableText, understood: dict[str, int]) -> Iterator[tuple[str, str]]:
    for meaning, columns in (("unit_horizontal", (EAST, NORTH)), ("unit_vertical", (HEIGHT,))):
        unit = find_unit(table, [understood[each] for each in columns if each in understood])
        if unit:
            yield meaning, unit
    if HEIGHT in understood and understood[HEIGHT] < len(table.columns):
        kind = _NAMED_KINDS.get(split_unit(table.columns[understood[HEIGHT]])[0])
        if kind is not None:
            yield "vertical", kind


def _read_line(text: str) -> Iterator[tuple[str, str]]:
    bare = text.strip().strip('"').lstrip("#/%!* ").strip()
    for part in re.split(r"[;|]", bare):
        pair = _PAIR.fullmatch(part)
        if pair is not None:
            yield from _read_pair(fold_name(pair[1]), pair[2].strip().strip('",'))


def _read_pair(key: str, value: str) -> Iterator[tuple[str, str]]:
    if key in _CRS_KEYS:
        yield from _read_system(key, value)
    elif key in _FRAME_KEYS:
        yield from _read_system(key, value)
        if (epoch := _EPOCH.search(re.sub(r".*epoch", "", value, flags=re.IGNORECASE))) and (
            "epoch" in value.casefold()
        ):
            yield "epoch", epoch[0]
    elif key in _HEIGHT_KEYS:
        yield from _read_heights(value)
    elif key in _BOTH_UNITS:
        unit = _UNITS.get(fold_name(value))
        if unit is not None:
            yield "unit_horizontal", unit
            yield "unit_vertical", unit
    elif key in _UNIT_KEYS and fold_name(value) in _UNITS:
        yield _UNIT_KEYS[key], _UNITS[fold_name(value)]
    elif key in _TEXT_KEYS:
        yield from _read_text(_TEXT_KEYS[key], value)


def _read_system(key: str, value: str) -> Iterator[tuple[str, str]]:
    code = _CODE.search(f"EPSG:{value}" if key == "epsg" and value.isdecimal() else value)
    if code is not None:
        yield "horizontal", f"{code[1].upper()}:{code[2]}"
        if code[3]:
            yield "vertical", f"EPSG:{code[3]}"
    elif value.upper().startswith(("PROJCRS[", "PROJCS[", "GEOGCRS[", "GEOGCS[", "COMPD_CS[")):
        yield "horizontal", value


def _read_heights(value: str) -> Iterator[tuple[str, str]]:
    """Yield a vertical system or a kind of heights, and the geoid that is named behind it."""
    code = _CODE.search(value)
    if code is not None:
        yield "vertical", f"{code[1].upper()}:{code[2]}"
        return
    kind, _, rest = (part.strip() for part in value.partition(","))
    plain = fold_name(kind)
    if plain in _KINDS:
        yield "vertical", _KINDS[plain] or plain
        if rest:
            yield "geoid", rest


def _read_text(meaning: str, value: str) -> Iterator[tuple[str, str]]:
    if meaning == "role":
        kind = _TABLE_KINDS.get(fold_name(value))
        if kind is not None:
            yield meaning, kind
    elif meaning == "epoch":
        epoch = _EPOCH.search(value)
        if epoch is not None:
            yield meaning, epoch[0]
    else:
        yield meaning, value
