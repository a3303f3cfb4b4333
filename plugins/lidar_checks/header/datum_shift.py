"""Does a header carry a stand-in for a change of datum: null, or parameters in place of a grid.

A library that lacks a grid changes nothing or little and says nothing; what it wrote into the text
of the system is what is left of it. Source of the harm: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from lidar_checks.header.file_check import COMMON_PRACTICE, FileCheck, find_crs
from lidar_checks.header.position import is_web_map

_NULL = re.compile(r"@null|ballpark", re.IGNORECASE)
_SHIFT = re.compile(r"TOWGS84\s*[\[(]([^\])]*)[\])]", re.IGNORECASE)
_GRIDS = re.compile(r'PROJ4_GRIDS"\s*,\s*"([^"]+)"', re.IGNORECASE)


class DatumShift(FileCheck):
    """No header carries a stand-in for a change of datum."""

    id = "datum-shift"
    title = "No header carries a stand-in for a change of datum"
    catalogue = ("CR-14",)
    rests_on = ("crs",)

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return what the text of one file says of a change of datum."""
        del plan, evidence
        text, crs = header.wkt, find_crs(file)
        if crs is None:
            yield self.not_assessed(
                file.path,
                f"{file.path} states no readable coordinate system.",
                ("header CRS",),
                where=Where(file.path),
            )
        elif text and _NULL.search(text) and not is_web_map(crs):
            yield self._tell(
                file,
                Grade.MINOR,
                "its coordinate system carries a change of datum that changes "
                "nothing (a null grid), as is written where a grid is not at hand",
                "a null grid",
            )
        elif text and (grids := _GRIDS.search(text)):
            yield self._tell(
                file,
                Grade.OBSERVATION,
                f"its coordinate system needs the grid {grids[1]} to be "
                "brought to another datum; without it programs are off by up to many metres",
                grids[1],
            )
        elif text and (shift := _SHIFT.search(text)) and _is_shift(shift[1]):
            yield self._tell(
                file,
                Grade.OBSERVATION,
                "its coordinate system carries a change of datum by "
                f"parameters ({shift[1]}), good to a metre or some, in place of a grid",
                shift[1],
            )
        else:
            yield self.conforms(
                file.path,
                f"{file.path} carries no stand-in for a change of datum.",
                where=Where(file.path),
            )

    def _tell(self, file: DeliveredFile, grade: Grade, told: str, observed: str) -> Finding:
        return self.nonconforming(
            grade,
            file.path,
            f"{file.path}: {told}.",
            observed=observed,
            required="a coordinate system without a change of datum",
            criterion_source=COMMON_PRACTICE,
            remedy="Find out which operation and grid brought the points here, and export again "
            "with the plain system of the job.",
            where=Where(file.path),
        )


def _is_shift(parameters: str) -> bool:
    """Say whether parameters of a change of datum change anything."""
    return any(part.strip().strip("+-0.") for part in parameters.split(","))
