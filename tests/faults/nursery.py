"""Processes in which a command runs at once: the program is loaded, and nothing is open.

One process loads the program and forks a child for each command that it is told. The child runs
that command as it would have run it alone, with files for its streams; it may be doomed to be
killed, or be looked over the shoulder before it begins. Only the time that loading takes is saved.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import gc
import json
import os
import signal
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from ledger.store.writing import BookWriter

PATHS = tuple(str(Path(__file__).resolve().parents[1] / name) for name in ("made", "faults"))
_TRACEBACK = 70
_BY_SIGNAL = 0  # SIGEV_SIGNAL
_LIBC = ctypes.CDLL(None, use_errno=True)
_PATIENCE_S = 60.0
_LOOKS_EVERY_S = 0.0002


@dataclass(frozen=True)
class Doom:
    """When a child gets SIGKILL.

    Args:
        after_s: seconds: of its own processor time from its beginning; or by the clock, from the
            end of a write, when it goes to the file.
        write: from which write on, 1 for the first; 0 to count from its beginning.
    """

    after_s: float
    write: int = 0


@dataclass(frozen=True)
class End:
    """How a child ended.

    Args:
        status: its status; below zero for the signal that ended it.
        taken_s: processor time that it took, seconds.
    """

    status: int
    taken_s: float


@dataclass(frozen=True)
class Child:
    """A command that is running, or was.

    Args:
        pid: its number.
        out: file of what it prints.
        err: file of what it complains.
        gate: end of the pipe whose closing lets it begin; None where it began at once.
    """

    pid: int
    out: Path
    err: Path
    gate: int | None

    def begin(self) -> None:
        """Let it begin."""
        if self.gate is not None:
            os.close(self.gate)


class Nursery:
    """Use it as a context manager."""

    def __init__(self, scratch: Path) -> None:
        """Load the program, in a process of its own.

        Args:
            scratch: an empty folder for streams.
        """
        self._scratch = scratch
        self._number = 0
        self._process = subprocess.Popen(
            [sys.executable, "-P", __file__, str(scratch)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._process.stdin is not None and self._process.stdout is not None:
            self._process.stdin.close()
            self._process.wait()
            self._process.stdout.close()

    def start(
        self,
        words: Sequence[object],
        folder: Path,
        *,
        held: bool = False,
        doom: Doom | None = None,
    ) -> Child:
        """Start a command.

        Args:
            words: what is typed.
            folder: where it is typed.
            held: whether it waits until it is told to begin.
            doom: when it is killed; None for never.
        """
        self._number += 1
        base = self._scratch / str(self._number)
        out, err, gate = (base.with_suffix(f".{name}") for name in ("out", "err", "gate"))
        if held:
            os.mkfifo(gate)
        pid = self._ask(
            {"words": [str(word) for word in words], "folder": str(folder)}
            | {"out": str(out), "err": str(err), "gate": str(gate) if held else ""}
            | {"doom": (doom.after_s, doom.write) if doom else None}
        )
        return Child(int(pid), out, err, _open_gate(gate) if held else None)

    def wait(self, child: Child) -> End:
        """Return how a child ended, once it has."""
        status, taken_s = self._ask({"wait": child.pid})
        return End(status, taken_s)

    def clear(self) -> None:
        """Forget the streams of all that ran."""
        for path in self._scratch.iterdir():
            if path.is_file() or path.is_fifo():
                path.unlink()

    def _ask(self, request: dict[str, Any]) -> Any:
        stdin, stdout = self._process.stdin, self._process.stdout
        assert stdin is not None
        assert stdout is not None
        stdin.write(json.dumps(request) + "\n")
        stdin.flush()
        return json.loads(stdout.readline())


def _open_gate(gate: Path) -> int:
    """Return the writing end of a pipe, once the child waits at the other.

    Whoever looks over its shoulder from now on sees its work, and nothing of how it was set up.
    """
    end = time.monotonic() + _PATIENCE_S
    while True:
        try:
            return os.open(gate, os.O_WRONLY | os.O_NONBLOCK)
        except OSError as error:
            if error.errno != errno.ENXIO or time.monotonic() > end:
                raise
            time.sleep(_LOOKS_EVERY_S)


# Inside the process that loads.


def serve(scratch: Path) -> None:
    """Load everything, then fork a child for each line that is told."""
    load(scratch / "loading")
    gc.freeze()  # pages that nobody touches are shared with every child
    assert threading.active_count() == 1, "a fork would leave threads behind"
    for line in sys.stdin:
        request = json.loads(line)
        answer = _wait(request["wait"]) if "wait" in request else _fork(request)
        sys.stdout.write(f"{json.dumps(answer)}\n")
        sys.stdout.flush()


def load(place: Path) -> None:
    """Run each command once, so that all that it needs is loaded."""
    from kills import KINDS, Bench, run_here  # noqa: PLC0415 - its own process alone needs it

    place.mkdir()
    bench = Bench(place)
    for kind in KINDS:
        for words in (bench.make_command(kind), ["--json", *bench.make_command(kind)]):
            with contextlib.chdir(bench.job):
                run_here(*words)


def _fork(request: dict[str, Any]) -> int:
    pid = os.fork()
    if pid:
        return pid
    status = _TRACEBACK
    try:
        status = _run(request)
    finally:
        os._exit(status)


def _run(request: dict[str, Any]) -> int:
    """Run a command with files for its streams, as the process that it has to itself."""
    from ledger.cli.frame import main  # noqa: PLC0415 - loaded long ago

    nowhere = os.open(os.devnull, os.O_RDONLY)
    flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC
    for number, place in ((1, request["out"]), (2, request["err"])):
        os.dup2(os.open(place, flags, 0o600), number)
    os.dup2(nowhere, 0)
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False)
    os.chdir(request["folder"])
    sys.argv = ["swathbook", *request["words"]]
    if request["gate"]:
        Path(request["gate"]).read_bytes()
    if request["doom"]:
        _doom(*request["doom"])
    try:
        return main()
    except BaseException:
        sys.excepthook(*sys.exc_info())
        raise
    finally:
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError):
                stream.flush()


def _wait(pid: int) -> tuple[int, float]:
    _, status, used = os.wait4(pid, 0)
    return os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime


def _doom(after_s: float, write: int) -> None:
    """Set when this process is killed."""
    if not write:
        _set_timer(time.CLOCK_PROCESS_CPUTIME_ID, after_s)
        return
    left = [write]
    store_rows = BookWriter._store_rows  # what follows is written to the file

    def begin_and_store_rows(writer: BookWriter) -> None:
        left[0] -= 1
        if not left[0]:
            _set_timer(time.CLOCK_MONOTONIC, after_s)
        store_rows(writer)

    BookWriter._store_rows = begin_and_store_rows  # type: ignore[method-assign, assignment]


def _set_timer(clock: int, after_s: float) -> None:
    """Have the system send SIGKILL to this process, of itself: POSIX, timer_create."""
    event = ctypes.create_string_buffer(struct.pack("qii", 0, signal.SIGKILL, _BY_SIGNAL), 64)
    timer = ctypes.c_void_p()
    seconds = max(after_s, 1e-6)  # zero would disarm it
    moment = struct.pack("qqqq", 0, 0, int(seconds), int(seconds % 1 * 1e9))
    for failed in (
        _LIBC.timer_create(clock, event, ctypes.byref(timer)),
        _LIBC.timer_settime(timer, 0, moment, None),
    ):
        if failed:
            raise OSError(ctypes.get_errno(), "no timer can be set")


if __name__ == "__main__":
    sys.path[:0] = PATHS
    serve(Path(sys.argv[1]))
