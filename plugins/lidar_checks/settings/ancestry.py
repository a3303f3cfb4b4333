"""Which process made which bytes, among those that an audit knows, and the ways back from a file.

Of several makers of the same bytes those that are accepted or undecided are followed; the others
only where there is none such. A circle of records ends the way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.process import Card, Decision, Process, find_later, is_source

JUDGED = (Decision.ACCEPTED, Decision.UNDECIDED)


@dataclass(frozen=True)
class Walk:
    """What was met on the ways back from some processes.

    Args:
        ends: the nearest processes at which a way ends, each once.
        passed: processes that were passed on the ways to them, each once.
    """

    ends: tuple[Process, ...]
    passed: tuple[Process, ...]


@dataclass(frozen=True)
class Flights:
    """The flights behind a process.

    Args:
        cards: their cards, in order of entry.
        assumed: ids of those that nobody named: they may make a check fail, never pass.
    """

    cards: tuple[Card, ...] = ()
    assumed: frozenset[str] = frozenset()


class Ancestry:
    """The processes behind one delivery."""

    def __init__(self, evidence: Evidence) -> None:
        """Keep what the evidence knows."""
        known = {process.id: process for process in evidence.processes}
        for file in evidence.files:
            lines = file.custody.lines if file.custody is not None else ()
            known |= {process.id: process for line in lines for process in line.processes}
        self._flights = {card.id: card for card in evidence.flights}
        self._makers: dict[str, list[Process]] = {}
        for process in sorted(known.values(), key=lambda process: process.entry):
            for output in process.outputs:
                self._makers.setdefault(output.file.sha256, []).append(process)
        self._later = find_later(known.values())
        self._sources: dict[str, tuple[Process, ...]] = {}

    def is_on_raw_data(self, process: Process) -> bool:
        """Say whether a process is a run on what came from the field, not on what others made."""
        return process.id not in self._later

    def find_heads(self, file: DeliveredFile) -> tuple[Process, ...]:
        """Return the processes that made a file, the best of them first."""
        if file.custody is None:
            return ()
        heads = {line.processes[0].id: line.processes[0] for line in file.custody.lines}
        return _prefer_judged(heads.values())

    def find_sources(self, process: Process) -> tuple[Process, ...]:
        """Return the processes that made what a process used."""
        if process.id not in self._sources:
            makers = {
                maker.id: maker
                for item in process.inputs
                if item.sha256
                for maker in self._makers.get(item.sha256, ())
                if maker.id != process.id
            }
            self._sources[process.id] = _prefer_judged(makers.values())
        return self._sources[process.id]

    def has_unknown_source(self, process: Process) -> bool:
        """Say whether a process used points that no known process made."""
        return any(is_source(item) and not self._makers.get(item.sha256) for item in process.inputs)

    def list_behind(self, heads: Iterable[Process]) -> tuple[Process, ...]:
        """Return some processes and all that they descend from, each once, nearest first."""
        return self.walk_back(heads, lambda _: False).passed

    def walk_back(self, heads: Iterable[Process], is_end: Callable[[Process], bool]) -> Walk:
        """Follow every way back from some processes, each up to its first end."""
        waiting, seen = list(heads), set[str]()
        ends: list[Process] = []
        passed: list[Process] = []
        while waiting:
            process = waiting.pop(0)
            if process.id in seen:
                continue
            seen.add(process.id)
            if is_end(process):
                ends.append(process)
            else:
                passed.append(process)
                waiting += self.find_sources(process)
        return Walk(tuple(ends), tuple(passed))

    def find_flights(self, process: Process) -> Flights:
        """Return the flights that a process used; where it names none, those behind it."""
        walk = self.walk_back([process], lambda each: any(item.flight for item in each.inputs))
        used = [item for each in walk.ends for item in each.inputs if item.flight in self._flights]
        cards = {item.flight: self._flights[item.flight] for item in used}
        named = {item.flight for item in used if not item.assumed}
        return Flights(
            tuple(sorted(cards.values(), key=lambda card: card.entry)),
            frozenset(cards.keys() - named),
        )


def _prefer_judged(processes: Iterable[Process]) -> tuple[Process, ...]:
    listed = tuple(processes)
    return tuple(process for process in listed if process.decision in JUDGED) or listed
