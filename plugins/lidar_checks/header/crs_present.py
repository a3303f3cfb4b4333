"""Does every file say where it is: a CRS record that is there, readable and of one meaning.

Absent, unreadable and not understood are three different things and get three sentences.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.contract.check import Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import compare
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Crs, CrsDifference, CrsKind, CrsReading
from ledger.model.header import LasHeader
from ledger.model.phrases import count_things
from lidar_checks.header.file_check import LAS_SOURCE, FileCheck

CRS_SOURCE = f"{LAS_SOURCE}, coordinate reference system information"

# Parts that move the points by more than a datum does: to another zone, state or size.
_FAR_PARTS = frozenset({"kind", "projection", "zone", "unit"})


class CrsPresent(FileCheck):
    """Every file states a coordinate system that can be read."""

    id = "crs-present"
    title = "Every file states a readable coordinate system"
    catalogue = ("CR-05",)
    rests_on = ("crs",)
    revision = 2
    specification_keys = ("coordinates.horizontal",)
    always_required = True

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return what the CRS records of one file are worth."""
        del header, plan
        if file.crs is None:
            yield self._tell_missing(file, "its coordinate system was not read", evidence)
            return
        found = [
            *self._judge_governing(file, file.crs, evidence),
            *self._judge_records(file, file.crs),
        ]
        yield from found
        crs = file.crs.governing.crs
        if not found and crs is not None:
            yield self.conforms(
                file.path, f"{file.path} states {crs.name}.", where=Where(file.path)
            )

    def _judge_governing(
        self, file: DeliveredFile, reading: CrsReading, evidence: Evidence
    ) -> Iterator[Finding]:
        """Yield a finding where the record that counts is absent, unreadable or no help."""
        record = reading.governing
        if not record.present:
            hidden = (
                ", as its header says that WKT counts and there is none; GeoTIFF keys are there"
                if reading.geotiff.present
                else ""
            )
            yield self._tell_missing(file, f"it states no coordinate system{hidden}", evidence)
        elif record.crs is None:
            fault = record.fault.rstrip(".") or "no reason is known"
            yield self._tell_missing(
                file, f"its coordinate system cannot be read: {fault}", evidence
            )
        elif record.crs.kind is CrsKind.NONE:
            yield self._tell_missing(
                file, "its coordinate system record does not say which one it is", evidence
            )
        elif record.crs.kind is CrsKind.ENGINEERING:
            yield self.nonconforming(
                Grade.OBSERVATION,
                file.path,
                f"{file.path} states a local system ({record.crs.name}), which ties it to no "
                "place on Earth.",
                criterion_source=CRS_SOURCE,
                remedy="Make sure that the client wants local coordinates.",
                where=Where(file.path),
            )

    def _tell_missing(self, file: DeliveredFile, reason: str, evidence: Evidence) -> Finding:
        others = [f for f in evidence.point_files if _has_crs(f)]
        verb = "does" if len(others) == 1 else "do"
        told = (
            f" {count_things(len(others), 'other file')} here {verb} state one." if others else ""
        )
        wanted = evidence.specification.coordinates.horizontal
        return self.nonconforming(
            Grade.MAJOR if others else Grade.MINOR,
            file.path,
            f"{file.path}: {reason}.{told}",
            required=wanted or "",
            criterion_source=CRS_SOURCE,
            remedy=f"Export again with {wanted or 'the coordinate system'} in the header.",
            where=Where(file.path),
        )

    def _judge_records(self, file: DeliveredFile, reading: CrsReading) -> Iterator[Finding]:
        """Yield a finding where the records contradict each other or themselves."""
        wkt, keys = reading.wkt.crs, reading.geotiff.crs
        if wkt is not None and keys is not None and keys.kind is not CrsKind.NONE:
            differences = compare(wkt, keys)
            if differences:
                yield self._tell_disagreement(file, differences)
        notes = reading.governing.notes
        if notes:
            told = "; ".join(note.rstrip(".") for note in notes)
            yield self.nonconforming(
                Grade.MINOR,
                file.path,
                f"{file.path}: its coordinate system record contradicts itself: {told}.",
                criterion_source=CRS_SOURCE,
                remedy="Export again; no two programs will understand such a record alike.",
                catalogue=("CR-05", "CR-06"),
                where=Where(file.path),
            )

    def _tell_disagreement(
        self, file: DeliveredFile, differences: tuple[CrsDifference, ...]
    ) -> Finding:
        told = "; ".join(f"{d.part} {d.a} against {d.b}" for d in differences)
        far = any(difference.part in _FAR_PARTS for difference in differences)
        return self.nonconforming(
            Grade.MAJOR if far else Grade.MINOR,
            file.path,
            f"{file.path} states two coordinate systems that differ, WKT against GeoTIFF keys: "
            f"{told}.",
            observed="; ".join(d.b for d in differences),
            required="; ".join(d.a for d in differences),
            criterion_source=CRS_SOURCE,
            remedy="Export again with one coordinate system record.",
            catalogue=("CR-06",),
            where=Where(file.path),
        )


def _has_crs(file: DeliveredFile) -> bool:
    crs: Crs | None = file.crs.governing.crs if file.crs is not None else None
    return crs is not None and crs.kind is not CrsKind.NONE
