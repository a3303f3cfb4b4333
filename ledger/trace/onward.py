"""What was made of something: processes that used it, audits that hold what they made."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace

from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Process
from ledger.store.reading import Book
from ledger.trace.chain import ChainBuilder
from ledger.trace.files import list_file_fields, make_file_id
from ledger.trace.nodes import ChainNode


class OnwardWalk:
    """Follows use after use.

    Args:
        book: an open book.
    """

    def __init__(self, book: Book) -> None:
        """Read the processes once."""
        self._book = book
        self._processes = {process.id: process for process in book.processes()}
        self._texts = {name: _list_file_names(process) for name, process in self._processes.items()}
        self._sources: dict[str, dict[str, None]] = {}
        self._audits: dict[str, _Holding] = {}
        self._waiting: deque[str] = deque()

    def follow_file(self, sha256: str) -> tuple[ChainNode, ...]:
        """Return what was made of a file, and the audits it was in itself."""
        self._use_file(sha256, make_file_id(sha256))
        for use in self._book.uses(sha256):
            if use.relation == "registered" and use.owner:
                self._use_flight(use.owner)
        return self._finish()

    def follow_process(self, name: str) -> tuple[ChainNode, ...]:
        """Return what was made of the outputs of a run or step."""
        self._use_outputs(self._processes[name])
        return self._finish()

    def follow_flight(self, name: str) -> tuple[ChainNode, ...]:
        """Return what was made of a flight."""
        self._use_flight(name)
        return self._finish()

    def follow_rig(self, name: str) -> tuple[ChainNode, ...]:
        """Return what was made of the flights of a rig."""
        for card in self._book.cards("flight"):
            rig = card.values.get("flight.rig")
            if rig is not None and rig.value == name:
                self._use_flight(card.id)
        return self._finish()

    def _use_file(self, sha256: str, source: str) -> None:
        names = {sha256}
        for use in self._book.uses(sha256):
            names.add(use.file.path)
            if use.relation == "input":
                self._add(use.owner, source)
            elif use.relation == "audited":
                self._audits.setdefault(use.owner, _Holding()).note(use.entry, source, sha256)
        for name, texts in self._texts.items():
            if names & texts:
                self._add(name, source)

    def _use_flight(self, name: str) -> None:
        for process in self._processes.values():
            if any(item.flight == name for item in process.inputs):
                self._add(process.id, name)

    def _use_outputs(self, process: Process) -> None:
        for output in process.outputs:
            self._use_file(output.file.sha256, process.id)

    def _add(self, name: str, source: str) -> None:
        if name not in self._processes or name == source:
            return
        if name not in self._sources:
            self._sources[name] = {}
            self._waiting.append(name)
        self._sources[name][source] = None

    def _finish(self) -> tuple[ChainNode, ...]:
        """Follow everything that was found, and return processes first, audits last."""
        while self._waiting:
            self._use_outputs(self._processes[self._waiting.popleft()])
        builder = ChainBuilder(self._book)
        made = [
            replace(builder.make_process_node(self._processes[name]), sources=tuple(sources))
            for name, sources in self._sources.items()
        ]
        for name, holding in self._audits.items():
            builder.add_audit(name, holding.entry, holding.sources)
        audits = [_count_files(node, self._audits[node.id]) for node in builder.nodes.values()]
        return (*made, *audits)


@dataclass
class _Holding:
    """What an audited folder holds of the things that are followed."""

    entry: int = 0
    sources: dict[str, None] = field(default_factory=dict)
    digests: set[str] = field(default_factory=set)

    def note(self, entry: int, source: str, sha256: str) -> None:
        self.entry = max(self.entry, entry)
        self.sources[source] = None
        self.digests.add(sha256)


def _count_files(node: ChainNode, holding: _Holding) -> ChainNode:
    """Say how many of the audited files are concerned."""
    count = KnownValue(len(holding.digests), known_by=KnownBy.READ, where=f"entry {node.entry}")
    return replace(node, values={**node.values, "audit.files_concerned": count})


def _list_file_names(process: Process) -> set[str]:
    """Return digests, or else paths, that its settings name: a grid need not be an input."""
    return {str(process.values[key].value) for key in list_file_fields(process.values)}
