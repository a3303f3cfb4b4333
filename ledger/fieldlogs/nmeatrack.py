"""The positions of an NMEA 0183 log, epoch by epoch.

GGA gives position, fix quality, satellites, HDOP and the age of the correction, GST the standard
deviation of the height at the same time, GSA the PDOP of the epoch whose GGA went before it, RMC
and ZDA the day. Heights are those above the
ellipsoid where a geoid separation stands beside them (GGA: field 9 plus field 11), whatever model
the receiver has for it.
"""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path

import numpy as np

from ledger.dataclass import dataclass
from ledger.errors import UnreadableFileError
from ledger.fieldlogs.nmea import DayClock, LineCounts, list_sentences, read_seconds
from ledger.fieldlogs.opening import open_text
from ledger.fieldlogs.series import (
    AGE,
    COLUMNS,
    HDOP,
    HEIGHT,
    PDOP,
    QUALITY,
    SATELLITES,
    SIGMA,
    TIME,
    Gathered,
    SeriesBuilder,
    X,
    Y,
)

_SLICE = 4096
_MOST_STATIONS = 200
_LEAST_GGA = 12
_LEAST_GST = 9
_LEAST_GSA = 18


@dataclass(frozen=True, eq=False)
class NmeaTrack:
    """The positions of a log.

    Args:
        gathered: epochs; time in seconds since the midnight before the first sentence, UTC; X and Y
            longitude and latitude, degrees; heights in metres.
        first_day: the day of that midnight; None where no sentence tells it.
        bad: damaged sentences.
        heights: epochs with a height; those of them that were given above the ellipsoid are
            `ellipsoidal`.
        ellipsoidal: epochs whose height is above the ellipsoid.
        separation_m: first and last geoid separation; None for none.
        stations: ids of the reference stations of the corrections, each with the seconds from
            which on, in order; of very many the first ones.
    """

    gathered: Gathered
    first_day: date | None
    bad: int
    heights: int
    ellipsoidal: int
    separation_m: tuple[Decimal, Decimal] | None
    stations: tuple[tuple[float, str], ...]


class _Reader:
    def __init__(self) -> None:
        self.builder = SeriesBuilder()
        self.clock = DayClock()
        self.heights = self.ellipsoidal = 0
        self.separations: list[Decimal] = []
        self.stations: list[tuple[float, str]] = []
        self._rows: list[list[float]] = []
        # Keys are times of day as written: seconds counted over a midnight lose their last digits.
        self._sigma: dict[float | None, float] = {}
        self._last_time: float | None = None

    def take(self, parts: list[str]) -> None:
        kind = parts[0][-3:]
        seconds = self.clock.take(kind, parts)
        if kind == "GGA" and seconds is not None and len(parts) >= _LEAST_GGA:
            self._take_position(seconds, parts)
        elif kind == "GST" and len(parts) >= _LEAST_GST:
            self._take_spread(parts)
        elif kind == "GSA" and len(parts) >= _LEAST_GSA and self._rows:
            self._take_dilution(parts)

    def _take_position(self, seconds: float, parts: list[str]) -> None:
        row = [math.nan] * COLUMNS
        row[TIME] = seconds
        row[X] = _read_angle(parts[4], parts[5], "W")
        row[Y] = _read_angle(parts[2], parts[3], "S")
        row[QUALITY] = _read_number(parts[6])
        row[SATELLITES], row[HDOP] = _read_number(parts[7]), _read_number(parts[8])
        row[HEIGHT] = self._read_height(parts)
        if len(parts) > 13:
            row[AGE] = _read_number(parts[13])
        if len(parts) > 14 and parts[14]:
            self._take_station(seconds, parts[14])
        self._last_time = read_seconds(parts[1])
        row[SIGMA] = self._sigma.pop(self._last_time, math.nan)
        self._rows.append(row)
        if len(self._rows) >= _SLICE:
            # The last one waits for a GST sentence that follows it.
            self._flush(keep=1)

    def _read_height(self, parts: list[str]) -> float:
        height, separation = _read_number(parts[9]), _read_number(parts[11])
        if math.isnan(height) or parts[6] in ("", "0"):
            return math.nan
        self.heights += 1
        if math.isnan(separation):
            return height
        self.ellipsoidal += 1
        self._take_separation(parts[11])
        return height + separation

    def _take_separation(self, text: str) -> None:
        try:
            self.separations[1:] = [Decimal(text)]
        except InvalidOperation:
            return

    def _take_station(self, seconds: float, station: str) -> None:
        known = self.stations[-1][1] if self.stations else ""
        if station != known and len(self.stations) < _MOST_STATIONS:
            self.stations.append((seconds, station))

    def _take_spread(self, parts: list[str]) -> None:
        seconds = read_seconds(parts[1])
        sigma = _read_number(parts[8])
        if seconds is None or math.isnan(sigma):
            return
        if self._rows and self._last_time == seconds:
            self._rows[-1][SIGMA] = sigma
        else:
            self._sigma = {seconds: sigma}

    def _take_dilution(self, parts: list[str]) -> None:
        """Take field 15; of several constellations each sentence tells that of all together."""
        pdop = _read_number(parts[15])
        if not math.isnan(pdop):
            known = self._rows[-1][PDOP]
            self._rows[-1][PDOP] = pdop if math.isnan(known) else min(known, pdop)

    def _flush(self, keep: int) -> None:
        ready, self._rows = (
            self._rows[: len(self._rows) - keep],
            self._rows[len(self._rows) - keep :],
        )
        if ready:
            self.builder.add(np.array(ready, dtype=np.float64))

    def close(self, bad: int) -> NmeaTrack:
        self._flush(keep=0)
        separations = self.separations
        return NmeaTrack(
            gathered=self.builder.close(),
            first_day=self.clock.first_day,
            bad=bad,
            heights=self.heights,
            ellipsoidal=self.ellipsoidal,
            separation_m=(separations[0], separations[-1]) if separations else None,
            stations=tuple(self.stations),
        )


def read_nmea_track(path: Path) -> NmeaTrack:
    """Read the positions of an NMEA log, also one mixed with binary frames.

    Raises:
        UnreadableFileError: the system refused.
    """
    reader, counts = _Reader(), LineCounts()
    try:
        with open_text(path) as stream:
            for parts in list_sentences(stream, counts):
                reader.take(parts)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    return reader.close(counts.bad)


def _read_number(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        return math.nan
    return number if math.isfinite(number) else math.nan


def _read_angle(text: str, side: str, negative: str) -> float:
    """Return degrees of `ddmm.mmm` or `dddmm.mmm`; NaN for what is none."""
    value = _read_number(text)
    if math.isnan(value) or side not in ("N", "S", "E", "W"):
        return math.nan
    degrees = math.floor(abs(value) / 100)
    angle = degrees + (abs(value) - 100 * degrees) / 60
    # A minus sign is no part of the standard; some write one beside the letter of the side.
    return -angle if side == negative else angle
