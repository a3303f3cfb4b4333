"""Is in the files what the customer, or the document that the customer names, wants in them.

The standard allows more than one version, point format, kind of time and edition of WKT; which of
them is wanted only the customer can say. So every criterion is blank until the job or a profile
states it. Rules that need points (classes, flags) are those of the checks of points.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from lidar_checks.header.content_criteria import LasContentCriteria
from lidar_checks.header.content_rules import ROWS, ContentCase
from lidar_checks.header.file_check import FileCheck, name_source, require_criteria


class LasContent(FileCheck):
    """The files hold what the customer asks."""

    id = "las-content"
    title = "Versions, formats, times and coordinate system records are those that were asked for"
    catalogue = ("FT-08", "FT-06", "CR-05", "VD-06", "UN-03")
    criteria = LasContentCriteria
    rests_on = (
        "crs",
        "version",
        "point_format",
        "compressed",
        "global_encoding",
        "vlrs",
        "wkt",
        "file_source_id",
        "system_identifier",
    )

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return where one file is not as asked."""
        del evidence
        asked = require_criteria(plan, LasContentCriteria)
        case = ContentCase(file, header)
        stated = [(row, value) for row in ROWS if (value := row.read(asked)) is not None]
        stated = [(row, value) for row, value in stated if value is not False]
        if not stated:
            yield self.not_assessed(
                file.path,
                f"{file.path}: nobody asks for a version, point format or way of writing the rest.",
                ("criteria.las-content",),
                where=Where(file.path),
            )
            return
        faults = [(row, fault) for row, value in stated if (fault := row.find(case, value))]
        for row, (told, observed, required) in faults:
            yield self.nonconforming(
                Grade.OBSERVATION if row.is_told_only else Grade.MINOR,
                file.path,
                f"{file.path} {told}.",
                observed=observed,
                required=required,
                criterion_source=name_source(plan, row.field),
                remedy=row.remedy,
                catalogue=(row.catalogue,),
                where=Where(file.path),
            )
        if not faults:
            yield self.conforms(
                file.path,
                f"{file.path} is as asked in {', '.join(row.words for row, _ in stated)}.",
                where=Where(file.path),
            )
