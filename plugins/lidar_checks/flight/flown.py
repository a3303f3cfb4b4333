"""When a flight was flown, in GPS seconds: by its card, else by its logs."""

from __future__ import annotations

from datetime import UTC, datetime

from ledger.contract.check import Evidence
from ledger.model.process import Card
from ledger.model.timescale import to_gps_s


def find_flown(card: Card, evidence: Evidence) -> tuple[float, float] | None:
    """Return take-off and landing, GPS seconds.

    Where the card has not both, begin and end of the longest of the flight's logs that tell their
    time scale; None where there is none.
    """
    times = [_read_time(card, f"flight.{name}") for name in ("takeoff", "landing")]
    if times[0] is not None and times[1] is not None and times[0] < times[1]:
        return times[0], times[1]
    spans = [
        track.span_s
        for track in evidence.logs.list_tracks(card.id)
        if track.span_s is not None and track.scale is not None
    ]
    return max(spans, key=lambda span: span[1] - span[0], default=None)


def _read_time(card: Card, key: str) -> float | None:
    known = card.values.get(key)
    try:
        moment = datetime.fromisoformat(str(known.value)) if known is not None else None
    except ValueError:
        return None
    if moment is None:
        return None
    return to_gps_s(moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC))
