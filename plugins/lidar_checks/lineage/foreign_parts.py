"""Parts of another capture among those of a flight, told by the days and the numbers of names.

Scanners name files after the day, as `20260512_140000_p1.bin`, in local time: the zones of the
Earth lie 12 h behind UTC to 14 h ahead. Source: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from itertools import permutations

from ledger.dataclass import dataclass
from ledger.model.jobrecords import RawFile
from ledger.model.process import Card
from lidar_checks.lineage.parts import Sequence
from lidar_checks.lineage.spans import read_flight

_DAY = re.compile(r"(?<!\d)(20\d\d)([-_]?)(0[1-9]|1[0-2])\2(0[1-9]|[12]\d|3[01])(?!\d)")
_BEHIND, _AHEAD = timedelta(hours=12), timedelta(hours=14)


@dataclass(frozen=True)
class OtherDay:
    """A capture that is named for a day on which its flight was not flown, anywhere on Earth."""

    path: str
    day: date


def find_other_days(card: Card | None, files: Iterable[RawFile]) -> Iterator[OtherDay]:
    """Yield the captures of a flight that are named for another day; none without its times."""
    flown = None if card is None else read_flight(card)
    if flown is None:
        return
    first, last = (flown.begin - _BEHIND).date(), (flown.end + _AHEAD).date()
    for raw in files:
        day = _read_day(raw.file.path.rpartition("/")[2])
        if day is not None and not first <= day <= last:
            yield OtherDay(raw.file.path, day)


def find_lent(sequences: Iterable[Sequence]) -> Iterator[tuple[Sequence, Sequence]]:
    """Yield pairs of captures of which the second has all numbers that the first one lacks.

    Only numbers that are surely those of parts count, in files of one folder and one kind.
    """
    certain = [each for each in sequences if each.is_certain]
    for one, other in permutations(certain, 2):
        is_beside = _name_kind(one) == _name_kind(other)
        if is_beside and one.missing and set(one.missing) <= other.files.keys():
            yield one, other


def _name_kind(sequence: Sequence) -> tuple[str, str]:
    """Return folder and ending of the names of a sequence."""
    folder, _, name = sequence.pattern.rpartition("/")
    return folder, name.rpartition("#")[2]


def _read_day(name: str) -> date | None:
    """Return the day that a name holds; None where it holds none, or several."""
    days = set()
    for year, _, month, day in _DAY.findall(name):
        try:
            days.add(date(int(year), int(month), int(day)))
        except ValueError:  # the 31st of June is a number that means something else
            continue
    return days.pop() if len(days) == 1 else None
