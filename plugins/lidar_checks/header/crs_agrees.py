"""Is the CRS in the header the one that the job asks for: part by part, names do not count."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import compare, compare_vertical
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Crs, CrsDifference, CrsKind
from ledger.model.header import LasHeader
from lidar_checks.header.file_check import SPECIFICATION_SOURCE, FileCheck, find_crs
from lidar_checks.header.specified import find_specified_vertical, list_stated

_KEYS = ("coordinates.horizontal", "coordinates.vertical_crs", "coordinates.vertical")


class CrsAgrees(FileCheck):
    """The header's CRS is the specified one."""

    id = "crs-agrees"
    title = "The coordinate system of the header is the one that the job asks for"
    catalogue = ("CR-06",)
    rests_on = ("crs",)
    needs = ("specification.coordinates.horizontal",)
    specification_keys = _KEYS

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return in which parts the header's CRS differs from the specified one."""
        del header, plan
        asked, stated = evidence.specified_crs, find_crs(file)
        if asked is None:
            yield self._tell_open(
                file, "job.toml names no coordinate system to compare with", self.needs
            )
        elif stated is None or stated.kind is CrsKind.NONE:
            yield self._tell_open(file, "it states no readable coordinate system", ("header CRS",))
        else:
            flat = compare(replace(asked, vertical=None), stated)
            differences = (*flat, *_compare_heights(evidence, stated))
            yield self._tell(file, asked, stated, differences, evidence)

    def _tell_open(self, file: DeliveredFile, reason: str, needs: tuple[str, ...]) -> Finding:
        return self.not_assessed(
            file.path, f"{file.path}: {reason}.", needs, where=Where(file.path)
        )

    def _tell(
        self,
        file: DeliveredFile,
        asked: Crs,
        stated: Crs,
        differences: tuple[CrsDifference, ...],
        evidence: Evidence,
    ) -> Finding:
        if not differences:
            limit = _tell_limit(evidence, stated)
            return self.conforms_if_confirmed(
                evidence,
                list_stated(evidence, *_KEYS),
                file.path,
                f"{file.path} states {stated.name}, as the job asks{limit}.",
                where=Where(file.path),
            )
        told = "; ".join(f"{d.part} {d.b}, the job asks for {d.a}" for d in differences)
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            f"{file.path} states another coordinate system than the job: {told}.",
            observed="; ".join(f"{d.part}: {d.b}" for d in differences),
            required="; ".join(f"{d.part}: {d.a}" for d in differences),
            criterion_source=f"{SPECIFICATION_SOURCE}, coordinates",
            remedy=f"Export again in {asked.name}; do not change the label alone.",
            where=Where(file.path),
        )


def _tell_limit(evidence: Evidence, stated: Crs) -> str:
    """Return that heights were not compared, where the job asks for some and no header tells."""
    asked = evidence.specification.coordinates.vertical or find_specified_vertical(evidence)
    if stated.vertical is not None or asked is None:
        return ""
    return "; only the horizontal part was compared, for the header has no vertical part"


def _compare_heights(evidence: Evidence, stated: Crs) -> tuple[CrsDifference, ...]:
    """Return the differences of the vertical parts, where both sides have one.

    A header without a vertical part is judged elsewhere: it is silent, not different.
    """
    if stated.vertical is None:
        return ()
    asked = find_specified_vertical(evidence)
    if asked is not None:
        return compare_vertical(asked, stated.vertical)
    kind = evidence.specification.coordinates.vertical
    if kind is None:
        return ()
    if kind != "site" and (kind == "ellipsoidal") == stated.vertical.is_ellipsoidal:
        return ()
    found = "ellipsoidal" if stated.vertical.is_ellipsoidal else stated.vertical.name
    return (CrsDifference("heights", str(kind), found),)
