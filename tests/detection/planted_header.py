"""Errors in headers, names and boxes."""

from __future__ import annotations

from datetime import date

from planted import METRES, Flown, Planted, plant

from ledger.testing import Scene
from lidar_checks.header.header_date import HeaderDate
from lidar_checks.header.las_conformance import LasConformance
from lidar_checks.header.las_content import LasContent
from lidar_checks.header.package_limits import PackageLimits
from lidar_checks.header.tile_scheme import TileScheme

_WANTED = METRES + "[criteria.las-content]\npoint_formats = [6, 7]\n"
_SHORT = METRES + "[criteria.package-limits]\npath_max = 20\n"
_TILED = METRES + "[delivery]\ntile_size_m = 20.0\n"
_BUFFERED = METRES + "[delivery]\ntile_buffer_m = 2.0\n"
_TWO = Scene(columns=2, rows=1, noise=0.01)

CASES: tuple[Planted, ...] = (
    plant(
        "a legacy count that is not the count of points",
        Flown(LasConformance(), lambda survey, count: survey.legacy_count(0, count)),
        beyond=7,
        inside=0,
        gate="7 against 0",
    ),
    plant(
        "a creation date before the version was there",
        Flown(HeaderDate(), lambda survey, day: survey.created(0, day)),
        beyond=date(2011, 10, 31),
        inside=date(2011, 11, 1),
        gate="31 October against 1 November 2011 for LAS 1.4",
    ),
    plant(
        "a point format that nobody asked for",
        Flown(
            LasContent(),
            lambda survey, form: survey.set_layout(0, point_format=form),
            specification=_WANTED,
        ),
        beyond=8,
        inside=7,
        gate="format 8 against 7",
    ),
    plant(
        "a path that is too long",
        Flown(
            PackageLimits(),
            lambda survey, length: survey.add_document("a" * length),
            specification=_SHORT,
        ),
        beyond=21,
        inside=20,
        gate="21 characters against 20",
    ),
    plant(
        "a tile that overlaps its neighbour",
        Flown(
            TileScheme(),
            lambda survey, dx: survey.shift("tile_1_0", dx=-dx),
            scene=_TWO,
            specification=_TILED,
        ),
        beyond=0.7,
        inside=0.3,
        gate="0.7 m against 0.3 m, 0.5 m allowed",
    ),
    plant(
        "a tile that reaches further than the agreed buffer",
        Flown(
            TileScheme(),
            lambda survey, dx: survey.shift("tile_1_0", dx=-dx),
            scene=_TWO,
            specification=_BUFFERED,
        ),
        beyond=4.7,
        inside=4.3,
        gate="4.7 m against 4.3 m, twice 2 m agreed and 0.5 m allowed",
    ),
)
