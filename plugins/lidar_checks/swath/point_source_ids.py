"""Point source ids: what tells one swath from another in a delivery.

ASPRS LAS 1.4 R15: a point source id says which file, in practice which flight line, a point came
from, and zero that it came from this very file; a file source id that is not zero says that the
file is that flight line.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ledger.contract.check import Finding, Grade, Plan, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.swath.joined_rows import count_cells, join_rows
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import SwathCheck, get_family
from lidar_checks.swath.swath_family import CELL_M

_SOURCE = "ASPRS LAS 1.4 R15, File Source ID and Point Source ID"
_REMEDY = "Export again with the number of the flight line as point source id of every point."


class PointSourceIds(SwathCheck):
    """Ids that tell swaths apart."""

    id = "point-source-ids"
    title = "Point source ids tell the swaths apart"
    catalogue = ("SW-01", "DN-06")
    revision = 3

    def judge(
        self, plan: Plan, summaries: Mapping[str, PassSummary], evidence: Evidence
    ) -> Iterable[Finding]:
        """Say whether the ids tell anything, then whether they fit those of the files."""
        filled = {path: each for path, each in summaries.items() if each.points}
        ids = {source for each in filled.values() for source, _ in each.sources}
        unlike = list(self._list_unlike(filled, {file.path: file for file in evidence.files}))
        yield from unlike
        if ids == {0}:
            yield self.nonconforming(
                Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"Every point source id in {count_things(len(filled), 'file')} is 0, so swaths can "
                "only be told apart by time.",
                remedy=_REMEDY,
                criterion_source=_SOURCE,
            )
        elif len(ids) == 1 and self._were_more(plan, summaries):
            yield self.nonconforming(
                Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"Every point source id is {ids.pop()}, though the GPS times show that ground was "
                "passed over more than once.",
                remedy=_REMEDY,
                criterion_source=_SOURCE,
            )
        else:
            yield from self._tell_zeros(filled, ids, is_good=not unlike)

    def _list_unlike(
        self, filled: Mapping[str, PassSummary], files: Mapping[str, DeliveredFile]
    ) -> Iterable[Finding]:
        """Yield the files that say they are one flight line while their points say another."""
        for path, summary in sorted(filled.items()):
            header = files[path].header
            stated = header.file_source_id if header is not None else 0
            others = [source for source, _ in summary.sources if source not in {0, stated}]
            if stated and others:
                shown = ", ".join(map(str, others[:5])) + (" …" if len(others) > 5 else "")
                yield self.nonconforming(
                    Grade.OBSERVATION,
                    path,
                    f"{path} says that it is flight line {stated}, and holds points of {shown}.",
                    observed=shown,
                    required=str(stated),
                    criterion_source=_SOURCE,
                    remedy="Export it again with file source id 0, as is right for a tile of "
                    "several lines, or with the id of its line.",
                    where=Where(file=path),
                )

    def _were_more(self, plan: Plan, summaries: Mapping[str, PassSummary]) -> bool:
        """Say whether times show more than one pass over any ground to speak of."""
        rows = join_rows(summaries, get_family(plan), CELL_M)
        if rows is None:
            return False
        cells, twice = count_cells(rows)
        return twice > cells // 20

    def _tell_zeros(
        self, filled: Mapping[str, PassSummary], ids: set[int], *, is_good: bool
    ) -> Iterable[Finding]:
        """Yield files in which some points have no id while others have, else that all is well."""
        zeros = {
            path: count
            for path, each in filled.items()
            for source, count in each.sources
            if source == 0
        }
        for path, count in sorted(zeros.items()):
            yield self.nonconforming(
                Grade.OBSERVATION,
                path,
                f"{count_things(count, 'point')} in {path} "
                f"{agree(count, 'has', 'have')} point source id 0, while others of the delivery "
                "have one.",
                remedy=_REMEDY,
                criterion_source=_SOURCE,
                where=Where(file=path),
            )
        if not zeros and is_good:
            yield self.conforms(
                WHOLE_DELIVERY,
                f"{count_things(len(ids), 'point source id')} in "
                f"{count_things(len(filled), 'file')}.",
                criterion_source=_SOURCE,
            )
