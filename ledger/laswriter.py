"""Writing small LAS and LAZ files, for the demo; reading is the work of `ledger.points`."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import laspy
import numpy as np
from laspy.vlrs.known import WktCoordinateSystemVlr
from numpy.typing import NDArray

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class LasTemplate:
    """What the files of one export have in common.

    Args:
        wkt: CRS text in the dialect of OGC 2001, as LAS 1.4 asks.
        offset: X, Y, Z offset.
        scale: scale of all three.
        software: generating software.
        created: creation date.
    """

    wkt: str
    offset: tuple[float, float, float]
    scale: float
    software: str
    created: date


def write_las(
    path: Path,
    template: LasTemplate,
    coordinates: NDArray[np.float64],
    fields: Mapping[str, NDArray[np.generic]],
) -> None:
    """Write one LAS 1.4 file of point format 6; LAZ when the name ends so.

    Args:
        path: file to write; must not exist.
        template: header of the export.
        coordinates: X, Y, Z in the units of the CRS, float64, (n, 3).
        fields: other fields by LAS name, (n,).
    """
    header = laspy.LasHeader(version="1.4", point_format=6)
    header.offsets = np.array(template.offset)
    header.scales = np.full(3, template.scale)
    header.generating_software = template.software
    header.creation_date = template.created
    header.global_encoding.wkt = True
    header.global_encoding.gps_time_type = laspy.header.GpsTimeType.STANDARD
    header.vlrs.append(WktCoordinateSystemVlr(template.wkt))
    points = laspy.LasData(header)
    points.x, points.y, points.z = coordinates[:, 0], coordinates[:, 1], coordinates[:, 2]
    for name, values in fields.items():
        points[name] = values
    with path.open("xb") as stream:
        points.write(stream, do_compress=path.suffix == ".laz")
