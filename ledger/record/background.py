"""Hashing outputs and counting their points in a thread, while a person answers.

Invariants:

- The thread touches files alone: no book, no terminal, nothing that the form holds.
- Only the caller's own thread touches the progress it was given.
- What cannot be read is told when the answers are there, every file at once; a file that is no
  longer the one that was found is refused then, too.
- Whoever leaves, by Ctrl-C too, ends the thread at its next piece.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import CancelledError
from types import TracebackType
from typing import Self

from ledger.errors import Fault, FaultsError, FileError, SwathbookError
from ledger.fixity import Fixity, read_many
from ledger.model.artefact import Output
from ledger.model.ask import NoProgress, Progress
from ledger.record.candidates import Candidate, require_unchanged, take_digest
from ledger.record.outputs import describe_output

_GLANCE_S = 0.1


class BackgroundReading:
    """Reads the outputs of a run or step while the form is asked."""

    def __init__(self, files: Sequence[Candidate]) -> None:
        """Say which files; nothing is read before it is entered as a context."""
        self._files = tuple(files)
        self._outputs: list[Output] = []
        self._errors: list[FileError] = []
        self._broken: BaseException | None = None
        unread = [each for each in self._files if not each.sha256]
        self._stopped = threading.Event()
        self._bytes = _Count(sum(each.stamp.bytes for each in unread), self._stopped)
        stated = sum(each.header.point_count for each in self._files if each.header is not None)
        self._points = _Count(stated, self._stopped)
        self._thread = threading.Thread(target=self._work, name="outputs")

    def __enter__(self) -> Self:
        """Begin to read."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the thread, whatever it had still to read."""
        self._stopped.set()
        self._thread.join()

    def finish(self, progress: Progress) -> tuple[Output, ...]:
        """Wait for what is left to be read, and return every file in the order given.

        Raises:
            FaultsError: with one fault for each file that cannot be read, or changed since; an
                error of their own kind where all are of one.
        """
        self._show(progress, "hashing", self._bytes, "bytes")
        self._show(progress, "reading points", self._points, "points")
        self._thread.join()
        if self._broken is not None:
            raise self._broken
        for each in self._files:
            try:
                require_unchanged(each)
            except FileError as error:
                self._errors.append(error)
        if self._errors:
            raise _join(self._errors)
        return tuple(self._outputs)

    def _show(self, progress: Progress, label: str, count: _Count, unit: str) -> None:
        """Show what is left of a piece of work, until it is done or the thread has ended."""
        shown = count.done
        if shown >= count.total:
            return
        progress.start(label, count.total - shown, unit)
        while self._thread.is_alive() and count.done < count.total:
            self._thread.join(_GLANCE_S)
            now = count.done
            progress.advance(now - shown)
            shown = now
        progress.finish()

    def _work(self) -> None:
        try:
            for each, outcome in self._hash():
                self._describe(each, outcome)
        except CancelledError:
            return
        except BaseException as error:  # noqa: BLE001 - told in the thread that waits
            self._broken = error

    def _hash(self) -> Iterator[tuple[Candidate, Fixity | FileError | None]]:
        """Yield each file with its digest, hashing a few ahead of it; None where it has one."""
        unread = [each.path for each in self._files if not each.sha256]
        outcomes = read_many(unread, self._bytes)
        for each in self._files:
            yield each, None if each.sha256 else next(outcomes)[1]

    def _describe(self, each: Candidate, outcome: Fixity | FileError | None) -> None:
        try:
            if isinstance(outcome, FileError):
                raise outcome
            hashed = each if outcome is None else take_digest(each, outcome)
            self._outputs.append(describe_output(hashed, self._points))
        except FileError as error:
            self._errors.append(error)


def _join(errors: Sequence[FileError]) -> SwathbookError:
    """Return one error with the first thing that was found about each file."""
    found: dict[str, Fault] = {}
    for fault in (fault for error in errors for fault in error.faults):
        found.setdefault(fault.where, fault)
    kinds = {type(error) for error in errors}
    kind = kinds.pop() if len(kinds) == 1 else FaultsError
    return kind.from_faults(tuple(found.values()))


class _Count(NoProgress):
    """Counts what is done; ends the work at its next piece when told to."""

    def __init__(self, total: int, stopped: threading.Event) -> None:
        self.total = total
        self.done = 0
        self._stopped = stopped

    def advance(self, amount: int) -> None:
        """Add to what is done; only one thread at a time does."""
        if self._stopped.is_set():
            raise CancelledError
        self.done += amount
