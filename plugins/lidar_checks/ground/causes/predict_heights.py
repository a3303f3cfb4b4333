"""What mistakes with the geoid leave in the residuals.

An ellipsoidal height h, an orthometric height H and the geoid height N obey h = H + N, so that an
ellipsoidal height delivered for an orthometric one lies too high by N.
"""

from __future__ import annotations

import numpy as np

from lidar_checks.ground.causes.candidate import Candidate, LeftOut, Predictions, Reading
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.site_facts import GridHeights, SiteFacts

# How well the geoid height is known (common practice, no source).
SIGMA_NATIONAL_M = 0.03
SIGMA_WORLDWIDE_M = 0.10
SIGMA_OF_DIFFERENCE_M = 0.01
SIGMA_RECEIVER_M = 0.05
# Two grids that differ by less everywhere on the site are one (common practice, no source).
SAME_VALUES_M = 0.001

_TOPICS = ("height-chain",)
_MARK = "measure one mark whose height above the ellipsoid and above the geoid are both published"
_EXPORT = "Export again with the geoid and the kind of heights that the job asks for."
_SOURCE = "Set the kind of heights that go in to what the positions really are, and process again."
_TABLE = "Find out which heights the table of checkpoints has, and declare them."


def predict_heights(facts: SiteFacts) -> Predictions:
    """Return what mistakes with the geoid would leave."""
    if facts.asked == "site":
        why = "the job asks for heights with a zero of their own"
        return Predictions(left_out=(LeftOut("the geoid", why),))
    found = _predict_geoid(facts) + _predict_other_grids(facts)
    return found + _predict_receiver(facts)


def _predict_geoid(facts: SiteFacts) -> Predictions:
    if facts.grid is None:
        return Predictions(left_out=(LeftOut("the geoid height", facts.tell_missing("grid")),))
    plus, minus, twice = _word(facts.asked)
    grid = facts.grid
    sigma = SIGMA_WORLDWIDE_M if grid.is_worldwide else SIGMA_NATIONAL_M
    rows = (
        ("geoid-plus", "the geoid height", 1.0, plus, sigma),
        ("geoid-minus", "minus the geoid height", -1.0, minus, sigma),
        ("geoid-twice", "twice the geoid height", 2.0, twice, 2 * sigma),
    )
    return Predictions(
        tuple(
            Candidate(
                id=name,
                group="heights",
                quantity=quantity,
                readings=readings,
                shift=_lift(factor * grid.heights),
                sigma_plan_m=0.0,
                sigma_height_m=spread,
                inputs=(name_grid(grid),),
                separates=_MARK,
            )
            for name, quantity, factor, readings, spread in rows
        )
    )


def _word(asked: str) -> tuple[tuple[Reading, ...], ...]:
    """Return what +N, -N and +2N mean where orthometric or ellipsoidal heights are asked for."""
    added = Reading(
        "the geoid was added where it has to be taken off", _EXPORT, ("VD-03",), _TOPICS
    )
    table_above = Reading("the checkpoints are ellipsoidal", _TABLE, ("VD-11",))
    table_below = Reading("the checkpoints are orthometric", _TABLE, ("VD-11",))
    if asked == "ellipsoidal":
        return (
            (
                Reading("the geoid was added to ellipsoidal heights", _EXPORT, ("VD-01",), _TOPICS),
                table_below,
            ),
            (Reading("the heights are orthometric", _EXPORT, ("VD-01",), _TOPICS), table_above),
            (added,),
        )
    return (
        (Reading("the heights are ellipsoidal", _EXPORT, ("VD-01",), _TOPICS),),
        (Reading("the geoid was taken off twice", _SOURCE, ("VD-02",), _TOPICS), table_above),
        (added,),
    )


def _predict_other_grids(facts: SiteFacts) -> Predictions:
    """Z = h - N_used where H = h - N of the job is right, so that the rest is N - N_used."""
    if facts.grid is None:
        return Predictions()
    unread = tuple(
        LeftOut("another geoid grid", each.why)
        for each in facts.missing
        if each.fact == "other_grids"
    )
    if facts.asked == "ellipsoidal":
        why = "no geoid is in ellipsoidal heights"
        return Predictions(left_out=(LeftOut("another geoid grid", why),))
    candidates: list[Candidate] = []
    same: list[LeftOut] = []
    for group in group_by_values(facts.other_grids):
        off = facts.grid.heights - group[0].heights
        names = " or ".join(grid.name for grid in group)
        if float(np.abs(off).max()) < SAME_VALUES_M:
            why = f"it has the values of {facts.grid.name} on this site"
            same.append(LeftOut(names, why))
            continue
        reading = Reading(
            f"the geoid heights of {names} were used",
            f"Process the heights again with {facts.grid.name}.",
            ("VD-04",),
            _TOPICS,
        )
        candidates.append(
            Candidate(
                id=f"other-geoid {group[0].sha256[:12]}",
                group="heights",
                quantity=f"the geoid of the job less that of {names}",
                readings=(reading,),
                shift=_lift(off),
                sigma_plan_m=0.0,
                sigma_height_m=SIGMA_OF_DIFFERENCE_M,
                inputs=tuple(name_grid(each) for each in (facts.grid, *group)),
                separates="look up which grid the processing settings name",
            )
        )
    return Predictions(tuple(candidates), left_out=(*unread, *same))


def group_by_values(grids: tuple[GridHeights, ...]) -> list[list[GridHeights]]:
    """Return grids that have the same values at the points together, whatever their names are."""
    groups: list[list[GridHeights]] = []
    for grid in grids:
        for group in groups:
            if float(np.abs(group[0].heights - grid.heights).max()) < SAME_VALUES_M:
                group.append(grid)
                break
        else:
            groups.append([grid])
    return groups


def _predict_receiver(facts: SiteFacts) -> Predictions:
    """The altitude of a receiver is h - N_rx: taken for H, the rest is N - N_rx."""
    if facts.receiver_m is None:
        why = facts.tell_missing("receiver_m")
        return Predictions(left_out=(LeftOut("the receiver's own geoid", why),))
    if facts.grid is None or facts.asked == "ellipsoidal":
        why = "there is no geoid of the job to compare it with"
        return Predictions(left_out=(LeftOut("the receiver's own geoid", why),))
    used = Reading(
        "the receiver's altitude was used, which its own geoid has reduced",
        "Take the ellipsoidal height of the receiver, and process again.",
        ("VD-09",),
        _TOPICS,
    )
    again = Reading(
        "the receiver's altitude, which its own geoid has reduced, was reduced again",
        _SOURCE,
        ("VD-09", "VD-02"),
        _TOPICS,
    )
    inputs = (name_grid(facts.grid), facts.receiver_log)
    rows = (
        (
            "receiver-altitude",
            "the geoid of the job less that of the receiver",
            used,
            facts.grid.heights - facts.receiver_m,
        ),
        (
            "receiver-twice",
            "minus the geoid height of the receiver",
            again,
            np.full(facts.count, -facts.receiver_m),
        ),
    )
    return Predictions(
        tuple(
            Candidate(
                id=name,
                group="heights",
                quantity=quantity,
                readings=(reading,),
                shift=_lift(values),
                sigma_plan_m=0.0,
                sigma_height_m=SIGMA_RECEIVER_M,
                inputs=inputs,
                separates="look up which height of the receiver the processing took in",
            )
            for name, quantity, reading, values in rows
        )
    )


def name_grid(grid: GridHeights) -> str:
    """Return a grid with the beginning of its digest."""
    return f"{grid.name} (SHA-256 {grid.sha256[:12]})" if grid.sha256 else grid.name


def _lift(heights: Floats) -> Floats:
    return np.column_stack([np.zeros((len(heights), 2)), heights])
