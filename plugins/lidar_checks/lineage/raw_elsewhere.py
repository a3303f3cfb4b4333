"""No capture and no log of this job was registered in another job.

Asked are the jobs that this computer has met. One base log may serve two sites of a day: where its
times cover the flight, that is only told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan, Where
from ledger.model.artefact import Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.jobrecords import RawFile
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from lidar_checks.lineage.raw_files import NEEDS_RAW, NO_RAW, list_raw, name_flight, name_users
from lidar_checks.lineage.spans import measure_share, read_flight, read_log

_SOURCE = "common practice, no source"
_COVERED = 0.95


class RawElsewhere(Check):
    """Looks up each raw file in the books of the other jobs."""

    id = "raw-elsewhere"
    title = "Raw files belong to this job alone"
    catalogue = ("GN-08", "PS-08")

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every raw file behind the delivery."""
        listed = list_raw(evidence)
        if not listed:
            yield self.not_assessed(WHOLE_DELIVERY, NO_RAW, needs=NEEDS_RAW)
            return
        shared = [raw for raw in listed if raw.elsewhere]
        for raw in shared:
            yield self._tell_shared(raw, evidence)
        if not shared:
            yield self._tell_alone(listed, evidence)

    def _tell_shared(self, raw: RawFile, evidence: Evidence) -> Finding:
        other, *more = raw.elsewhere
        path = raw.file.path
        also = f" and {count_things(len(more), 'more job')}" if more else ""
        covers = _covers_flight(raw, evidence)
        grade = Grade.MAJOR
        if covers:
            grade = Grade.OBSERVATION if raw.file.role == Role.BASE_LOG else Grade.MINOR
        told = ", and its times cover the flight of this one" if covers else ""
        return self.nonconforming(
            grade,
            path,
            f"{path} of {name_flight(raw.flight)}{name_users(evidence, raw)} is registered in job "
            f"{other.job} too{also}, since {describe_day(other.time)} as {other.path}{told}.",
            observed=f"in job {other.job}",
            required="in this job alone",
            criterion_source=_SOURCE,
            remedy=f"See to which of the jobs it belongs ({other.folder} is the other one); if it "
            "is the wrong file, register the right one and repeat the run",
            where=Where(file=path),
        )

    def _tell_alone(self, listed: tuple[RawFile, ...], evidence: Evidence) -> Finding:
        job = evidence.job
        told = (
            f"None of {count_things(len(listed), 'raw file')} is registered in one of "
            f"{count_things(job.jobs, 'other job')} that this computer knows"
        )
        if job.unreached:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}; {count_things(len(job.unreached), 'more job')} could not be asked: "
                f"{', '.join(job.unreached[:3])}.",
                remedy="Connect the drive that holds them, and audit again",
            )
        return self.conforms(WHOLE_DELIVERY, f"{told}.")


def _covers_flight(raw: RawFile, evidence: Evidence) -> bool:
    """Say whether a log was running, on the day that it states, while a flight here was flown."""
    for card in evidence.flights:
        flight = read_flight(card)
        if flight is None or raw.flight not in ("", card.id):
            continue
        span = read_log(raw.file, flight)
        if span is not None and span.has_date and measure_share(flight, [span]) >= _COVERED:
            return True
    return False
