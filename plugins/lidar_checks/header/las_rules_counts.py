"""Rules on the counts of points in the header, as far as the header alone tells.

Source: ASPRS LAS 1.4 R15, public header block: legacy counts, number of point records.
"""

from __future__ import annotations

from ledger.model.finding import Grade
from ledger.model.phrases import count_things
from lidar_checks.header.las_rule import LAS, HeaderCase, LasRule

_LEGACY = f"{LAS}, public header block, legacy number of point records"
_RETURNS = f"{LAS}, public header block, number of points by return"
_REWRITE = "Export or re-index the file, so that its header is written anew."


def _find_other_legacy(case: HeaderCase) -> str:
    header = case.header
    if case.minor < 4 or header.legacy_count in (0, header.point_count):
        return ""
    return f"the legacy count is {header.legacy_count:,}, the 64-bit count {header.point_count:,}"


def _find_needless_legacy(case: HeaderCase) -> str:
    header = case.header
    if case.minor < 4 or not case.is_extended or header.legacy_count != header.point_count:
        return ""
    if not header.legacy_count:
        return ""
    return (
        f"the legacy count is {header.legacy_count:,}; "
        f"it has to be 0 for point format {header.point_format}"
    )


def _find_needless_legacy_returns(case: HeaderCase) -> str:
    header = case.header
    if case.minor < 4 or header.legacy_count or not any(header.legacy_by_return):
        return ""
    return "the legacy counts by return are filled, the legacy count is 0"


def _find_too_many_returns(case: HeaderCase) -> str:
    returns, points = sum(case.header.by_return), case.header.point_count
    if returns <= points:
        return ""
    return f"it counts {count_things(returns, 'return')} for {count_things(points, 'point')}"


def _find_too_few_returns(case: HeaderCase) -> str:
    returns, points = sum(case.header.by_return), case.header.point_count
    if returns >= points:
        return ""
    return f"it counts {count_things(returns, 'return')} for {count_things(points, 'point')}"


RULES = (
    LasRule(
        "LAS-01",
        _LEGACY,
        Grade.MINOR,
        _find_other_legacy,
        _REWRITE,
        ("FT-04",),
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-02", _LEGACY, Grade.OBSERVATION, _find_needless_legacy, _REWRITE, is_of_one_file=True
    ),
    LasRule(
        "LAS-03",
        f"{LAS}, public header block, legacy number of points by return",
        Grade.OBSERVATION,
        _find_needless_legacy_returns,
        _REWRITE,
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-04",
        _RETURNS,
        Grade.MINOR,
        _find_too_many_returns,
        _REWRITE,
        ("FT-04",),
        is_of_one_file=True,
    ),
    LasRule(
        "LAS-05",
        _RETURNS,
        Grade.OBSERVATION,
        _find_too_few_returns,
        _REWRITE,
        ("FT-04",),
        is_of_one_file=True,
    ),
)
