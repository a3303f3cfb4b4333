"""Do the counts by return in the header fit the points, the legacy ones too.

What the header alone tells of its counts is judged by `las-conformance`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence, ReadFacts
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from ledger.model.phrases import agree, count_things
from lidar_checks.header.box import is_whole
from lidar_checks.header.file_check import LAS_SOURCE, FileCheck

# ASPRS LAS 1.4 R15, public header block: legacy counts hold five returns.
LEGACY_RETURNS = 5


class HeaderCounts(FileCheck):
    """The header counts the points by return as they are."""

    id = "header-counts"
    title = "The header counts returns as the points do"
    catalogue = ("FT-04",)
    needs = ("points",)
    revision = 2
    dimensions = frozenset({"return_number"})

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return what the counts say."""
        del plan, evidence
        reading = file.reading
        if reading is None or not is_whole(file) or (reading.decoded and not reading.by_return):
            yield self.not_assessed(
                file.path,
                f"{file.path}: its points were not all read, so its header could not be compared.",
                ("points",),
                where=Where(file=file.path),
            )
            return
        wrong = [*_compare_returns(header, reading), *_compare_legacy(header, reading)]
        if wrong:
            yield self._tell(file.path, wrong)
        else:
            yield self.conforms(
                file.path,
                f"{file.path}: the header counts returns as the points do.",
                where=Where(file=file.path),
            )

    def _tell(self, path: str, wrong: Sequence[str]) -> Finding:
        return self.nonconforming(
            Grade.MINOR,
            path,
            f"{path}: {'; '.join(wrong)}.",
            criterion_source=f"{LAS_SOURCE}, public header block",
            remedy="Export or re-index the file, so that its header is written anew.",
            where=Where(file=path),
        )


def _compare_returns(header: LasHeader, reading: ReadFacts) -> Iterator[str]:
    """Yield what is wrong in the counts by return."""
    if not reading.decoded:
        if any(header.by_return):
            told = count_things(sum(header.by_return), "return")
            yield f"the header counts {told} in a file without a point"
        return
    if not any(header.by_return):
        yield f"the header counts no return at all for {count_things(reading.decoded, 'point')}"
        return
    counted = _pad(reading.by_return[1:], len(header.by_return))
    pairs = enumerate(zip(header.by_return, counted, strict=False), start=1)
    off = [(number, stated, real) for number, (stated, real) in pairs if stated != real]
    if off:
        number, stated, real = max(off, key=lambda row: abs(row[1] - row[2]))
        rest = len(off) - 1
        differ = f"{count_things(rest, 'more return number')} {agree(rest, 'differs', 'differ')}"
        yield (
            f"the header counts {count_things(stated, 'return')} of number {number}, there "
            f"{agree(real, 'is', 'are')} {real:,}{f' ({differ})' if rest else ''}"
        )


def _compare_legacy(header: LasHeader, reading: ReadFacts) -> Iterator[str]:
    """Yield what is wrong in the legacy counts of LAS 1.4 and later; zero says nothing."""
    if not _has_extended_counts(header):
        return  # the legacy fields are the only ones, and were compared above
    counted = _pad(reading.by_return[1:], LEGACY_RETURNS)
    if any(header.legacy_by_return) and tuple(header.legacy_by_return) != counted[:LEGACY_RETURNS]:
        stated = ", ".join(f"{count:,}" for count in header.legacy_by_return)
        real = ", ".join(f"{count:,}" for count in counted[:LEGACY_RETURNS])
        yield f"the legacy counts by return are {stated}; the points give {real}"


def _pad(counts: Sequence[int], length: int) -> tuple[int, ...]:
    return (*counts, *(0,) * max(0, length - len(counts)))


def _has_extended_counts(header: LasHeader) -> bool:
    return header.version not in ("1.0", "1.1", "1.2", "1.3")
