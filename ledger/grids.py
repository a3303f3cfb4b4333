"""Raster files by their tags: GeoTIFF and the GTX form of a geoid grid.

Only headers are read, never pixels. GTX: 40 bytes big-endian (south, west, row step, column step,
rows, columns), then 32-bit floats; layout as public geodesy libraries read it.
"""

from __future__ import annotations

import struct
from pathlib import Path

from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.loading import load_part
from ledger.model.grid import GridFacts
from ledger.model.phrases import count_things

_GTX_HEADER = struct.Struct(">4d2i")


def read_grid(path: Path) -> GridFacts:
    """Read the tags of a GeoTIFF or the header of a GTX file.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: its content breaks its format.
    """
    try:
        if path.suffix.lower() == ".gtx":
            return _read_gtx(path)
        facts: GridFacts = load_part("ledger.rastertags", "read_tags")(path)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    return facts


def _read_gtx(path: Path) -> GridFacts:
    with path.open("rb") as stream:
        start = stream.read(_GTX_HEADER.size)
    if len(start) < _GTX_HEADER.size:
        raise MalformedFileError(
            "a GTX grid ends inside its header",
            found=count_things(len(start), "byte"),
            expected=f"at least {count_things(_GTX_HEADER.size, 'byte')}",
            where=str(path),
        )
    south, west, step_y, step_x, rows, columns = _GTX_HEADER.unpack(start)
    expected = _GTX_HEADER.size + 4 * rows * columns
    size = path.stat().st_size
    if rows <= 0 or columns <= 0 or size != expected:
        raise MalformedFileError(
            "the size of a GTX grid does not fit its header",
            found=count_things(size, "byte"),
            expected=count_things(expected, "byte"),
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
