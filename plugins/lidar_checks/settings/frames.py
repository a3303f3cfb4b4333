"""Reference frames and ellipsoids as people write them, compared by what they are.

Names are looked up in the EPSG registry. A member of a datum ensemble agrees with its ensemble.
That realisations of ITRF, IGS and WGS 84 lie within centimetres of each other is from memory and
so decides nothing: such a pair is unclear. GRS 80 and WGS 84 differ by 0.1 mm in the polar radius
(EPSG ellipsoids 7019 and 7030), so that pair is no fault.
"""

from __future__ import annotations

import re

from ledger.crs import compare, describe_ellipsoid, describe_frame
from ledger.expected import is_conversion
from ledger.model.georeferencing import Crs
from lidar_checks.settings.conditions import Answer, Condition, Values

# What stands behind the name of a frame when the epoch is written with it.
_EPOCH = re.compile(r"\s*[,(@]?\s*(epoch|ep\.?|at|@)\s*[12]\d{3}(\.\d*)?\s*\)?\s*$", re.IGNORECASE)
_GLOBAL = ("ITRF", "IGS", "IGb", "WGS 84")
# Closer than any two ellipsoids of the trade but the two modern ones.
_SAME_AXIS_M = 0.001
_SAME_FLATTENING = 2e-6
_NOTHING = ("", "none")
# How operations that change nothing are named where a library had no better one: PROJ ("Ballpark
# geographic offset", "Null geographic offset", noop, the grid @null), and shifts of naught.
_NULL = re.compile(
    r"ballpark|nullgeographic|^\+?proj=noop|nadgrids=@null|"
    r"towgs84=[-+]?0(\.0*)?(,[-+]?0(\.0*)?)*(?![\d.,])"
)


def same_frame(a: str, b: str) -> Condition:
    """Return the condition that two frames are one."""
    return lambda values: compare_frames(
        str(values.by_key.get(a, "")), str(values.by_key.get(b, ""))
    )


def compare_frames(a: str, b: str) -> Answer:
    """Say whether two names are of one frame.

    Unclear are two global frames, a name that is a part of the other, and one that the registry
    does not know.
    """
    one, other = clean_frame(a), clean_frame(b)
    if _spell(one) == _spell(other):
        return Answer.HOLDS
    first, second = describe_frame(one), describe_frame(other)
    if first is not None and second is not None and _share_datum(first, second):
        return Answer.HOLDS
    if _spell(one) in _spell(other) or _spell(other) in _spell(one):
        return Answer.UNCLEAR
    if first is None or second is None:
        return Answer.UNCLEAR
    both_global = _is_global(first) and _is_global(second)
    return Answer.UNCLEAR if both_global else Answer.BROKEN


def clean_frame(name: str) -> str:
    """Return the name of a frame without the epoch that is written behind it."""
    return _EPOCH.sub("", name)


def _spell(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", name.casefold())


def _share_datum(a: Crs, b: Crs) -> bool:
    return all(difference.part != "datum" for difference in compare(a, b))


def _is_global(frame: Crs) -> bool:
    return frame.name.startswith(_GLOBAL)


def frame_kept_or_changed(source: str, target: str, operation: str) -> Condition:
    """Return the condition that positions stay in their frame, or a change of it is recorded."""

    def judge(values: Values) -> Answer:
        if values.text(operation) not in _NOTHING:
            return Answer.HOLDS
        return same_frame(source, target)(values)

    return judge


def operation_changes(source: str, target: str, operation: str) -> Condition:
    """Return the condition that a recorded change of frame is one, where the frames are two.

    A map projection is none, whatever it was meant for.
    """

    def judge(values: Values) -> Answer:
        named = str(values.by_key.get(operation, ""))
        if not _NULL.search(values.text(operation)) and not is_conversion(named):
            return Answer.HOLDS
        return same_frame(source, target)(values)

    return judge


def is_good_enough(accuracy: str, limit: str) -> Condition:
    """Return the condition that an operation is as good as a criterion asks."""

    def judge(values: Values) -> Answer:
        metres = values.number(accuracy)
        if metres is None:
            return Answer.UNCLEAR
        return Answer.HOLDS if metres <= values.limit(limit) else Answer.BROKEN

    return judge


def epoch_kept_or_changed(source: str, target: str, operation: str) -> Condition:
    """Return the condition that positions stay at their epoch, or a change of it is recorded."""

    def judge(values: Values) -> Answer:
        if values.text(operation) not in _NOTHING:
            return Answer.HOLDS
        first, second = values.number(source), values.number(target)
        if first is None or second is None:
            return Answer.UNCLEAR
        close = abs(first - second) <= values.limit("epoch_apart_max_years")
        return Answer.HOLDS if close else Answer.BROKEN

    return judge


def same_ellipsoid(a: str, b: str) -> Condition:
    """Return the condition that two ellipsoids are one, GRS 80 and WGS 84 being one."""

    def judge(values: Values) -> Answer:
        names = [str(values.by_key.get(key, "")) for key in (a, b)]
        if _spell(names[0]) == _spell(names[1]):
            return Answer.HOLDS
        first, second = map(describe_ellipsoid, names)
        if first is None or second is None:
            return Answer.UNCLEAR
        alike = (
            abs(first[0] - second[0]) < _SAME_AXIS_M
            and abs(first[1] - second[1]) < _SAME_FLATTENING
        )
        return Answer.HOLDS if alike else Answer.BROKEN

    return judge
