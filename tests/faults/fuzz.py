"""Readers and commands that are fed with bytes nobody can trust, for as long as one likes.

    python tests/faults/fuzz.py [--minutes 30] [--guided 0.3] [--target las]… [--keep FOLDER]

With 0 minutes nothing is fed, and what is kept in the folder is summed up: figures add up from run
to run. Each target runs in processes of its own, whose memory is bounded. For the first part of
its time what covers new lines of the program is altered further, where the library `atheris` is
there; its instruments take most of the time. For the rest whatever was found so far is altered
blindly, far more of it. An input fails when anything but an error of ours comes of it, when it
takes longer than 5 s, or when the process grows beyond 512 MiB. Failing inputs are written to the
folder, each beside its traceback; the same fault is kept once.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.util
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from fuzzfeeder import ATHERIS, FATAL, Stats, work

_MERCY_S = 60.0
_SHORTEST_S = 15.0
_LOOKS_EVERY_S = 0.1


def fuzz(names: list[str], minutes: float, share: float, kept: Path, seed: int) -> dict[str, Stats]:
    """Feed targets one after the other, in processes of their own.

    Args:
        names: the targets.
        minutes: for all of them together.
        share: of the time, to be guided by what inputs cover; none where that library is absent.
        kept: folder for what fails and for the figures.
        seed: what the dice begin with.
    """
    each = 60 * minutes / len(names)
    if importlib.util.find_spec(ATHERIS) is None:
        share = 0.0
    for name in names if minutes else ():
        for part, guided in ((share, True), (1 - share, False)):
            end = time.monotonic() + each * part
            turn = 0
            while part and ((left := end - time.monotonic()) > _SHORTEST_S or not turn):
                turn += 1
                _start(name, left, kept, seed * 1000 + turn, guided=guided)
    return {name: gather(name, kept) for name in names}


def _start(name: str, seconds: float, kept: Path, seed: int, *, guided: bool) -> None:
    """Run one process to its end; what ended it is a fault like any other."""
    with tempfile.TemporaryDirectory(prefix="fuzz", dir=_find_fast_place()) as home:
        begin = _begin if guided else _fork
        process = begin(name, seconds, kept, seed, home)
        ended = _wait(process, seconds + _MERCY_S)
    if ended in (None, 0, FATAL):  # none: a busy computer; one input alone ends far earlier
        return
    stopped = kept / f"{name}-ended-{time.time_ns()}"
    stopped.touch()
    running = kept / f"{name}.running"
    if running.exists():
        running.replace(stopped)


def _begin(name: str, seconds: float, kept: Path, seed: int, home: str) -> int:
    """Begin a process that loads the program behind the instruments; return its number."""
    words = ["--work", name, "--seconds", f"{seconds:.0f}", "--keep", str(kept)]
    environment = os.environ | {"SWATHBOOK_HOME": home, "TMPDIR": home}
    with (kept / f"{name}.log").open("ab") as stream:
        process = subprocess.Popen(
            [sys.executable, __file__, *words, "--seed", str(seed)],
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=stream,
            stderr=stream,
        )
    process.returncode = 0  # it is waited for by its number
    return process.pid


def _fork(name: str, seconds: float, kept: Path, seed: int, home: str) -> int:
    """Begin a process that has the program loaded already; return its number."""
    import fuzztargets  # noqa: F401, PLC0415 - once for all

    pid = os.fork()
    if pid:
        return pid
    status = 70
    try:
        os.environ.update(SWATHBOOK_HOME=home, TMPDIR=home)
        tempfile.tempdir = home
        with (kept / f"{name}.log").open("ab") as stream:
            for number in (1, 2):
                os.dup2(stream.fileno(), number)
        work(name, seconds, kept, seed, guided=False)
        status = 0
    except BaseException:
        traceback.print_exc()
        raise
    finally:
        os._exit(status)


def _wait(pid: int, seconds: float) -> int | None:
    """Return the status that a process ended with; None where it was ended after that time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(_LOOKS_EVERY_S)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return None


def _find_fast_place() -> Path | None:
    """Return a folder in memory, where the system has one."""
    place = Path("/dev/shm")  # noqa: S108 - the folder made in it is our own
    return place if place.is_dir() else None


def gather(name: str, kept: Path) -> Stats:
    """Return what all processes of a target did together."""
    total = Stats()
    for path in kept.glob(f"{name}.[0-9]*.json"):
        found = json.loads(path.read_text(encoding="utf-8"))
        total.inputs += found["inputs"]
        total.guided += found["guided"]
        total.faults.update(found["faults"])
        total.peak_bytes = max(total.peak_bytes, found["peak_bytes"])
        total.slowest_s = max(total.slowest_s, found["slowest_s"])
        total.seconds += found["seconds"]
    stopped = [*kept.glob(f"{name}-ended-*"), *kept.glob(f"{name}-stopped-*")]
    total.faults.update({"ended": len(stopped)} if stopped else {})
    if not total.inputs:
        total.faults["nothing was fed"] = 1
    return total


def describe(found: dict[str, Stats]) -> Iterator[str]:
    """Yield a line for each target."""
    yield f"{'target':<14}{'inputs':>10}{'a second':>10}{'slowest s':>11}{'peak MiB':>10}  faults"
    for name, stats in found.items():
        rate = stats.inputs / stats.seconds if stats.seconds else 0.0
        faults = ", ".join(f"{fault} ×{times}" for fault, times in sorted(stats.faults.items()))
        yield (
            f"{name:<14}{stats.inputs:>10,}{rate:>10.0f}{stats.slowest_s:>11.2f}"
            f"{stats.peak_bytes >> 20:>10}  {faults or 'none'}"
        )
    total, guided = (sum(getattr(s, what) for s in found.values()) for what in ("inputs", "guided"))
    yield f"{'all':<14}{total:>10,}, {guided:,} of them altered by what they cover"


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--target", action="append", default=[])
    parser.add_argument("--guided", type=float, default=0.3, help="share of the time")
    parser.add_argument("--keep", type=Path, default=Path("fuzzed"))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--figures", type=Path, help="file that the figures are kept in")
    parser.add_argument("--work", help=argparse.SUPPRESS)
    parser.add_argument("--seconds", type=float, default=60.0, help=argparse.SUPPRESS)
    options = parser.parse_args()
    options.keep.mkdir(parents=True, exist_ok=True)
    if options.work:
        work(options.work, options.seconds, options.keep, options.seed, guided=True)
        return 0
    from fuzztargets import TARGETS  # noqa: PLC0415 - a worker loads it behind its instruments

    names = options.target or list(TARGETS)
    found = fuzz(names, options.minutes, options.guided, options.keep, options.seed)
    if options.figures is not None:
        values = {
            name: {**vars(stats), "faults": dict(stats.faults)} for name, stats in found.items()
        }
        told = {"targets": values, "day": f"{datetime.now(UTC):%Y-%m-%d}"}
        options.figures.write_text(json.dumps(told, indent=1), encoding="utf-8")
    sys.stdout.write("\n".join(describe(found)) + "\n")
    return 1 if any(stats.faults for stats in found.values()) else 0


if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[1] / name) for name in ("made", "faults")]
    sys.exit(_main())
