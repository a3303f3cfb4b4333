"""Calling what a plugin wrote without letting its mistakes out.

This contains mistakes, not malice: a plugin runs with every right of the person who installed it.

What is raised becomes a sentence, what is printed is left out and counted. A call that does not end
cannot be ended safely from outside within one process, so a person is told which one it is and may
leave it out with Ctrl-C.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from dataclasses import dataclass, replace
from types import FrameType, TracebackType
from typing import NoReturn, Self

from ledger.contract.hearing import Ear, Heard, Tape
from ledger.errors import SwathbookError
from ledger.model.ask import NoProgress, Progress
from ledger.model.audit import Plugin

PATIENCE_S = 30.0
"""After so long a single call is named. Common practice, no source."""

_BY_HAND = "Ctrl-C leaves only this out"
_LONGEST = 300


class StoppedByHand(KeyboardInterrupt):
    """A person left out the plugin code that is running; all else goes on."""


@dataclass
class Attempt:
    """How a guarded call ended.

    Attributes:
        fault: type and message of what was raised; empty when nothing was.
    """

    fault: str = ""


@dataclass
class _Running:
    """A call under way."""

    plugin: Plugin
    work: str
    begun: float
    told: bool = False
    stopped: bool = False
    interrupted: bool = False

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.begun


class Guard:
    """Calls plugin code, one call at a time.

    As a context it also watches: a call that goes on and on is named, and Ctrl-C then leaves out
    that call alone; at any other time Ctrl-C interrupts the whole command, whatever the plugin does
    with it. Without the context every `KeyboardInterrupt` interrupts.
    """

    def __init__(
        self, progress: Progress | None = None, *, quiet: bool = True, way_out: str = _BY_HAND
    ) -> None:
        """Prepare.

        Args:
            progress: told of a call that goes on and on.
            quiet: leave out what plugin code prints; the author of a check may want to see it.
            way_out: what becomes of such a call, as a person is told.
        """
        self._way_out = way_out
        self._progress = progress if progress is not None else NoProgress()
        self._quiet = quiet
        self._ears: dict[tuple[str, str], Ear] = {}
        self._running: _Running | None = None
        self._over = threading.Event()
        self._has_signal = False
        self._leaving = ExitStack()

    @property
    def heard(self) -> dict[tuple[str, str], Heard]:
        """Return what was printed, by name and version of the plugin, in order of first calls."""
        told = {plugin: ear.heard for plugin, ear in self._ears.items()}
        return {plugin: heard for plugin, heard in told.items() if heard is not None}

    @property
    def tapes(self) -> dict[tuple[str, str], Tape]:
        """Return the same as it can be sent to the guard of another process."""
        return {plugin: ear.tape for plugin, ear in self._ears.items()}

    def add_tapes(self, tapes: Mapping[tuple[str, str], Tape]) -> None:
        """Take in what plugins printed in another process, as if it were here and now."""
        for plugin, tape in tapes.items():
            self._ears.setdefault(plugin, Ear()).tape.add(tape)

    @contextmanager
    def call(self, plugin: Plugin, work: str) -> Iterator[Attempt]:
        """Run a block of plugin code; whatever it raises becomes `fault`.

        `SystemExit` and panics of compiled libraries, which are no `Exception`, become a fault too.

        Args:
            plugin: whose code it is.
            work: what it does, as a person is told (`check some-check, finish`).

        Raises:
            KeyboardInterrupt: a person interrupted the command.
        """
        attempt = Attempt()
        running = _Running(plugin, work, time.monotonic())
        with self._listen(plugin):
            try:
                self._running = running
                yield attempt
            except BaseException as error:  # plugin code may raise anything
                if isinstance(error, KeyboardInterrupt) and not self._has_signal:
                    raise
                attempt.fault = describe_exception(error)
            finally:
                self._running = None
        if running.interrupted:  # even where the plugin kept it to itself
            raise KeyboardInterrupt
        if running.stopped:
            attempt.fault = f"it was stopped by hand after {running.seconds:.0f} s"

    def _listen(self, plugin: Plugin) -> AbstractContextManager[None]:
        if not self._quiet:
            return nullcontext()
        name = (plugin.name, plugin.version)
        if name not in self._ears:
            self._ears[name] = Ear()
        return self._ears[name].listening()

    def __enter__(self) -> Self:
        """Watch calls from now on, and keep quiet what threads of plugins print."""
        if self._quiet:
            self._leaving.enter_context(Ear().listening())
        # Not where a person asked for Ctrl-C to be ignored, nor where another program hears it.
        is_main = threading.current_thread() is threading.main_thread()
        if is_main and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._interrupt)
            self._has_signal = True
        threading.Thread(target=self._watch, name="plugin watch", daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop watching."""
        self._over.set()
        if self._has_signal:
            signal.signal(signal.SIGINT, signal.default_int_handler)
            self._has_signal = False
        self._leaving.close()

    def _watch(self) -> None:
        while not self._over.wait(PATIENCE_S / 30):
            running = self._running
            if running is not None and not running.told and running.seconds >= PATIENCE_S:
                running.told = True  # before it is said: who reads it may be quick
                plugin = running.plugin
                self._progress.notice(
                    f"{plugin} ({running.work}) has run for {running.seconds:.0f} s; "
                    f"{self._way_out}"
                )

    def _interrupt(self, _number: int, _frame: FrameType | None) -> NoReturn:
        running = self._running
        if running is None:
            raise KeyboardInterrupt
        if running.told and not running.stopped:
            running.stopped = True
            raise StoppedByHand
        running.interrupted = True
        # Should the plugin keep this to itself too, the next one ends the process.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        raise KeyboardInterrupt


def describe_exception(error: BaseException) -> str:
    """Return type and message in one line, also of an exception whose own text raises."""
    name = type(error).__name__
    try:
        notes = getattr(error, "__notes__", ())
        message = " ".join(" ".join((str(error), *notes)).split())
    except Exception:  # noqa: BLE001 - the text of a foreign exception is foreign code too
        message = "its own message could not be read"
    if len(message) > _LONGEST:
        message = message[:_LONGEST] + "…"
    return f"{name}: {message}" if message else name


def describe_fault(error: SwathbookError) -> str:
    """Return the faults of an error without their place, for a sentence that names it anyway."""
    return "; ".join(replace(each, where="", remedy="").sentence() for each in error.faults)
