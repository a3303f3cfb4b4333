"""Two good copies of everything that nobody can make again.

A copy is good that was read back from its drive after it was made, and with which no recheck found
anything wrong since.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from pydantic import Field

from ledger.contract.check import Check, Criteria, Evidence, Finding, Grade, Plan, Where
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.filestate import FileState
from ledger.model.jobrecords import RawFile
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from lidar_checks.header.file_check import require_criteria
from lidar_checks.lineage.raw_files import (
    NEEDS_RAW,
    NO_RAW,
    group_by_flight,
    list_raw,
    name_files,
    name_flight,
)

_SOURCE = "common practice, no source"
_COPY = "Make copies that are read back (swathbook register PATH --copy-to DRIVE)"


class RawCopiesCriteria(Criteria):
    """How long ago a raw file may have been read last."""

    max_age_days: float = Field(default=180.0, gt=0, description=_SOURCE)


class RawCopies(Check):
    """Says which raw files are gone, and which have too few good copies."""

    id = "raw-copies"
    title = "Raw data are still there, with good copies"
    catalogue = ("RH-04", "RC-07")
    criteria = RawCopiesCriteria

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge the raw files flight by flight."""
        criteria = require_criteria(plan, RawCopiesCriteria)
        listed = list_raw(evidence)
        if not listed:
            yield self.not_assessed(WHOLE_DELIVERY, NO_RAW, needs=NEEDS_RAW)
        for flight, files in group_by_flight(listed).items():
            lost = [raw for raw in files if _is_lost(raw)]
            for raw in lost:
                yield self._tell_lost(raw)
            for raw in files:
                if raw not in lost:
                    yield from self._tell_bad_copies(raw)
            rest = [raw for raw in files if raw not in lost]
            if rest:
                yield self._judge(flight, rest, criteria.max_age_days, evidence)

    def _tell_lost(self, raw: RawFile) -> Finding:
        path, state = raw.file.path, raw.wrong[raw.file.path]
        return self.nonconforming(
            Grade.MINOR,
            path,
            f"Raw file {path} of {name_flight(raw.flight)} is {state}, and no good copy of it is "
            "known: what was made from it cannot be made again.",
            observed=f"{state}, no good copy",
            required="the registered bytes at one place at least",
            criterion_source=_SOURCE,
            remedy="Look for it on the card and on every drive; register it from there",
            where=Where(file=path),
            catalogue=("RH-04",),
        )

    def _tell_bad_copies(self, raw: RawFile) -> Iterable[Finding]:
        for place, state in raw.wrong.items():
            if place != raw.file.path and state != FileState.MISSING:
                yield self.nonconforming(
                    Grade.MINOR,
                    place,
                    f"The copy {place} of raw file {raw.file.path} is {state}: it is no copy.",
                    observed=str(state),
                    required="the registered bytes",
                    criterion_source=_SOURCE,
                    remedy="Keep the card as it is, and make that copy anew "
                    "(swathbook register PATH --copy-to DRIVE)",
                    where=Where(file=place),
                    catalogue=("RC-07",),
                )

    def _judge(
        self, flight: str, files: list[RawFile], max_age_days: float, evidence: Evidence
    ) -> Finding:
        needed = evidence.job.copies_needed
        subject, of = flight or WHOLE_DELIVERY, name_flight(flight)
        parts: dict[str, Any] = {
            "observed": str(min(raw.copies for raw in files)),
            "required": str(needed),
            "unit": "good copies",
            "criterion_source": _SOURCE,
            "catalogue": ("RH-04",),
        }
        few = [raw for raw in files if raw.copies < needed]
        if few:
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{count_things(len(few), 'raw file')} of {of} with fewer than "
                f"{count_things(needed, 'good copy', 'good copies')}: {name_files(few)}.",
                remedy=_COPY,
                **parts,
            )
        old = [raw for raw in files if _is_old(raw, max_age_days, evidence.job.time)]
        if old:
            last = min(raw.last_read for raw in old)
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"Nobody has read raw files of {of} since {describe_day(last)} (limit "
                f"{max_age_days:g} days): {name_files(old)}.",
                remedy="Connect the drives and read them (swathbook recheck)",
                **{
                    **parts,
                    "observed": describe_day(last),
                    "required": f"{max_age_days:g} days",
                    "unit": "",
                },
            )
        return self.conforms(
            subject,
            f"Each of {count_things(len(files), 'raw file')} of {of} has "
            f"{count_things(needed, 'good copy', 'good copies')} or more.",
            **parts,
        )


def _is_lost(raw: RawFile) -> bool:
    """Say whether a file is gone or altered where it was registered, and lies nowhere else."""
    return raw.file.path in raw.wrong and not raw.copies and not raw.last_read


def _is_old(raw: RawFile, max_age_days: float, now: str) -> bool:
    if not (raw.last_read and now):
        return False
    age = _read_time(now) - _read_time(raw.last_read)
    return age > timedelta(days=max_age_days)


def _read_time(text: str) -> datetime:
    read = datetime.fromisoformat(text)
    return read if read.tzinfo is not None else read.replace(tzinfo=UTC)
