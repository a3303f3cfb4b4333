"""Calling plugin code: Ctrl-C is a person's, whatever the plugin does; what hangs is named."""

from __future__ import annotations

import io
import logging
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator

import pytest

from ledger.contract import guard as guarding
from ledger.contract.guard import Guard
from ledger.contract.hearing import Heard
from ledger.model.ask import NoProgress
from ledger.model.audit import Plugin

LAZY = Plugin("lazy", "1.0", "", "lazy")


class Notices(NoProgress):
    """Keeps what is said at once, and then does something."""

    def __init__(self, then: Callable[[], None] = lambda: None) -> None:
        self.told: list[str] = []
        self._then = then

    def notice(self, sentence: str) -> None:
        """Keep the sentence."""
        self.told.append(sentence)
        threading.Thread(target=self._then).start()


def press_ctrl_c() -> None:
    """Interrupt this process, as a terminal does."""
    signal.raise_signal(signal.SIGINT)


def hang(seconds: float = 20.0) -> None:
    """Do nothing for a long time, in pieces that an interruption ends."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        time.sleep(0.01)


def swallow(work: Callable[[], object], then: Callable[[], object] = lambda: None) -> None:
    """Do something and take no notice of whatever ends it, as a careless plugin does."""
    try:
        work()
    except BaseException:  # noqa: BLE001
        then()


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Lose patience after a fifth of a second; leave the handling of Ctrl-C as it was."""
    monkeypatch.setattr(guarding, "PATIENCE_S", 0.2)
    yield
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_call_that_goes_on_is_named_and_ctrl_c_leaves_it_out() -> None:
    """The line says what hangs and what Ctrl-C does; it does that, and the next call is made."""
    notices = Notices(press_ctrl_c)
    with Guard(notices) as guard:
        with guard.call(LAZY, "check sleepy, chunk") as attempt:
            hang()
        with guard.call(LAZY, "check sleepy, close") as other:
            pass
    (told,) = notices.told
    assert told.startswith("lazy 1.0 (check sleepy, chunk) has run for 0 s; Ctrl-C leaves only")
    assert attempt.fault.startswith("it was stopped by hand after ")
    assert other.fault == ""


def test_a_call_that_returns_all_the_same_is_left_out() -> None:
    """A plugin that keeps the interruption to itself does not get its answer in."""
    with Guard(Notices(press_ctrl_c)) as guard, guard.call(LAZY, "check x, finish") as attempt:
        swallow(hang)
    assert attempt.fault.startswith("it was stopped by hand")


def test_before_that_ctrl_c_interrupts_the_command() -> None:
    """Nothing was said yet, so Ctrl-C means what it always does."""
    threading.Timer(0.05, press_ctrl_c).start()
    with pytest.raises(KeyboardInterrupt), Guard() as guard, guard.call(LAZY, "check x, start"):
        hang()


@pytest.mark.parametrize("answer", [lambda: None, lambda: 1 / 0])
def test_no_plugin_keeps_an_interruption_to_itself(answer: Callable[[], object]) -> None:
    """Swallowed, or made into another error: the command is interrupted."""
    threading.Timer(0.05, press_ctrl_c).start()
    with pytest.raises(KeyboardInterrupt), Guard() as guard, guard.call(LAZY, "check x, start"):
        swallow(hang, answer)


def test_a_second_ctrl_c_interrupts_the_command() -> None:
    """Whoever presses again wants to be rid of all of it."""

    def press_twice() -> None:
        press_ctrl_c()
        time.sleep(0.1)
        press_ctrl_c()

    with (
        pytest.raises(KeyboardInterrupt),
        Guard(Notices(press_twice)) as guard,
        guard.call(LAZY, "check x, start"),
    ):
        swallow(hang, hang)


@pytest.mark.parametrize(
    "error", [KeyboardInterrupt("by itself"), type("Own", (KeyboardInterrupt,), {})("by itself")]
)
def test_an_interruption_that_nobody_made_is_a_fault(error: BaseException) -> None:
    """A plugin that raises it without a person at the keys has a fault like any other."""
    with Guard() as guard, guard.call(LAZY, "check x, start") as attempt:
        raise error
    assert attempt.fault == f"{type(error).__name__}: by itself"


def test_without_the_context_every_interruption_interrupts() -> None:
    """Where nobody listens for the signal it cannot be told who interrupted."""
    with pytest.raises(KeyboardInterrupt), Guard().call(LAZY, "check x, start"):
        raise KeyboardInterrupt


def test_ctrl_c_between_calls_interrupts() -> None:
    """Our own code is interrupted as ever."""
    with pytest.raises(KeyboardInterrupt), Guard():
        press_ctrl_c()


def test_an_ignored_ctrl_c_stays_ignored() -> None:
    """A command that was started to outlive its terminal is not interrupted by way of a plugin."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with Guard() as guard, guard.call(LAZY, "check x, start") as attempt:
            press_ctrl_c()
        assert attempt.fault == ""
    finally:
        signal.signal(signal.SIGINT, before)


def test_in_another_thread_all_but_signals_is_guarded() -> None:
    """Signals belong to the main thread; a guard elsewhere does without."""
    faults: list[str] = []

    def work() -> None:
        with Guard() as guard, guard.call(LAZY, "check x, start") as attempt:
            raise ValueError("no")
        faults.append(attempt.fault)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert faults == ["ValueError: no"]


# What is printed.


def test_a_closed_stream_costs_the_next_call_nothing() -> None:
    """A plugin that closes stdout, or puts another in its place, is alone with that."""
    before = sys.stdin, sys.stdout, sys.stderr
    guard = Guard()
    with guard.call(LAZY, "check x, start"):
        sys.stdout.write("one\n")
        sys.stdout.close()
    with guard.call(LAZY, "check x, start"):
        sys.stdout = io.StringIO()
    with guard.call(LAZY, "check x, start") as attempt:
        sys.stdout.write("two\n")
    assert attempt.fault == ""
    assert (sys.stdin, sys.stdout, sys.stderr) == before
    assert guard.heard == {("lazy", "1.0"): Heard(2, "one")}


def test_bytes_and_any_sign_can_be_printed() -> None:
    """The streams take what those of a terminal take."""
    guard = Guard()
    with guard.call(LAZY, "loading") as attempt:
        sys.stdout.buffer.write(b"\xff\xfe\n")
        sys.stderr.write("\udcff \u2713")
        assert not sys.stdout.isatty()
    assert attempt.fault == ""
    assert guard.heard[("lazy", "1.0")] == Heard(2, "\\xff\\xfe")


def test_endless_printing_fills_no_memory() -> None:
    """Lines are counted; kept is the beginning of the first, and a long one is cut."""
    guard = Guard()
    with guard.call(LAZY, "loading"):
        for _ in range(1000):
            sys.stdout.write("x" * 1000 + "\n")
    assert guard.heard[("lazy", "1.0")] == Heard(1000, "x" * 100 + "…")


def test_blank_lines_alone_are_not_worth_telling() -> None:
    """Nothing is said where nothing was said."""
    guard = Guard()
    with guard.call(LAZY, "loading"):
        sys.stdout.write("\n \n")
    assert guard.heard == {}


def test_a_question_finds_nobody() -> None:
    """A plugin that asks gets the end of input, and does not hang at a prompt that nobody sees."""
    guard = Guard()
    with guard.call(LAZY, "check x, prepare") as attempt:
        input("How many? ")
    assert attempt.fault == "EOFError: EOF when reading a line"
    assert guard.heard[("lazy", "1.0")] == Heard(1, "How many?")


def test_a_log_that_a_plugin_opened_is_its_own_for_ever(capsys: pytest.CaptureFixture) -> None:
    """A handler made while a plugin is loaded keeps its stream, and that one is no screen."""
    guard = Guard()
    log = logging.getLogger("lazy")
    with guard.call(LAZY, "loading"):
        handler = logging.StreamHandler()
        log.addHandler(handler)
    try:
        log.warning("late")
    finally:
        log.removeHandler(handler)
    assert capsys.readouterr() == ("", "")
    assert guard.heard[("lazy", "1.0")] == Heard(1, "late")


def test_threads_of_plugins_do_not_reach_the_screen(capsys: pytest.CaptureFixture) -> None:
    """As long as the guard is there, also between two calls."""
    with Guard():
        thread = threading.Thread(target=sys.stdout.write, args=("late\n",))
        thread.start()
        thread.join()
    assert capsys.readouterr() == ("", "")


def test_the_author_of_a_check_may_see_what_it_prints(capsys: pytest.CaptureFixture) -> None:
    """With `quiet` off everything is as Python has it."""
    with Guard(quiet=False) as guard, guard.call(LAZY, "check x, chunk"):
        sys.stdout.write("points so far\n")
    assert capsys.readouterr().out == "points so far\n"
