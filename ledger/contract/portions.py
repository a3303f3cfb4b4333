"""The part of the one pass that a worker does: some pieces read, and what came of them.

Invariants:

- What a worker sends back is of this module's own types; what plugins made travels as bytes, and is
  opened where a mistake in it is contained.
- A check that raises is out of the task, not out of the worker: which other files a worker was
  given before decides nothing.
"""

from __future__ import annotations

import pickle
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import field, replace
from typing import Any

from ledger.contract.feeds import Feed
from ledger.contract.guard import Attempt, Guard
from ledger.contract.hearing import Tape
from ledger.contract.passing import PassResult, PointPass, Reading
from ledger.contract.pieces import Piece
from ledger.dataclass import dataclass
from ledger.errors import Fault, StoreError, SwathbookError
from ledger.model.ask import Progress
from ledger.model.audit import Plugin
from ledger.model.chunk import Lattice

SENDING = "sending"
_WAY_OUT = "Ctrl-C ends the audit"


@dataclass(frozen=True)
class Kit:
    """What every worker is given once.

    Args:
        feeds: what is fed, as bytes, by the check that speaks for it.
        plugins: the plugin of each of them.
        lattice: the lattice of the audit.
    """

    feeds: Mapping[str, bytes]
    plugins: Mapping[str, Plugin]
    lattice: Lattice


@dataclass(frozen=True)
class PieceAnswer:
    """What came of one piece.

    Args:
        result: what reading gave; None for a span.
        reading: of a span, what the core counted; None for a whole file, or when it failed.
        gaps: why there is no summary, by the check that speaks for it.
        faults: checks that broke here: the check, the phase, and what it raised.
        store_faults: why the store that holds the file was lost; empty where it was not.
    """

    result: PassResult | None = None
    reading: Reading | None = None
    gaps: Mapping[str, str] = field(default_factory=dict)
    faults: tuple[tuple[str, str, str], ...] = ()
    store_faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What came of a task.

    Args:
        pieces: one for each piece of the task, in order.
        made: by the check that speaks for it, the summaries of whole files and the open tallies of
            spans, by number of the piece, as bytes.
        tapes: what plugins printed, by name and version.
    """

    pieces: tuple[PieceAnswer, ...]
    made: Mapping[str, bytes]
    tapes: Mapping[tuple[str, str], Tape]


@dataclass
class Tools:
    """A kit that was opened: ready to work."""

    feeds: dict[str, Feed]
    plugins: Mapping[str, Plugin]
    lattice: Lattice
    faults: tuple[tuple[str, str, str], ...] = ()


def pack_kit(view: PointPass, plugins: Mapping[str, Plugin]) -> Kit:
    """Return the kit of a pass; what cannot be sent is dropped from the pass.

    Args:
        view: the pass.
        plugins: the plugin of each check.
    """
    feeds: dict[str, bytes] = {}
    for name, feed in tuple(view.feeds.items()):
        with view.call(name, SENDING) as attempt:
            feeds[name] = pickle.dumps(feed, pickle.HIGHEST_PROTOCOL)
        if attempt.fault:
            view.drop(name, SENDING, attempt.fault)
    return Kit(feeds, {name: plugins[name] for name in feeds}, view.lattice)


def open_kit(kit: Kit) -> Tools:
    """Return the tools of a worker; a check that cannot be opened is faulty in every task."""
    guard = Guard()
    tools = Tools({}, kit.plugins, kit.lattice)
    for name, packed in kit.feeds.items():
        with guard.call(kit.plugins[name], f"check {name}, {SENDING}") as attempt:
            # From the process that asked for the work, which has every right here anyway.
            tools.feeds[name] = pickle.loads(packed)  # noqa: S301
        if attempt.fault:
            tools.faults += ((name, SENDING, attempt.fault),)
    return tools


def carry_out(tools: Tools, pieces: Sequence[Piece], progress: Progress) -> Answer:
    """Read the pieces of a task and return what came of them.

    Args:
        tools: what the worker was given.
        pieces: what to read.
        progress: told of points, and of a call that goes on and on.
    """
    with Guard(progress, way_out=_WAY_OUT) as guard:
        worker = _Worker(tools, guard, progress)
        answers = tuple(worker.read(number, piece) for number, piece in enumerate(pieces))
        made = worker.pack()
    # What broke while packing belongs to the last piece: nothing of the task is used then.
    *before, last = answers
    last = replace(last, faults=(*last.faults, *worker.faults))
    return Answer((*before, last), made, guard.tapes)


class _Worker:
    def __init__(self, tools: Tools, guard: Guard, progress: Progress) -> None:
        self.faults: list[tuple[str, str, str]] = list(tools.faults)
        self._tools = tools
        self._guard = guard
        self._progress = progress
        self._view = PointPass(
            dict(tools.feeds), tools.lattice, self._call, self._report, parallel=False
        )
        self._made: dict[str, dict[int, Any]] = {}

    def _call(self, name: str, phase: str) -> AbstractContextManager[Attempt]:
        self._progress.advance(0)  # a sign of life: closing a file reads no points
        return self._guard.call(self._tools.plugins[name], f"check {name}, {phase}")

    def _report(self, name: str, phase: str, fault: str) -> None:
        self.faults.append((name, phase, fault))

    def read(self, number: int, piece: Piece) -> PieceAnswer:
        try:
            return self._read(number, piece)
        except StoreError as error:
            return PieceAnswer(faults=self._take_faults(), store_faults=error.faults)

    def _read(self, number: int, piece: Piece) -> PieceAnswer:
        where = (piece.file, piece.header, piece.path, self._progress)
        if piece.span is None:
            result = self._view.read(*where)
            gaps = {}
            for name, feed in self._view.feeds.items():
                self._keep(name, number, self._view.summaries.get(feed.speaker, {}), piece)
                gaps[name] = self._view.gaps.get(feed.speaker, {}).get(piece.file.path, "")
            self._view.summaries.clear()
            return PieceAnswer(result, None, _drop_empty(gaps), self._take_faults())
        try:
            reading = self._view.read_span(*where, piece.span)
        except StoreError:
            raise
        except SwathbookError:
            return PieceAnswer(faults=self._take_faults())
        for name, tally in reading.tallies.items():
            self._made.setdefault(name, {})[number] = tally
        reading.tallies = {}
        return PieceAnswer(None, reading, {}, self._take_faults())

    def _keep(self, name: str, number: int, summaries: Mapping[str, Any], piece: Piece) -> None:
        if piece.file.path in summaries:
            self._made.setdefault(name, {})[number] = summaries[piece.file.path]

    def _take_faults(self) -> tuple[tuple[str, str, str], ...]:
        faults = tuple(self.faults)
        self.faults.clear()
        return faults

    def pack(self) -> dict[str, bytes]:
        packed: dict[str, bytes] = {}
        for name, made in self._made.items():
            if name not in self._view.feeds:
                continue
            with self._call(name, SENDING) as attempt:
                packed[name] = pickle.dumps(made, pickle.HIGHEST_PROTOCOL)
            if attempt.fault:
                self._report(name, SENDING, attempt.fault)
        self._made.clear()
        return packed


def _drop_empty(gaps: Mapping[str, str]) -> dict[str, str]:
    return {name: why for name, why in gaps.items() if why}
