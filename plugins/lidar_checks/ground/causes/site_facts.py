"""What a job says of itself, as numbers: all that predictions are made from.

Whatever is None or empty was not recorded or could not be worked out; `missing` says why.
"""

from __future__ import annotations

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.observed import Floats


@dataclass(frozen=True, eq=False)
class GridHeights:
    """Geoid heights of one grid file at the points.

    Args:
        name: the file as the book writes it, or the name of the model.
        sha256: digest of its bytes.
        heights: metres above the ellipsoid of the grid, (n,).
        is_worldwide: it covers the whole earth, so that it is good to a decimetre only.
    """

    name: str
    sha256: str
    heights: Floats
    is_worldwide: bool = False


@dataclass(frozen=True, eq=False)
class FrameShift:
    """How far a place lies off when its coordinates in one frame are taken for those of the job.

    Args:
        frame: the other frame: `ITRF2020`.
        job_frame: that of the job.
        epoch: of the coordinates in the other frame, decimal year.
        shift: coordinates in the other frame less those in the frame of the job, east, north and
            up, metres, (n, 3).
        is_recorded: a record of this job names the other frame.
        operation: what it was worked out with.
    """

    frame: str
    job_frame: str
    epoch: float
    shift: Floats
    is_recorded: bool = False
    operation: str = ""


@dataclass(frozen=True, eq=False)
class Drift:
    """How far a place moves between two epochs, against the frame of the job.

    Args:
        frame: the frame that the place moves in: `ITRF2020`.
        from_epoch: decimal year, that of the job.
        to_epoch: decimal year, that of the survey.
        shift: metres, (n, 3).
        operation: what it was worked out with.
    """

    frame: str
    from_epoch: float
    to_epoch: float
    shift: Floats
    operation: str = ""


@dataclass(frozen=True)
class Antenna:
    """The antenna of a base.

    Args:
        owner: id of the flight.
        vertical_m: height of the antenna reference point above the mark; None for not known.
        slant_m: as it was read slant; None where it was not.
        radius_m: of the antenna; None for not known.
        phase_centre_m: of its phase centre above that point; None for not known.
    """

    owner: str
    vertical_m: float | None
    slant_m: float | None = None
    radius_m: float | None = None
    phase_centre_m: float | None = None


@dataclass(frozen=True)
class Arms:
    """Lever arms: how far the scanner lies below an antenna, ahead of it and to its right, metres.

    Args:
        owner: id of the rig.
        aircraft_m: below the antenna of the aircraft; None for not known.
        scanner_m: below the scanner's own antenna.
        right: which of them the positions ask for: `aircraft`, `scanner` or empty.
        aircraft_flat_m: ahead of the antenna of the aircraft, and to its right; None for not known.
        scanner_flat_m: of the scanner's own antenna.
    """

    owner: str
    aircraft_m: float | None
    scanner_m: float | None
    right: str = ""
    aircraft_flat_m: tuple[float, float] | None = None
    scanner_flat_m: tuple[float, float] | None = None

    @property
    def down(self) -> dict[str, float | None]:
        """Return how far the scanner lies below each antenna."""
        return {"aircraft": self.aircraft_m, "scanner": self.scanner_m}

    @property
    def flat(self) -> dict[str, tuple[float, float] | None]:
        """Return how far it lies ahead of each antenna and to its right."""
        return {"aircraft": self.aircraft_flat_m, "scanner": self.scanner_flat_m}


@dataclass(frozen=True, eq=False)
class Overflown:
    """How each of n points was flown over: means over its passes; NaN where that is not known.

    Args:
        log: names of the logs that say so.
        forward: heading of the aircraft, length one for a single pass, east and north, (n, 2).
        velocity: metres a second, (n, 2).
        height_forward: height above the point times the heading, metres, (n, 2).
        across_forward: how far right of the path the point lies, times the heading, (n, 2).
        ahead_right: how far ahead it lies, times the direction to the right, (n, 2).
        across: how far right of the path the point lies, metres, (n,).
        ahead: how far ahead, (n,).
        by_course: the aircraft was taken to point where it flew, for no log has its heading.
    """

    log: str
    forward: Floats
    velocity: Floats
    height_forward: Floats
    across_forward: Floats
    ahead_right: Floats
    across: Floats
    ahead: Floats
    by_course: bool = False


@dataclass(frozen=True)
class BaseOffset:
    """A base whose log says another place than the table of its mark.

    Args:
        mark: name of the mark.
        log: the log.
        shift: place in the log less that of the mark, east, north and up, metres.
    """

    mark: str
    log: str
    shift: tuple[float, float, float]


@dataclass(frozen=True)
class Projection:
    """The map projection at the middle of the points.

    Args:
        name: of the system.
        scale: k, metres on the map a metre on the ellipsoid.
        combined: k·R/(R + h), metres on the map a metre on the ground.
        convergence_rad: grid north lies so far east of true north.
    """

    name: str
    scale: float
    combined: float
    convergence_rad: float


@dataclass(frozen=True)
class Missing:
    """What was not recorded or could not be worked out.

    Args:
        fact: name of the attribute of `SiteFacts`.
        why: a clause.
    """

    fact: str
    why: str


@dataclass(frozen=True, eq=False)
class SiteFacts:
    """Everything that predictions are made from, at n points.

    Args:
        east: metres in the system of the job, (n,).
        north: (n,).
        height: of the points as surveyed, metres, (n,).
        asked: heights that the job asks for: `orthometric`, `ellipsoidal`, `site`, or empty.
        grid: the geoid of the job; None where there is none.
        other_grids: other geoids that the job registered.
        receiver_m: geoid height that the receiver used; None where no log says.
        receiver_log: the log that says so.
        frames: other frames.
        drifts: moves between epochs.
        antennas: of the bases.
        arms: of the rigs.
        bases: that stood elsewhere than their mark.
        projection: None for a system that is no projection.
        overflown: how each point was flown over; None where that is not known.
        leap_s: GPS time less UTC on the day of the flight, seconds; None where that is not known.
        missing: what there is not, and why.
    """

    east: Floats
    north: Floats
    height: Floats
    asked: str = ""
    grid: GridHeights | None = None
    other_grids: tuple[GridHeights, ...] = ()
    receiver_m: float | None = None
    receiver_log: str = ""
    frames: tuple[FrameShift, ...] = ()
    drifts: tuple[Drift, ...] = ()
    antennas: tuple[Antenna, ...] = ()
    arms: tuple[Arms, ...] = ()
    bases: tuple[BaseOffset, ...] = ()
    projection: Projection | None = None
    overflown: Overflown | None = None
    leap_s: int | None = None
    missing: tuple[Missing, ...] = ()

    @property
    def count(self) -> int:
        """Return the number of points."""
        return len(self.east)

    def tell_missing(self, fact: str) -> str:
        """Return why a fact is not there, as a clause."""
        return next((each.why for each in self.missing if each.fact == fact), "nothing records it")
