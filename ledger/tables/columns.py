"""Which column of a table holds what, by the names that people give columns.

Names of the trade in several languages; common practice, no source. X is taken as easting and Y as
northing, which is said wherever it is shown: some countries use them the other way round.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping

from ledger.tables.rows import TableText
from ledger.units import INTERNATIONAL_FOOT, METRE, US_SURVEY_FOOT

EAST, NORTH, HEIGHT = "east", "north", "height"
# A foot of either kind: that it is one is said, which it is has to be asked.
SOME_FOOT = "foot"
SOME_FEET = ("ft", "feet", "foot", "fuss")
MEANINGS = (
    "id",
    EAST,
    NORTH,
    HEIGHT,
    "stratum",
    "sigma_horizontal",
    "sigma_vertical",
    "surveyed",
    "measured_east",
    "measured_north",
    "measured_height",
)

# By meaning: plain letters, lower case, words joined by `_`.
_NAMES: Mapping[str, tuple[str, ...]] = {
    "id": (
        *(
            "id",
            "p",
            "point",
            "point_id",
            "pointid",
            "point_name",
            "point_no",
            "point_number",
            "pt",
        ),
        *(
            "pt_id",
            "ptid",
            "name",
            "no",
            "nr",
            "num",
            "number",
            "label",
            "station",
            "target",
            "gcp",
        ),
        *("punkt", "punktnr", "punkt_nr", "punktnummer", "punktname", "nummer", "pkt", "pktnr"),
        *("punto", "nombre", "numero", "id_punto", "nome", "ponto", "nom", "matricule", "punt"),
        *("numer", "nr_punktu", "bod", "cislo_bodu", "punktnavn"),
    ),
    EAST: (
        *("e", "east", "easting", "eastings", "x", "x_coord", "coord_x", "x_coordinate", "utm_e"),
        *("rechtswert", "rechts", "ost", "ostwert", "rw", "est", "este", "coord_e", "oost"),
        *(
            "lon",
            "long",
            "longitude",
            "lange",
            "langengrad",
            "longitud",
            "longitudine",
            "easting_x",
        ),
    ),
    NORTH: (
        *(
            "n",
            "north",
            "northing",
            "northings",
            "y",
            "y_coord",
            "coord_y",
            "y_coordinate",
            "utm_n",
        ),
        *("hochwert", "hoch", "nord", "nordwert", "hw", "norte", "coord_n", "noord"),
        *("lat", "latitude", "breite", "breitengrad", "latitud", "latitudine", "northing_y"),
    ),
    HEIGHT: (
        *("h", "height", "z", "elevation", "elev", "el", "level", "rl", "reduced_level", "z_coord"),
        *("coord_z", "z_coordinate", "orthometric_height", "ellipsoidal_height", "ortho_height"),
        *("ellipsoid_height", "ellh", "h_ell", "h_ortho", "hoehe", "hohe", "altitude", "alt"),
        *("altitud", "cota", "quota", "altezza", "cote", "hoogte", "wysokosc", "vyska", "kote"),
        *("elevacion", "elevacao", "elevazione", "hoyde", "hojd", "height_z"),
    ),
    "stratum": (
        *("stratum", "strata", "surface", "surface_type", "cover", "land_cover", "landcover"),
        *("oberflache", "superficie", "surface_class", "vegetation"),
    ),
    "sigma_horizontal": (
        *("sigma_horizontal", "sigma_xy", "sigma_plan", "sd_xy", "std_xy", "hrms", "h_rms", "hsdv"),
        *("horizontal_precision", "horz_prec", "hz_prec", "horizontal_accuracy"),
    ),
    "sigma_vertical": (
        *("sigma_vertical", "sigma_z", "sd_z", "std_z", "vrms", "v_rms", "vsdv", "sigma_up"),
        *("vertical_precision", "vert_prec", "vertical_accuracy"),
    ),
    "surveyed": (
        *("surveyed", "date", "time", "datetime", "date_time", "timestamp", "survey_date"),
        *("datum", "zeit", "fecha", "data", "surveyed_at", "observed"),
    ),
    "measured_east": tuple(
        f"{head}_{tail}"
        for head in ("measured", "cloud", "lidar", "scan", "picked")
        for tail in ("e", "x", "east", "easting")
    ),
    "measured_north": tuple(
        f"{head}_{tail}"
        for head in ("measured", "cloud", "lidar", "scan", "picked")
        for tail in ("n", "y", "north", "northing")
    ),
    "measured_height": tuple(
        f"{head}_{tail}"
        for head in ("measured", "cloud", "lidar", "scan", "picked")
        for tail in ("z", "h", "height", "elevation")
    ),
}
_MEANING = {name: meaning for meaning, names in _NAMES.items() for name in names}

_UNITS = {
    **dict.fromkeys(("m", "metre", "meter", "metres", "meters"), METRE.name),
    **dict.fromkeys(
        ("ftus", "usft", "us_ft", "sft", "us_survey_foot", "us_survey_feet"), US_SURVEY_FOOT.name
    ),
    **dict.fromkeys(
        ("ift", "intft", "int_ft", "international_foot", "international_feet"),
        INTERNATIONAL_FOOT.name,
    ),
    **dict.fromkeys(SOME_FEET, SOME_FOOT),
}
_BRACKETS = re.compile(r"[(\[{]\s*([^)\]}]*)\s*[)\]}]")


def fold_name(text: str) -> str:
    """Return a name in plain small letters, its words joined by `_`: `Höhe (m)` is `hohe_m`."""
    plain = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss").replace("ł", "l"))
    kept = "".join(each for each in plain if not unicodedata.combining(each))
    return re.sub(r"[^a-z0-9]+", "_", kept).strip("_")


def split_unit(column: str) -> tuple[str, str]:
    """Return a column's name in plain letters and the unit written with it; empty for none."""
    bracketed = _BRACKETS.search(column)
    if bracketed is not None:
        name = fold_name(_BRACKETS.sub(" ", column))
        return name, _UNITS.get(fold_name(bracketed[1]), "")
    name = fold_name(column)
    if name in _MEANING:
        return name, ""
    for unit in sorted(_UNITS, key=len, reverse=True):
        if name.endswith(f"_{unit}"):
            return name[: -len(unit) - 1], _UNITS[unit]
    return name, ""


def understand(table: TableText) -> dict[str, int]:
    """Return the columns that their names explain, by meaning: index of the column.

    A meaning that two columns claim is none of theirs: which one it is has to be asked.
    """
    claims: dict[str, list[int]] = {}
    for index, column in enumerate(table.columns[: table.width]):
        meaning = _MEANING.get(split_unit(column)[0])
        if meaning is not None:
            claims.setdefault(meaning, []).append(index)
    return {meaning: found[0] for meaning, found in claims.items() if len(found) == 1}


def list_claims(table: TableText, meaning: str) -> list[str]:
    """Return the names of all columns that could hold something."""
    names = zip(table.names, table.columns, strict=False)
    return [name for name, column in names if _MEANING.get(split_unit(column)[0]) == meaning]


def find_unit(table: TableText, columns: Iterable[int]) -> str:
    """Return the unit that the names of some columns state alike; empty where they do not.

    `foot` stands for a foot of which nobody says the kind.
    """
    stated = {split_unit(table.columns[i])[1] for i in columns if i < len(table.columns)}
    return stated.pop() if len(stated) == 1 else ""


def find_column(table: TableText, name: str) -> int | None:
    """Return the index of a column by its name or as `column 3`; None where there is none."""
    wanted = name.strip()
    if wanted in table.names:
        return table.names.index(wanted)
    numbered = re.fullmatch(r"(?:column\s*)?([1-9][0-9]?)", wanted.casefold())
    if numbered is not None and int(numbered[1]) <= table.width:
        return int(numbered[1]) - 1
    folded = [fold_name(each) for each in table.names]
    return folded.index(fold_name(wanted)) if folded.count(fold_name(wanted)) == 1 else None
