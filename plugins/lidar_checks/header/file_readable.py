"""Is every file whole: can it be read to its last point."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ledger.contract.check import Answer, Check, Plan
from ledger.contract.evidence import DeliveredFile, Evidence, ReadFacts
from ledger.contract.shared import ANY_FILE, SharedFinding
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.header import LasHeader
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from lidar_checks.header.file_check import LAS_SOURCE, tell_no_point_file

# Where bytes could not be read at all, the reason says so itself.
_UNREAD = "cannot be read"
COPY_AGAIN = "Copy or export the file again; it cannot be repaired by editing its header."


class FileReadable(Check):
    """Every file can be opened and holds as many points as it states."""

    id = "file-readable"
    title = "Every point file is whole and can be read to its last point"
    catalogue = ("FT-05",)
    revision = 3
    always_required = True

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Answer]:
        """Judge every point file; here an unreadable header is the finding itself."""
        del plan, summaries
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
        unread = [file for file in evidence.point_files if _is_only_unread(file)]
        if unread:
            yield SharedFinding(self._tell_unread(ANY_FILE), tuple(file.path for file in unread))
        known = {file.path for file in unread}
        for file in evidence.point_files:
            if file.path in known:
                continue
            finding = self._judge_reading(file, evidence)
            yield finding
            if finding.outcome is not Outcome.NONCONFORMING:
                yield from self._tell_oddities(file)

    def _judge_reading(self, file: DeliveredFile, evidence: Evidence) -> Finding:
        if file.header is None:
            reason = file.header_fault or file.fault or "its header is missing"
            told = reason if reason.startswith(_UNREAD) else f"{_UNREAD}: {reason}"
            return self._break(file, f"{file.path} {told.rstrip('.')}.")
        if file.fault or file.header.file_size != file.bytes:
            return self._tell_change(file, evidence.folder)
        if file.reading is None:
            return self._judge_size(file, file.header, quick=evidence.quick)
        if file.reading.changed:
            return self._tell_change(file, evidence.folder)
        return self._judge_points(file, file.header, file.reading)

    def _judge_points(self, file: DeliveredFile, header: LasHeader, reading: ReadFacts) -> Finding:
        counts = f"{reading.decoded:,} of {count_things(header.point_count, 'point')}"
        if reading.fault:
            fault = reading.fault.rstrip(".")
            if reading.decoded >= header.point_count:  # cut behind its points
                told = count_things(reading.decoded, "point")
                return self._break(
                    file, f"{file.path} is damaged, though {told} can be read: {fault}.", counts
                )
            return self._break(file, f"{file.path}: only {counts} can be read: {fault}.", counts)
        if reading.decoded < header.point_count:
            lost = header.point_count - reading.decoded
            return self._break(
                file,
                f"{file.path} ends {count_things(lost, 'point')} early: only {counts} can be read.",
                counts,
            )
        if reading.decoded > header.point_count:
            return self.nonconforming(
                Grade.MINOR,
                file.path,
                f"{file.path} holds {count_things(reading.decoded, 'point')} where its header "
                f"states {header.point_count:,}; some programs will not read the rest.",
                observed=count_things(reading.decoded, "point"),
                required=f"{count_things(header.point_count, 'point')}, as stated",
                criterion_source=f"{LAS_SOURCE}, number of point records",
                remedy="Export the file again, so that its header counts its points.",
                where=Where(file=file.path),
            )
        return self.conforms(
            file.path,
            f"{file.path}: {count_things(reading.decoded, 'point')} read, as stated.",
            where=Where(file=file.path),
        )

    def _judge_size(self, file: DeliveredFile, header: LasHeader, *, quick: bool) -> Finding:
        """Return what the size alone says, where no point was read."""
        needed = header.offset_to_points + header.point_count * header.record_length
        if not header.compressed and file.bytes < needed:
            return self._break(
                file,
                f"{file.path} ends {count_things(needed - file.bytes, 'byte')} early: it has "
                f"{file.bytes:,} of the {count_things(needed, 'byte')} that its points need.",
                count_things(file.bytes, "byte"),
            )
        if header.compressed and header.points_fault:
            return self._break(file, f"{file.path} cannot be decoded: {header.points_fault}.")
        if header.compressed and header.missing_bytes:
            return self._break(
                file,
                f"{file.path} ends {count_things(header.missing_bytes, 'byte')} early or more: the "
                f"end of its compressed points lies behind its {count_things(file.bytes, 'byte')}.",
                count_things(file.bytes, "byte"),
            )
        if quick and not header.compressed:
            return self.conforms(
                file.path,
                f"{file.path} has room for {count_things(header.point_count, 'point')}, as stated; "
                "they were not read.",
                where=Where(file=file.path),
            )
        return self._tell_unread(file.path)

    def _tell_unread(self, path: str) -> Finding:
        return self.not_assessed(
            path,
            f"{path}: its points were not read, so nobody can say whether it is whole.",
            ("points",),
            where=Where(file=path),
        )

    def _break(self, file: DeliveredFile, sentence: str, observed: str = "") -> Finding:
        stated = file.header.point_count if file.header is not None else 0
        required = f"all of {count_things(stated, 'point')}" if stated else ""
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            sentence,
            observed=observed,
            required=required,
            criterion_source=f"{LAS_SOURCE}, public header block",
            remedy=COPY_AGAIN,
            where=Where(file=file.path),
        )

    def _tell_change(self, file: DeliveredFile, folder: str) -> Finding:
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            f"{file.path} changed while it was being read, so nothing said of it holds.",
            remedy="Wait until nothing writes to the folder any more, then audit again (swathbook "
            f"audit {quote_path(folder)})",
            where=Where(file=file.path),
        )

    def _tell_oddities(self, file: DeliveredFile) -> Iterator[Finding]:
        """Yield one remark on a readable file that is empty or whose header is odd."""
        if file.header is None:
            return
        remarks = list(file.header.notes)
        if file.header.point_count == 0 and not (file.reading and file.reading.decoded):
            remarks.insert(0, "it holds no point")
        if remarks:
            told = "; ".join(remark.rstrip(".") for remark in remarks)
            yield self.nonconforming(
                Grade.OBSERVATION,
                file.path,
                f"{file.path} is odd: {told}.",
                remedy="Make sure that this is what was meant to be exported.",
                where=Where(file=file.path),
            )


def _is_only_unread(file: DeliveredFile) -> bool:
    """Say whether nothing is to be told of a compressed file but that no point of it was read."""
    header = file.header
    return (
        header is not None
        and file.reading is None
        and header.compressed
        and header.has_points
        and header.file_size == file.bytes
        and not (file.fault or header.points_fault or header.missing_bytes or header.notes)
    )
