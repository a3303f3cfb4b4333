"""Projection methods of GeoTIFF keys, and which key holds which parameter.

Writers put the same parameter under the key of the natural origin, the false origin or the centre;
all three are accepted, the proper one first.

Sources: GeoTIFF 1.0, section 6.3.3.3 (coordinate transformation codes, key 3075), and the table of
parameters by method in OGC GeoTIFF 1.1, annex C; EPSG Guidance Note 7-2 for method and parameter
codes and names.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.dataclass import dataclass
from ledger.errors import CrsError

ANGLE, LENGTH, RATIO = "angle", "length", "ratio"

_STANDARD_1, _STANDARD_2, _AZIMUTH, _RECTIFIED = 3078, 3079, 3094, 3096
_LATITUDES, _LONGITUDES = (3081, 3085, 3089), (3080, 3084, 3088)
_FALSE_LATITUDES, _FALSE_LONGITUDES = (3085, 3081, 3089), (3084, 3080, 3088)
_CENTRE_LATITUDES, _CENTRE_LONGITUDES = (3089, 3081, 3085), (3088, 3080, 3084)
_EASTINGS, _NORTHINGS = (3082, 3086, 3090), (3083, 3087, 3091)
_FALSE_EASTINGS, _FALSE_NORTHINGS = (3086, 3082, 3090), (3087, 3083, 3091)
_SCALES = (3092, 3093)


@dataclass(frozen=True)
class Parameter:
    """One parameter of a method.

    Args:
        name: name in the EPSG registry.
        code: code in the EPSG registry.
        keys: GeoTIFF keys that may hold it, the proper one first.
        kind: `angle`, `length` or `ratio`.
        default: value where no key holds it; None when it cannot be guessed.
    """

    name: str
    code: int
    keys: tuple[int, ...]
    kind: str
    default: float | None = 0.0


@dataclass(frozen=True)
class Method:
    """One projection method, by name and code in the EPSG registry."""

    name: str
    code: int
    parameters: tuple[Parameter, ...]


_NATURAL = (
    Parameter("Latitude of natural origin", 8801, _LATITUDES, ANGLE),
    Parameter("Longitude of natural origin", 8802, _LONGITUDES, ANGLE, None),
)
_SCALE = Parameter("Scale factor at natural origin", 8805, _SCALES, RATIO, 1.0)
_FALSE = (
    Parameter("False easting", 8806, _EASTINGS, LENGTH),
    Parameter("False northing", 8807, _NORTHINGS, LENGTH),
)
_TWO_PARALLELS = (
    Parameter("Latitude of false origin", 8821, _FALSE_LATITUDES, ANGLE, None),
    Parameter("Longitude of false origin", 8822, _FALSE_LONGITUDES, ANGLE, None),
    Parameter("Latitude of 1st standard parallel", 8823, (_STANDARD_1,), ANGLE, None),
    Parameter("Latitude of 2nd standard parallel", 8824, (_STANDARD_2,), ANGLE, None),
    Parameter("Easting at false origin", 8826, _FALSE_EASTINGS, LENGTH),
    Parameter("Northing at false origin", 8827, _FALSE_NORTHINGS, LENGTH),
)
_OBLIQUE = (
    Parameter("Latitude of projection centre", 8811, _CENTRE_LATITUDES, ANGLE, None),
    Parameter("Longitude of projection centre", 8812, _CENTRE_LONGITUDES, ANGLE, None),
    Parameter("Azimuth at projection centre", 8813, (_AZIMUTH,), ANGLE, None),
    Parameter("Angle from Rectified to Skew Grid", 8814, (_RECTIFIED, _AZIMUTH), ANGLE, None),
    Parameter("Scale factor at projection centre", 8815, (3093, 3092), RATIO, 1.0),
)
_POLE = Parameter("Longitude of natural origin", 8802, (3095, *_LONGITUDES), ANGLE, None)
_PARALLEL = Parameter("Latitude of 1st standard parallel", 8823, (_STANDARD_1,), ANGLE, None)

# By the code of key 3075. What a drone survey can hardly be projected with is left out.
_METHODS = {
    1: Method("Transverse Mercator", 9807, (*_NATURAL, _SCALE, *_FALSE)),
    3: Method("Hotine Oblique Mercator (variant A)", 9812, (*_OBLIQUE, *_FALSE)),
    7: Method("Mercator (variant A)", 9804, (*_NATURAL, _SCALE, *_FALSE)),
    8: Method("Lambert Conic Conformal (2SP)", 9802, _TWO_PARALLELS),
    9: Method("Lambert Conic Conformal (1SP)", 9801, (*_NATURAL, _SCALE, *_FALSE)),
    10: Method("Lambert Azimuthal Equal Area", 9820, (*_NATURAL, *_FALSE)),
    11: Method("Albers Equal Area", 9822, _TWO_PARALLELS),
    15: Method("Polar Stereographic (variant A)", 9810, (_NATURAL[0], _POLE, _SCALE, *_FALSE)),
    16: Method("Oblique Stereographic", 9809, (*_NATURAL, _SCALE, *_FALSE)),
    18: Method("Cassini-Soldner", 9806, (*_NATURAL, *_FALSE)),
    27: Method("Transverse Mercator (South Orientated)", 9808, (*_NATURAL, _SCALE, *_FALSE)),
}
_MERCATOR, _MERCATOR_B = 7, Method("Mercator (variant B)", 9805, (_PARALLEL, _NATURAL[1], *_FALSE))


def write_conversion(
    keys: Mapping[int, int | float | str], units: Mapping[str, str | dict[str, Any]]
) -> dict[str, Any]:
    """Return the user-defined projection of GeoTIFF keys as PROJJSON.

    Args:
        keys: the keys; 3075 names the method.
        units: PROJJSON unit of each kind of parameter.

    Raises:
        CrsError: the method is unknown, or a parameter that cannot be guessed is missing.
    """
    number = keys.get(3075)
    method = _METHODS.get(number) if isinstance(number, int) else None
    if number == _MERCATOR and _STANDARD_1 in keys:
        method = _MERCATOR_B
    if method is None:
        raise CrsError(
            "the GeoTIFF keys name no projection that is understood", found=f"key 3075 {number!r}"
        )
    return {
        "name": "from GeoTIFF keys",
        "method": {"name": method.name, "id": {"authority": "EPSG", "code": method.code}},
        "parameters": [
            {
                "name": parameter.name,
                "value": _find_value(parameter, keys),
                "unit": units[parameter.kind],
                "id": {"authority": "EPSG", "code": parameter.code},
            }
            for parameter in method.parameters
        ],
    }


def _find_value(parameter: Parameter, keys: Mapping[int, int | float | str]) -> float:
    for key in parameter.keys:
        value = keys.get(key)
        if isinstance(value, int | float):
            return float(value)
    if parameter.default is None:
        raise CrsError(
            "a parameter of the projection is missing",
            found=f"no GeoTIFF key {' or '.join(str(key) for key in parameter.keys)}",
            expected=parameter.name,
        )
    return parameter.default
