"""The one pass: each file decoded once, every check fed from it.

Invariants:

- The core counts the points itself; a file that gives fewer than it states has a fault, and the
  other files go on.
- A check that raises is out of the pass for good; the others see the same slices as before.
- Only a tally that has seen every point of its file becomes a summary.

Points are decoded a million at once and handed on in slices that stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ledger.contract.census import RETURN_NUMBER, Census
from ledger.contract.check import Tally
from ledger.contract.evidence import DeliveredFile, ReadFacts
from ledger.contract.feeds import Feed
from ledger.contract.guard import Attempt, describe_fault
from ledger.errors import ChangedFileError, ContractError, SwathbookError
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lattice import choose_lattice
from ledger.loading import load_part
from ledger.model.artefact import FingerprintValue
from ledger.model.ask import Progress
from ledger.model.chunk import Lattice, PointChunk
from ledger.model.header import LasHeader

CHUNK_POINTS = 1_000_000
SLICE_POINTS = 125_000

Call = Callable[[str, str], AbstractContextManager[Attempt]]
"""Guards a call of a check, by its id and the phase."""

Report = Callable[[str, str, str], None]
"""Takes the id of a check that broke, the phase, and what it raised."""

_ReadPoints = Callable[..., Iterator[PointChunk]]


@dataclass(frozen=True)
class PassResult:
    """What one pass over one file gave.

    Args:
        facts: what the core counted.
        fingerprint: of all its points; None when they could not all be read.
    """

    facts: ReadFacts
    fingerprint: FingerprintValue | None


@dataclass
class PointPass:
    """One pass over the files of a delivery.

    Attributes:
        feeds: what is fed, by the check that speaks for it; one that breaks is taken out.
        lattice: the audit-wide lattice.
        call: guards each call of a check.
        report: told of each check that breaks.
        summaries: by check id and path, what `finish` needs.
        gaps: by check id and path, why there is no summary.
    """

    feeds: dict[str, Feed]
    lattice: Lattice
    call: Call
    report: Report
    summaries: dict[str, dict[str, Any]] = field(default_factory=dict)
    gaps: dict[str, dict[str, str]] = field(default_factory=dict)

    def read(
        self, file: DeliveredFile, header: LasHeader, path: Path, progress: Progress
    ) -> PassResult:
        """Read one file and close its tallies; progress is told of every point.

        Args:
            file: the file.
            header: its header.
            path: where it lies.
            progress: counts points.
        """
        started = {name: self._start(name, file) for name in tuple(self.feeds)}
        # Compared with None: a tally that is empty may well be false.
        tallies = {name: tally for name, tally in started.items() if tally is not None}
        reading = _Reading(header, self.lattice, tallies)
        fault, changed = "", False
        try:
            self._feed(reading, path, progress)
            value = self._compute_fingerprint(reading, path)
        except SwathbookError as error:
            fault, changed = describe_fault(error), isinstance(error, ChangedFileError)
            value = None
            self._leave_out(file.path, f"points: {fault}")
        else:
            self._close(file.path, reading)
        return PassResult(reading.census.describe(fault, changed=changed), value)

    def leave_out(self, file: DeliveredFile) -> None:
        """Note that a file cannot be read at all."""
        fault = file.fault or file.header_fault or "its header cannot be read"
        self._leave_out(file.path, f"points: {fault.rstrip('.')}")

    def _leave_out(self, path: str, reason: str) -> None:
        for feed in self.feeds.values():
            self._note_gap(feed, path, reason)

    def _note_gap(self, feed: Feed, path: str, reason: str) -> None:
        for name in feed.members:
            self.gaps.setdefault(name, {})[path] = reason

    def _start(self, name: str, file: DeliveredFile) -> Tally | None:
        tally = None
        with self.call(name, "start") as attempt:
            feed = self.feeds[name]
            tally = feed.source.start(feed.plan, file)
            if not isinstance(tally, Tally):
                raise ContractError("start returned no tally", found=type(tally).__name__)
        self._drop_if(attempt.fault, name, "start")
        return None if attempt.fault else tally

    def _drop_if(self, fault: str, name: str, phase: str) -> None:
        if fault:
            for member in self.feeds.pop(name).members:
                self.report(member, phase, fault)

    def _feed(self, reading: _Reading, path: Path, progress: Progress) -> None:
        dimensions = self._list_dimensions()
        for chunk in _load_reader()(
            path, reading.header, self.lattice, dimensions, progress, CHUNK_POINTS, parallel=True
        ):
            reading.count(chunk)
            self._hand_on(reading, chunk)

    def _list_dimensions(self) -> frozenset[str]:
        sources = (feed.source for feed in self.feeds.values())
        wanted = (each.dimensions | each.optional_dimensions for each in sources)
        return DIMENSIONS.union({RETURN_NUMBER}, *wanted)

    def _hand_on(self, reading: _Reading, chunk: PointChunk) -> None:
        for start in range(0, len(chunk), SLICE_POINTS):
            piece = chunk.slice(start, min(start + SLICE_POINTS, len(chunk)))
            for name, tally in tuple(reading.tallies.items()):
                if missing := self._find_missing(name, piece):
                    reading.lacking[name] = missing
                    del reading.tallies[name]
                    continue
                with self.call(name, "chunk") as attempt:
                    tally.chunk(piece)
                if attempt.fault:
                    del reading.tallies[name]
                    self._drop_if(attempt.fault, name, "chunk")

    def _find_missing(self, name: str, piece: PointChunk) -> str:
        missing = sorted(self.feeds[name].source.dimensions - piece.names)
        return ", ".join(missing)

    def _close(self, path: str, reading: _Reading) -> None:
        for name, missing in reading.lacking.items():
            reason = f"{missing}: point format {reading.header.point_format} does not hold it"
            self._note_gap(self.feeds[name], path, reason)
        for name, tally in reading.tallies.items():
            with self.call(name, "close") as attempt:
                summary = tally.close()
                for member in self.feeds[name].members:
                    self.summaries.setdefault(member, {})[path] = summary
            self._drop_if(attempt.fault, name, "close")

    def _compute_fingerprint(self, reading: _Reading, path: Path) -> FingerprintValue:
        if reading.has_own_lattice:
            return reading.fingerprint.value()
        # The delivery mixes degrees and lengths, and this file has the other lattice.
        again = Fingerprint(reading.own_lattice)
        for chunk in _load_reader()(path, reading.header, reading.own_lattice, DIMENSIONS):
            again.add(chunk)
        return again.value()


class _Reading:
    """What is kept while one file is read."""

    def __init__(self, header: LasHeader, lattice: Lattice, tallies: dict[str, Tally]) -> None:
        self.header = header
        self.tallies = tallies
        self.lacking: dict[str, str] = {}
        self.census = Census()
        self.own_lattice = choose_lattice(header)
        self.has_own_lattice = self.own_lattice == lattice
        self.fingerprint = Fingerprint(lattice)

    def count(self, chunk: PointChunk) -> None:
        self.census.add(chunk)
        if self.has_own_lattice:
            self.fingerprint.add(chunk)


def _load_reader() -> _ReadPoints:
    """Return the reader of points: an audit of records and headers alone loads no decoder."""
    read_points: _ReadPoints = load_part("ledger.points", "read_points")
    return read_points


def count_stated_points(files: Iterable[DeliveredFile]) -> int:
    """Return the points that the headers state, for the length of a progress bar."""
    return sum(file.header.point_count for file in files if file.header is not None)
