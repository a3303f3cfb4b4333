"""What was made of something: processes that used it, audits that hold what they made.

A file counts as used where a run or step has it as an input or names it in its settings, and where
a rig or flight that was used names it. A delivered file counts as made of an output when its bytes
or all its points are those of the output: a compressed copy is not another survey.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Process
from ledger.store.reading import Book
from ledger.store.seeking import Follower
from ledger.trace.chain import ChainBuilder
from ledger.trace.files import make_file_id, read_digest
from ledger.trace.nodes import ChainNode
from ledger.trace.sent import list_transmittals


def follow(book: Book, kind: str, name: str) -> tuple[ChainNode, ...]:
    """Return what was made of something: runs and steps, audits, transmittals.

    Args:
        book: an open book.
        kind: `file`, `run`, `step`, `flight` or `rig`; nothing is made of anything else.
        name: digest of a file, else the id.
    """
    walk = _Walk(book)
    if kind == "file":
        walk.follow_file(name)
    elif kind in ("run", "step"):
        walk.follow_process(name)
    elif kind in ("flight", "rig"):
        walk.follow_card(name)
    return walk.finish()


class _Walk:
    """Follows use after use.

    Args:
        book: an open book.
    """

    def __init__(self, book: Book) -> None:
        """Read the processes once."""
        self._book = book
        self._builder = ChainBuilder(book)
        self._processes = {process.id: process for process in book.processes()}
        self._sources: dict[str, dict[str, None]] = {}
        self._audits: dict[str, _Holding] = {}
        self._audited: dict[str, int] = {}
        self._waiting: deque[str] = deque()

    def follow_file(self, sha256: str) -> None:
        """Follow a file, in runs and in audits."""
        source = make_file_id(sha256)
        self._use_file(sha256, source)
        for owner in self._list_namers(sha256):
            if owner in self._processes:
                self._add(owner, source)
            else:
                self.follow_card(owner)
        for use in self._book.uses(sha256):
            if use.relation == "registered" and use.owner:
                self._use_flight(use.owner)

    def follow_process(self, name: str) -> None:
        """Follow the outputs of a run or step."""
        self._use_outputs(self._processes[name])

    def follow_card(self, name: str) -> None:
        """Follow a flight, or the flights of a rig."""
        rig = self._book.card(name)
        if rig is None:
            return
        self._use_flight(name)
        for card in self._book.cards("flight"):
            named = card.values.get("flight.rig")
            if named is not None and named.value in (rig.id, rig.name):
                self._use_flight(card.id)

    def _use_flight(self, name: str) -> None:
        digests = {record.sha256 for record in self._book.files_of_flight(name)}
        for process in self._processes.values():
            used = process.inputs
            if any(item.flight == name or item.sha256 in digests for item in used):
                self._add(process.id, name)

    def _use_outputs(self, process: Process) -> None:
        audited = self._follow_all(process.id, self._book.followers_of_outputs(process.id))
        self._audited[process.id] = len(audited)

    def _use_file(self, sha256: str, source: str) -> None:
        self._follow_all(source, self._book.followers(sha256))

    def _follow_all(self, source: str, followers: Iterable[Follower]) -> set[str]:
        """Follow uses, and return the digests asked about that are in any audit."""
        audited = set()
        for each in followers:
            if each.relation == "audited":
                holding = self._audits.setdefault(each.owner, _Holding())
                holding.note(each.entry, source, each.sha256)
                audited.add(each.of)
            elif self._has_input(each.owner, each.sha256):
                self._add(each.owner, source)
        return audited

    def _has_input(self, name: str, sha256: str) -> bool:
        """Say whether a process names a file itself, and not only the flight it belongs to."""
        process = self._processes.get(name)
        return process is not None and any(item.sha256 == sha256 for item in process.inputs)

    def _list_namers(self, sha256: str) -> Iterator[str]:
        """Yield the records that name a file in a field, by its digest or by its path."""
        for owner, _ in self._book.namers(sha256):
            yield owner
        for path in {use.file.path for use in self._book.uses(sha256)}:
            for owner, _ in self._book.namers(path):
                process = self._processes.get(owner)
                if process is None or self._means(process, path, sha256):
                    yield owner

    def _means(self, process: Process, path: str, sha256: str) -> bool:
        """Say whether a path in the settings of a process stood for these bytes then."""
        known = self._builder.files.find_digest(process, path)
        return known is not None and read_digest(known) == sha256

    def _add(self, name: str, source: str) -> None:
        if name not in self._processes or name == source:
            return
        if name not in self._sources:
            self._sources[name] = {}
            self._waiting.append(name)
        self._sources[name][source] = None

    def finish(self) -> tuple[ChainNode, ...]:
        """Follow everything that was found; processes first, audits, then what was sent."""
        while self._waiting:
            self._use_outputs(self._processes[self._waiting.popleft()])
        for name, holding in self._audits.items():
            self._builder.add_audit(name, holding.entry, holding.sources)
        audits = [
            _count_files(node, self._audits[node.id]) for node in self._builder.nodes.values()
        ]
        made = [self._describe(name, sources) for name, sources in self._sources.items()]
        sent = list_transmittals(self._book, {node.id for node in audits})
        return (*made, *audits, *sent)

    def _describe(self, name: str, sources: Iterable[str]) -> ChainNode:
        """Return the node of a process, with how much of what it made was ever audited."""
        process = self._processes[name]
        made = len({output.file.sha256 for output in process.outputs})
        node = self._builder.make_process_node(process)
        return replace(
            node,
            sources=tuple(sources),
            values={
                **node.values,
                f"{process.kind}.files_made": _count(made, process.entry),
                f"{process.kind}.files_audited": _count(self._audited[name], process.entry),
            },
        )


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
    count = _count(len(holding.digests), node.entry)
    return replace(node, values={**node.values, "audit.files_concerned": count})


def _count(number: int, entry: int) -> KnownValue:
    return KnownValue(number, known_by=KnownBy.READ, where=f"entry {entry}")
