"""Raw files are what they were when they were registered, as far as the book and sizes tell.

Nothing is read: what rechecks found, what was entered under the same path since, and sizes now.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan, Where
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.filestate import FileState
from ledger.model.jobrecords import RawFile
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from lidar_checks.lineage.raw_files import (
    NEEDS_RAW,
    NO_RAW,
    group_by_flight,
    list_raw,
    name_flight,
    name_users,
)

_OTHER_BYTES = (FileState.CHANGED, FileState.HEADER_CHANGED)


class RawUnchanged(Check):
    """Names each raw file whose bytes are others now, at the place where it was registered."""

    id = "raw-unchanged"
    title = "Raw files are as they were when they were registered"
    catalogue = ("RC-09",)

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge the raw files flight by flight."""
        listed = list_raw(evidence)
        if not listed:
            yield self.not_assessed(WHOLE_DELIVERY, NO_RAW, needs=NEEDS_RAW)
        for flight, files in group_by_flight(listed).items():
            changed = [raw for raw in files if raw.wrong.get(raw.file.path) in _OTHER_BYTES]
            for raw in changed:
                yield self._tell_changed(raw, evidence)
            if not changed:
                yield self._tell_sound(flight, files)

    def _tell_changed(self, raw: RawFile, evidence: Evidence) -> Finding:
        path = raw.file.path
        good = (
            "Copy it back from a copy that was read back"
            if raw.copies
            else "Copy it back from the card or a backup"
        )
        return self.nonconforming(
            Grade.MAJOR,
            path,
            f"Raw file {path} of {name_flight(raw.flight)}{name_users(evidence, raw)} is not what "
            f"was registered on {describe_day(raw.time)}: it was changed since.",
            observed=raw.wrong[path],
            required="the bytes that were registered",
            criterion_source="common practice, no source",
            remedy=f"{good}, check it (swathbook recheck), and repeat what was made from it since",
            where=Where(file=path),
        )

    def _tell_sound(self, flight: str, files: list[RawFile]) -> Finding:
        last = min(raw.last_read for raw in files)
        told = f", last read on {describe_day(last)} or later" if last else ""
        return self.conforms(
            flight or WHOLE_DELIVERY,
            f"Nothing shows that one of {count_things(len(files), 'raw file')} of "
            f"{name_flight(flight)} was changed since it was registered{told}.",
            required="the bytes that were registered",
        )
