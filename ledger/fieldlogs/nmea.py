"""NMEA 0183 logs: first and last time, fix qualities, bad checksums.

A damaged line is counted and skipped, never fatal, never silent. Sources: NMEA 0183 as
reproduced by public parsers; the checksum is the XOR of the characters between `$` and `*`.

Light: no library beyond the standard one.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import reduce
from operator import xor
from pathlib import Path

from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.fieldlogs.opening import open_text

# Sentences with a UTC time, and the number of the field that holds it.
_TIME_FIELD = {"GGA": 1, "RMC": 1, "GNS": 1, "ZDA": 1, "GLL": 5}
_LONGEST_LINE = 4096
_HALF_DAY_S = 43_200
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


class _Reader:
    """Collects facts sentence by sentence."""

    def __init__(self) -> None:
        self.sentences = self.bad = self.other_lines = self.midnights = 0
        self.date = self.first_time = self.last_time = self.separation = ""
        self.qualities: Counter[str] = Counter()

    def take(self, line: bytes) -> None:
        """Take in one line of the file."""
        start = line.rfind(b"$")
        if start < 0:
            self.other_lines += bool(line.strip())
            return
        body, star, checksum = line[start + 1 :].strip().partition(b"*")
        if not star or not _is_right(body, checksum):
            self.bad += 1
            return
        self.sentences += 1
        self._take_sentence(body.decode("ascii", "replace").split(","))

    def _take_sentence(self, parts: list[str]) -> None:
        kind = parts[0][-3:]
        number = _TIME_FIELD.get(kind)
        if number is not None and len(parts) > number:
            self._take_time(parts[number])
        if kind == "GGA" and len(parts) > 11:
            self.qualities[parts[6] or "blank"] += 1
            self.separation = self.separation or parts[11]
        if kind == "RMC" and len(parts) > 9:
            self.date = self.date or _read_rmc_date(parts[9])
        if kind == "ZDA" and len(parts) > 4 and parts[4].isdigit():
            self.date = self.date or f"{parts[4]}-{parts[3]}-{parts[2]}"

    def _take_time(self, text: str) -> None:
        seconds = _read_seconds(text)
        if seconds is None:
            return
        time = f"{text[:2]}:{text[2:4]}:{text[4:]}"
        previous = _read_seconds(self.last_time.replace(":", ""))
        # A step back of more than half a day is midnight; a smaller one is a repeated time.
        if previous is not None and previous - seconds > _HALF_DAY_S:
            self.midnights += 1
        self.first_time = self.first_time or time
        self.last_time = time


def _is_right(body: bytes, checksum: bytes) -> bool:
    try:
        return reduce(xor, body, 0) == int(checksum[:2], 16)
    except ValueError:
        return False


def _read_seconds(text: str) -> float | None:
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
    reader = _Reader()
    try:
        with open_text(path) as stream:
            while line := stream.readline(_LONGEST_LINE):
                reader.take(line)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    if not reader.sentences and not reader.bad:
        raise MalformedFileError("there is no NMEA sentence in it", where=str(path))
    return NmeaFacts(
        sentences=reader.sentences,
        bad=reader.bad,
        other_lines=reader.other_lines,
        date=reader.date,
        first_time=reader.first_time,
        last_time=reader.last_time,
        midnights=reader.midnights,
        qualities=dict(sorted(reader.qualities.items())),
        separation_m=reader.separation,
    )
