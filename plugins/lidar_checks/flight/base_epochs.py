"""The base log runs before, through and after the flight, without holes, often enough.

Whether it covers the flight at all, and is of its day, `flight-times` says; here it is the time
that post-processing needs on both sides to settle, and what is absent in between.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan, Where
from ledger.model.fieldlogs import BaseLog
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    FlightCheck,
    find_sources,
    list_times,
    name_file,
    name_subject,
    say_time,
)
from lidar_checks.flight.flown import find_flown
from lidar_checks.header.file_check import name_source, require_criteria

_RECEIVERS = frozenset({"aircraft receiver", "scanner receiver"})


class BaseEpochsCriteria(Criteria):
    """What a base log has to be for post-processing."""

    margin_s: float = Field(default=300.0, ge=0, description=PRACTICE)
    max_gap_s: float = Field(default=10.0, gt=0, description=PRACTICE)
    max_missing: float = Field(default=0.02, ge=0, le=1, description=PRACTICE)
    max_interval_s: float = Field(
        default=1.0,
        gt=0,
        description="Geospatial Information Authority of Japan, survey work regulations 2025, "
        "art. 448: GNSS logged every second or oftener",
    )


class BaseEpochs(FlightCheck):
    """Holds the epochs of the base log against the flight."""

    id = "base-epochs"
    title = "The base log runs through the flight without holes"
    catalogue = ("GN-07",)
    criteria = BaseEpochsCriteria
    fields = ("flight.takeoff", "flight.landing", "flight.position_source", "run.position_source")

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge every base log of a flight."""
        logs = evidence.logs.list_bases(card.id)
        if not logs:
            yield self.tell_absent(card, "base-log", "base log")
        flown = find_flown(card, evidence)
        for log in logs:
            yield self._judge_log(card, log, flown, plan, evidence)

    def _judge_log(
        self,
        card: Card,
        log: BaseLog,
        flown: tuple[float, float] | None,
        plan: Plan,
        evidence: Evidence,
    ) -> Finding:
        name, subject = name_file(log), name_subject(card, log)
        if flown is None:
            return self.not_assessed(
                subject,
                f"When {card.id} was flown is not on record, so {name} cannot be held against it.",
                needs=("flight.takeoff", "flight.landing"),
            )
        if log.span_s is None or log.scale is None:
            return self._tell_unread(log, name, subject)
        if log.span_s[1] < flown[0] or log.span_s[0] > flown[1]:
            return self.inconclusive(
                subject, f"{name} was not running during {card.id} at all; see flight-times."
            )
        criteria = require_criteria(plan, BaseEpochsCriteria)
        # Positions that came from a receiver in the air need no base log; it is kept in reserve.
        sources = find_sources(card, evidence)
        grade = Grade.OBSERVATION if sources and sources <= _RECEIVERS else Grade.MINOR
        faults = (
            _find_interval(log, criteria),
            _find_gap(log, flown, criteria),
            _find_missing(log, criteria),
            _find_margin(log, flown, criteria),
        )
        for fault in faults:
            if fault is not None:
                field, sentence, parts = fault
                return self.nonconforming(
                    grade if field != "margin_s" else Grade.OBSERVATION,
                    subject,
                    f"{name} of {card.id} {sentence}.",
                    criterion_source=name_source(plan, field),
                    remedy="Look for the log of a second base or of a permanent station near by, "
                    "and post-process with that",
                    **parts,
                )
        before, after = flown[0] - log.span_s[0], log.span_s[1] - flown[1]
        return self.conforms(
            subject,
            f"{name} was logged from {before:.0f} s before {card.id} to {after:.0f} s after it, an "
            f"epoch each {log.step_s or log.interval_s} s, without a hole of more than "
            f"{criteria.max_gap_s:g} s.",
        )

    def _tell_unread(self, log: BaseLog, name: str, subject: str) -> Finding:
        """Return why the epochs of a log cannot be held against the flight."""
        remedy = "Unpack it where it is packed, else copy it from the receiver again; register that"
        if log.is_compact:
            why = "is in Hatanaka's compact form, of which only the header is read"
            remedy = (
                "Get the plain observation file, or convert it back with what made it, and "
                "register that with the flight"
            )
        elif log.scale is None:
            why = "states no time system"
        else:
            why = "gives no epochs that could be read"
        return self.not_assessed(
            subject, f"{name} {why}.", needs=("base-log: epochs",), remedy=remedy
        )


_Fault = tuple[str, str, dict[str, Any]]


def _find_interval(log: BaseLog, criteria: BaseEpochsCriteria) -> _Fault | None:
    step = log.step_s if log.step_s is not None else log.interval_s
    if step is None or float(step) <= criteria.max_interval_s:
        return None
    parts = {"observed": f"{step}", "required": f"{criteria.max_interval_s:g}", "unit": "s"}
    sentence = f"has an epoch each {step} s, too few for a moving receiver"
    return "max_interval_s", f"{sentence} (limit {criteria.max_interval_s:g} s)", parts


def _find_gap(
    log: BaseLog, flown: tuple[float, float], criteria: BaseEpochsCriteria
) -> _Fault | None:
    inside = [
        gap for gap in log.gaps if gap.begin_s < flown[1] and gap.begin_s + gap.seconds > flown[0]
    ]
    longest = max(inside, key=lambda gap: gap.seconds, default=None)
    if longest is None or longest.seconds <= criteria.max_gap_s:
        return None
    begin, end = longest.begin_s, longest.begin_s + longest.seconds
    parts: dict[str, Any] = {
        "observed": f"{longest.seconds:.1f}",
        "required": f"{criteria.max_gap_s:g}",
        "unit": "s",
        "where": Where(time_span=list_times(begin, end)),
    }
    sentence = (
        f"has no epoch for {longest.seconds:.1f} s from {say_time(begin)} to {say_time(end)}, "
        f"while it was flown (limit {criteria.max_gap_s:g} s)"
    )
    return "max_gap_s", sentence, parts


def _find_missing(log: BaseLog, criteria: BaseEpochsCriteria) -> _Fault | None:
    if not log.epochs or log.missing is None:
        return None
    share = log.missing / (log.missing + log.epochs)
    if share <= criteria.max_missing:
        return None
    parts = {"observed": f"{share:.1%}", "required": f"{criteria.max_missing:.0%}"}
    sentence = (
        f"lacks {log.missing:,} of {log.missing + log.epochs:,} epochs, {share:.1%} "
        f"(limit {criteria.max_missing:.0%})"
    )
    return "max_missing", sentence, parts


def _find_margin(
    log: BaseLog, flown: tuple[float, float], criteria: BaseEpochsCriteria
) -> _Fault | None:
    if log.span_s is None:
        return None
    sides = ((flown[0] - log.span_s[0], "before"), (log.span_s[1] - flown[1], "after"))
    least, side = min(sides)
    if least >= criteria.margin_s:
        return None
    parts = {"observed": f"{least:.0f}", "required": f"{criteria.margin_s:g}", "unit": "s"}
    if least >= 0:
        told = f"runs for {least:.0f} s only {side} the flight"
    else:
        told = f"{'begins' if side == 'before' else 'ends'} {-least:.0f} s inside the flight"
    return "margin_s", f"{told}, where {criteria.margin_s:g} s let a solution settle", parts
