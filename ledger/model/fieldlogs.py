"""What base logs, position logs and trajectories say, on one time scale.

All times are GPS seconds (see `ledger.model.timescale`). Where the scale of a clock is not known,
its readings are taken as they stand, as if it ran in GPS time: `scale` is None then, and nothing
may pass on such times. Angles are degrees, lengths metres; arrays are read-only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from decimal import Decimal
from typing import TYPE_CHECKING

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue

if TYPE_CHECKING:  # arrays come with those who read files
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bytes = NDArray[np.int8]
    Shorts = NDArray[np.int16]

Three = tuple[Decimal, Decimal, Decimal]

# GGA field 6 (NMEA 0183): what a receiver says of its own solution.
FIXED, FLOAT, DIFFERENTIAL, SINGLE, NO_POSITION = 4, 5, 2, 1, 0
UNKNOWN_QUALITY = -1


@dataclass(frozen=True)
class LogFile:
    """The file that a log was read from.

    Args:
        path: as the book writes it.
        sha256: digest of its bytes.
        role: `base-log`, `flight-log` or `trajectory`.
        flight: id of the flight that it was registered with; empty for none.
        run: id of the run that wrote it out; empty for a raw file.
    """

    path: str
    sha256: str
    role: str
    flight: str = ""
    run: str = ""


@dataclass(frozen=True)
class Gap:
    """A stretch of time without an epoch.

    Args:
        begin_s: the epoch before it, GPS seconds.
        seconds: from there to the next epoch.
    """

    begin_s: float
    seconds: float


@dataclass(frozen=True)
class BaseLog:
    """An observation file of a base receiver.

    Args:
        file: where it was read.
        marker: marker name.
        receiver: receiver type.
        antenna: antenna type with radome, as the file has it.
        position_m: approximate position, geocentric; None where the file has none.
        antenna_delta_m: height, east and north of the antenna reference point above the mark; None
            where the file has none.
        scale: time scale that the file states; None where it states none that is known.
        header_s: first and last observation as the header claims them; None where it does not.
        span_s: first and last epoch of the body; None where it was not read, or has none.
        epochs: epochs in the body; None where it was not read.
        interval_s: seconds between epochs as stated; None where not stated.
        step_s: most frequent seconds between epochs of the body; None for fewer than two.
        missing: epochs that are absent between the first and the last; None where not counted.
        gaps: the longest gaps of more than one step, in order of time.
        longest_gap_s: seconds of the longest; None where gaps were not looked for.
        bad_lines: epoch lines that could not be read; None where the body was not read.
        is_compact: its body is in Hatanaka's compact form and was not read.
    """

    file: LogFile
    marker: str = ""
    receiver: str = ""
    antenna: str = ""
    position_m: Three | None = None
    antenna_delta_m: Three | None = None
    scale: KnownValue | None = None
    header_s: tuple[float, float] | None = None
    span_s: tuple[float, float] | None = None
    epochs: int | None = None
    interval_s: Decimal | None = None
    step_s: Decimal | None = None
    missing: int | None = None
    gaps: tuple[Gap, ...] = ()
    longest_gap_s: float | None = None
    bad_lines: int | None = None
    is_compact: bool = False


@dataclass(frozen=True, eq=False)
class Series:
    """Positions in order of time, one element an epoch; NaN (or -1) for what an epoch has not.

    Where a log has more epochs than are kept, it is thinned to an even step; an epoch at which the
    quality changes is kept.

    Args:
        time_s: GPS seconds, rising, float64, (n,).
        east_m: easting, (n,); see `Track.place`.
        north_m: northing, (n,).
        height_m: height as written, metres, (n,).
        quality: fix quality as in GGA, -1 where not stated, int8, (n,).
        satellites: satellites in use, -1 where not stated, int16, (n,).
        hdop: horizontal dilution of precision, (n,).
        pdop: that of the position, (n,).
        age_s: age of the correction, (n,).
        sigma_m: standard deviation of the height as the receiver states it, (n,).
        roll_deg: roll, (n,).
        pitch_deg: pitch, (n,).
        heading_deg: heading, clockwise from north, (n,).
    """

    time_s: Floats
    east_m: Floats
    north_m: Floats
    height_m: Floats
    quality: Bytes
    satellites: Shorts
    hdop: Floats
    pdop: Floats
    age_s: Floats
    sigma_m: Floats
    roll_deg: Floats
    pitch_deg: Floats
    heading_deg: Floats


@dataclass(frozen=True)
class Track:
    """A log of positions: sentences of a receiver, or a trajectory.

    Args:
        file: where it was read.
        kind: `sentences`, `table` or `binary`.
        scale: time scale of its clock and how it is known; None where nothing says.
        has_date: the day stands in the file; else it was taken from the flight.
        span_s: first and last epoch; None where it has none.
        epochs: epochs with a time.
        bad: damaged lines that were left out.
        place: what eastings and northings are: `job` (in the horizontal system of the job), `local`
            (about its first position, true north up), or `written` (as in the file, whose system
            nothing says).
        height_type: `ellipsoidal`, `orthometric` or `site`, and how it is known; None where
            nothing says.
        understood: what each column was taken for: meaning to column.
        step_s: most frequent seconds between epochs; None for fewer than two.
        gaps: the longest gaps of more than one step, in order of time.
        longest_gap_s: seconds of the longest; 0 for none.
        repeated: epochs that have the time of the one before.
        backward: epochs that are earlier than the one before.
        quality_known: by what the fix qualities are known to be those of GGA; None where nothing
            says, and then the series has none.
        separation_m: geoid separation that the receiver used, first and last; None for none.
        stations: ids of the reference stations that corrections came from, in order of time, each
            with the time from which on.
        series: its positions; None where it has none.
        fault: why it could not be read; empty otherwise.
    """

    file: LogFile
    kind: str
    scale: KnownValue | None = None
    has_date: bool = True
    span_s: tuple[float, float] | None = None
    epochs: int = 0
    bad: int = 0
    place: str = "written"
    height_type: KnownValue | None = None
    understood: Mapping[str, str] = field(default_factory=dict)
    step_s: float | None = None
    gaps: tuple[Gap, ...] = ()
    longest_gap_s: float = 0.0
    repeated: int = 0
    backward: int = 0
    quality_known: KnownValue | None = None
    separation_m: tuple[Decimal, Decimal] | None = None
    stations: tuple[tuple[float, str], ...] = ()
    series: Series | None = field(default=None, repr=False)
    fault: str = ""


@dataclass(frozen=True)
class FieldLogs:
    """The logs behind a delivery.

    Args:
        bases: base logs, by flight and path.
        tracks: position logs and trajectories, by flight and path.
    """

    bases: tuple[BaseLog, ...] = ()
    tracks: tuple[Track, ...] = ()

    def list_bases(self, flight: str) -> tuple[BaseLog, ...]:
        """Return the base logs of a flight; those of no flight where it has none of its own."""
        own = tuple(log for log in self.bases if log.file.flight == flight)
        return own or tuple(log for log in self.bases if not log.file.flight)

    def list_tracks(self, flight: str) -> tuple[Track, ...]:
        """Return the tracks of a flight; those of no flight where it has none of its own."""
        own = tuple(log for log in self.tracks if log.file.flight == flight)
        return own or tuple(log for log in self.tracks if not log.file.flight)
