"""Geoid grids in the GTX form, written by hand: a plane of heights over some degrees.

The form: south-west corner and steps in degrees, rows and columns, then the heights of the nodes
from the south-west, all big-endian (NOAA VDatum, "GTX file format").
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from ledger.fixity import read_fixity
from ledger.model.sitegeoid import SiteGeoid


def write_geoid(
    path: Path,
    centre: tuple[float, float],
    height_m: float,
    slope: tuple[float, float] = (0.0, 0.0),
    step_deg: float = 0.01,
    nodes: int = 41,
) -> SiteGeoid:
    """Write a grid and return it as the evidence of an audit has it.

    Args:
        path: file to write, `.gtx`.
        centre: longitude and latitude of its middle, degrees.
        height_m: height of the geoid there, metres.
        slope: rise to the east and to the north, metres a degree.
        step_deg: degrees between nodes.
        nodes: in each direction.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    half = (nodes - 1) / 2 * step_deg
    offsets = np.linspace(-half, half, nodes)
    heights = height_m + slope[0] * offsets[None, :] + slope[1] * offsets[:, None]
    corner = (centre[1] - half, centre[0] - half)
    head = struct.pack(">4d2i", *corner, step_deg, step_deg, nodes, nodes)
    path.write_bytes(head + heights.astype(">f4").tobytes())
    return SiteGeoid(read_fixity(path).sha256, str(path.absolute()))
