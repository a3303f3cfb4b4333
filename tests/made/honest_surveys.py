"""The honest surveys: they differ in what has made checks cry out for nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from honest import AUSTRALIA, FLORIDA_FEET, NORWAY_32, OREGON, ZONE_EDGE, Honest
from honest_ground import Ground, bridge, pit, pond, quarry_face, slope, terraces, towers
from lent_points import lend_points

from ledger.testing import Layout, SurveyBuilder
from ledger.testing.scene import Points

_AGREED = """
[delivery]
tile_buffer_m = 3.0
"""


def _leave_one_point(survey: SurveyBuilder) -> object:
    return survey.keep_points(1, np.arange(1))


def _empty(survey: SurveyBuilder) -> object:
    return survey.empty_tile(1)


def _colour(survey: SurveyBuilder) -> None:
    """Give every point a colour of 16 bits."""

    def paint(points: Points) -> None:
        random = np.random.default_rng(5)
        for name in ("red", "green", "blue", "nir"):
            points[name] = random.integers(2_000, 60_000, len(points["x"])).astype(np.uint16)

    for path in survey.paths:
        survey.edit_points(path.stem, paint)


def _buffer(survey: SurveyBuilder) -> None:
    """Let each of two tiles hold 3 m of the other."""
    lend_points(survey, 3.0)


def _pack(survey: SurveyBuilder) -> None:
    """Put a report, an index and a raster beside the tiles."""
    survey.add_document("report.pdf", b"%PDF-1.7 as agreed")
    survey.add_document("tile_index.geojson", b'{"type": "FeatureCollection", "features": []}')
    survey.add_document("dtm.tif", b"II*\0\x08\0\0\0\0\0")


def _class_noise(survey: SurveyBuilder) -> None:
    """Class a low and a high point as noise, and withhold them."""
    for place, dz, code in ((3, -20.0, 7), (9, 40.0, 18)):
        survey.move_point(0, place, dz=dz)
        codes = np.asarray(survey.tile(0).points["classification"]).copy()
        codes[place] = code
        survey.set_field(0, "classification", codes)


def _class_nothing(survey: SurveyBuilder) -> None:
    for path in survey.paths:
        survey.reclassify(path.stem, None, 1)


def _leave_corner_out(survey: SurveyBuilder) -> object:
    return survey.remove("tile_1_1")


_BASE = Ground(tile_size=40.0, density=5.0, noise=0.008)

SURVEYS = (
    Honest("flat", replace(_BASE, relief=0.02)),
    Honest("rolling", _BASE),
    Honest("steep", replace(_BASE, shape=slope)),
    Honest("forest", replace(_BASE, vegetation=0.8), density=4.0),
    Honest("pond", replace(_BASE, absorbs=pond)),
    Honest("quarry face at a tile edge", replace(_BASE, shape=quarry_face)),
    Honest("a pit with a level floor on two tile edges", replace(_BASE, rows=2, shape=pit)),
    Honest("single-return scanner", replace(_BASE, vegetation=0.0)),
    Honest("many-return scanner", replace(_BASE, vegetation=0.5, returns=5)),
    Honest(
        "older format",
        _BASE,
        layout=Layout(version="1.2", point_format=3, compressed=False),
    ),
    Honest("US survey feet", _BASE, FLORIDA_FEET, Layout(crs="EPSG:6438+6360")),
    Honest("southern hemisphere", _BASE, AUSTRALIA, Layout(crs="EPSG:7856+5711")),
    Honest("zone edge", _BASE, ZONE_EDGE),
    Honest("zone 32 in western Norway", _BASE, NORWAY_32, Layout(crs="EPSG:25832+5941")),
    Honest("one empty tile", _BASE, finish=_empty),
    Honest("one tile of one point", _BASE, finish=_leave_one_point),
    Honest("two flights with a base each", _BASE, flights=2),
    Honest("one tile, one pass", replace(_BASE, columns=1, passes=1, density=9.0)),
    Honest("international feet", _BASE, OREGON, Layout(crs="EPSG:6559+8228")),
    Honest("steep forest over a tile edge", replace(_BASE, shape=slope, vegetation=0.8)),
    Honest("terraces", replace(_BASE, shape=terraces)),
    Honest("tall buildings", replace(_BASE, shape=towers)),
    Honest("a bridge over a tile edge", replace(_BASE, shape=bridge)),
    Honest("colour and infrared", _BASE, layout=Layout(point_format=8), finish=_colour),
    Honest("a format for waveforms, without any", _BASE, layout=Layout(point_format=9)),
    Honest("tiles with a buffer that was agreed", _BASE, finish=_buffer, more=_AGREED),
    Honest("a raster and a report beside the tiles", _BASE, finish=_pack),
    Honest("noise classed as noise", _BASE, finish=_class_noise),
    Honest("no class asked for and none given", _BASE, finish=_class_nothing),
    Honest("a site with a corner", replace(_BASE, rows=2), finish=_leave_corner_out),
    Honest("a corridor", replace(_BASE, columns=5, tile_size=20.0)),
    Honest("four flights on two days", _BASE, flights=4, days=2),
)
