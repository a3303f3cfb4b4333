"""The runs behind a delivery, each with the flights and the earlier runs that it was made from.

Invariant: only runs that are accepted or undecided, and that stand in the custody line of a
delivered file, are returned. A rejected run behind a delivered file is a stale file, which is
another check's matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.known import KnownBy
from ledger.model.process import Card, Decision, Process

_JUDGED = (Decision.ACCEPTED, Decision.UNDECIDED)


@dataclass(frozen=True)
class Chain:
    """One run and what it was made from.

    Args:
        run: the run.
        flights: flights that it used, or that the runs before it used.
        earlier: runs that made what it used, nearest ones only; empty for a run on raw files.
        files: paths of the delivered files behind which it stands, sorted.
        delivers: no other run stands between it and some delivered file.
    """

    run: Process
    flights: tuple[Card, ...]
    earlier: tuple[Process, ...]
    files: tuple[str, ...]
    delivers: bool


def find_chains(evidence: Evidence) -> tuple[Chain, ...]:
    """Return every judged run behind the delivery, in order of entry."""
    ancestry = _Ancestry(evidence)
    files: dict[str, list[str]] = {}
    runs: dict[str, Process] = {}
    delivering: set[str] = set()
    for file in evidence.files:
        for process in _list_processes(file):
            if process.kind == "run" and process.decision in _JUDGED:
                runs[process.id] = process
                files.setdefault(process.id, []).append(file.path)
        delivering |= {run.id for run in ancestry.find_last_runs(file)}
    return tuple(
        Chain(
            run=run,
            flights=ancestry.find_flights(run),
            earlier=ancestry.find_earlier_runs(run),
            files=tuple(sorted(files[run.id])),
            delivers=run.id in delivering,
        )
        for run in sorted(runs.values(), key=lambda run: run.entry)
    )


def find_last_runs(evidence: Evidence) -> dict[str, tuple[Process, ...]]:
    """Return, by path of each delivered file, the judged runs that no other run stands behind."""
    ancestry = _Ancestry(evidence)
    return {file.path: ancestry.find_last_runs(file) for file in evidence.files}


def _list_processes(file: DeliveredFile) -> tuple[Process, ...]:
    """Return every process in the custody lines of a file, each once."""
    if file.custody is None:
        return ()
    return tuple(
        {process.id: process for line in file.custody.lines for process in line.processes}.values()
    )


def _doubt(flight: Card) -> Card:
    """Return a flight that nobody named as the run's: its values may fail a check, never pass."""
    values = {
        key: replace(known, known_by=KnownBy.ASSUMED, confirmed=False)
        for key, known in flight.values.items()
    }
    return replace(flight, values=values)


class _Ancestry:
    """Which process made which bytes, among those that the evidence knows."""

    def __init__(self, evidence: Evidence) -> None:
        self._flights = {card.id: card for card in evidence.flights}
        known = {process.id: process for process in evidence.processes}
        for file in evidence.files:
            known |= {process.id: process for process in _list_processes(file)}
        self._makers: dict[str, list[Process]] = {}
        for process in sorted(known.values(), key=lambda process: process.entry):
            for output in process.outputs:
                self._makers.setdefault(output.file.sha256, []).append(process)

    def find_last_runs(self, file: DeliveredFile) -> tuple[Process, ...]:
        """Return the judged runs between which and a file there is no other run."""
        if file.custody is None:
            return ()
        nearest = [line.processes[0] for line in file.custody.lines if line.processes]
        return tuple(run for run in self._reach_runs(nearest) if run.decision in _JUDGED)

    def find_earlier_runs(self, run: Process) -> tuple[Process, ...]:
        """Return the runs that made what a run used, through any steps between."""
        return tuple(self._reach_runs(self._find_sources(run)))

    def find_flights(self, run: Process) -> tuple[Card, ...]:
        """Return the flights that a run used; where it names none, those of the runs before it."""
        found: dict[str, Card] = {}
        waiting, seen = [run], {run.id}
        while waiting:
            process = waiting.pop(0)
            named = [item.flight for item in process.inputs if item.flight]
            assumed = {item.flight for item in process.inputs if item.assumed}
            found |= {
                name: _doubt(self._flights[name]) if name in assumed else self._flights[name]
                for name in named
                if name in self._flights
            }
            if not named:
                sources = [
                    source for source in self._find_sources(process) if source.id not in seen
                ]
                seen |= {source.id for source in sources}
                waiting += sources
        return tuple(sorted(found.values(), key=lambda card: card.entry))

    def _find_sources(self, process: Process) -> list[Process]:
        makers = {
            maker.id: maker
            for item in process.inputs
            if item.sha256
            for maker in self._makers.get(item.sha256, ())
            if maker.id != process.id
        }
        kept = [maker for maker in makers.values() if maker.decision in _JUDGED]
        return kept or list(makers.values())

    def _reach_runs(self, processes: Iterable[Process]) -> Iterator[Process]:
        """Yield the nearest runs on the way back from some processes, each once."""
        waiting, seen = list(processes), set[str]()
        while waiting:
            process = waiting.pop(0)
            if process.id in seen:
                continue
            seen.add(process.id)
            if process.kind == "run":
                yield process
            else:
                waiting += self._find_sources(process)
