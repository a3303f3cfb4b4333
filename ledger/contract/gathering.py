"""Joining what a crew read, so that the pass has what it would have had in one process.

Invariants:

- Files are joined in their order, whoever was first: nothing that a check is given depends on how
  many worked.
- A file that is lost is *errored*, and no check is given a part of it.
- A store that one worker lost is lost to the audit: nothing more is asked of the others.
- A file of which a span cannot be read is read again whole, which tells what is wrong with it.
"""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ledger.contract.crew import Crew
from ledger.contract.dispatch import Dispatch, Part
from ledger.contract.evidence import DeliveredFile
from ledger.contract.guard import Guard
from ledger.contract.passing import NOTHING_CAME, PassResult, PointPass
from ledger.contract.pieces import Piece, Task, deal_out
from ledger.contract.portions import SENDING
from ledger.errors import StoreError
from ledger.model.ask import Progress
from ledger.remote.files import Place

_ABSENT = object()


@dataclass
class Gathered:
    """What came of all files.

    Args:
        results: what reading gave, by path.
        lost: why a file was not read, by path.
    """

    results: dict[str, PassResult] = field(default_factory=dict)
    lost: dict[str, str] = field(default_factory=dict)


@dataclass
class _File:
    """One file and what came of it so far."""

    file: DeliveredFile
    whole: Piece | None
    wanted: int = 0
    parts: dict[int, Part] = field(default_factory=dict)
    lost: str = ""
    is_anew: bool = False

    @property
    def is_settled(self) -> bool:
        return self.whole is None or bool(self.lost) or len(self.parts) == self.wanted


def gather(  # noqa: PLR0913, PLR0917 - the pass, its files, and who takes part
    view: PointPass,
    files: Iterable[DeliveredFile],
    paths: Mapping[str, Place],
    crew: Crew,
    guard: Guard,
    progress: Progress,
) -> Gathered:
    """Have every file read and give the pass what came of it.

    Args:
        view: the pass.
        files: the point files, in order.
        paths: where each lies.
        crew: who reads.
        guard: hears what plugins printed elsewhere.
        progress: told of points.

    Raises:
        StoreError: a worker lost the store that holds them.
    """
    states = {file.path: _File(file, _make_piece(file, paths)) for file in files}
    whole = [state.whole for state in states.values() if state.whole is not None]
    tasks = deal_out(whole, crew.size)
    for piece in (piece for task in tasks for piece in task.pieces):
        states[piece.file.path].wanted += 1
    dispatch = Dispatch(crew, progress)
    dispatch.add(tasks)
    gathered, left = Gathered(), deque(states.values())
    while left:
        if left[0].is_settled:
            _settle(left.popleft(), view, guard, gathered)
            continue
        for part in dispatch.go_on():
            dispatch.add(_keep(states[part.piece.file.path], part))
    return gathered


def _make_piece(file: DeliveredFile, paths: Mapping[str, Place]) -> Piece | None:
    if file.header is None or file.fault:
        return None
    return Piece(file, file.header, paths[file.path])


def _keep(state: _File, part: Part) -> tuple[Task, ...]:
    """Take in one part; return what has to be read for it again."""
    span = part.piece.span
    if state.is_anew and span is not None:
        return ()  # it is read whole by now
    if part.answer is None:
        state.lost = part.why
    elif part.answer.store_faults:
        raise StoreError.from_faults(part.answer.store_faults)
    elif span is None:
        state.parts = {0: part}
    elif part.answer.reading is not None:
        state.parts[span[0]] = part
    elif state.whole is not None:
        state.is_anew, state.wanted, state.parts = True, 1, {}
        return (Task((state.whole,)),)
    return ()


def _settle(state: _File, view: PointPass, guard: Guard, gathered: Gathered) -> None:
    """Give the pass what came of a file."""
    path = state.file.path
    parts = [state.parts[start] for start in sorted(state.parts)]
    state.parts = {}
    if state.whole is None:
        view.leave_out(state.file)
        return
    if state.lost:
        gathered.lost[path] = state.lost
        view.note_gap(path, f"points: {state.lost}")
        return
    for part in parts:
        guard.add_tapes(part.tapes or {})
        for name, phase, fault in part.answer.faults if part.answer else ():
            if name in view.feeds:
                view.drop(name, phase, fault)
    first = parts[0].answer
    if first is not None and first.result is not None:
        gathered.results[path] = first.result
        _give_summaries(path, parts[0], view)
        return
    gathered.results[path] = _join(state.file, parts, view)


def _give_summaries(path: str, part: Part, view: PointPass) -> None:
    gaps = part.answer.gaps if part.answer else {}
    for name in tuple(view.feeds):
        made = _take(part, name, view)
        if name not in view.feeds:
            continue
        if made is _ABSENT:
            view.note_gap(path, gaps.get(name, NOTHING_CAME), name)
        else:
            view.keep(name, path, made)


def _join(file: DeliveredFile, parts: Iterable[Part], view: PointPass) -> PassResult:
    readings = []
    for part in parts:
        reading = part.answer.reading if part.answer else None
        if reading is None:
            continue
        taken = {name: _take(part, name, view) for name in tuple(view.feeds)}
        reading.tallies = {name: tally for name, tally in taken.items() if tally is not _ABSENT}
        readings.append(reading)
    return view.join(file, readings)


def _take(part: Part, name: str, view: PointPass) -> Any:  # noqa: ANN401 - what a check made
    """Return what a check made of a piece; opened once a task, where a mistake is contained."""
    made = part.made
    if not isinstance(made, dict) or name not in made:
        return _ABSENT
    if isinstance(made[name], bytes):
        opened: Any = {}
        with view.call(name, SENDING) as attempt:
            # By a worker of ours, from a kit of ours: guarded against mistakes, not malice.
            opened = dict(pickle.loads(made[name]))  # noqa: S301
        made[name] = opened
        if attempt.fault:
            view.drop(name, SENDING, attempt.fault)
    return made[name].pop(part.number, _ABSENT)
