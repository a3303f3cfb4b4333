"""The evidence of one audit, put together from the folder, the wishes and the book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ledger.audit.delivery import CHANGED, ReadFile
from ledger.audit.records import Records
from ledger.audit.sitegeoids import find_site_places, read_site_geoids
from ledger.audit.specified import Specified
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.passing import PassResult
from ledger.dataclass import dataclass
from ledger.lattice import choose_common_lattice
from ledger.model.artefact import FileRecord
from ledger.model.sitegeoid import SiteGeoid
from ledger.model.specification import Specification


@dataclass(frozen=True)
class Delivery:
    """What is audited, against what.

    Args:
        folder: the folder as it is typed in the job folder.
        specification: what it has to meet.
        specified: what the specification names.
        quick: points are not read.
        checkpoints: the table of checkpoints that came later; None for those in the job.
    """

    folder: str
    specification: Specification
    specified: Specified
    quick: bool = False
    checkpoints: FileRecord | None = None


def assemble(
    delivery: Delivery, files: tuple[ReadFile, ...], records: Records | None = None
) -> Evidence:
    """Return the evidence before any point is read.

    Args:
        delivery: what is audited.
        files: its files as read, sorted by path.
        records: of the job's book; None without a book.
    """
    headers = (each.file.header for each in files if each.file.header is not None)
    specified = delivery.specified
    evidence = Evidence(
        folder=delivery.folder,
        specification=delivery.specification,
        files=tuple(each.file for each in files),
        lattice=choose_common_lattice(headers),
        quick=delivery.quick,
        specified_crs=specified.horizontal,
        specified_vertical=specified.vertical,
        geoid_sha256=specified.geoid_sha256,
        geoid_grid=specified.geoid_grid,
        boundary=specified.boundary,
    )
    evidence = replace(evidence, geoids=_read_geoids(evidence, {}))
    if records is None:
        return evidence
    registered = records.list_registered()
    if delivery.checkpoints is not None:
        registered[delivery.checkpoints.sha256] = delivery.checkpoints
    records.look_up(evidence.files)
    delivered = tuple(records.add_custody(file, is_final=False) for file in evidence.files)
    tables = records.read_tables(delivery.checkpoints)
    known = replace(evidence, registered=registered, tables=tables)
    return _add_records(known, delivered, records)


def complete(
    evidence: Evidence, readings: Mapping[str, PassResult], records: Records | None = None
) -> Evidence:
    """Return the evidence with what the points showed: counts, and what made each file."""
    delivered = tuple(
        _add_reading(file, readings.get(file.path), records) for file in evidence.files
    )
    if records is None:
        return replace(evidence, files=delivered)
    return _add_records(evidence, delivered, records)


def _add_records(
    evidence: Evidence, delivered: tuple[DeliveredFile, ...], records: Records
) -> Evidence:
    behind = records.collect(delivered)
    return replace(
        evidence,
        files=delivered,
        recorded=behind.recorded,
        processes=behind.processes,
        flights=behind.flights,
        rigs=behind.rigs,
        geoids=_read_geoids(
            evidence, records.find_grids(behind.processes, evidence.registered.values())
        ),
        job=records.read_job(behind),
        logs=records.read_logs(behind, evidence.specified_crs),
    )


def _read_geoids(evidence: Evidence, named: dict[str, Path | None]) -> Mapping[str, SiteGeoid]:
    """Return what the grids of the job say at the site; each is asked once."""
    if evidence.geoid_sha256:
        named[evidence.geoid_sha256] = Path(evidence.geoid_grid)
    if named.keys() <= evidence.geoids.keys():
        return evidence.geoids
    places = find_site_places(evidence.boundary, evidence.specified_crs, evidence.files)
    return read_site_geoids(named, places)


def _add_reading(
    file: DeliveredFile, reading: PassResult | None, records: Records | None
) -> DeliveredFile:
    read = file if reading is None else replace(file, reading=reading.facts)
    if records is None or (reading is None and file.custody is not None):
        return read
    return records.add_custody(read, reading.fingerprint if reading is not None else None)


def mark_changed(evidence: Evidence, changed: tuple[str, ...]) -> Evidence:
    """Return the evidence with a fault at each file that changed while it was audited."""
    if not changed:
        return evidence
    files = tuple(
        replace(file, fault=CHANGED) if file.path in changed else file for file in evidence.files
    )
    return replace(evidence, files=files)
