"""The tags of a TIFF, by a library that is loaded only where there is one to read."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from pathlib import Path

import tifffile

from ledger.errors import CrsError, MalformedFileError
from ledger.model.grid import GridFacts
from ledger.model.phrases import count_things
from ledger.signs import looks_like_tiff

_PIXEL_SCALE, _TIE_POINT, _TRANSFORM = 33550, 33922, 34264
_GEO_KEYS, _GDAL_METADATA, _NODATA = 34735, 42112, 42113
_DESCRIPTION, _ROWS_PER_STRIP = 270, 278
_WHOLE_NUMBERS = (tifffile.DATATYPE.SHORT, tifffile.DATATYPE.LONG)
_RASTER_TYPE_KEY = 1025
_GEOGRAPHIC_KEY, _PROJECTED_KEY, _VERTICAL_KEY = 2048, 3072, 4096
_TARGET = re.compile(r'<Item name="target_crs_epsg_code"[^>]*>\s*(\d{4,6})\s*</Item>')
_LONGEST = 120
# What the tag reader raises on damaged tags, seen by flipping bytes of real files.
_TAG_ERRORS = (
    tifffile.TiffFileError,
    ArithmeticError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
    struct.error,
)


def read_tags(path: Path) -> GridFacts:
    """Read the tags of a TIFF; no pixel is read.

    Raises:
        OSError: the system refused.
        MalformedFileError: its content breaks its format.
    """
    try:
        with tifffile.TiffFile(path) as tiff:
            return _take_tags(tiff, path)
    except _TAG_ERRORS as error:
        raise MalformedFileError(
            "the raster's tags cannot be read", found=str(error)[:120], where=str(path)
        ) from error


def require_rows_told(path: Path) -> None:
    """Refuse a TIFF that does not say how many rows lie in a strip, before PROJ opens it.

    TIFF 6.0 lets the tag be left out. Where the lengths of the strips are damaged as well, PROJ
    then divides by zero, which ends the process (met with PROJ 9.5.1).

    Args:
        path: a grid file of any form; what is no TIFF passes.

    Raises:
        CrsError: it does not say so, or its tags cannot be read.
    """
    try:
        with path.open("rb") as stream:
            if not looks_like_tiff(stream.read(4)):
                return
        with tifffile.TiffFile(path) as tiff:
            told = all(map(_tells_rows, _list_pages(tiff)))
    except (OSError, *_TAG_ERRORS) as error:
        raise CrsError(
            "the geoid grid cannot be read", found=str(error)[:120], where=str(path)
        ) from error
    if not told:
        raise CrsError(
            "the geoid grid does not say how its rows are stored",
            found="no number of rows in a strip",
            where=str(path),
            remedy="copy the grid again, or get it from its publisher",
        )


def _list_pages(tiff: tifffile.TiffFile) -> Iterator[tifffile.TiffPage]:
    """Yield the pages of a file.

    Raises:
        ValueError: they lead round in a circle.
    """
    met: set[int] = set()
    for page in tiff.pages:
        if page.offset in met:
            raise ValueError(f"its page at byte {page.offset:,} is told twice")
        met.add(page.offset)
        yield page.aspage()


def _tells_rows(page: tifffile.TiffPage) -> bool:
    tag = page.tags.get(_ROWS_PER_STRIP)
    # Numbers of another type are passed over by the library that PROJ reads with.
    tells = tag is not None and tag.dtype in _WHOLE_NUMBERS and bool(tag.value)
    return page.is_tiled or tells


def _take_tags(tiff: tifffile.TiffFile, path: Path) -> GridFacts:
    page = tiff.pages.first
    tags = page.tags
    rows, columns = int(page.imagelength), int(page.imagewidth)
    if not rows or not columns:
        raise MalformedFileError("the raster has no pixels", where=str(path))
    _require_pixels_inside(page, path)
    keys = _read_geo_keys(tags.valueof(_GEO_KEYS, default=()))
    # A value at the pixel's centre (2) spans one step less than one that fills its pixel (1).
    is_point = keys.get(_RASTER_TYPE_KEY) == 2
    metadata = str(tags.valueof(_GDAL_METADATA, default=""))
    is_geoid = "VERTICAL_OFFSET" in metadata or "geoid_undulation" in metadata
    horizontal = keys.get(_PROJECTED_KEY) or keys.get(_GEOGRAPHIC_KEY)
    return GridFacts(
        columns=columns,
        rows=rows,
        sample_type=str(page.dtype),
        **_find_box(tags, rows - is_point, columns - is_point),
        horizontal=_name_code(horizontal),
        vertical=_find_target(metadata) if is_geoid else _name_code(keys.get(_VERTICAL_KEY)),
        nodata=str(tags.valueof(_NODATA, default="")).strip("\x00 "),
        description=_read_description(tags),
        is_geoid=is_geoid,
    )


def _require_pixels_inside(page: tifffile.TiffPage, path: Path) -> None:
    ends = [a + b for a, b in zip(page.dataoffsets, page.databytecounts, strict=False)]
    size = path.stat().st_size
    if ends and max(ends) > size:
        raise MalformedFileError(
            "the raster ends early",
            found=count_things(size, "byte"),
            expected=f"{max(ends):,} or more",
            where=str(path),
            remedy="copy it again",
        )


def _read_geo_keys(directory: tuple[int, ...]) -> dict[int, int]:
    # Four words a key: id, tag that holds it (0: here), count, value.
    entries = zip(*(iter(directory[4:]),) * 4, strict=False)
    return {key: value for key, tag, _, value in entries if tag == 0}


def _find_target(metadata: str) -> str:
    """Return the vertical system that a geoid grid leads to; empty when it does not say.

    The GeoKey beside it names the ellipsoidal heights that the grid starts from. Item and meaning:
    Geodetic TIFF grids of PROJ, https://proj.org/specifications/geodetictiffgrids.html.
    """
    match = _TARGET.search(metadata)
    return f"EPSG:{match[1]}" if match else ""


def _read_description(tags: tifffile.TiffTags) -> str:
    lines = str(tags.valueof(_DESCRIPTION, default="")).strip("\x00 \n").splitlines()
    shown = "".join(sign for sign in (lines[0] if lines else "") if sign.isprintable())
    return shown[:_LONGEST].strip()


def _name_code(code: int | None) -> str:
    return f"EPSG:{code}" if code and code != 32767 else ""


def _find_box(tags: tifffile.TiffTags, steps_y: int, steps_x: int) -> dict[str, str]:
    scale = tags.valueof(_PIXEL_SCALE)
    tie = tags.valueof(_TIE_POINT)
    matrix = tags.valueof(_TRANSFORM)
    if scale and tie:
        step_x, step_y = float(scale[0]), float(scale[1])
        west, north = tie[3] - tie[0] * step_x, tie[4] + tie[1] * step_y
    elif matrix and len(matrix) == 16 and not matrix[1] and not matrix[4]:
        step_x, step_y, west, north = matrix[0], -matrix[5], matrix[3], matrix[7]
    else:
        return {}
    return {
        "west": f"{west:.10g}",
        "north": f"{north:.10g}",
        "east": f"{west + steps_x * step_x:.10g}",
        "south": f"{north - steps_y * step_y:.10g}",
        "step_x": f"{step_x:.10g}",
        "step_y": f"{step_y:.10g}",
    }
