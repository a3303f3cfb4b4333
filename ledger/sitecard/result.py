"""What a site card says: where, when, and line by line which number has which cause."""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.expected import Place

SEEN_FROM_M = 0.05
"""Smaller than this a constant is hardly told from the spread of a few checkpoints (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Part:
    """One number of a line.

    Args:
        label: what it is of: `height`, `east`, `easting`, `rotation` …
        value: the number.
        unit: `m`, `degree`, `ppm`, `s`, `m/km` or empty for a ratio.
        signed: whether its sign means a direction, and is shown.
    """

    label: str
    value: float
    unit: str
    signed: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """If this number is seen, this is why.

    Args:
        topic: stable name of the cause: `ellipsoidal-heights`.
        parts: the number or numbers: what a cloud shows less what is right.
        size_m: how many metres that is, for the order; of what grows with distance in one km.
        why: the cause, as a clause.
        how: what the numbers were computed from and with.
    """

    topic: str
    parts: tuple[Part, ...]
    size_m: float
    why: str
    how: str = ""

    @property
    def can_be_seen(self) -> bool:
        """Say whether checkpoints can show it here."""
        return self.size_m >= SEEN_FROM_M


@dataclass(frozen=True, slots=True)
class Fact:
    """A number that is right here, to be found in a program's report.

    Args:
        topic: stable name: `geoid-height`, `convergence` …
        label: what it is, as words.
        part: the number.
        how: what it was computed from and with.
    """

    topic: str
    label: str
    part: Part
    how: str = ""


@dataclass(frozen=True, slots=True)
class Missing:
    """A number that cannot be told.

    Args:
        topic: stable name of what is missing.
        reason: what is missing by name, as a clause.
    """

    topic: str
    reason: str


@dataclass(frozen=True, slots=True)
class SiteCard:
    """A site card.

    Args:
        place: where and when.
        known_from: what the place was taken from, as words.
        job: reference of the job; empty outside a job.
        system: name of the map system that the numbers are of.
        frame: frame in which the work has to be, of the lines about frames; empty for none.
        zone: UTM zone of the place; empty beyond 80 S and 84 N.
        east_m: easting in that system, metres; None where it has none.
        north_m: northing.
        facts: numbers that are right here.
        lines: numbers with their causes, worst first.
        missing: what cannot be told, each by name.
        notes: what has to be known about the place, one sentence each.
    """

    place: Place
    known_from: str
    job: str
    system: str
    frame: str
    zone: str
    east_m: float | None
    north_m: float | None
    facts: tuple[Fact, ...]
    lines: tuple[Line, ...]
    missing: tuple[Missing, ...]
    notes: tuple[str, ...]


CAUTIONS = (
    "A number like one of these is a hint and no proof: different causes can look alike.",
    "This card reports what registered operations and named grids give; it does not certify.",
    "Land safely before anything is read or saved, and never change raw data.",
)
"""What is printed below every card."""
