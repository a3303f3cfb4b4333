"""What the checks of logs do alike: one flight after another, none passed over."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Iterator, Mapping
from pathlib import PurePosixPath
from typing import Any, ClassVar

from ledger.contract.check import Check, Evidence, Finding, Plan
from ledger.model.artefact import Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.fieldlogs import BaseLog, Track
from ledger.model.known import KnownValue
from ledger.model.process import Card, Process
from ledger.model.timescale import from_gps_s, write_utc

PRACTICE = "common practice, no source"


class FlightCheck(Check):
    """A check that judges each flight behind the delivery by itself."""

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every flight in turn."""
        if not evidence.flights:
            yield self.not_assessed(
                WHOLE_DELIVERY, "No flight stands behind any of the files.", needs=("records",)
            )
        for card in evidence.flights:
            yield from self.judge(card, plan, evidence)

    @abstractmethod
    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Return at least one finding about a flight."""

    def tell_unread(self, card: Card, track: Track) -> Finding:
        """Return that a log could not be read, and why."""
        return self.not_assessed(
            name_subject(card, track),
            f"{name_file(track)} of {card.id} could not be looked at: {track.fault}.",
            needs=(f"{track.file.role}: {track.fault}",),
            remedy="Connect the drive of the file, or put it back where it was registered; where "
            "it is damaged, copy it from the card again and register that",
        )

    def tell_absent(self, card: Card, role: str, what: str) -> Finding:
        """Return that a flight has no log of a kind."""
        return self.not_assessed(
            card.id,
            f"{card.id} has no {what}, so this cannot be told.",
            needs=(role,),
            remedy=f"Register it with the flight (swathbook register FILE --flight {card.id})",
        )


class TrackCheck(FlightCheck):
    """A check that judges each log of one role by itself.

    Attributes:
        role: role of the logs.
        what: what a flight without one lacks, in words.
    """

    role: ClassVar[Role]
    what: ClassVar[str]

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge every log of the role; say of one that cannot be read, or that there is none."""
        tracks = list_logs(card, evidence, self.role)
        if not tracks:
            yield self.tell_absent(card, str(self.role), self.what)
        for track in tracks:
            if track.fault:
                yield self.tell_unread(card, track)
            else:
                yield self.judge_track(card, track, plan)

    @abstractmethod
    def judge_track(self, card: Card, track: Track, plan: Plan) -> Finding:
        """Return the finding about one log that could be read."""


def name_file(log: Track | BaseLog) -> str:
    """Return the name of a log without its folders."""
    return PurePosixPath(log.file.path).name


def name_subject(card: Card, log: Track | BaseLog) -> str:
    """Return the subject of a finding about a log: its path, and the flight where it has none."""
    return log.file.path if log.file.flight else f"{log.file.path} | {card.id}"


def list_position_logs(card: Card, evidence: Evidence) -> tuple[Track, ...]:
    """Return the position logs of a flight, as its receivers wrote them."""
    return list_logs(card, evidence, Role.FLIGHT_LOG)


def list_trajectories(card: Card, evidence: Evidence) -> tuple[Track, ...]:
    """Return the trajectories of a flight, registered or written out by a run."""
    return list_logs(card, evidence, Role.TRAJECTORY)


def list_logs(card: Card, evidence: Evidence, role: Role) -> tuple[Track, ...]:
    """Return the logs of a flight that have a role."""
    tracks = evidence.logs.list_tracks(card.id)
    return tuple(track for track in tracks if track.file.role == role)


def list_runs(card: Card, evidence: Evidence) -> tuple[Process, ...]:
    """Return the runs that used a flight."""
    return tuple(
        process
        for process in evidence.processes
        if process.kind == "run" and any(used.flight == card.id for used in process.inputs)
    )


def find_sources(card: Card, evidence: Evidence) -> frozenset[str]:
    """Return what gave the positions of a flight, as card and runs say; empty for nothing."""
    known = [card.values.get("flight.position_source")]
    known += [run.find_value("position_source") for run in list_runs(card, evidence)]
    return frozenset(str(value.value) for value in known if value is not None)


def is_post_processed(card: Card, evidence: Evidence) -> bool:
    """Say whether a run took its positions from post-processing and not from the receiver."""
    runs = [run.find_value("position_source") for run in list_runs(card, evidence)]
    return any(value is not None and value.value == "post-processed" for value in runs)


def read_number(card: Card, key: str) -> tuple[float, KnownValue] | None:
    """Return a number of a card and how it is known; None where there is none."""
    known = card.values.get(key)
    if known is None:
        return None
    try:
        return float(str(known.value)), known
    except ValueError:
        return None


def say_time(seconds: float) -> str:
    """Return the time of day of GPS seconds: `14:10:36 UTC`."""
    return f"{from_gps_s(seconds):%H:%M:%S} UTC"


def say_span(begin: float, end: float) -> str:
    """Return a span of GPS seconds: `2026-05-12 14:10:36 to 14:10:50 UTC`."""
    first, last = from_gps_s(begin), from_gps_s(end)
    until = f"{last:%H:%M:%S}" if last.date() == first.date() else f"{last:%Y-%m-%d %H:%M:%S}"
    return f"{first:%Y-%m-%d %H:%M:%S} to {until} UTC"


def list_times(begin: float, end: float) -> tuple[str, str]:
    """Return begin and end of GPS seconds in ISO form, for the place of a finding."""
    return write_utc(begin), write_utc(end)
