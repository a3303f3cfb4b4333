"""Does a photo tell where it was taken?

The only module that loads the library for pictures; pixels are never decoded.
Layout of what is looked for: Exif 2.32 (CIPA DC-008), tag 0x8825 and the directory it points to.
"""

from __future__ import annotations

import warnings
from pathlib import Path

from PIL import Image

_GPS_DIRECTORY = 0x8825
_PLACE_TAGS = frozenset({2, 4})  # latitude, longitude
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


def tells_place(path: Path) -> bool | None:
    """Say whether a picture holds latitude or longitude; None where that cannot be told."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a very large or odd picture is still only looked into
            with Image.open(path) as picture:
                directory = picture.getexif().get_ifd(_GPS_DIRECTORY)
    except _CANNOT_TELL:
        return None
    return bool(_PLACE_TAGS & set(directory))
