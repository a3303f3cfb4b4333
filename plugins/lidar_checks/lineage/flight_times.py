"""Capture, flight log and base log of a flight were running while it was flown.

A log of another day or sortie gives a result that looks like any other, shifted or bent. What is
compared are times alone; whether the paths have one shape is a question to the trajectories.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.dataclass import dataclass
from ledger.model.artefact import Role
from ledger.model.jobrecords import RawFile
from ledger.model.process import Card
from lidar_checks.flight.flight_check import FlightCheck
from lidar_checks.header.file_check import require_criteria
from lidar_checks.lineage.raw_files import list_raw, name_files
from lidar_checks.lineage.spans import (
    Span,
    find_zone,
    measure_share,
    read_capture,
    read_flight,
    read_log,
)

_SOURCE = "common practice, no source"
_NAMES = {Role.BASE_LOG: "base log", Role.FLIGHT_LOG: "flight log"}


class FlightTimesCriteria(Criteria):
    """Which share of a flight has to be covered."""

    min_share: float = Field(default=0.95, gt=0, le=1, description=_SOURCE)


@dataclass(frozen=True)
class _Series:
    """What was running during a flight: `capture`, `flight log`, `base log`.

    Args:
        name: what it is.
        spans: when it was running, by the file or field that says so.
        files: the files; none for a capture, whose times stand on the card.
        is_own: they were registered with this flight.
    """

    name: str
    spans: tuple[Span, ...]
    files: tuple[RawFile, ...] = ()
    is_own: bool = True


class FlightTimes(FlightCheck):
    """Holds the times of capture and logs against take-off and landing of their flight."""

    id = "flight-times"
    title = "Capture, flight log and base log cover the flight"
    catalogue = ("RC-10", "GN-07", "GN-08", "GN-13")
    criteria = FlightTimesCriteria
    fields = (
        "flight.takeoff",
        "flight.landing",
        "flight.capture_started",
        "flight.capture_ended",
    )

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Hold each series of the flight against its take-off and landing."""
        least = require_criteria(plan, FlightTimesCriteria).min_share
        flight = read_flight(card)
        if flight is None or not flight.seconds:
            yield self.not_assessed(
                card.id,
                f"Take-off and landing of {card.id} are not both on record, in this order.",
                needs=("flight.takeoff", "flight.landing"),
                remedy=f"Record them (swathbook record flight {card.id})",
            )
            return
        series = list(_list_series(card, flight, evidence))
        if not series:
            yield self.not_assessed(
                card.id,
                f"Neither the capture nor a log of {card.id} says when it was running.",
                needs=("flight.capture_started", "flight-log", "base-log"),
            )
        for each in series:
            yield self._judge_series(card, flight, each, least, evidence)

    def _judge_series(
        self, card: Card, flight: Span, series: _Series, least: float, evidence: Evidence
    ) -> Finding:
        share = measure_share(flight, series.spans)
        subject = f"{card.id} {series.name}"
        named = f" ({name_files(series.files)})" if series.files else ""
        what = f"The {series.name}{named}"
        parts: dict[str, Any] = {
            "observed": f"{share:.1%}",
            "required": f"{least:.0%}",
            "criterion_source": _SOURCE,
        }
        if share < least:
            ran = _span_all(series.spans)
            told = (
                f"{what} ran from {ran.describe()}, {card.id} was flown from {flight.describe()}: "
                f"{share:.0%} of the flight is covered (limit {least:.0%})"
            )
            hint = _explain(card, flight, ran, least, evidence)
            grade = Grade.MAJOR if not share and series.is_own else Grade.MINOR
            ids = ("RC-10", "GN-08") if not share else ("RC-10", "GN-07")
            return self.nonconforming(
                grade,
                subject,
                f"{told}{hint}.",
                remedy=f"Find the {series.name} that belongs to {card.id}, or put the times right "
                f"(swathbook record flight {card.id})",
                catalogue=ids,
                **parts,
            )
        sentence = f"{what} covers {share:.0%} of {card.id}"
        if not all(span.has_date for span in series.spans):
            return self.inconclusive(
                subject,
                f"{sentence} by the time of day; {_tell_no_day(series)}.",
                catalogue=("RC-10", "GN-13"),
                **parts,
            )
        doubtful = [key for key in _list_keys(series) if not card.values[key].can_prove]
        if doubtful:
            return self.inconclusive(
                subject, f"{sentence}, but nobody confirmed {', '.join(doubtful)}.", **parts
            )
        return self.conforms(subject, f"{sentence}.", **parts)


def _tell_no_day(series: _Series) -> str:
    """Return which of the logs do not say their day, as a clause; of several, those alone."""
    silent = [
        file for file, span in zip(series.files, series.spans, strict=True) if not span.has_date
    ]
    if len(silent) == len(series.files):
        return "which day it is of, it does not say"
    return f"which day {name_files(silent)} is of, it does not say"


def _list_keys(series: _Series) -> tuple[str, ...]:
    times = ("flight.takeoff", "flight.landing")
    return times if series.files else (*times, "flight.capture_started", "flight.capture_ended")


def _list_series(card: Card, flight: Span, evidence: Evidence) -> Iterator[_Series]:
    capture = read_capture(card)
    if capture is not None:
        yield _Series("capture", (capture,))
    for role, name in _NAMES.items():
        raw = list_raw(evidence, [role])
        own = [each for each in raw if each.flight == card.id]
        files = own or [each for each in raw if not each.flight]
        timed = [
            (each, span) for each in files if (span := read_log(each.file, flight)) is not None
        ]
        if timed:
            logs, spans = zip(*timed, strict=True)
            yield _Series(name, spans, logs, is_own=bool(own))


def _span_all(spans: Iterable[Span]) -> Span:
    listed = tuple(spans)
    return Span(min(span.begin for span in listed), max(span.end for span in listed))


def _explain(card: Card, flight: Span, ran: Span, least: float, evidence: Evidence) -> str:
    """Return what would explain it: another flight, or a clock in local time; empty for none."""
    for other in evidence.flights:
        span = read_flight(other)
        if other.id != card.id and span is not None and measure_share(span, [ran]) >= least:
            return f"; it covers {other.id}"
    hours = find_zone(flight, ran, least)
    if hours:
        return f"; moved by {hours:+d} h it would cover the flight, as a clock in local time would"
    return ""
