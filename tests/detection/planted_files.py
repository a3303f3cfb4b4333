"""Errors in the coordinate systems, boxes and counts that headers state."""

from __future__ import annotations

from planted import METRES, Flown, Planted, plant

from ledger.testing import Layout, SurveyBuilder
from lidar_checks.header.crs_agrees import CrsAgrees
from lidar_checks.header.crs_position import CrsPosition
from lidar_checks.header.crs_present import CrsPresent
from lidar_checks.header.datum_shift import DatumShift
from lidar_checks.header.file_names import FileNames
from lidar_checks.header.file_readable import FileReadable
from lidar_checks.header.foot_kind import FootKind
from lidar_checks.header.header_counts import HeaderCounts
from lidar_checks.header.header_extent import HeaderExtent
from lidar_checks.header.header_uniformity import HeaderUniformity
from lidar_checks.header.unit_consistency import UnitConsistency
from lidar_checks.header.vertical_datum import VerticalDatum

_GEOID = METRES + 'geoid = { name = "model-A", version = "1" }\n'
_WKT = Layout().make_wkt()
_METRE = 'UNIT["metre",1,AUTHORITY["EPSG","9001"]]'
_SHIFT = ",TOWGS84[598.1,73.7,418.2,0.202,0.045,-2.455,6.7]"


def _write(survey: SurveyBuilder, part: str, other: str) -> None:
    """Write another part into the coordinate system of the first tile."""
    assert part in _WKT
    survey.wkt_text(0, _WKT.replace(part, other))


def _shift_datum(survey: SurveyBuilder, is_spoilt: bool) -> None:
    code = ',AUTHORITY["EPSG","1116"]'
    _write(survey, code, _SHIFT if is_spoilt else code)


def _state_foot(survey: SurveyBuilder, size: str) -> None:
    """Call a unit of some size the US survey foot."""
    _write(survey, _METRE, f'UNIT["US survey foot",{size}]')


def _rename(survey: SurveyBuilder, suffix: str) -> None:
    """Give the first tile, which is compressed, another ending."""
    survey.path(0).rename(survey.path(0).with_suffix(suffix))


def _carry_east(survey: SurveyBuilder, metres: float) -> None:
    """Carry all tiles east, from the middle of their zone."""
    for path in survey.paths:
        survey.shift(path.stem, dx=metres)


def _state_crs(survey: SurveyBuilder, crs: str) -> None:
    survey.crs(0, crs)


CASES: tuple[Planted, ...] = (
    plant(
        "another zone in the header",
        Flown(CrsAgrees(), _state_crs),
        beyond="EPSG:6347+5703",
        inside="EPSG:6346+5703",
        gate="zone 18N against 17N",
    ),
    plant(
        "X and Y swapped",
        Flown(CrsPosition(), lambda survey, spoilt: spoilt and survey.swap_axes(0)),
        beyond=True,
        inside=False,
        ids=("CR-07",),
    ),
    plant(
        "points far outside of the area of the system",
        Flown(CrsPosition(), _carry_east, specification=""),
        beyond=310_000.0,
        inside=300_000.0,
        gate="0.15° beyond the zone against 0.05°, 0.1° allowed",
    ),
    plant(
        "no coordinate system",
        Flown(CrsPresent(), lambda survey, spoilt: spoilt and survey.no_crs(0)),
        beyond=True,
        inside=False,
    ),
    plant("a shift to another datum in the system", Flown(DatumShift(), _shift_datum), True, False),
    plant(
        "a compressed file with the ending of one that is not",
        Flown(FileNames(), _rename),
        beyond=".las",
        inside=".laz",
    ),
    plant(
        "a file that is cut",
        Flown(FileReadable(), lambda survey, spoilt: spoilt and survey.cut_share(0, 0.99)),
        beyond=True,
        inside=False,
        gate="1 % of the bytes against none",
    ),
    plant(
        "a foot of the wrong size",
        Flown(FootKind(), _state_foot),
        beyond="0.3048",
        inside="0.304800609601219",
        gate="2 ppm too short against none",
    ),
    plant(
        "counts of returns that are not those of the points",
        Flown(
            HeaderCounts(),
            lambda survey, spoilt: spoilt and survey.wrong_return_counts(0, 5, 4, 3),
        ),
        beyond=True,
        inside=False,
    ),
    plant(
        "a box that is not that of the points",
        Flown(HeaderExtent(), lambda survey, dx: survey.wrong_box(0, dx)),
        beyond=0.0021,
        inside=0.0009,
        gate="2.1 steps of the scale against 0.9",
    ),
    plant(
        "a tile in another point format",
        Flown(HeaderUniformity(), lambda survey, form: survey.set_layout(0, point_format=form)),
        beyond=7,
        inside=6,
        gate="format 7 against 6",
    ),
    plant(
        "a tile in another system",
        Flown(HeaderUniformity(), _state_crs),
        beyond="EPSG:6347+5703",
        inside="EPSG:6346+5703",
        gate="zone 18N against 17N",
    ),
    plant(
        "heights in feet where metres are wanted",
        Flown(UnitConsistency(), _state_crs),
        beyond="EPSG:6346+6360",
        inside="EPSG:6346+5703",
        ids=("UN-03",),
    ),
    plant(
        "a plan in feet where metres are wanted",
        Flown(UnitConsistency(), _state_crs),
        beyond="EPSG:6438+5703",
        inside="EPSG:6346+5703",
        ids=("UN-01",),
    ),
    plant(
        "heights that nothing explains",
        Flown(VerticalDatum(), _state_crs, specification=_GEOID),
        beyond="EPSG:6346",
        inside="EPSG:6346+5703",
    ),
)
