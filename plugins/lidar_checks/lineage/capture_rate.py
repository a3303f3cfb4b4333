"""How fast captures grew: one scanner writes about the same number of bytes a second each flight.

A capture with fewer was cut, or lacks a stream; one with more holds files of another capture. It
takes three flights to see which of them differs. Source: common practice, no source.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping

from ledger.dataclass import dataclass
from ledger.model.jobrecords import RawFile
from ledger.model.process import Card
from lidar_checks.lineage.spans import read_capture

MAX_APART = 0.15
"""By how much a capture may differ from the one in the middle (common practice, no source)."""

_FEWEST = 3
_MB = 1_000_000
_SERIAL = "flight.scanner_serial"


@dataclass(frozen=True)
class OddRate:
    """A capture that grew otherwise than those of the other flights of its scanner.

    Args:
        flight: id of the flight.
        rate: megabytes (10^6 bytes) a second.
        usual: the rate in the middle of all flights of the scanner.
        flights: how many there are.
    """

    flight: str
    rate: float
    usual: float
    flights: int


def find_odd_rates(
    captures: Mapping[str, Iterable[RawFile]], cards: Mapping[str, Card]
) -> list[OddRate]:
    """Return the captures that differ, in order of their flights.

    Args:
        captures: capture files by flight.
        cards: the flights; those without begin and end of the capture are left out.
    """
    by_scanner: dict[str, dict[str, float]] = {}
    for flight, files in captures.items():
        card = cards.get(flight)
        span = None if card is None else read_capture(card)
        size = sum({raw.file.sha256: raw.file.bytes for raw in files}.values())
        if card is None or span is None or span.seconds <= 0 or not size:
            continue
        serial = card.values.get(_SERIAL)
        rates = by_scanner.setdefault("" if serial is None else str(serial.value), {})
        rates[flight] = size / _MB / span.seconds
    odd = []
    for rates in by_scanner.values():
        usual = statistics.median(rates.values())
        for flight, rate in rates.items():
            if len(rates) >= _FEWEST and abs(rate / usual - 1) > MAX_APART:
                odd.append(OddRate(flight, rate, usual, len(rates)))
    return sorted(odd, key=lambda each: each.flight)
