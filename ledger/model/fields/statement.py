"""The fields of a statement: one number about accuracy that a report states."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import ACCURACY_KINDS, LINEAR_UNITS, STATISTICS, STRATA

_T = FieldType

STATEMENT_FIELDS = (
    Field(
        "statement.about",
        "Run, step or folder that it is about",
        why="nobody can say which files have to bear it out",
        note="R2, or deliver",
        weight=3,
    ),
    Field(
        "statement.accuracy",
        "Which accuracy is stated",
        _T.CHOICE,
        choices=ACCURACY_KINDS,
        why="nobody can say which residuals have to bear it out",
        weight=3,
    ),
    Field(
        "statement.statistic",
        "Which statistic",
        _T.CHOICE,
        choices=STATISTICS,
        why="two statistics of the same residuals differ by a factor of two and more",
        weight=3,
    ),
    Field(
        "statement.value",
        "The number, as the report states it",
        _T.NUMBER,
        "m",
        why="there is no number to hold against the files",
        weight=3,
    ),
    Field(
        "statement.unit",
        "Unit in which the report states it",
        _T.CHOICE,
        choices=LINEAR_UNITS,
        core=False,
    ),
    Field(
        "statement.count",
        "Number of points behind it",
        _T.COUNT,
        why="a statistic of few points says little, and nobody sees how few",
        weight=2,
    ),
    Field("statement.confidence", "Confidence level that is stated with it", _T.NUMBER, "%"),
    Field(
        "statement.strata",
        "Which of the points",
        _T.CHOICE,
        choices=STRATA,
        why="points in vegetation and in the open have different errors",
    ),
    Field(
        "statement.checkpoints",
        "Table of the checkpoints",
        _T.FILE,
        why="nobody can compute it again",
        weight=2,
    ),
    Field(
        "statement.report",
        "Report that states it",
        _T.FILE,
        why="nobody can tell which edition of the report said so",
    ),
    Field("statement.note", "Anything else worth knowing", core=False),
)
