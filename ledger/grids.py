"""Raster files by their tags: GeoTIFF and the GTX form of a geoid grid.

Only headers are read, never pixels. GTX: 40 bytes big-endian (south, west, row step, column step,
rows, columns), then 32-bit floats; layout as public geodesy libraries read it.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

import tifffile

from ledger.errors import MalformedFileError, UnreadableFileError

_PIXEL_SCALE, _TIE_POINT, _TRANSFORM = 33550, 33922, 34264
_GEO_KEYS, _GDAL_METADATA, _NODATA = 34735, 42112, 42113
_RASTER_TYPE_KEY = 1025
_GEOGRAPHIC_KEY, _PROJECTED_KEY, _VERTICAL_KEY = 2048, 3072, 4096
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
_GTX_HEADER = struct.Struct(">4d2i")


@dataclass(frozen=True)
class GridFacts:
    """What the tags of a raster say.

    Args:
        columns: pixels across.
        rows: pixels down.
        sample_type: `float32`.
        west: least coordinate across, as text, in the raster's own unit; empty when not stated.
        south: least coordinate down.
        east: greatest coordinate across.
        north: greatest coordinate down.
        step_x: pixel width, as text.
        step_y: pixel height, as text.
        horizontal: `EPSG:4326`; empty when not stated.
        vertical: `EPSG:5773`; empty when not stated.
        nodata: as written; empty when not stated.
        is_geoid: whether the file says that it holds geoid heights.
    """

    columns: int
    rows: int
    sample_type: str
    west: str = ""
    south: str = ""
    east: str = ""
    north: str = ""
    step_x: str = ""
    step_y: str = ""
    horizontal: str = ""
    vertical: str = ""
    nodata: str = ""
    is_geoid: bool = False


def looks_like_tiff(start: bytes) -> bool:
    """Say whether the first bytes are those of a TIFF or BigTIFF."""
    return start[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")


def read_grid(path: Path) -> GridFacts:
    """Read the tags of a GeoTIFF or the header of a GTX file.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: its content breaks its format.
    """
    try:
        if path.suffix.lower() == ".gtx":
            return _read_gtx(path)
        with tifffile.TiffFile(path) as tiff:
            return _read_tags(tiff, path)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    except _TAG_ERRORS as error:
        raise MalformedFileError(
            "the raster's tags cannot be read", found=str(error)[:120], where=str(path)
        ) from error


def _read_tags(tiff: tifffile.TiffFile, path: Path) -> GridFacts:
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
    horizontal = keys.get(_PROJECTED_KEY) or keys.get(_GEOGRAPHIC_KEY)
    return GridFacts(
        columns=columns,
        rows=rows,
        sample_type=str(page.dtype),
        **_find_box(tags, rows - is_point, columns - is_point),
        horizontal=_name_code(horizontal),
        vertical=_name_code(keys.get(_VERTICAL_KEY)),
        nodata=str(tags.valueof(_NODATA, default="")).strip("\x00 "),
        is_geoid="VERTICAL_OFFSET" in metadata or "geoid_undulation" in metadata,
    )


def _require_pixels_inside(page: tifffile.TiffPage, path: Path) -> None:
    ends = [a + b for a, b in zip(page.dataoffsets, page.databytecounts, strict=False)]
    size = path.stat().st_size
    if ends and max(ends) > size:
        raise MalformedFileError(
            "the raster ends early",
            found=f"{size} bytes",
            expected=f"{max(ends)} bytes",
            where=str(path),
            remedy="copy it again",
        )


def _read_geo_keys(directory: tuple[int, ...]) -> dict[int, int]:
    # Four words a key: id, tag that holds it (0: here), count, value.
    entries = zip(*(iter(directory[4:]),) * 4, strict=False)
    return {key: value for key, tag, _, value in entries if tag == 0}


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


def _read_gtx(path: Path) -> GridFacts:
    with path.open("rb") as stream:
        start = stream.read(_GTX_HEADER.size)
    south, west, step_y, step_x, rows, columns = _GTX_HEADER.unpack(start)
    expected = _GTX_HEADER.size + 4 * rows * columns
    size = path.stat().st_size
    if rows <= 0 or columns <= 0 or size != expected:
        raise MalformedFileError(
            "the size of a GTX grid does not fit its header",
            found=f"{size} bytes",
            expected=f"{expected} bytes",
            where=str(path),
        )
    return GridFacts(
        columns=columns,
        rows=rows,
        sample_type="float32",
        west=f"{west:.10g}",
        south=f"{south:.10g}",
        east=f"{west + (columns - 1) * step_x:.10g}",
        north=f"{south + (rows - 1) * step_y:.10g}",
        step_x=f"{step_x:.10g}",
        step_y=f"{step_y:.10g}",
        is_geoid=True,
    )
