"""Hashing outputs and counting their points in threads, while a person answers.

Invariants:

- The threads touch files alone: no book, no terminal, nothing that the form holds.
- Only the caller's own thread touches the progress it was given.
- What cannot be read is told when the answers are there, every file at once; a file that is no
  longer the one that was found is refused then, too.
- Whoever leaves, by Ctrl-C too, ends the threads at their next piece.
- While somebody types, each thread decodes one file by itself: the decoder that takes all cores
  for one file holds the interpreter for half a second at a time (measured with lazrs 0.8.2).
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor, wait
from types import TracebackType
from typing import Self

from ledger.errors import Fault, FaultsError, FileError, SwathbookError
from ledger.fixity import read_fixity
from ledger.model.artefact import Output
from ledger.model.ask import NoProgress, Progress
from ledger.record.candidates import Candidate, require_unchanged, take_digest
from ledger.record.outputs import describe_output

_GLANCE_S = 0.1
_MOST_THREADS = 4


class BackgroundReading:
    """Reads the outputs of a run or step while the form is asked."""

    def __init__(self, files: Sequence[Candidate], *, asking: bool) -> None:
        """Say which files; nothing is read before it is entered as a context.

        Args:
            files: the outputs.
            asking: a person types meanwhile.
        """
        self._files = tuple(files)
        self._asking = asking
        self._stopped = threading.Event()
        unread = (each.stamp.bytes for each in self._files if not each.sha256)
        stated = (each.header.point_count for each in self._files if each.header is not None)
        self._bytes = _Count(sum(unread), self._stopped)
        self._points = _Count(sum(stated), self._stopped)
        threads = min(os.cpu_count() or 1, _MOST_THREADS) if asking else 1
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="outputs")
        self._reads: list[Future[Output]] = []

    def __enter__(self) -> Self:
        """Begin to read."""
        self._reads = [self._pool.submit(self._read, each) for each in self._files]
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the threads, whatever they had still to read."""
        self._stopped.set()
        self._pool.shutdown(cancel_futures=True)

    def finish(self, progress: Progress) -> tuple[Output, ...]:
        """Wait for what is left to be read, and return every file in the order given.

        Raises:
            FaultsError: with one fault for each file that cannot be read, or changed since; an
                error of their own kind where all are of one.
        """
        self._show(progress, "hashing", self._bytes, "bytes")
        self._show(progress, "reading points", self._points, "points")
        errors = list(self._list_errors())
        if errors:
            raise _join(errors)
        return tuple(read.result() for read in self._reads)

    def _list_errors(self) -> Iterator[FileError]:
        """Yield what is wrong with the files; any other fault of a thread is raised here."""
        for each, read in zip(self._files, self._reads, strict=True):
            try:
                read.result()
                require_unchanged(each)
            except FileError as error:
                yield error

    def _show(self, progress: Progress, label: str, count: _Count, unit: str) -> None:
        """Show what is left of a piece of work, until it is done or every thread has ended."""
        shown = count.done
        if shown >= count.total:
            return
        progress.start(label, count.total - shown, unit)
        left: set[Future[Output]] = set(self._reads)
        while left and count.done < count.total:
            left = wait(left, _GLANCE_S).not_done
            now = count.done
            progress.advance(now - shown)
            shown = now
        progress.finish()

    def _read(self, each: Candidate) -> Output:
        hashed = each if each.sha256 else take_digest(each, read_fixity(each.path, self._bytes))
        return describe_output(hashed, self._points, parallel=not self._asking)


def _join(errors: Sequence[FileError]) -> SwathbookError:
    """Return one error with every fault of every file."""
    kinds = {type(error) for error in errors}
    kind = kinds.pop() if len(kinds) == 1 else FaultsError
    found: tuple[Fault, ...] = tuple(fault for error in errors for fault in error.faults)
    return kind.from_faults(found)


class _Count(NoProgress):
    """Counts what is done, from several threads; ends their work when told to."""

    def __init__(self, total: int, stopped: threading.Event) -> None:
        self.total = total
        self.done = 0
        self._lock = threading.Lock()
        self._stopped = stopped

    def advance(self, amount: int) -> None:
        """Add to what is done."""
        if self._stopped.is_set():
            raise CancelledError
        with self._lock:
            self.done += amount
