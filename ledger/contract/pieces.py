"""Dealing out the points of a delivery: neighbouring files together, a large file in spans.

Invariants:

- Every readable file is dealt out once, whole or in spans that cover it without overlap.
- Pieces and tasks come in the order of the files, so that whoever joins the answers in order has
  what one process would have had.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ledger.contract.evidence import DeliveredFile
from ledger.contract.passing import Span
from ledger.dataclass import dataclass
from ledger.model.header import LasHeader
from ledger.remote.files import Place
from ledger.supply import find_cuts

# Tasks for each worker: enough that the last of them does not wait long for the others.
_ROUNDS = 4

# A task below this costs more in sending than it gains; one above it is too much to do twice.
LEAST_POINTS = 1_000_000
MOST_POINTS = 50_000_000


@dataclass(frozen=True)
class Piece:
    """One file, or a span of its points.

    Args:
        file: the file.
        header: its header.
        path: where it lies.
        span: which points; None for all.
    """

    file: DeliveredFile
    header: LasHeader
    path: Place
    span: Span | None = None

    @property
    def points(self) -> int:
        """Return how many points are to be expected."""
        first, stop = self.span or (0, self.header.point_count)
        return stop - first


@dataclass(frozen=True)
class Task:
    """What one worker does in one go.

    Args:
        pieces: in the order of the files.
        again: whether it was tried before.
    """

    pieces: tuple[Piece, ...]
    again: bool = False

    @property
    def points(self) -> int:
        """Return how many points are to be expected."""
        return sum(piece.points for piece in self.pieces)


def deal_out(files: Sequence[Piece], workers: int) -> tuple[Task, ...]:
    """Return the tasks of a delivery.

    Args:
        files: its files, each whole, in order.
        workers: how many work at once.
    """
    total = sum(piece.points for piece in files)
    share = min(max(total // (workers * _ROUNDS), LEAST_POINTS), MOST_POINTS)
    return tuple(_gather(_cut_large(files, share), share))


def _cut_large(files: Sequence[Piece], share: int) -> Iterator[Piece]:
    for piece in files:
        parts = -(-piece.points // (2 * share))
        starts = find_cuts(piece.path, piece.header, parts) if parts > 1 else (0,)
        if len(starts) == 1:
            yield piece
            continue
        stops = (*starts[1:], piece.points)
        for span in zip(starts, stops, strict=True):
            yield Piece(piece.file, piece.header, piece.path, span)


def _gather(pieces: Iterator[Piece], share: int) -> Iterator[Task]:
    batch: list[Piece] = []
    points = 0
    for piece in pieces:
        if batch and points + piece.points > share:
            yield Task(tuple(batch))
            batch, points = [], 0
        batch.append(piece)
        points += piece.points
    if batch:
        yield Task(tuple(batch))
