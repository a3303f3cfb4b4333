"""Handing tasks to a crew until each of its pieces is answered or lost.

Invariant: a worker that ends, is silent for too long, or sends what is no answer costs its pieces
one more try, each by itself. A piece that fails twice is lost.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ledger.contract.crew import Advanced, Answered, Crew, Ended, Event, Lost, Said
from ledger.contract.hearing import Tape
from ledger.contract.passing import PassResult, Reading
from ledger.contract.pieces import Piece, Task
from ledger.contract.portions import Answer, PieceAnswer
from ledger.dataclass import dataclass
from ledger.model.ask import Progress

_RUBBISH = "what it sent back is no answer"


@dataclass(frozen=True)
class Part:
    """What became of one piece.

    Args:
        piece: the piece.
        answer: what came of it; None when it is lost.
        number: its number in the task that was answered.
        made: what the checks made of that task, as bytes; shared by its pieces.
        tapes: what plugins printed during the task, with its first piece only.
        why: why it is lost.
    """

    piece: Piece
    answer: PieceAnswer | None
    number: int = 0
    made: Mapping[str, Any] | None = None
    tapes: Mapping[tuple[str, str], Tape] | None = None
    why: str = ""


class Dispatch:
    """Tasks that wait, and tasks under way."""

    def __init__(self, crew: Crew, progress: Progress) -> None:
        """Take who works, and who is told of points."""
        self._crew = crew
        self._progress = progress
        self._waiting: deque[Task] = deque()
        self._under_way: dict[int, Task] = {}
        self._told: dict[int, int] = {}
        self._number = 0

    def add(self, tasks: Iterable[Task]) -> None:
        """Put tasks at the end of the queue."""
        self._waiting.extend(tasks)

    def go_on(self) -> Iterator[Part]:
        """Hand out what can be handed out, wait a moment, and yield the pieces that are done."""
        while self._waiting and self._crew.idle:
            self._number += 1
            task = self._waiting.popleft()
            self._under_way[self._number], self._told[self._number] = task, 0
            self._crew.hand_out(self._number, task.pieces)
        for event in self._crew.wait():
            yield from self._take(event)

    def _take(self, event: Event) -> Iterator[Part]:
        if isinstance(event, Said):
            self._progress.notice(event.sentence)
        elif isinstance(event, Ended):
            yield from self._give_up(event.why)
        elif event.number not in self._under_way:
            return  # a worker that was given up spoke again
        elif isinstance(event, Advanced):
            self._told[event.number] += event.points
            self._progress.advance(event.points)
        elif isinstance(event, Lost):
            yield from self._try_again(event.number, event.why)
        else:
            yield from self._take_answer(event)

    def _take_answer(self, event: Answered) -> Iterator[Part]:
        answer, task = event.answer, self._under_way[event.number]
        if not isinstance(answer, Answer) or not _fits(answer, task):
            yield from self._try_again(event.number, _RUBBISH)
            return
        del self._under_way[event.number]
        made = dict(answer.made)
        for index, (piece, each) in enumerate(zip(task.pieces, answer.pieces, strict=True)):
            yield Part(piece, each, index, made, None if index else answer.tapes)

    def _try_again(self, number: int, why: str) -> Iterator[Part]:
        task = self._under_way.pop(number)
        self._progress.advance(-self._told[number])
        if task.again:
            yield from (Part(piece, None, why=f"twice {why}") for piece in task.pieces)
            return
        self._progress.notice(f"{_name(task)} will be read once more: {why}")
        self._waiting.extendleft(Task((piece,), again=True) for piece in reversed(task.pieces))

    def _give_up(self, why: str) -> Iterator[Part]:
        tasks = [*self._under_way.values(), *self._waiting]
        self._under_way.clear()
        self._waiting.clear()
        for task in tasks:
            yield from (Part(piece, None, why=why) for piece in task.pieces)


def _name(task: Task) -> str:
    first = task.pieces[0].file.path
    others = len({piece.file.path for piece in task.pieces}) - 1
    return f"{first} and {others} more" if others else first


def _fits(answer: Answer, task: Task) -> bool:
    """Say whether what came back has the shape of an answer to this task."""
    pieces = answer.pieces
    return (
        isinstance(pieces, tuple)
        and len(pieces) == len(task.pieces)
        and all(map(_is_answer_to, pieces, task.pieces))
        and isinstance(answer.made, dict)
        and all(isinstance(each, bytes) for each in answer.made.values())
        and isinstance(answer.tapes, dict)
        and all(isinstance(each, Tape) for each in answer.tapes.values())
    )


def _is_answer_to(answer: object, piece: Piece) -> bool:
    if not isinstance(answer, PieceAnswer):
        return False
    if answer.store_faults:
        return True
    if piece.span is None:
        return isinstance(answer.result, PassResult)
    return answer.reading is None or isinstance(answer.reading, Reading)
