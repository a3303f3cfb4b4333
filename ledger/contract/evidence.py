"""The frozen view of everything a check may look at, apart from points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from functools import cached_property

from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord
from ledger.model.boundary import Boundary
from ledger.model.fieldlogs import FieldLogs
from ledger.model.finding import Finding
from ledger.model.georeferencing import Crs, CrsReading
from ledger.model.header import LasHeader
from ledger.model.jobrecords import JobRecords
from ledger.model.lattice import Lattice
from ledger.model.lineage import Custody
from ledger.model.process import Card, Process
from ledger.model.sitegeoid import SiteGeoid
from ledger.model.specification import Specification
from ledger.model.surveypoints import PointTable


@dataclass(frozen=True)
class ReadFacts:
    """What reading all points of a file gave; counted by the core, whatever the header says.

    Args:
        decoded: points decoded.
        by_return: points by return number, index 0 for return number 0.
        minimum: least X, Y, Z of the points in file units; None when there are none.
        maximum: greatest X, Y, Z.
        fault: why reading stopped early; empty when it did not.
        changed: the file changed while it was read.
    """

    decoded: int
    by_return: tuple[int, ...] = ()
    minimum: tuple[float, float, float] | None = None
    maximum: tuple[float, float, float] | None = None
    fault: str = ""
    changed: bool = False


@dataclass(frozen=True)
class DeliveredFile:
    """One file of the audited folder.

    Args:
        path: relative to the folder, `/`-separated.
        sha256: digest of its bytes; empty when they could not be read.
        bytes: size.
        kind: `points`, `raster` or `document`.
        header: header of a point file; None when it has none or it cannot be read.
        header_fault: why the header cannot be read; empty otherwise.
        crs: both CRS records of a point file; None without a readable header.
        reading: what reading its points gave; None when they were not read.
        custody: what made it; None while that cannot be said before its points are read.
        fault: why its bytes could not be read, or that they changed meanwhile; empty otherwise.
    """

    path: str
    sha256: str
    bytes: int
    kind: str
    header: LasHeader | None = None
    header_fault: str = ""
    crs: CrsReading | None = None
    reading: ReadFacts | None = None
    custody: Custody | None = None
    fault: str = ""


@dataclass(frozen=True)
class Evidence:
    """Everything that is known about a delivery.

    Args:
        folder: the audited folder as it is typed in the job folder.
        specification: the specification that it has to meet.
        files: every file of the folder, sorted by path.
        lattice: lattice of all coordinates in this audit.
        quick: points are not read in this audit.
        recorded: number of runs and steps in the whole job.
        processes: runs and steps that made any file of the folder, and their ancestors.
        flights: flights that those used.
        rigs: rigs flown in them.
        registered: files registered or used in the job, by SHA-256.
        specified_crs: the specification's horizontal CRS; None when blank.
        specified_vertical: the specification's vertical CRS; None when blank.
        geoid_sha256: digest of the geoid grid named by the specification; empty when blank or
            not found.
        geoid_grid: absolute path of that grid; empty when blank or not found.
        geoids: the grids that the specification, the runs and the register name, by digest: where
            each lies, and what it says at the site.
        boundary: outline of the site in the specified horizontal system; None when blank or not
            found.
        tables: declared tables of control points and checkpoints of the job, newest declaration
            of each file, as read now; the table that came later last.
        job: what the books say beyond that: raw files, former runs, statements, past audits.
        logs: base logs, position logs and trajectories of the flights behind it.
        results: findings of the checks named in `after`, by check id.
    """

    folder: str
    specification: Specification
    files: tuple[DeliveredFile, ...]
    lattice: Lattice
    quick: bool = False
    recorded: int = 0
    processes: tuple[Process, ...] = ()
    flights: tuple[Card, ...] = ()
    rigs: tuple[Card, ...] = ()
    registered: Mapping[str, FileRecord] = field(default_factory=dict)
    specified_crs: Crs | None = None
    specified_vertical: Crs | None = None
    geoid_sha256: str = ""
    geoid_grid: str = ""
    geoids: Mapping[str, SiteGeoid] = field(default_factory=dict)
    boundary: Boundary | None = None
    tables: tuple[PointTable, ...] = ()
    job: JobRecords = field(default_factory=JobRecords)
    logs: FieldLogs = field(default_factory=FieldLogs)
    results: Mapping[str, tuple[Finding, ...]] = field(default_factory=dict)

    @cached_property
    def point_files(self) -> tuple[DeliveredFile, ...]:
        """Return the files that hold, or should hold, points."""
        return tuple(file for file in self.files if file.kind == "points")
