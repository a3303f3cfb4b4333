"""Streams that keep what plugin code prints away from the screen and from results.

They hold a number and a beginning, so that something that prints without end fills no memory.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from ledger.dataclass import dataclass

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer

_KEPT_BYTES = 400
_SHOWN_SIGNS = 100


@dataclass(frozen=True)
class Heard:
    """What was printed and left out.

    Args:
        lines: how many lines.
        first: the beginning of the first one that says something.
    """

    lines: int
    first: str


class Tape:
    """Counts the lines of what was printed and keeps the beginning."""

    def __init__(self) -> None:
        """Start with nothing printed."""
        self.kept = b""
        self._ends = 0
        self._is_open = False

    @property
    def lines(self) -> int:
        """Return the number of lines, one that was not ended included."""
        return self._ends + self._is_open

    def take(self, piece: bytes) -> None:
        """Take in what was printed next."""
        self.kept += piece[: _KEPT_BYTES - len(self.kept)]
        self._ends += piece.count(b"\n")
        self._is_open = not piece.endswith(b"\n") if piece else self._is_open

    def add(self, other: Tape) -> None:
        """Take in what another tape holds, as printed after what this one holds."""
        self.kept += other.kept[: _KEPT_BYTES - len(self.kept)]
        self._ends += other._ends
        if other.lines:
            self._is_open = other._is_open


class _Drain(io.RawIOBase):
    """Takes any number of bytes."""

    def __init__(self, tape: Tape) -> None:
        self._tape = tape

    def writable(self) -> bool:
        return True

    def write(self, given: ReadableBuffer, /) -> int:
        piece = bytes(given)
        self._tape.take(piece)
        return len(piece)


class Ear:
    """Listens in place of stdout and stderr, and is silent in place of stdin.

    One for each plugin: a stream that it keeps (a handler of its log) still leads here later.
    """

    def __init__(self) -> None:
        """Start with nothing heard."""
        self._tape = Tape()
        self._stream = self._make_stream()
        self._nothing = _make_nothing()

    def _make_stream(self) -> io.TextIOWrapper:
        drain = io.BufferedWriter(_Drain(self._tape))
        return io.TextIOWrapper(drain, "utf-8", "backslashreplace", write_through=True)

    @property
    def tape(self) -> Tape:
        """Return what was taken down so far; what is added to it counts as heard here."""
        with suppress(ValueError):
            self._stream.flush()
        return self._tape

    @property
    def heard(self) -> Heard | None:
        """Return what was printed so far; None for nothing."""
        text = self.tape.kept.decode("utf-8", "backslashreplace")
        first = next((line.strip() for line in text.splitlines() if line.strip()), "")
        if not first:
            return None
        shown = first if len(first) <= _SHOWN_SIGNS else f"{first[:_SHOWN_SIGNS]}…"
        return Heard(self._tape.lines, shown)

    @contextmanager
    def listening(self) -> Iterator[None]:
        """Take the place of the three streams; an attempt to read finds the end at once."""
        # Closed by plugin code: its own loss, but not that of the next call.
        if self._stream.closed:
            self._stream = self._make_stream()
        if self._nothing.closed:
            self._nothing = _make_nothing()
        before = sys.stdin, sys.stdout, sys.stderr
        sys.stdin, sys.stdout, sys.stderr = self._nothing, self._stream, self._stream
        try:
            yield
        finally:
            sys.stdin, sys.stdout, sys.stderr = before


def _make_nothing() -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(), "utf-8")
