"""RINEX observation files: the header, and how the epochs of the body follow on each other.

RINEX 2.11, 3.0x and 4.0x: content in columns 1 to 60 of a header line, its label in 61 to 80.
Header and body are reported apart: many headers claim a day where the body holds minutes. The body
is read line by line, so that its length costs no memory.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import field
from datetime import date, datetime, timedelta
from decimal import ROUND_DOWN, Decimal
from pathlib import Path
from typing import IO

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, ShortFileError, UnreadableFileError
from ledger.fieldlogs.opening import open_text
from ledger.fieldlogs.spacing import Spacing

_LABEL = 60
# RINEX 3 writes a line a satellite: 16 letters an observation, some 80 kinds at most.
_LONGEST_LINE = 1 << 16
_MAX_HEADER_LINES = 5000
_EPOCH_3 = re.compile(r"^> (\d{4}) ([ \d]\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) *(\d{1,2}\.\d+)")
_EPOCH_2 = re.compile(
    r"^ (\d\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) ([ \d]\d) ?(\.\d{7})  [0-6][ \d]{3}"
)
# Column of the epoch flag, from 0, and the flags that are no epochs.
_FLAG_2, _FLAG_3 = 28, 31
_EVENTS = ("2", "3", "4", "5", "6")
_EVENT_2 = re.compile(r"^ (?:[ \d.]{25}|\d\d[ \d.]{23})  [2-6][ \d]{3}")
# What was meant to be an epoch line of RINEX 2, which has no mark of its own: year, month, day,
# hour, minute, and something more. Observations have a point within their first numbers.
_LIKE_EPOCH_2 = re.compile(r"^ ?[ \d]\d( +\d{1,2}){4} *\d{1,2} ?\.")
# Two-digit years of RINEX 2: 80 to 99 are of the twentieth century (RINEX 2.11, section 6.5).
_CENTURY_TURN = 80
_MILLISECOND = Decimal("0.001")


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
        step_s: most frequent seconds from epoch to epoch, as text; empty for fewer than two.
        missing: epochs that are absent between the first and the last; None where not counted.
        longest_gap_s: seconds of the longest gap of more than one step, as text; "0" for none,
            empty where not looked for.
        gap_begins: epochs after which the longest gaps begin, ISO form, in order of time.
        gap_seconds: seconds of those gaps, as texts.
        repeated: epochs that do not go forward in time; None where not counted.
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
    step_s: str = ""
    missing: int | None = None
    longest_gap_s: str = ""
    gap_begins: tuple[str, ...] = ()
    gap_seconds: tuple[str, ...] = ()
    repeated: int | None = None


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
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error


def _read(stream: IO[bytes], path: Path) -> RinexFacts:
    header = _read_header(
        (raw.decode("latin-1").rstrip("\r\n") for raw in _list_lines(stream)), path
    )
    version = header.get("RINEX VERSION / TYPE", "")[:9].strip()
    compact = "CRINEX VERS   / TYPE" in header
    epochs = _Epochs() if compact else _read_epochs(stream, version)
    interval = header.get("INTERVAL", "").strip()
    spacing = epochs.spacing.close(_read_number(interval))
    first = header.get("TIME OF FIRST OBS", "")
    return RinexFacts(
        version=version,
        compact=compact,
        marker=header.get("MARKER NAME", "").strip(),
        receiver=header.get("REC # / TYPE / VERS", "")[20:40].strip(),
        antenna=header.get("ANT # / TYPE", "")[20:40].rstrip(),
        position_m=_read_position(header.get("APPROX POSITION XYZ", "")),
        antenna_delta_m=_read_three(header.get("ANTENNA: DELTA H/E/N", "")),
        interval_s=interval,
        header_first=_read_header_time(first),
        header_last=_read_header_time(header.get("TIME OF LAST OBS", "")),
        time_system=_read_time_system(first),
        epochs=None if compact else epochs.count,
        first_epoch=epochs.first,
        last_epoch=epochs.last,
        bad_lines=None if compact else epochs.bad,
        step_s="" if spacing.step_s is None else f"{spacing.step_s:.3f}",
        missing=None if spacing.step_s is None else spacing.missing,
        longest_gap_s="" if spacing.step_s is None else f"{spacing.longest_gap_s:.3f}",
        gap_begins=tuple(_format_seconds(begin) for begin, _ in spacing.gaps),
        gap_seconds=tuple(f"{seconds:.3f}" for _, seconds in spacing.gaps),
        repeated=None if spacing.step_s is None else spacing.repeated + spacing.backward,
    )


def _list_lines(stream: IO[bytes]) -> Iterator[bytes]:
    """Yield the lines; one without end comes in pieces, and fills no memory."""
    return iter(lambda: stream.readline(_LONGEST_LINE), b"")


def _read_header(lines: Iterator[str], path: Path) -> dict[str, str]:
    header: dict[str, str] = {}
    for number, line in enumerate(lines, start=1):
        label = line[_LABEL:].strip()
        if number == 1 and label not in ("RINEX VERSION / TYPE", "CRINEX VERS   / TYPE"):
            raise MalformedFileError(
                "this is not a RINEX file, or its header was cut off",
                found=repr(line[:40]),
                expected="a first line that ends in RINEX VERSION / TYPE",
                where=str(path),
                line=1,
                remedy="convert the receiver's own log to RINEX again, with its header",
            )
        if label == "END OF HEADER":
            return header
        header.setdefault(label, line[:_LABEL])
        if number >= _MAX_HEADER_LINES:
            break
    raise ShortFileError(
        "the RINEX header has no end",
        expected="a line that ends in END OF HEADER",
        where=str(path),
        remedy="copy the file from the receiver again, or convert its own log to RINEX again",
    )


@dataclass
class _Epochs:
    count: int = 0
    first: str = ""
    last: str = ""
    bad: int = 0
    spacing: Spacing = field(default_factory=Spacing)

    def add(self, parts: tuple[str, ...]) -> None:
        """Take in one epoch."""
        time = _format_epoch(parts)
        self.count += 1
        self.first = self.first or time
        self.last = time
        self.spacing.add(_count_seconds(parts))


def _read_epochs(stream: IO[bytes], version: str) -> _Epochs:
    """Read the epoch lines of a body; of all others nothing but their first letters is looked at.

    Flags above 1 mark events and cycle slips, which are no epochs (RINEX 2.11 table A2, RINEX 3.04
    table A3).
    """
    epochs = _Epochs()
    is_new = version[:1] >= "3"
    pattern, flag = (_EPOCH_3, _FLAG_3) if is_new else (_EPOCH_2, _FLAG_2)
    for raw in _list_lines(stream):
        if is_new and raw[:1] != b">":
            continue
        line = raw.decode("latin-1").rstrip("\r\n")
        match = pattern.match(line)
        if match and line[flag : flag + 1] not in _EVENTS and _is_time(match.groups()):
            epochs.add(match.groups())
        elif line[flag : flag + 1] in _EVENTS and _is_event(line, is_new=is_new):
            continue
        elif match or is_new or _LIKE_EPOCH_2.match(line):
            epochs.bad += 1
    return epochs


def _is_event(line: str, *, is_new: bool) -> bool:
    """Say whether a line with an event flag is that of an event; its time may be blank."""
    return is_new or bool(_EVENT_2.match(line))


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
    # Cut, not rounded: 59.9999999 s would become the sixtieth second of its minute.
    seconds = Decimal("".join(parts[5:])).quantize(_MILLISECOND, ROUND_DOWN)
    return f"{year:04d}-{month:02d}-{day:02d}T{hour:02d}:{minute:02d}:{seconds:06.3f}"


def _count_seconds(parts: tuple[str, ...]) -> float:
    """Return the seconds of an epoch since the first day of the calendar, as its clock shows it."""
    year, month, day, hour, minute = (int(part) for part in parts[:5])
    if year < 100:
        year += 1900 if year >= _CENTURY_TURN else 2000
    days = date(year, month, 1).toordinal() + day - 1
    return days * 86_400.0 + hour * 3600 + minute * 60 + float("".join(parts[5:]))


def _format_seconds(seconds: float) -> str:
    moment = datetime.fromordinal(int(seconds // 86_400)) + timedelta(seconds=seconds % 86_400)
    return moment.isoformat(timespec="milliseconds")


def _read_header_time(text: str) -> str:
    parts = text[:43].split()
    try:
        return _format_epoch(tuple(parts[:6])) if len(parts) >= 6 else ""
    except (ValueError, ArithmeticError):  # the second for seconds that are no number
        return ""


def _read_time_system(text: str) -> str:
    """Return the last word after the time: in columns 49 to 51, though not in every file."""
    words = text[43:].split()
    return words[-1] if words and words[-1].isalpha() else ""


def _read_number(text: str) -> float | None:
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _read_three(text: str) -> tuple[str, str, str] | None:
    parts = text.split()
    if len(parts) != 3 or any(_read_number(part) is None for part in parts):
        return None
    return parts[0], parts[1], parts[2]


def _read_position(text: str) -> tuple[str, str, str] | None:
    position = _read_three(text)
    if position is None or all(float(part) == 0 for part in position):
        return None
    return position
