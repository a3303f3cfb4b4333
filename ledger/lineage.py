"""Which process made a file, and whether its descent is accepted.

Invariants:

- Every input that a recorded process made must itself have an accepted maker: a merge of one good
  and one rejected run is not accepted. Of several makers of the same bytes the best one counts.
- The answer does not depend on the order of entries, and a circle of records (a step that left a
  file as it was) cannot make a rejected run good.
- Digest before points before coordinates. Files without points are matched by digest alone.

Reads the book only; loads no library of points, coordinates or models.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

from ledger.dataclass import dataclass
from ledger.model.artefact import FingerprintValue
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Decision, Process
from ledger.store.reading import Book

_OWN_STATE = {
    Decision.ACCEPTED: CustodyState.ACCEPTED,
    Decision.UNDECIDED: CustodyState.UNDECIDED,
    Decision.REJECTED: CustodyState.STALE,
    Decision.SUPERSEDED: CustodyState.STALE,
}
_BEST_FIRST = (CustodyState.ACCEPTED, CustodyState.UNDECIDED, CustodyState.STALE)
_QUALITY = {state: -place for place, state in enumerate(_BEST_FIRST)}
_WORST = min(_QUALITY.values())


@dataclass(frozen=True)
class Maker:
    """A process that made a file, and the path it wrote it to."""

    process: Process
    path: str


@dataclass(frozen=True)
class _Node:
    """A process with, for each distinct set of makers among its inputs, their ids."""

    process: Process
    sources: tuple[frozenset[str], ...]

    @property
    def own_state(self) -> CustodyState:
        return _OWN_STATE[self.process.decision]


@dataclass(frozen=True)
class _Standing:
    """The state of a process, and when it was settled: a source always comes earlier."""

    state: CustodyState
    rank: int

    @property
    def preference(self) -> tuple[int, int]:
        return _QUALITY[self.state], -self.rank


class Ancestry:
    """Answers questions of descent from one book; keeps what it has read.

    Use one for all files of an audit: processes and their inputs are read once.

    Args:
        book: an open book that nobody appends to meanwhile.
    """

    def __init__(self, book: Book) -> None:
        """Keep the book; nothing is read yet."""
        self._book = book
        self._processes: dict[str, Process | None] = {}
        self._nodes: dict[str, _Node] = {}
        self._judged: dict[tuple[str, ...], tuple[CustodyState, tuple[Line, ...]]] = {}
        self._made: dict[str, dict[str, str]] = {}
        self._fingerprints: dict[str, FingerprintValue | None] = {}

    def look_up(self, digests: Iterable[str]) -> None:
        """Read at once what the book knows of many files; one by one costs several times more."""
        wanted = tuple(dict.fromkeys(digests))
        self._made.update(self._book.makers(wanted))
        self._fingerprints.update(self._book.fingerprints(wanted))

    def find_fingerprint(self, sha256: str) -> FingerprintValue | None:
        """Return the point fingerprint that the book holds for some bytes; None for none."""
        if sha256 not in self._fingerprints:
            self._fingerprints[sha256] = self._book.fingerprint(sha256)
        return self._fingerprints[sha256]

    def find_custody(
        self,
        sha256: str,
        fingerprint: FingerprintValue | None = None,
        *,
        is_point_or_raster: bool = True,
    ) -> Custody:
        """Return the origin of one file.

        A match by digest counts first. Where it is not accepted, a process that made the same
        points with every field may still stand for the file; coordinates alone are looked at only
        when nothing else matched.

        Args:
            sha256: digest of the file.
            fingerprint: of its points; when None, the one that the book holds for this digest.
            is_point_or_raster: whether the file needs a process at all.
        """
        if fingerprint is None and is_point_or_raster:
            fingerprint = self.find_fingerprint(sha256)
        found: Custody | None = None
        for matched_by, makers in self._match(sha256, fingerprint):
            if found is not None and matched_by is MatchedBy.GEOMETRY:
                break
            if not makers:
                continue
            custody = self._judge(matched_by, makers)
            if custody.state is CustodyState.ACCEPTED:
                return custody
            found = found or custody
        if found is not None:
            return found
        state = CustodyState.ORPHAN if is_point_or_raster else CustodyState.NOT_TRACED
        return Custody(state, MatchedBy.NOTHING)

    def find_makers(self, sha256: str) -> tuple[Maker, ...]:
        """Return every process that made exactly these bytes, in order of entry."""
        if sha256 not in self._made:
            self._made.update(self._book.makers([sha256]))
        return self._make_makers(self._made[sha256])

    def list_ancestors(self, processes: Iterable[Process]) -> tuple[Process, ...]:
        """Return the processes and everything they descend from, in order of entry."""
        nodes = self._collect(process.id for process in processes)
        return tuple(
            sorted((node.process for node in nodes.values()), key=lambda process: process.entry)
        )

    def _match(
        self, sha256: str, fingerprint: FingerprintValue | None
    ) -> Iterator[tuple[MatchedBy, tuple[Maker, ...]]]:
        yield MatchedBy.DIGEST, self.find_makers(sha256)
        if fingerprint is None or fingerprint.count == 0:  # all empty files have the same points
            return
        if fingerprint.full:
            yield MatchedBy.POINTS, self._find_by_points("full", fingerprint)
        if fingerprint.geometry:
            yield MatchedBy.GEOMETRY, self._find_by_points("geometry", fingerprint)

    def _find_by_points(
        self, level: Literal["full", "geometry"], wanted: FingerprintValue
    ) -> tuple[Maker, ...]:
        value = wanted.full if level == "full" else wanted.geometry
        paths: dict[str, str] = {}
        for process, output in self._book.find_outputs(level, value):
            known = output.fingerprint
            if known and (known.version, known.count) == (wanted.version, wanted.count):
                paths.setdefault(process.id, output.file.path)
        return self._make_makers(paths)

    def _make_makers(self, paths: Mapping[str, str]) -> tuple[Maker, ...]:
        makers = [
            Maker(process, path)
            for name, path in paths.items()
            if (process := self._find_process(name)) is not None
        ]
        return tuple(sorted(makers, key=lambda maker: maker.process.entry))

    def _find_process(self, name: str) -> Process | None:
        if name not in self._processes:
            self._processes[name] = self._book.process(name)
        return self._processes[name]

    def _judge(self, matched_by: MatchedBy, makers: tuple[Maker, ...]) -> Custody:
        names = tuple(maker.process.id for maker in makers)
        if names not in self._judged:
            self._judged[names] = _judge_makers(self._collect(names), names)
        state, lines = self._judged[names]
        nearest = lines[0].processes[0].id
        path = next(maker.path for maker in makers if maker.process.id == nearest)
        return Custody(state, matched_by, lines, path)

    def _collect(self, names: Iterable[str]) -> dict[str, _Node]:
        """Return the named processes and all their ancestors, by id."""
        collected: dict[str, _Node] = {}
        waiting = deque(names)
        while waiting:
            name = waiting.popleft()
            if name in collected or (node := self._find_node(name)) is None:
                continue
            collected[name] = node
            waiting.extend(maker for source in node.sources for maker in sorted(source))
        return collected

    def _find_node(self, name: str) -> _Node | None:
        if name not in self._nodes:
            process = self._find_process(name)
            if process is None:
                return None
            sources = {
                frozenset(maker.process.id for maker in self.find_makers(item.sha256))
                for item in process.inputs
                if item.sha256
            }
            kept = sorted((source for source in sources if source), key=sorted)
            self._nodes[name] = _Node(process, tuple(kept))
        return self._nodes[name]


def find_custody(
    book: Book,
    sha256: str,
    fingerprint: FingerprintValue | None,
    is_point_or_raster: bool,  # noqa: FBT001 - part of the agreed signature
) -> Custody:
    """Return the origin of one file; for many files of one book use `Ancestry`."""
    return Ancestry(book).find_custody(sha256, fingerprint, is_point_or_raster=is_point_or_raster)


def _judge_makers(
    nodes: Mapping[str, _Node], names: tuple[str, ...]
) -> tuple[CustodyState, tuple[Line, ...]]:
    """Return the state of a file with these makers, and one line for each, best first."""
    standings = _settle(nodes)
    ordered = sorted(names, key=lambda name: standings[name].preference, reverse=True)
    lines = tuple(_follow(nodes, standings, name) for name in ordered)
    return standings[ordered[0]].state, lines


def _settle(nodes: Mapping[str, _Node]) -> dict[str, _Standing]:
    """Return the standing of every process, best states first, sources before descendants."""
    settled: dict[str, _Standing] = {}
    while True:
        for state in _BEST_FIRST:
            _spread(nodes, settled, state)
        if len(settled) == len(nodes):
            return settled
        _settle_circle(nodes, settled)


def _settle_circle(nodes: Mapping[str, _Node], settled: dict[str, _Standing]) -> None:
    """Settle processes that only descend from each other: none is better than what it is made of.

    That happens when steps left a file as it was and nobody recorded where it came from.
    """
    closed = [name for name in nodes if name not in settled]
    behind = {name: _list_behind(nodes, name, set(closed)) for name in closed}
    circle = next(
        sorted(behind[name], key=lambda member: nodes[member].process.entry)
        for name in closed
        if all(name in behind[other] for other in behind[name])
    )
    found = {name: _Standing(nodes[name].own_state, len(settled)) for name in circle}
    changed = True
    while changed:
        changed = False
        for name in circle:
            known = [_find_best(source, {**settled, **found}) for source in nodes[name].sources]
            worst = min([_QUALITY[found[name].state], *(best for best in known if best >= _WORST)])
            if worst < _QUALITY[found[name].state]:
                found[name] = _Standing(_BEST_FIRST[-worst], len(settled))
                changed = True
    for name in circle:
        settled[name] = _Standing(found[name].state, len(settled))


def _list_behind(nodes: Mapping[str, _Node], start: str, among: set[str]) -> set[str]:
    """Return the processes that one descends from, those of `among` alone."""
    reached: set[str] = set()
    waiting = deque([start])
    while waiting:
        for source in nodes[waiting.popleft()].sources:
            fresh = (source & among) - reached
            reached |= fresh
            waiting.extend(fresh)
    return reached


def _spread(nodes: Mapping[str, _Node], settled: dict[str, _Standing], state: CustodyState) -> None:
    """Settle, as `state`, every process that reaches it through sources already settled."""
    grown = True
    while grown:
        grown = False
        for name, node in nodes.items():
            if name in settled or _QUALITY[node.own_state] < _QUALITY[state]:
                continue
            if all(_find_best(source, settled) >= _QUALITY[state] for source in node.sources):
                settled[name] = _Standing(state, len(settled))
                grown = True


def _find_best(source: frozenset[str], settled: Mapping[str, _Standing]) -> int:
    """Return the quality of the best settled maker of an input; less than any for none."""
    return max(
        (_QUALITY[settled[name].state] for name in source if name in settled), default=_WORST - 1
    )


def _follow(nodes: Mapping[str, _Node], standings: Mapping[str, _Standing], start: str) -> Line:
    """Return the line that takes the best source of every input, nearest process first."""
    taken = {start: nodes[start].process}
    waiting = deque([start])
    while waiting:
        for source in nodes[waiting.popleft()].sources:
            best = max(source, key=lambda name: standings[name].preference)
            if best not in taken:
                taken[best] = nodes[best].process
                waiting.append(best)
    return Line(tuple(taken.values()))
