"""What a known mistake would leave in the residuals, as it is worked out before looking at them."""

from __future__ import annotations

from dataclasses import replace

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.observed import Floats, Mask


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that may have happened.

    Args:
        clause: what happened, as a clause: `the heights are ellipsoidal`.
        remedy: the one thing to do.
        catalogue: ids of the catalogue of failures.
        topics: checks of settings whose contradictions speak for it.
    """

    clause: str
    remedy: str
    catalogue: tuple[str, ...]
    topics: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A mistake that moves every point, and by how much.

    Args:
        id: kebab case.
        group: what it is about: `heights`, `frame`, `antenna`, `arm` or `unit`. Two of one group
            do not come together.
        quantity: what the number is: `the geoid height`.
        readings: what may have happened; several where nothing in the residuals tells them apart.
        shift: to the east, to the north and up, at each point, metres, (n, 3).
        sigma_plan_m: how well it is known in plan, standard deviation.
        sigma_height_m: in height.
        inputs: what it was worked out from, each with its digest where it is a file.
        separates: the one measurement that would tell it from others of the same size.
    """

    id: str
    group: str
    quantity: str
    readings: tuple[Reading, ...]
    shift: Floats
    sigma_plan_m: float
    sigma_height_m: float
    inputs: tuple[str, ...] = ()
    separates: str = ""

    @property
    def clause(self) -> str:
        """Return what happened; `either … or …` where there are several readings."""
        clauses = [each.clause for each in self.readings]
        return clauses[0] if len(clauses) == 1 else f"either {' or '.join(clauses)}"

    @property
    def moves_plan(self) -> bool:
        """Say whether it moves points in plan at all."""
        return bool((abs(self.shift[:, :2]) > 1e-6).any())

    def take(self, mask: Mask) -> Candidate:
        """Return it for some of the points."""
        return replace(self, shift=self.shift[mask])


@dataclass(frozen=True, slots=True)
class Pattern:
    """A mistake that shows in how the residuals change over the site, whatever their mean is.

    Args:
        id: kebab case.
        quantity: what the number is: `the meridian convergence`.
        readings: as of a candidate.
        values: predicted parameters by name: `rotation`, `scale`, `tilt_east`, `tilt_north`,
            `bend`.
        sigmas: how well each is known, standard deviation.
        unit: of the values as they are told: `ppm`, `deg`, `m/km`.
        per_unit: how much a unit is in the parameters.
        inputs: as of a candidate.
    """

    id: str
    quantity: str
    readings: tuple[Reading, ...]
    values: dict[str, float]
    sigmas: dict[str, float]
    unit: str
    per_unit: float
    inputs: tuple[str, ...] = ()

    @property
    def clause(self) -> str:
        """Return what happened; `either … or …` where there are several readings."""
        clauses = [each.clause for each in self.readings]
        return clauses[0] if len(clauses) == 1 else f"either {' or '.join(clauses)}"


@dataclass(frozen=True, slots=True, eq=False)
class Turning:
    """A mistake that turns with the aircraft: each point is moved by how it was flown over.

    Args:
        id: kebab case.
        quantity: what the number is: `the horizontal lever arm of G1`.
        readings: as of a candidate.
        shape: to the east, to the north and up, at each point, metres for one metre, second or
            radian, (n, 3); NaN where it is not known how the point was flown over.
        value: metres, seconds or radians, as predicted; None where nothing predicts it, and only
            the residuals may say.
        sigma: how well it is known, standard deviation.
        largest: a number that is fitted may be so large; what is larger is something else.
        unit: of the number as it is told: `m`, `ms`, `deg`.
        per_unit: how much such a unit is in metres, seconds or radians.
        inputs: as of a candidate.
        separates: the one measurement that would tell it from others.
    """

    id: str
    quantity: str
    readings: tuple[Reading, ...]
    shape: Floats
    value: float | None
    sigma: float = 0.0
    largest: float = float("inf")
    unit: str = "m"
    per_unit: float = 1.0
    inputs: tuple[str, ...] = ()
    separates: str = ""

    @property
    def clause(self) -> str:
        """Return what happened."""
        return self.readings[0].clause

    def take(self, mask: Mask) -> Turning:
        """Return it for some of the points."""
        return replace(self, shape=self.shape[mask])


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A candidate that could not be worked out.

    Args:
        what: what it would be, as a noun: `another geoid grid`.
        why: what is missing, as a clause: `no second grid is registered`.
    """

    what: str
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Predictions:
    """All that was worked out for a job.

    Args:
        candidates: mistakes that move points.
        patterns: mistakes that show in a pattern.
        left_out: what could not be worked out, and why.
        turning: mistakes that turn with the aircraft.
    """

    candidates: tuple[Candidate, ...] = ()
    patterns: tuple[Pattern, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    turning: tuple[Turning, ...] = ()

    def __add__(self, other: Predictions) -> Predictions:
        """Return both together."""
        return Predictions(
            self.candidates + other.candidates,
            self.patterns + other.patterns,
            self.left_out + other.left_out,
            self.turning + other.turning,
        )

    def take(self, mask: Mask) -> Predictions:
        """Return them for some of the points."""
        chosen = tuple(each.take(mask) for each in self.candidates)
        turning = tuple(each.take(mask) for each in self.turning)
        return Predictions(chosen, self.patterns, self.left_out, turning)
