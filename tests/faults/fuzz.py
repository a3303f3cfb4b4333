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
import hashlib
import importlib
import importlib.util
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

LONGEST_S = 5.0
MOST_BYTES = 512 << 20
_ATHERIS = "atheris"
_TOLD_EVERY_S = 2.0
_FATAL = 3
_MERCY_S = 60.0
_STUCK_S = 60  # by the clock of a computer that others use, too
_SHORTEST_S = 15.0
_LOOKS_EVERY_S = 0.1
_MOST_INPUT = 1 << 16


@dataclass
class Stats:
    """What one process did.

    Args:
        inputs: how many inputs were fed.
        guided: how many of them were altered by what they cover.
        faults: how often each fault was met, by the name under which it is kept.
        peak_bytes: most memory that was resident.
        slowest_s: longest time of an input, seconds.
        seconds: how long it ran.
    """

    inputs: int = 0
    guided: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    peak_bytes: int = 0
    slowest_s: float = 0.0
    seconds: float = 0.0


class Feeder:
    """Feeds one target, measures, and keeps what fails."""

    def __init__(self, name: str, kept: Path, *, guided: bool) -> None:
        """Begin with nothing fed.

        Args:
            name: the target.
            kept: folder for failing inputs and for the figures.
            guided: whether inputs are altered by what they cover.
        """
        from fuzztargets import TARGETS  # noqa: PLC0415 - after the instruments are laid

        self.name, self.kept, self.guided = name, kept, guided
        self.target = TARGETS[name]
        self.stats = Stats()
        self.begun = self.told = time.monotonic()
        self.scratch = Path(tempfile.mkdtemp(prefix="fed"))

    def warm_up(self) -> None:
        """Feed what loads the parts of the program that the target needs; it is not measured."""
        folder = self.scratch / "now"
        folder.mkdir()
        self.target.feed(next(iter(self.target.seeds())), folder)
        shutil.rmtree(folder)

    def feed(self, content: bytes) -> None:
        """Feed one input; never raises but for what stops the process."""
        folder = self.scratch / "now"
        folder.mkdir()
        (self.kept / f"{self.name}.running").write_bytes(content)
        signal.setitimer(signal.ITIMER_PROF, _STUCK_S)  # ends a process that stands still
        begun = time.process_time()  # others may be using the computer
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                self.target.feed(content, folder)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is a fault
            self._keep(content, name_fault(error), traceback.format_exc())
        finally:
            shutil.rmtree(folder, ignore_errors=True)
        self._measure(content, time.process_time() - begun)

    def _measure(self, content: bytes, taken: float) -> None:
        stats = self.stats
        stats.inputs += 1
        stats.guided += self.guided
        stats.slowest_s = max(stats.slowest_s, taken)
        if taken > LONGEST_S:
            self._keep(content, "slow", f"{taken:.1f} s")
        if measure_peak() > MOST_BYTES:
            self._keep(content, "memory", f"{measure_peak() >> 20} MiB")
            self.write()
            os._exit(_FATAL)  # the peak stays with the process: the next one begins anew
        if time.monotonic() - self.told > _TOLD_EVERY_S:
            self.write()

    def _keep(self, content: bytes, fault: str, told: str) -> None:
        self.stats.faults[fault] += 1
        path = self.kept / f"{self.name}-{fault}"
        if not path.exists() or path.stat().st_size > len(content):
            path.write_bytes(content)
            path.with_suffix(".txt").write_text(told, encoding="utf-8")
        self.write()

    def write(self) -> None:
        """Write the figures, so that they outlive this process."""
        stats = self.stats
        stats.peak_bytes = measure_peak()
        self.told = time.monotonic()
        stats.seconds = self.told - self.begun
        text = json.dumps(vars(stats) | {"faults": dict(stats.faults)})
        place = self.kept / f"{self.name}.{os.getpid()}.json"
        place.with_suffix(".part").write_text(text, encoding="utf-8")
        place.with_suffix(".part").replace(place)


def name_fault(error: BaseException) -> str:
    """Return a name for a fault: its kind, and the innermost line of ours that it came from."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [each for each in frames if f"{os.sep}ledger{os.sep}" in each.filename]
    place = (ours or frames)[-1]
    told = f"{type(error).__name__}-{Path(place.filename).stem}-{place.name}-{place.lineno}"
    if type(error).__name__ == "BrokenCheckError":
        told += "-" + "".join(sign for sign in str(error)[:40] if sign.isalnum())
    return told


def measure_peak() -> int:
    """Return the most memory that was resident in this process, bytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def bound_memory() -> None:
    """Refuse memory far beyond what this process holds now, so that the computer stays usable."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    room = pages * resource.getpagesize() + 2 * MOST_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (room, room))


# One process.


def work(name: str, seconds: float, kept: Path, seed: int, *, guided: bool) -> None:
    """Feed one target for some time, and never come back."""
    if not guided:
        feeder = Feeder(name, kept, guided=False)
        feeder.warm_up()
        bound_memory()
        feed_blindly(feeder, seconds, seed)
        return
    atheris = importlib.import_module(_ATHERIS)
    with atheris.instrument_imports(include=["ledger", "lidar_checks"]):
        feeder = Feeder(name, kept, guided=True)
        feeder.warm_up()
        corpus = lay_corpus(feeder, kept)
        bound_memory()
        options = [
            f"-max_total_time={int(seconds)}",
            f"-timeout={_STUCK_S}",
            f"-report_slow_units={_STUCK_S}",
            "-rss_limit_mb=0",
            f"-max_len={_MOST_INPUT}",
            f"-seed={seed}",
            f"-artifact_prefix={kept}/{name}-stopped-",
            "-print_final_stats=0",
            "-verbosity=0",
            "-reload=0",
        ]
        if feeder.target.words:  # the library refuses an empty list
            options.append(f"-dict={write_words(feeder, kept)}")

        def alter_one(content: bytes, most: int, number: int) -> bytes:
            if number % 2 and feeder.target.reshape is not None:
                return feeder.target.alter(content, random.Random(number))[:most]
            altered: bytes = atheris.Mutate(content, most)
            return altered

        words = [sys.argv[0], *options, str(corpus)]
        atheris.Setup(words, feeder.feed, custom_mutator=alter_one)
        atheris.Fuzz()


def lay_corpus(feeder: Feeder, kept: Path) -> Path:
    """Write the seeds where the library looks for them; what an earlier run found stays."""
    corpus = kept / "corpus" / feeder.name
    corpus.mkdir(parents=True, exist_ok=True)
    for content in feeder.target.seeds():
        (corpus / hashlib.sha256(content).hexdigest()[:16]).write_bytes(content)
    return corpus


def write_words(feeder: Feeder, kept: Path) -> Path:
    """Write the words of a format as the library reads them."""
    path = kept / f"{feeder.name}.words"
    rows = ['"' + "".join(f"\\x{byte:02x}" for byte in word) + '"' for word in feeder.target.words]
    path.write_text("\n".join(rows), encoding="ascii")
    return path


def feed_blindly(feeder: Feeder, seconds: float, seed: int) -> None:
    """Alter seeds, and what was found to cover more, without looking what they cover now."""
    dice = random.Random(seed)
    corpus = lay_corpus(feeder, feeder.kept)
    seeds = [path.read_bytes() for path in sorted(corpus.iterdir())]
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        feeder.feed(feeder.target.alter(dice.choice(seeds), dice)[:_MOST_INPUT])
    feeder.write()


# All of them.


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
    if importlib.util.find_spec(_ATHERIS) is None:
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
    if ended in (None, 0, _FATAL):  # none: a busy computer; one input alone ends far earlier
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
