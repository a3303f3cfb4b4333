"""The one pass: each file decoded once, every check fed from it.

Invariants:

- The core counts the points itself; a file that gives fewer than it states has a fault, and the
  other files go on.
- A check that raises is out of the pass for good; the others see the same slices as before.
- Only a tally that has seen every point of its file becomes a summary.

Points are decoded a million at once and handed on in slices that stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import field
from typing import Any

from ledger.contract.census import RETURN_NUMBER, Census
from ledger.contract.check import Tally
from ledger.contract.evidence import DeliveredFile, ReadFacts
from ledger.contract.feeds import Feed
from ledger.contract.guard import Attempt, describe_fault
from ledger.dataclass import dataclass
from ledger.errors import ChangedFileError, ContractError, StoreError, SwathbookError
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lattice import choose_lattice
from ledger.loading import load_part
from ledger.model.artefact import FingerprintValue
from ledger.model.ask import Progress
from ledger.model.chunk import Lattice, PointChunk
from ledger.model.header import LasHeader
from ledger.remote.files import Place

CHUNK_POINTS = 1_000_000
SLICE_POINTS = 125_000

NOTHING_CAME = "points: nothing came back of it"
"""Why there is no summary where whoever read the file sent none, and no reason either."""

Call = Callable[[str, str], AbstractContextManager[Attempt]]
"""Guards a call of a check, by its id and the phase."""

Report = Callable[[str, str, str], None]
"""Takes the id of a check that broke, the phase, and what it raised."""

Span = tuple[int, int]
"""Number of the first point, and of the first one after those that are meant."""

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
        parallel: LAZ is decoded on all cores; wrong inside a worker process.
        summaries: by check id and path, what `finish` needs.
        gaps: by check id and path, why there is no summary.
    """

    feeds: dict[str, Feed]
    lattice: Lattice
    call: Call
    report: Report
    parallel: bool = True
    summaries: dict[str, dict[str, Any]] = field(default_factory=dict)
    gaps: dict[str, dict[str, str]] = field(default_factory=dict)

    def read_all(
        self, files: Iterable[DeliveredFile], paths: Mapping[str, Place], progress: Progress
    ) -> dict[str, PassResult]:
        """Read every file that has a readable header; the others are left out.

        Args:
            files: the files, in order.
            paths: where each lies, by its path in the delivery.
            progress: counts points.
        """
        results: dict[str, PassResult] = {}
        for file in files:
            if file.header is None or file.fault:
                self.leave_out(file)
            else:
                results[file.path] = self.read(file, file.header, paths[file.path], progress)
        return results

    def read(
        self, file: DeliveredFile, header: LasHeader, path: Place, progress: Progress
    ) -> PassResult:
        """Read one file and close its tallies; progress is told of every point.

        Args:
            file: the file.
            header: its header.
            path: where it lies.
            progress: counts points.

        Raises:
            StoreError: the store that holds it was lost.
        """
        reading = self._open(file, header)
        fault, changed, value = "", False, None
        try:
            self._feed(reading, path, progress, None)
        except StoreError:
            raise
        except SwathbookError as error:
            fault, changed = describe_fault(error), isinstance(error, ChangedFileError)
            self.note_gap(file.path, f"points: {fault}")
        else:
            self._close(file.path, reading)
            value = reading.fingerprint.value()
        return PassResult(reading.census.describe(fault, changed=changed), value)

    def read_span(
        self, file: DeliveredFile, header: LasHeader, path: Place, progress: Progress, span: Span
    ) -> Reading:
        """Read some points of a file and leave their tallies open; the rest as in `read`.

        Raises:
            SwathbookError: they cannot all be read; reading the file whole tells what is wrong.
        """
        reading = self._open(file, header)
        self._feed(reading, path, progress, span)
        return reading

    def join(self, file: DeliveredFile, readings: Sequence[Reading]) -> PassResult:
        """Close the tallies of a file that was read in spans, all of them, in their order."""
        first, *others = readings
        for other in others:
            self._merge(first, other)
        for name in self.feeds.keys() - first.tallies.keys() - first.lacking.keys():
            self.note_gap(file.path, NOTHING_CAME, name)
        self._close(file.path, first)
        return PassResult(first.census.describe(), first.fingerprint.value())

    def _merge(self, first: Reading, other: Reading) -> None:
        first.census.merge(other.census)
        first.fingerprint.merge(other.fingerprint)
        for name, tally in tuple(first.tallies.items()):
            if name not in self.feeds:
                del first.tallies[name]
                continue
            with self.call(name, "merge") as attempt:
                tally.merge(other.tallies.pop(name))
            if attempt.fault:
                del first.tallies[name]
                self.drop(name, "merge", attempt.fault)

    def leave_out(self, file: DeliveredFile) -> None:
        """Note that a file cannot be read at all."""
        fault = file.fault or file.header_fault or "its header cannot be read"
        self.note_gap(file.path, f"points: {fault.rstrip('.')}")

    def note_gap(self, path: str, reason: str, name: str = "") -> None:
        """Note why the points of a file were not all seen, by one feed or by all."""
        for feed in self.feeds.values() if not name else (self.feeds[name],):
            for member in feed.members:
                self.gaps.setdefault(member, {})[path] = reason

    def keep(self, name: str, path: str, summary: Any) -> None:  # noqa: ANN401 - the check's own
        """Keep the summary of a file for every check that it is for."""
        for member in self.feeds[name].members:
            self.summaries.setdefault(member, {})[path] = summary

    def drop(self, name: str, phase: str, fault: str) -> None:
        """Take what is fed under this name out of the pass, with every check that it is for."""
        for member in self.feeds.pop(name).members:
            self.report(member, phase, fault)

    def _open(self, file: DeliveredFile, header: LasHeader) -> Reading:
        started = {name: self._start(name, file) for name in tuple(self.feeds)}
        # Compared with None: a tally that is empty may well be false.
        tallies = {name: tally for name, tally in started.items() if tally is not None}
        return Reading(header, self.lattice, tallies)

    def _start(self, name: str, file: DeliveredFile) -> Tally | None:
        tally = None
        with self.call(name, "start") as attempt:
            feed = self.feeds[name]
            tally = feed.source.start(feed.plan, file)
            if not isinstance(tally, Tally):
                raise ContractError("start returned no tally", found=type(tally).__name__)
        if attempt.fault:
            self.drop(name, "start", attempt.fault)
            return None
        return tally

    def _feed(self, reading: Reading, path: Place, progress: Progress, span: Span | None) -> None:
        dimensions = self._list_dimensions()
        how = {"parallel": self.parallel, "span": span}
        for chunk in _load_reader()(
            path, reading.header, self.lattice, dimensions, progress, CHUNK_POINTS, **how
        ):
            reading.count(chunk)
            self._hand_on(reading, chunk)
        if not reading.has_own_lattice:
            # The delivery mixes degrees and lengths, and this file has the other lattice.
            for chunk in _load_reader()(
                path, reading.header, reading.own_lattice, DIMENSIONS, span=span
            ):
                reading.fingerprint.add(chunk)

    def _list_dimensions(self) -> frozenset[str]:
        sources = (feed.source for feed in self.feeds.values())
        wanted = (each.dimensions | each.optional_dimensions for each in sources)
        return DIMENSIONS.union({RETURN_NUMBER}, *wanted)

    def _hand_on(self, reading: Reading, chunk: PointChunk) -> None:
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
                    self.drop(name, "chunk", attempt.fault)

    def _find_missing(self, name: str, piece: PointChunk) -> str:
        missing = sorted(self.feeds[name].source.dimensions - piece.names)
        return ", ".join(missing)

    def _close(self, path: str, reading: Reading) -> None:
        for name, missing in reading.lacking.items():
            reason = f"{missing}: point format {reading.header.point_format} does not hold it"
            self.note_gap(path, reason, name)
        for name, tally in reading.tallies.items():
            with self.call(name, "close") as attempt:
                self.keep(name, path, tally.close())
            if attempt.fault:
                self.drop(name, "close", attempt.fault)


class Reading:
    """What is kept while points of one file are read.

    Attributes:
        header: the header of the file.
        tallies: what is fed, by the check that speaks for it.
        lacking: by the same name, the fields without which it could not be fed.
        census: what the core counts.
        fingerprint: of the points, on the file's own lattice.
    """

    def __init__(self, header: LasHeader, lattice: Lattice, tallies: dict[str, Tally]) -> None:
        """Start with no points; `lattice` is that of the audit."""
        self.header = header
        self.tallies = tallies
        self.lacking: dict[str, str] = {}
        self.census = Census()
        self.own_lattice = choose_lattice(header)
        self.has_own_lattice = self.own_lattice == lattice
        self.fingerprint = Fingerprint(self.own_lattice)

    def count(self, chunk: PointChunk) -> None:
        """Count points, apart from the tallies."""
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
