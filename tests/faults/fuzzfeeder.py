"""One process that feeds one target for some time, and measures it.

A guided one asks the library `atheris` what an input covers; it loads the program behind its
instruments.
"""

from __future__ import annotations

import hashlib
import importlib
import importlib.util
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

LONGEST_S = 5.0
MOST_BYTES = 512 << 20
ATHERIS = "atheris"
_TOLD_EVERY_S = 2.0
FATAL = 3
_STUCK_S = 60  # by the clock of a computer that others use, too
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
            os._exit(FATAL)  # the peak stays with the process: the next one begins anew
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
    atheris = importlib.import_module(ATHERIS)
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
