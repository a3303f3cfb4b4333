"""Asking a geoid grid for heights: what is asked, and what no answer looks like.

A node without a value comes back as NaN, a damaged grid as infinity, both without an error
(measured with PROJ 9.5.1): whatever is not finite is refused here.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ledger.errors import CrsError, MissingGridError


def write_pipeline(grid: Path) -> str:
    """Return the PROJ pipeline that adds the geoid height at a place in degrees to a height.

    Raises:
        MissingGridError: there is no such file.
        CrsError: its path cannot be written in a pipeline.
    """
    if not grid.is_file():
        raise MissingGridError("the geoid grid is not there", where=str(grid))
    name = str(grid.resolve())
    if "," in name or '"' in name:
        raise CrsError(
            "a geoid grid cannot be read through a path with a comma or a quotation mark",
            where=name,
            remedy="rename the folder or the file",
        )
    return (
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f'+step +proj=vgridshift +grids="{name}" +multiplier=1 '
        "+step +proj=unitconvert +xy_in=rad +xy_out=deg"
    )


def require_heights(values: NDArray[np.float64], grid: Path) -> NDArray[np.float64]:
    """Return the values when all of them are numbers.

    Raises:
        CrsError: one is not.
    """
    if np.isfinite(values).all():
        return values
    raise CrsError(
        "the geoid grid has no value at a place, or is damaged",
        found=str(values[~np.isfinite(values)][0]),
        expected="a height in metres",
        where=str(grid),
        remedy="copy the grid again, or use one that covers the site",
    )
