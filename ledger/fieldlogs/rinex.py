"""RINEX observation files: the header, and the first and last epoch of the body.

RINEX 2.11 and 3.0x: content in columns 1 to 60 of a header line, its label in 61 to 80.
Header and body are reported apart: many headers claim a day where the body holds minutes.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from ledger.errors import MalformedFileError, ShortFileError, UnreadableFileError
from ledger.fieldlogs.opening import open_text

_LABEL = 60
_MAX_HEADER_LINES = 5000
_EPOCH_3 = re.compile(r"^> (\d{4}) ([ \d]\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) *(\d{1,2}\.\d+)")
_EPOCH_2 = re.compile(
    r"^ (\d\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) ?(\.\d{7})  [0-6][ \d]{3}"
)
# What was meant to be an epoch line of RINEX 2, which has no mark of its own: year, month, day,
# hour, minute, and something more. Observations have a point within their first numbers.
_LIKE_EPOCH_2 = re.compile(r"^ ?[ \d]\d( +\d{1,2}){4} *\d{1,2} ?\.")
# Two-digit years of RINEX 2: 80 to 99 are of the twentieth century (RINEX 2.11, section 6.5).
_CENTURY_TURN = 80


@dataclass(frozen=True)
class RinexFacts:
    """What a RINEX observation file says.

    Args:
        version: as written, `2.11`.
        compact: Hatanaka compression (its body is not read).
        marker: marker name.
        receiver: receiver type.
        antenna: antenna type with radome.
        position_m: APPROX POSITION XYZ, geocentric metres, as decimal texts; None when absent or
            all zero, which is how a receiver without a position writes it.
        antenna_delta_m: height, east, north of the antenna reference point above the mark, metres,
            as decimal texts.
        interval_s: seconds between epochs, as text; empty when not stated.
        header_first: TIME OF FIRST OBS, ISO form; empty when absent.
        header_last: TIME OF LAST OBS, ISO form; empty when absent.
        time_system: GPS, GLO, GAL, BDT …; empty when not stated.
        epochs: epochs found in the body; None where it was not read.
        first_epoch: first epoch of the body, ISO form; empty when there is none.
        last_epoch: last epoch of the body, ISO form.
        bad_lines: epoch lines that could not be read; None where the body was not read.
    """

    version: str
    compact: bool
    marker: str
    receiver: str
    antenna: str
    position_m: tuple[str, str, str] | None
    antenna_delta_m: tuple[str, str, str] | None
    interval_s: str
    header_first: str
    header_last: str
    time_system: str
    epochs: int | None
    first_epoch: str
    last_epoch: str
    bad_lines: int | None


def read_rinex(path: Path) -> RinexFacts:
    """Read the header and the epoch lines of a RINEX observation file, plain, .gz or .bz2.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: not a RINEX file, or a broken compressed stream.
        ShortFileError: it ends inside its header.
    """
    try:
        with open_text(path) as stream:
            return _read(stream, path)
    except (EOFError, gzip.BadGzipFile, zlib.error) as error:
        raise MalformedFileError(
            "the compressed stream is broken", found=str(error), where=str(path)
        ) from error
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error


def _read(stream: IO[bytes], path: Path) -> RinexFacts:
    lines = (line.decode("latin-1").rstrip("\r\n") for line in stream)
    header = _read_header(lines, path)
    version = header.get("RINEX VERSION / TYPE", "")[:9].strip()
    compact = "CRINEX VERS   / TYPE" in header
    epochs = _Epochs() if compact else _read_epochs(lines, version)
    first = header.get("TIME OF FIRST OBS", "")
    return RinexFacts(
        version=version,
        compact=compact,
        marker=header.get("MARKER NAME", "").strip(),
        receiver=header.get("REC # / TYPE / VERS", "")[20:40].strip(),
        antenna=header.get("ANT # / TYPE", "")[20:40].rstrip(),
        position_m=_read_position(header.get("APPROX POSITION XYZ", "")),
        antenna_delta_m=_read_three(header.get("ANTENNA: DELTA H/E/N", "")),
        interval_s=header.get("INTERVAL", "").strip(),
        header_first=_read_header_time(first),
        header_last=_read_header_time(header.get("TIME OF LAST OBS", "")),
        time_system=_read_time_system(first),
        epochs=None if compact else epochs.count,
        first_epoch=epochs.first,
        last_epoch=epochs.last,
        bad_lines=None if compact else epochs.bad,
    )


def _read_header(lines: Iterator[str], path: Path) -> dict[str, str]:
    header: dict[str, str] = {}
    for number, line in enumerate(lines, start=1):
        label = line[_LABEL:].strip()
        if number == 1 and label not in ("RINEX VERSION / TYPE", "CRINEX VERS   / TYPE"):
            raise MalformedFileError(
                "this is not a RINEX file", found=repr(line[:40]), where=str(path), line=1
            )
        if label == "END OF HEADER":
            return header
        header.setdefault(label, line[:_LABEL])
        if number >= _MAX_HEADER_LINES:
            break
    raise ShortFileError("the RINEX header has no end", where=str(path))


@dataclass
class _Epochs:
    count: int = 0
    first: str = ""
    last: str = ""
    bad: int = 0

    def add(self, time: str) -> None:
        """Take in one epoch."""
        self.count += 1
        self.first = self.first or time
        self.last = time


def _read_epochs(lines: Iterator[str], version: str) -> _Epochs:
    epochs = _Epochs()
    is_new = version[:1] >= "3"
    for line in lines:
        match = (_EPOCH_3 if is_new else _EPOCH_2).match(line)
        if match and _is_time(match.groups()):
            epochs.add(_format_epoch(match.groups()))
        elif match or (line.startswith(">") if is_new else _LIKE_EPOCH_2.match(line)):
            epochs.bad += 1
    return epochs


def _is_time(parts: tuple[str, ...]) -> bool:
    """Say whether there is such a time; a minute of 61 seconds only where one was put in."""
    month, day, hour, minute = (int(part) for part in parts[1:5])
    leap = (hour, minute) == (23, 59)
    seconds = float("".join(parts[5:]))
    return (
        1 <= month <= 12
        and 1 <= day <= 31
        and hour < 24
        and minute < 60
        and seconds < (61 if leap else 60)
    )


def _format_epoch(parts: tuple[str, ...]) -> str:
    year, month, day, hour, minute = (int(part) for part in parts[:5])
    if year < 100:
        year += 1900 if year >= _CENTURY_TURN else 2000
    seconds = float("".join(parts[5:]))
    return f"{year:04d}-{month:02d}-{day:02d}T{hour:02d}:{minute:02d}:{seconds:06.3f}"


def _read_header_time(text: str) -> str:
    parts = text[:43].split()
    try:
        return _format_epoch(tuple(parts[:6])) if len(parts) >= 6 else ""
    except ValueError:
        return ""


def _read_time_system(text: str) -> str:
    """Return the last word after the time: in columns 49 to 51, though not in every file."""
    words = text[43:].split()
    return words[-1] if words and words[-1].isalpha() else ""


def _read_three(text: str) -> tuple[str, str, str] | None:
    parts = text.split()
    if len(parts) != 3:
        return None
    try:
        [float(part) for part in parts]
    except ValueError:
        return None
    return parts[0], parts[1], parts[2]


def _read_position(text: str) -> tuple[str, str, str] | None:
    position = _read_three(text)
    if position is None or all(float(part) == 0 for part in position):
        return None
    return position
