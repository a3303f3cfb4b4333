"""What the book knows about the files of a folder: what made them, from what, and how."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from ledger.audit.delivery import Stamp
from ledger.audit.fieldlogs import read_field_logs
from ledger.audit.folder import POINTS, RASTER
from ledger.audit.jobrecords import read_job_records
from ledger.audit.surveytables import read_later_table, read_survey_tables
from ledger.canonical import decode
from ledger.contract.evidence import DeliveredFile
from ledger.dataclass import dataclass
from ledger.gridfiles import find_grid_file
from ledger.lineage import Ancestry
from ledger.model.artefact import FileRecord, FingerprintValue, Role
from ledger.model.entry import Kind
from ledger.model.fieldlogs import FieldLogs
from ledger.model.georeferencing import Crs
from ledger.model.jobrecords import JobRecords
from ledger.model.lineage import CustodyState
from ledger.model.process import Card, Process
from ledger.model.surveypoints import PointTable
from ledger.righistory import read_rig_states
from ledger.store.reading import Book

_RIG_KEY = "flight.rig"
_GRID = "geoid_file"


@dataclass(frozen=True)
class Behind:
    """The records behind a delivery.

    Args:
        recorded: number of runs and steps in the whole job.
        processes: those that made any file, and their ancestors, in order of entry.
        flights: flights that they used.
        rigs: rigs flown in them.
    """

    recorded: int
    processes: tuple[Process, ...]
    flights: tuple[Card, ...]
    rigs: tuple[Card, ...]


class Records:
    """Answers from one book for one audit; reads processes and files once."""

    def __init__(self, book: Book) -> None:
        """Keep the book, to which nobody appends meanwhile."""
        self._book = book
        self._ancestry = Ancestry(book)
        self._recorded = len(book.processes())
        self._flights = book.cards("flight")
        self._rigs = book.cards("rig")
        self._grids: dict[str, Path | None] = {}
        self._job: dict[tuple[str, ...], JobRecords] = {}
        self._logs: dict[tuple[str, ...], FieldLogs] = {}
        self._tables: tuple[PointTable, ...] | None = None
        self._seen: tuple[FileRecord, ...] | None = None

    def look_up(self, files: Iterable[DeliveredFile]) -> None:
        """Read at once what the book knows of the files, before they are asked for one by one."""
        self._ancestry.look_up(file.sha256 for file in files if file.sha256)

    def add_custody(
        self,
        file: DeliveredFile,
        fingerprint: FingerprintValue | None = None,
        *,
        is_final: bool = True,
    ) -> DeliveredFile:
        """Return the file with what made it.

        Args:
            file: a delivered file.
            fingerprint: of its points, where they were read.
            is_final: whether nothing more will be known of its points. If not, a point file
                that no process is known to have made is left open: it may still be found by its
                points.
        """
        if file.fault or not file.sha256:
            return file
        custody = self._ancestry.find_custody(
            file.sha256, fingerprint, is_point_or_raster=file.kind in (POINTS, RASTER)
        )
        is_open = (
            not is_final
            and custody.state is CustodyState.ORPHAN
            and file.header is not None
            and self._ancestry.find_fingerprint(file.sha256) is None
        )
        return file if is_open else replace(file, custody=custody)

    def collect(self, files: Iterable[DeliveredFile]) -> Behind:
        """Return the records behind files whose custody is known."""
        makers = {
            process.id: process
            for file in files
            if file.custody is not None
            for line in file.custody.lines
            for process in line.processes
        }
        processes = self._ancestry.list_ancestors(makers.values())
        used = {each.flight for process in processes for each in process.inputs if each.flight}
        flights = tuple(card for card in self._flights if card.id in used)
        named = {str(card.values[_RIG_KEY].value) for card in flights if _RIG_KEY in card.values}
        states = read_rig_states(self._book) if named else {}
        rigs = tuple(
            replace(card, states=states.get(card.id, ()))
            for card in self._rigs
            if named & {card.id, card.name}
        )
        return Behind(self._recorded, processes, flights, rigs)

    def read_job(self, behind: Behind) -> JobRecords:
        """Return what the books say beyond the records behind a delivery; read once for them."""
        key = _name(behind)
        if key not in self._job:
            self._job[key] = read_job_records(
                self._book, behind.processes, behind.flights, self._list_seen()
            )
        return self._job[key]

    def find_grids(
        self, processes: Iterable[Process], registered: Iterable[FileRecord] = ()
    ) -> dict[str, Path | None]:
        """Return the geoid grids of a job, by digest; None where no file is at hand.

        Args:
            processes: runs and steps that may name grids.
            registered: files that the job knows; those that are grids count.
        """
        named = {file.sha256: file.path for file in registered if file.role == Role.GEOID}
        for process in processes:
            known = process.find_value(_GRID)
            if known is not None:
                named[str(known.value)] = known.where
        for sha256, seen_at in named.items():
            if sha256 not in self._grids:
                self._grids[sha256] = find_grid_file(self._book, sha256, seen_at)
        return dict(self._grids)

    def read_tables(self, later: FileRecord | None = None) -> tuple[PointTable, ...]:
        """Return the tables of surveyed points as they were recorded; read once.

        Args:
            later: the table of checkpoints that came later, which comes last; None for none.
        """
        if self._tables is None:
            tables = read_survey_tables(self._book.cards("points"), self._book.folder)
            if later is not None:
                tables = tuple(each for each in tables if each.sha256 != later.sha256)
                tables = (*tables, self._read_later(later))
            self._tables = tables
        return self._tables

    def _read_later(self, later: FileRecord) -> PointTable:
        cards = self._book.cards("points")
        return read_later_table(self._book.folder / later.path, later, cards)

    def read_logs(self, behind: Behind, crs: Crs | None) -> FieldLogs:
        """Return the logs of the flights behind a delivery; read once for them.

        Args:
            behind: the records behind it.
            crs: horizontal system of the job; None where it is blank.
        """
        key = _name(behind)
        if key not in self._logs:
            raw = self.read_job(behind).raw
            self._logs[key] = read_field_logs(
                self._book.folder, raw, behind.flights, behind.processes, crs
            )
        return self._logs[key]

    def list_registered(self) -> dict[str, FileRecord]:
        """Return the files that the job knows, by SHA-256; of several uses one that has a role."""
        known: dict[str, FileRecord] = {}
        for file in self._list_seen():
            if file.sha256 not in known or (file.role and not known[file.sha256].role):
                known[file.sha256] = file
        return known

    def _list_seen(self) -> tuple[FileRecord, ...]:
        """Return the latest record of every path in the book; read once."""
        if self._seen is None:
            self._seen = self._book.files_last_seen()
        return self._seen

    def find_known_digests(self, folder: str) -> dict[Stamp, str]:
        """Return the digests of the latest audit of a folder, by the stamp of each file.

        Args:
            folder: the folder as the book writes it.
        """
        latest = None
        for entry in self._book.entries(Kind.AUDIT):
            if entry.values["folder"] == folder and entry.values.get("seen"):
                latest = entry
        if latest is None:
            return {}
        digests = {
            row["path"]: (row["sha256"], row["bytes"])
            for row in decode(self._book.blob(latest.values["manifest"]))
        }
        stamps: dict[Stamp, str] = {}
        for row in decode(self._book.blob(latest.values["seen"])):
            sha256, size = digests[row["path"]]
            # Whole numbers of 2^53 and more are no JSON numbers, so the time stands as text.
            stamps[Stamp(row["path"], size, int(row["mtime_ns"]), row["file_id"])] = sha256
        return stamps


def _name(behind: Behind) -> tuple[str, ...]:
    return (*(run.id for run in behind.processes), *(card.id for card in behind.flights))
