"""Commands that are killed at random instants, and what has to hold afterwards.

    python tests/faults/kills.py [--kills 10000] [--seed 1] [--figures FILE]

prints how often each command was killed, how often in the middle of a write, and what was found;
what is in the file of figures counts, so that a run that was stopped goes on. Each command runs in
a process of its own, forked from one that has loaded the program, so that every kill falls into its
work; it sets a timer of the system that kills it. After each kill the book has to be unbroken, hold
every entry that a command told of, hold nothing by halves, and take the next entry; no raw,
delivered or copied file may be other than it was.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import hashlib
import io
import json
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from nursery import Doom, Nursery

from ledger.cli.frame import main
from ledger.model.ask import NoProgress
from ledger.store.machine import HOME_VARIABLE
from ledger.store.reading import BOOK_NAME, Book
from ledger.testing import Layout, Scene, SurveyBuilder

KINDS = ("register", "copy", "record", "audit", "amend", "decision", "seal", "handover")
_IN_WRITES = 0.5  # of the kills fall into a write
_WRITES = (1, 1, 1, 1, 1, 1, 1, 2)  # a command may write twice
_WRITE_S = 0.008
_REFUSED = 2
_KILLS_A_JOB = 20  # what is looked at after each kill grows with the book
_OTHER_DEVICES = (Path("/dev/shm"), Path("/var/tmp"))  # noqa: S108 - copies go to another drive


@dataclass
class Tally:
    """What came of all kills.

    Args:
        killed: kills by command; a command that ended before is not among them.
        ended: commands that ended before they could be killed.
        writing: kills while a write was under way.
        seconds: how long it took, with looking at what was found.
        faults: what did not hold, one sentence each.
    """

    killed: Counter[str] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)
    writing: int = 0
    seconds: float = 0.0
    faults: list[str] = field(default_factory=list)


class Bench:
    """A job, the commands that are typed in it, and what of it must not change."""

    def __init__(self, base: Path, dice: random.Random | None = None) -> None:
        """Make a job with a flight, a run, and a folder to be delivered."""
        self.base, self.dice = base, dice or random.Random(1)
        self.job = base / "job"
        self.drive = make_drive(base)
        run_here("start", self.job)
        (self.job / "raw").mkdir(exist_ok=True)
        for number in range(4):
            (self.job / "raw" / f"cap_{number}.bin").write_bytes(self.dice.randbytes(200_000))
        small = Scene(columns=1, density=0.5)
        SurveyBuilder(self.job / "out" / "R1", Layout(compressed=False), small)
        self._type("register", "raw", "--flight", "F1")
        self._type("record", "out/R1", "--input", "F1", "--set", "software=demo-proc")
        shutil.copytree(self.job / "out" / "R1", self.job / "deliver")
        self._type("audit", "deliver")
        self._type("seal")
        self._type("record", "decision", "R1", "undecided", "--reason", "not looked at yet")
        self.fixed = self._digest_files()
        self.number = 0
        shutil.copytree(self.job, base / "laid")

    def lay_anew(self) -> None:
        """Make the job what it was at the beginning; what is looked at grows with each command."""
        shutil.rmtree(self.job)
        shutil.copytree(self.base / "laid", self.job)
        for path in self.drive.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        self.fixed = self._digest_files()

    def moved(self, job: Path, drive: Path) -> Bench:
        """Return this bench with its job and its drive lying elsewhere."""
        bench = copy.copy(self)
        bench.job, bench.drive = job, drive
        bench.fixed = {
            job / path.relative_to(self.job): sha256 for path, sha256 in self.fixed.items()
        }
        return bench

    def clear(self) -> None:
        """Remove what lies outside the folder of the bench."""
        if not self.drive.is_relative_to(self.base):
            shutil.rmtree(self.drive)

    def _type(self, *words: str) -> None:
        status = run_here("--job", self.job, *(self._place(word) for word in words))
        if status == 2:
            raise AssertionError(f"the bench could not be laid: {' '.join(words)}")

    def _place(self, word: str) -> str:
        """Return a word with a path of the job made whole: this process stands elsewhere."""
        place = self.job / word
        return str(place) if place.exists() else word

    def make_command(self, kind: str) -> list[str]:
        """Return what is typed, so that it has something to enter each time."""
        self.number += 1
        number = self.number
        if kind in ("register", "copy"):
            fresh = self.job / "raw" / f"more_{number}.bin"
            fresh.write_bytes(self.dice.randbytes(300_000))
            self.fixed[fresh] = digest(fresh)
            to = ["--copy-to", str(self.drive)] if kind == "copy" else []
            return ["register", str(fresh), "--flight", "F1", *to]
        if kind == "record":
            place = self.job / "out" / f"K{number}"
            place.mkdir()
            (place / "surface.tif").write_bytes(b"II*\0" + self.dice.randbytes(2_000))
            return ["record", str(place), "--input", "F1", "--set", f"version={number}"]
        return {
            "audit": ["audit", "deliver"],
            "amend": ["amend", "R1", "--set", f"version={number}", "--reason", "typed wrong"],
            "decision": ["record", "decision", "R1", "accepted", "--reason", f"look {number}"],
            "seal": ["seal"],
            "handover": [
                *("handover", "deliver", "--to", f"client {number}", "--use", "tests"),
                *("--despite", "asked for"),
            ],
        }[kind]

    def _digest_files(self) -> dict[Path, str]:
        places = [*self.job.glob("raw/*"), *self.job.glob("out/R1/*"), *self.job.glob("deliver/*")]
        return {path: digest(path) for path in places if path.is_file()}

    def list_faults(self, told: int | None) -> list[str]:
        """Return what does not hold now.

        Args:
            told: number of the entry that the command told of; None when it was killed before.
        """
        faults = []
        with Book.open(self.job) as book:
            state = book.check(NoProgress())
            if not state.unbroken or state.derived_difference:
                faults.append(f"{state.sentence} {state.derived_difference}")
            if told is not None and told > state.entries:
                faults.append(f"entry {told} was told of and is not there")
            before = book.size
        again = ("record", "decision", "R1", "undecided", "--reason", f"look {self.number}")
        if run_here("--job", self.job, *again) != 0:
            faults.append("the next command does not work")
        with Book.open(self.job) as book:
            if book.size != before + 1:
                faults.append("the next command entered nothing")
        faults += [
            f"{path.name} changed" for path in self.fixed if digest(path) != self.fixed[path]
        ]
        faults += [
            f"the copy {path.name} is not what was copied"
            for path in self.drive.rglob("more_*.bin")
            if self.fixed[self.job / "raw" / path.name] != digest(path)
        ]
        return faults


def make_drive(base: Path) -> Path:
    """Return an empty folder on another device; in the bench itself where there is none."""
    for place in _OTHER_DEVICES:
        if place.is_dir() and place.stat().st_dev != base.stat().st_dev:
            return Path(tempfile.mkdtemp(dir=place))
    drive = base / "drive"
    drive.mkdir()
    return drive


def digest(path: Path) -> str:
    """Return the SHA-256 of a file, hex."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def run_here(*words: object) -> int:
    """Run a command in this process, its screen left aside."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        return main([str(word) for word in words])


def time_commands(bench: Bench, nursery: Nursery) -> dict[str, float]:
    """Return what each command takes when nobody kills it, seconds of processor time, by kind.

    A kind that the bench cannot run here, as a copy where there is no second device, is left out.
    """
    taken = {}
    for kind in KINDS:
        words = bench.make_command(kind)
        end = nursery.wait(nursery.start(["--json", *words], bench.job))
        if end.status != _REFUSED:
            taken[kind] = end.taken_s
    return taken


def kill_many(
    base: Path, kills: int, seed: int, tally: Tally, tell: Callable[[Tally], None] = lambda _: None
) -> None:
    """Kill commands until so many were killed, and say what did not hold.

    Args:
        base: an empty folder.
        kills: how many kills, with those that an earlier run made.
        seed: what the dice begin with.
        tally: what an earlier run came to; added to.
        tell: told how far it has come.
    """
    dice = random.Random(f"{seed} {tally.killed.total()}")
    streams = base / "streams"
    streams.mkdir()
    with Nursery(streams) as nursery:
        bench = Bench(base, dice)
        taken = time_commands(bench, nursery)
        while (left := kills - tally.killed.total()) > 0:
            begun = time.monotonic()
            bench.lay_anew()
            _kill_in(bench, nursery, taken, tally, min(left, _KILLS_A_JOB))
            tally.seconds += time.monotonic() - begun
            tell(tally)
        bench.clear()


def _kill_in(
    bench: Bench, nursery: Nursery, taken: dict[str, float], tally: Tally, kills: int
) -> None:
    """Kill commands in one job until so many more were killed."""
    end = tally.killed.total() + kills
    journal = bench.job / f"{BOOK_NAME}-journal"
    while tally.killed.total() < end:
        kind = bench.dice.choice(sorted(taken))
        words = ["--json", *bench.make_command(kind)]
        child = nursery.start(words, bench.job, doom=_throw(bench.dice, taken[kind]))
        ended = nursery.wait(child)
        told = child.out.read_text(encoding="utf-8")
        if ended.status < 0:
            tally.killed[kind] += 1
        else:  # what it takes hangs on what else this computer does
            tally.ended[kind] += 1
            taken[kind] += (ended.taken_s - taken[kind]) / 4
        tally.writing += _measure(journal) > 0
        found = bench.list_faults(read_entry(told))
        tally.faults += [f"{kind}, kill {tally.killed.total()}: {fault}" for fault in found]
        nursery.clear()


def _throw(dice: random.Random, taken_s: float) -> Doom:
    """Return when a command is killed: somewhere in its work, or somewhere in one of its writes."""
    if dice.random() < _IN_WRITES:
        return Doom(dice.uniform(0.0, _WRITE_S), dice.choice(_WRITES))
    return Doom(dice.uniform(0.0, taken_s))


def _measure(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def keep_figures(place: Path | None, tally: object) -> None:
    """Write what came of it so far, so that a run that is stopped is not lost."""
    if place is not None:
        values = {**vars(tally), "day": f"{datetime.now(UTC):%Y-%m-%d}", "cores": os.cpu_count()}
        part = place.with_suffix(".part")
        part.write_text(json.dumps(values, indent=1), encoding="utf-8")
        part.replace(place)


def read_figures(place: Path | None) -> Tally:
    """Return what an earlier run came to; an empty tally where there was none."""
    if place is None or not place.exists():
        return Tally()
    kept = json.loads(place.read_text(encoding="utf-8"))
    killed, ended = Counter(kept["killed"]), Counter(kept["ended"])
    return Tally(killed, ended, kept["writing"], kept["seconds"], kept["faults"])


def read_entry(told: str) -> int | None:
    """Return the entry that a command told of; None where it told nothing whole."""
    try:
        entry = json.loads(told).get("entry")
    except ValueError:
        return None
    return entry if isinstance(entry, int) else None


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--figures", type=Path, help="file that the figures are kept in")
    options = parser.parse_args()

    def tell(tally: Tally) -> None:
        rate = tally.killed.total() / tally.seconds
        told = f"\r{tally.killed.total()} killed, {rate:.1f} a second, {len(tally.faults)} faults"
        sys.stdout.write(told)
        sys.stdout.flush()
        keep_figures(options.figures, tally)

    with tempfile.TemporaryDirectory() as name:
        os.environ[HOME_VARIABLE] = str(Path(name) / "home")
        tally = read_figures(options.figures)
        kill_many(Path(name), options.kills, options.seed, tally, tell)
    sys.stdout.write(f"\nkilled: {dict(tally.killed)}\nended before: {dict(tally.ended)}\n")
    sys.stdout.write(f"in the middle of a write: {tally.writing}\n")
    sys.stdout.write("".join(f"{fault}\n" for fault in tally.faults) or "everything held\n")
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(_main())
