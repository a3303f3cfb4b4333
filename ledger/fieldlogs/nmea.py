"""NMEA 0183 logs: first and last time, fix qualities, bad checksums.

A damaged line is counted and skipped, never fatal, never silent. Sources: NMEA 0183 as
reproduced by public parsers; the checksum is the XOR of the characters between `$` and `*`.

Light: no library beyond the standard one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import field
from datetime import date, timedelta
from functools import reduce
from operator import xor
from pathlib import Path
from typing import IO

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.fieldlogs.opening import open_text

# Sentences with a UTC time, and the number of the field that holds it.
TIME_FIELD = {"GGA": 1, "RMC": 1, "GNS": 1, "ZDA": 1, "GLL": 5}
_LONGEST_LINE = 4096
_HALF_DAY_S = 43_200
_NO_SOLUTION = ("", "0")  # fix quality of GGA
_DAY_S = 86_400


@dataclass(frozen=True)
class NmeaFacts:
    """What an NMEA log says.

    Args:
        sentences: sentences with a right checksum.
        bad: sentences with a wrong or missing checksum, or cut short.
        other_lines: lines that are no sentence.
        date: first date of an RMC or ZDA sentence, ISO form; empty when none says.
        first_time: first UTC time of day, `hh:mm:ss.ss`; empty when none says.
        last_time: last UTC time of day.
        midnights: how often the time of day ran over midnight.
        qualities: GGA sentences by fix quality ("4": 120).
        separation_m: geoid separation of the first GGA that states one, as text.
        position_deg: longitude and latitude of the first GGA with a solution, degrees, as texts;
            None where none has one.
    """

    sentences: int
    bad: int
    other_lines: int
    date: str
    first_time: str
    last_time: str
    midnights: int
    qualities: dict[str, int] = field(default_factory=dict)
    separation_m: str = ""
    position_deg: tuple[str, str] | None = None


@dataclass
class LineCounts:
    """What the lines of a log were.

    Args:
        sentences: sentences with a right checksum.
        bad: sentences with a wrong or missing checksum, or cut short.
        other_lines: lines that are no sentence.
    """

    sentences: int = 0
    bad: int = 0
    other_lines: int = 0


def list_sentences(stream: IO[bytes], counts: LineCounts) -> Iterator[list[str]]:
    """Yield the fields of every sentence that is whole, and count what is not.

    Args:
        stream: the log, plain bytes; binary frames may stand between its lines.
        counts: added to while reading.
    """
    while line := stream.readline(_LONGEST_LINE):
        start = line.rfind(b"$")
        if start < 0:
            counts.other_lines += bool(line.strip())
            continue
        body, star, checksum = line[start + 1 :].strip().partition(b"*")
        if not star or not _is_right(body, checksum):
            counts.bad += 1
            continue
        counts.sentences += 1
        yield body.decode("ascii", "replace").split(",")


class DayClock:
    """Follows the time of day from sentence to sentence, and the day where one is told."""

    def __init__(self) -> None:
        """Start before the first sentence."""
        self.midnights = 0
        self.date = ""
        self.first_day: date | None = None
        self.first_time = self.last_time = ""
        self._last: float | None = None

    def take(self, kind: str, parts: list[str]) -> float | None:
        """Take in a sentence.

        Returns:
            Its seconds since the midnight before the first sentence; None where it has no time.
        """
        number = TIME_FIELD.get(kind)
        text = parts[number] if number is not None and len(parts) > number else ""
        seconds = read_seconds(text)
        if seconds is not None:
            # A step back of more than half a day is midnight; a smaller one is a repeated time.
            if self._last is not None and self._last - seconds > _HALF_DAY_S:
                self.midnights += 1
            time = f"{text[:2]}:{text[2:4]}:{text[4:]}"
            self.first_time = self.first_time or time
            self.last_time = time
            self._last = seconds
        self._take_date(kind, parts)
        return None if seconds is None else seconds + self.midnights * _DAY_S

    def _take_date(self, kind: str, parts: list[str]) -> None:
        told = ""
        if kind == "RMC" and len(parts) > 9:
            told = _read_rmc_date(parts[9])
        if kind == "ZDA" and len(parts) > 4 and parts[4].isdigit():
            told = f"{parts[4]}-{parts[3]}-{parts[2]}"
        if not told:
            return
        self.date = self.date or told
        # A receiver that has no position yet (status V) may tell any day.
        is_sure = kind == "ZDA" or parts[2:3] == ["A"]
        if self.first_day is None and is_sure:
            try:
                self.first_day = date.fromisoformat(told) - timedelta(days=self.midnights)
            except ValueError:
                return


def _is_right(body: bytes, checksum: bytes) -> bool:
    try:
        return reduce(xor, body, 0) == int(checksum[:2], 16)
    except ValueError:
        return False


def read_seconds(text: str) -> float | None:
    """Return the seconds of a time of day, `hhmmss.ss`; None for what is none."""
    try:
        hours, minutes, seconds = int(text[:2]), int(text[2:4]), float(text[4:])
    except ValueError:
        return None
    total = hours * 3600 + minutes * 60 + seconds
    return total if 0 <= total < _DAY_S + 1 else None


def _read_rmc_date(text: str) -> str:
    if len(text) != 6 or not text.isdigit():
        return ""
    return f"20{text[4:6]}-{text[2:4]}-{text[:2]}"


def read_nmea(path: Path) -> NmeaFacts:
    """Read an NMEA log, also one mixed with binary frames.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: there is no sentence in it.
    """
    counts, clock = LineCounts(), DayClock()
    qualities: Counter[str] = Counter()
    separation = ""
    position: tuple[str, str] | None = None
    try:
        with open_text(path) as stream:
            for parts in list_sentences(stream, counts):
                kind = parts[0][-3:]
                clock.take(kind, parts)
                if kind == "GGA" and len(parts) > 11:
                    qualities[parts[6] or "blank"] += 1
                    # Without a solution (0) there is none, whatever stands there.
                    separation = separation or (parts[11] if parts[6] not in _NO_SOLUTION else "")
                    position = position or _read_position(parts)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    if not counts.sentences and not counts.bad:
        raise MalformedFileError("there is no NMEA sentence in it", where=str(path))
    return NmeaFacts(
        sentences=counts.sentences,
        bad=counts.bad,
        other_lines=counts.other_lines,
        date=clock.date,
        first_time=clock.first_time,
        last_time=clock.last_time,
        midnights=clock.midnights,
        qualities=dict(sorted(qualities.items())),
        separation_m=separation,
        position_deg=position,
    )


def _read_position(parts: list[str]) -> tuple[str, str] | None:
    """Return longitude and latitude of a GGA sentence; None without a solution, or unreadable."""
    if parts[6] in _NO_SOLUTION:
        return None
    told = []
    for text, side in ((parts[4], parts[5]), (parts[2], parts[3])):
        whole, point, decimals = text.partition(".")
        is_number = whole.isdigit() and (decimals.isdigit() or not point)
        if not is_number or side not in ("N", "S", "E", "W"):
            return None
        degrees = int(whole) // 100 + float(f"{int(whole) % 100}.{decimals or 0}") / 60
        told.append(f"{-degrees if side in ('S', 'W') else degrees:.6f}")
    return told[0], told[1]
