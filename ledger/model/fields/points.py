"""The fields of a table of surveyed points: which column is what, and what the numbers are."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import LINEAR_UNITS
from ledger.model.surveypoints import CHECKPOINTS, CONTROL

_T = FieldType

TABLE_KINDS = (CHECKPOINTS, CONTROL)
_COLUMN = "its name, or column 3"
_NO_HEIGHT = "no height of the cloud can be held against it"

POINTS_FIELDS = (
    Field(
        "points.file",
        "Table of the points",
        _T.FILE,
        why="there is nothing to hold the cloud against",
        weight=3,
    ),
    Field(
        "points.role",
        "Checkpoints, or control that a run may be fitted to",
        _T.CHOICE,
        choices=TABLE_KINDS,
        why="a run that is tested with its own control proves nothing",
        weight=3,
    ),
    Field("points.column_id", "Which column is the name of the point", note=_COLUMN),
    Field(
        "points.column_east",
        "Which column is the easting, or the longitude",
        why="no point has a place",
        note=_COLUMN,
        weight=4,
    ),
    Field(
        "points.column_north",
        "Which column is the northing, or the latitude",
        why="no point has a place",
        note=_COLUMN,
        weight=4,
    ),
    Field(
        "points.column_height",
        "Which column is the height",
        why=_NO_HEIGHT,
        note=_COLUMN,
        weight=4,
    ),
    Field(
        "points.horizontal",
        "Coordinate system of the points",
        _T.CRS,
        why="no point has a place in the job",
        weight=4,
    ),
    Field(
        "points.unit_horizontal",
        "Unit of easting and northing",
        _T.CHOICE,
        choices=LINEAR_UNITS,
        why="that of the coordinate system is taken",
        weight=3,
    ),
    Field(
        "points.vertical",
        "What the heights are above",
        note="orthometric, ellipsoidal, site, or the code of a height system: EPSG:5703",
        why=_NO_HEIGHT,
        weight=4,
    ),
    Field(
        "points.unit_vertical",
        "Unit of the heights",
        _T.CHOICE,
        choices=LINEAR_UNITS,
        why=_NO_HEIGHT,
        weight=3,
    ),
    Field(
        "points.geoid",
        "Geoid model that the survey used",
        why="heights by another geoid than the job's are not seen",
        note="its name, or none",
        weight=2,
    ),
    Field("points.epoch", "Epoch of the coordinates", _T.NUMBER, "year", weight=2),
    Field(
        "points.base",
        "Base mark or service of the survey",
        why="nobody can say whether the points share the error of the flight's base",
        note="the mark as the flight's card names it, or the service",
        weight=2,
    ),
    Field(
        "points.surface",
        "Ground at the points, where no column says it",
        note="nonvegetated, vegetated, or in words",
    ),
    Field("points.surveyed", "Date of the survey, where no column says it", _T.DATE),
    Field(
        "points.sigma_horizontal",
        "Standard deviation of the survey in plan",
        _T.NUMBER,
        "m",
        core=False,
    ),
    Field(
        "points.sigma_vertical",
        "Standard deviation of the survey in height",
        _T.NUMBER,
        "m",
        why="nobody can say whether the points are good enough for what is asked",
    ),
    *(
        Field(f"points.column_{name}", f"Which column is {what}", core=False, note=_COLUMN)
        for name, what in (
            ("stratum", "the ground at the point"),
            ("sigma_horizontal", "the standard deviation in plan, metres"),
            ("sigma_vertical", "the standard deviation in height, metres"),
            ("surveyed", "the time of the survey"),
            ("measured_east", "the easting of the target as picked in the cloud"),
            ("measured_north", "the northing of the target as picked in the cloud"),
            ("measured_height", "the height of the target as picked in the cloud"),
        )
    ),
    Field(
        "points.decimal_mark",
        "Decimal mark of the table",
        _T.CHOICE,
        choices=("point", "comma"),
        core=False,
    ),
    Field("points.header", "Columns of the table, as they are written", core=False),
    Field("points.note", "Anything else worth knowing", core=False),
)
