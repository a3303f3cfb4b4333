"""Does a photo tell where it was taken, and where, and on which day?

The only module that loads the library for pictures; pixels are never decoded.
Layout of what is looked for: Exif 2.32 (CIPA DC-008), tags 0x8825 and 0x8769
with the directories that they point to, 0x9003 and 0x0132.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from PIL import Image, TiffImagePlugin, WebPImagePlugin

_GPS_DIRECTORY = 0x8825
_EXIF_DIRECTORY = 0x8769
_TAKEN, _CHANGED = 0x9003, 0x0132  # when it was taken, when the file was last changed
_PLACE_TAGS = frozenset({2, 4})  # latitude, longitude
# What cameras and telephones write; the first is that of pictures in pairs, too. The library knows
# other forms whose readers take as much memory as a damaged file asks for.
_FORMS = ("JPEG", "PNG", "TIFF", "WEBP")
_REGISTERED = (TiffImagePlugin, WebPImagePlugin)  # by being imported; the others always are
# The last one: the library opens no picture of more than about 179 million pixels.
_CANNOT_TELL = (
    OSError,
    ValueError,
    SyntaxError,
    KeyError,
    TypeError,
    EOFError,
    Image.DecompressionBombError,
)


def find_place(path: Path) -> tuple[float, float] | None:
    """Return longitude and latitude of a picture, degrees; None where it tells none.

    For a remark alone: where a photo was taken is not kept.
    """
    directory = _read_directory(path)
    try:
        lon, lat = (
            (-1 if str((directory or {})[side]).upper().startswith(negative) else 1)
            * sum(float(part) / 60**power for power, part in enumerate((directory or {})[tag]))
            for tag, side, negative in ((4, 3, "W"), (2, 1, "S"))
        )
    except (KeyError, TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return (lon, lat) if abs(lon) <= 180 and abs(lat) <= 90 and (lon or lat) else None


def find_day(path: Path) -> date | None:
    """Return the day that a picture says it was taken on, by its own clock; None for none.

    For a remark alone: it is not kept.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=_FORMS) as picture:
                tags = picture.getexif()
                text = tags.get_ifd(_EXIF_DIRECTORY).get(_TAKEN) or tags.get(_CHANGED)
        return date.fromisoformat(str(text)[:10].replace(":", "-"))
    except _CANNOT_TELL:
        return None


def tells_place(path: Path) -> bool | None:
    """Say whether a picture holds latitude or longitude; None where that cannot be told."""
    directory = _read_directory(path)
    return None if directory is None else bool(_PLACE_TAGS & set(directory))


def _read_directory(path: Path) -> Mapping[int, Any] | None:
    """Return the directory of a picture that tells its place; None where it cannot be read."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a very large or odd picture is still only looked into
            with Image.open(path, formats=_FORMS) as picture:
                return dict(picture.getexif().get_ifd(_GPS_DIRECTORY))
    except _CANNOT_TELL:
        return None
