"""Do header and specification mean the same units, along X and Y and along Z.

Mixed units are legal when they are declared and asked for. A unit that is not declared is no unit:
feet read as metres are 3.28 times too large, and the two feet differ by 2 millionths, which is
metres where coordinates count in millions.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.header import LasHeader
from lidar_checks.header.box import find_best_box
from lidar_checks.header.file_check import SPECIFICATION_SOURCE, FileCheck, find_crs
from lidar_checks.header.specified import list_stated
from lidar_checks.header.unit_size import (
    UnitSize,
    find_asked_flat,
    find_asked_height,
    find_flat_unit,
    find_height_unit,
)

UNIT_SOURCE = f"{SPECIFICATION_SOURCE}, coordinates.unit"
FOOT_SOURCE = f"{UNIT_SOURCE}; EPSG units of measure 9002 and 9003"
_KEYS = (
    "coordinates.horizontal",
    "coordinates.vertical_crs",
    "coordinates.unit.horizontal",
    "coordinates.unit.vertical",
)


class UnitConsistency(FileCheck):
    """Header and specification mean the same units."""

    id = "unit-consistency"
    title = "Units of header and job are stated and the same"
    catalogue = ("UN-01", "UN-02", "UN-03")
    rests_on = ("crs",)
    revision = 2
    specification_keys = _KEYS

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return what the units of one file are worth."""
        del header, plan
        crs = find_crs(file)
        if crs is None or crs.kind is CrsKind.NONE:
            yield self._tell_open(
                file, "it states no readable coordinate system, so no unit", "header CRS"
            )
            return
        found = [*self._judge_flat(file, crs, evidence), *self._judge_height(file, crs, evidence)]
        yield from found
        if not found:
            yield self._tell_good(file, crs, evidence)

    def _judge_flat(self, file: DeliveredFile, crs: Crs, evidence: Evidence) -> Iterator[Finding]:
        """Yield what is wrong along X and Y."""
        stated, asked = find_flat_unit(crs), find_asked_flat(evidence)
        if crs.kind is CrsKind.GEOGRAPHIC and asked is not None:
            yield self._tell_wrong(
                file,
                "UN-01",
                f"its coordinates are degrees, the job asks for {asked.words}",
                observed="degree",
                required=asked.words,
            )
        elif crs.kind is CrsKind.GEOGRAPHIC:
            return
        elif stated is None:
            yield self._tell_open(file, "the unit of X and Y in its header is not known", "unit")
        elif asked is not None and not stated.is_same(asked):
            yield self._tell_difference(file, stated, asked, "X and Y")

    def _judge_height(self, file: DeliveredFile, crs: Crs, evidence: Evidence) -> Iterator[Finding]:
        """Yield what is wrong along Z."""
        stated, asked = find_height_unit(crs), find_asked_height(evidence)
        flat = find_flat_unit(crs)
        if stated is None:
            yield self._tell_undeclared(file, flat, asked)
        elif asked is not None and not stated.is_same(asked):
            yield self._tell_difference(file, stated, asked, "heights")
        elif asked is None and flat is not None and not stated.is_same(flat):
            yield self.nonconforming(
                Grade.OBSERVATION,
                file.path,
                f"{file.path} has X and Y in {flat.words} and heights in {stated.words}; "
                "that is declared, and job.toml does not say whether it is wanted.",
                observed=stated.words,
                criterion_source=UNIT_SOURCE,
                remedy="Write coordinates.unit.vertical in job.toml.",
                catalogue=("UN-03",),
                where=Where(file.path),
            )

    def _tell_undeclared(
        self, file: DeliveredFile, flat: UnitSize | None, asked: UnitSize | None
    ) -> Finding:
        """Return how bad it is that the header does not say the unit of heights."""
        silent = "the header does not say the unit of heights"
        if flat is not None and asked is not None and not flat.is_same(asked):
            grade = Grade.MAJOR
            told = (
                f"X and Y are in {flat.words}, the job asks for heights in {asked.words}, "
                f"and {silent}: they will be read wrongly"
            )
        elif flat is not None and not flat.is_metre:
            grade, told = Grade.MINOR, f"X and Y are in {flat.words}, and {silent}"
        else:
            grade, told = Grade.OBSERVATION, silent
        return self.nonconforming(
            grade,
            file.path,
            f"{file.path}: {told}.",
            observed="not stated",
            required=asked.words if asked is not None else "",
            criterion_source=UNIT_SOURCE,
            remedy="Export again with a vertical system in the header; it carries the unit.",
            catalogue=("UN-03",),
            where=Where(file.path),
        )

    def _tell_difference(
        self, file: DeliveredFile, stated: UnitSize, asked: UnitSize, axes: str
    ) -> Finding:
        if stated.is_other_foot(asked):
            return self._tell_other_foot(file, stated, asked, axes)
        factor = asked.metres / stated.metres
        factor = factor if factor >= 1 else 1 / factor
        return self._tell_wrong(
            file,
            "UN-01" if axes == "X and Y" else "UN-03",
            f"{axes} are in {stated.words}, the job asks for {asked.words}; taken one for "
            f"the other they are {factor:.4g} times off",
            observed=stated.words,
            required=asked.words,
        )

    def _tell_other_foot(
        self, file: DeliveredFile, stated: UnitSize, asked: UnitSize, axes: str
    ) -> Finding:
        """Return a finding on the wrong kind of foot, with what it means at these coordinates."""
        return self.nonconforming(
            Grade.MINOR,
            file.path,
            f"{file.path}: {axes} are in {stated.words}, the job asks for {asked.words}. "
            f"The two differ by 2 ppm{_describe_shift(file, stated, asked, axes)}.",
            observed=stated.words,
            required=asked.words,
            criterion_source=FOOT_SOURCE,
            remedy=f"Export again in {asked.words}.",
            catalogue=("UN-02",) if axes == "X and Y" else ("UN-02", "UN-03"),
            where=Where(file.path),
        )

    def _tell_wrong(
        self, file: DeliveredFile, catalogue: str, told: str, *, observed: str, required: str
    ) -> Finding:
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            f"{file.path}: {told}.",
            observed=observed,
            required=required,
            criterion_source=UNIT_SOURCE,
            remedy=f"Export again in {required}.",
            catalogue=(catalogue,),
            where=Where(file.path),
        )

    def _tell_open(self, file: DeliveredFile, reason: str, need: str) -> Finding:
        return self.not_assessed(
            file.path, f"{file.path}: {reason}.", (need,), where=Where(file.path)
        )

    def _tell_good(self, file: DeliveredFile, crs: Crs, evidence: Evidence) -> Finding:
        """Return the good result, or what job.toml must say before it can be one."""
        flat, height = find_flat_unit(crs), find_height_unit(crs)
        if flat is None or find_asked_flat(evidence) is None:
            return self.not_assessed(
                file.path,
                f"{file.path}: its units are stated, but job.toml asks for none.",
                ("specification.coordinates.unit.horizontal",),
                where=Where(file.path),
            )
        heights = height.words if height is not None else flat.words
        return self.conforms_if_confirmed(
            evidence,
            list_stated(evidence, *_KEYS),
            file.path,
            f"{file.path} has X and Y in {flat.words} and heights in {heights}, as the job asks.",
            where=Where(file.path),
        )


def _describe_shift(file: DeliveredFile, stated: UnitSize, asked: UnitSize, axes: str) -> str:
    """Return what the difference of two feet is in metres at the coordinates of a file."""
    box = find_best_box(file)
    if box is None:
        return ""
    used = (0, 1) if axes == "X and Y" else (2,)
    largest = max(abs(bound) for axis in used for bound in box.bounds(axis))
    return f", {largest * abs(stated.metres - asked.metres):.3g} m at these coordinates"
