"""Calls of the system that are refused, one at a time, and what has to hold afterwards.

    python tests/faults/refusals.py [--kind register]… [--error openat:EIO]… [--minutes 30]

runs each command again and again, and each time one call of it is refused: of a kind the first, the
second, and so on. The calls are those of the real command, the ones inside SQLite among them:
`strace` refuses them. The order is thrown with dice, so that a run that is stopped has met all
kinds; with `--figures FILE` the next run leaves out what was refused before, and adds to it.

A refused command has to say why in one line and end with status 2, or go on and be right; the book
has to be unbroken, hold what was told, hold nothing by halves, and take the next entry. A command
whose entry is in the book when it ends with 2 has to say so.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from judging import COMMANDS, Ended, Tally, judge, make_words, shorten
from kills import Bench, keep_figures
from nursery import Child, Nursery

from ledger.store.machine import HOME_VARIABLE, find_home
from ledger.store.reading import Book

# Calls of Linux by what they do, each with the errors that a drive, a share or a full disk gives.
CALLS = (
    "read:EIO",
    "read:EINTR",
    "pread64:EIO",
    "pread64:EINTR",
    "write:EIO",
    "write:ENOSPC",
    "write:EINTR",
    "pwrite64:EIO",
    "pwrite64:ENOSPC",
    "openat:EACCES",
    "openat:EIO",
    "openat:ENOSPC",
    "openat:EROFS",
    "openat:EMFILE",
    "openat:EINTR",
    "close:EIO",
    "close:EINTR",
    "lseek:EIO",
    "newfstatat:EIO",
    "newfstatat:EACCES",
    "getdents64:EIO",
    "mkdir:ENOSPC",
    "mkdir:EROFS",
    "rename:EIO",
    "rename:EACCES",
    "unlink:EACCES",
    "unlink:EROFS",
    "ftruncate:EIO",
    "fsync:EIO",
    "fsync:ENOSPC",
    "fdatasync:EIO",
    "fdatasync:ENOSPC",
    "fcntl:ENOLCK",
    "fchown:EPERM",
    "utimensat:EPERM",
    "fadvise64:EIO",
    "getcwd:ENOENT",
)
_ALIKE = 2
_NUMBERS = re.compile(r"\(\d+|= \d+$|0x[0-9a-f]+")  # descriptors and addresses
_HERE = re.compile(r"AT_FDCWD<[^>]*>")
_CALL = re.compile(r"^(\d+) +(\w+)\(")


@dataclass
class Sweep(Tally):
    """What came of a sweep that may be stopped and go on.

    Args:
        there: how many refusals there are.
        done: those that were tried, each by its command, call and number.
    """

    there: int = 0
    done: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Site:
    """One call of a command that is refused.

    Args:
        kind: the command.
        call: the call and its error.
        number: which of these calls it is, from 1, in each thread.
    """

    kind: str
    call: str
    number: int

    def __str__(self) -> str:
        return f"{self.kind} {self.call} {self.number}"


class Refusing:
    """Commands of one bench, each with one call refused."""

    def __init__(self, bench: Bench, nursery: Nursery, scratch: Path) -> None:
        """Take what commands run in.

        Args:
            bench: the job.
            nursery: where commands run.
            scratch: folder for what the refuser writes.
        """
        self.bench, self.nursery = bench, nursery
        self.log = scratch / "calls"

    def list_sites(self, kind: str, calls: tuple[str, ...]) -> Iterator[Site]:
        """Yield which calls of a command are for the user's files.

        Calls are counted in each thread by itself, from 1, as the refuser counts them. Of calls
        that are alike, such as opening one file again and again, the first and the second count.
        """
        alike: Counter[str] = Counter()
        self.lay_anew()
        names = ",".join(dict.fromkeys(call.split(":")[0] for call in calls))
        self.run(make_words(self.bench, kind), "-e", f"trace={names}")
        counts: Counter[tuple[str, str]] = Counter()
        found: dict[str, set[int]] = {}
        for line in self.read_log():
            if (match := _CALL.match(line)) is None:
                continue
            thread, name = str(match[1]), str(match[2])
            counts[thread, name] += 1
            if not self._concerns_us(line):
                continue
            text = _NUMBERS.sub("", line.partition(" ")[2])
            alike[text] += 1
            if alike[text] <= _ALIKE:
                found.setdefault(name, set()).add(counts[thread, name])
        for call in calls:
            for number in sorted(found.get(call.split(":")[0], ())):
                yield Site(kind, call, number)

    def refuse(self, site: Site, tally: Tally) -> None:
        """Refuse one call of a command."""
        name, error = site.call.split(":")
        self.lay_anew()
        words = make_words(self.bench, site.kind)
        with Book.open(self.bench.job) as book:
            before = book.size
        asked = f"inject={name}:error={error}:when={site.number}"
        ended = self.run(words, "-e", f"trace={name}", "-e", asked)
        refused = [line for line in self.read_log() if "(INJECTED)" in line]
        if not any(self._concerns_us(line) for line in refused):
            return
        tally.refused[site.kind] += 1
        tally.sites[site.call] += 1
        faults = judge(self.bench, site.kind, before, ended, tally)
        where = shorten(refused[0])
        tally.faults += [f"{site} ({where}): {each}" for each in faults]

    def _concerns_us(self, line: str) -> bool:
        """Say whether a call was for files of the user, not of the program or its streams."""
        places = (self.bench.base, self.bench.drive, find_home())
        named = _HERE.sub("", line)
        return any(f"{place}/" in named for place in places)

    def lay_anew(self) -> None:
        """Make the job what it was at the beginning."""
        self.bench.lay_anew()
        shutil.rmtree(self.bench.base / "another", ignore_errors=True)
        self.nursery.clear()

    def run(self, words: list[str], *options: str) -> Ended:
        """Run a command under the eyes of the refuser."""
        child = self.nursery.start(words, self.bench.job, held=True)
        refuser = subprocess.Popen(
            ["strace", "-f", "-y", "-p", str(child.pid), "-o", str(self.log), *options],
            stderr=subprocess.PIPE,
            text=True,
        )
        assert refuser.stderr is not None
        refuser.stderr.readline()  # it says when it is attached
        child.begin()
        status = self.nursery.wait(child).status
        refuser.stderr.close()
        refuser.wait()
        return read_ended(child, status)

    def read_log(self) -> list[str]:
        """Return what the refuser wrote down, a line a call."""
        return self.log.read_text(encoding="utf-8", errors="replace").splitlines()


def read_ended(child: Child, status: int) -> Ended:
    """Return how a child ended, with what it printed."""
    out, err = (path.read_text(encoding="utf-8") for path in (child.out, child.err))
    return Ended(status, out, err)


def refuse_all(
    base: Path,
    commands: tuple[str, ...],
    calls: tuple[str, ...],
    sweep: Sweep,
    figures: Path | None,
    minutes: float,
) -> None:
    """Refuse calls of commands, one at a time, until all were refused or the time is over.

    Args:
        base: an empty folder.
        commands: which.
        calls: calls of the system, each with its error.
        sweep: what an earlier run came to; added to.
        figures: file that the figures are kept in; None for none.
        minutes: how long.
    """
    for name in ("streams", "scratch", "bench"):
        (base / name).mkdir()
    end = time.monotonic() + 60 * minutes
    with Nursery(base / "streams") as nursery:
        bench = Bench(base / "bench")
        refusing = Refusing(bench, nursery, base / "scratch")
        sites = [site for kind in commands for site in refusing.list_sites(kind, calls)]
        random.Random(1).shuffle(sites)
        done = set(sweep.done)
        sweep.there = max(sweep.there, len({str(site) for site in sites} | done))
        for site in sites:
            if time.monotonic() > end:
                break
            if str(site) not in done:
                known = len(sweep.faults)
                refusing.refuse(site, sweep)
                sweep.done.append(str(site))
                _show(sweep, known)
                keep_figures(figures, sweep)
        bench.clear()


def _show(sweep: Sweep, known: int) -> None:
    new = "".join(f"\n{fault[:600]}\n" for fault in sweep.faults[known:])
    told = f"\r{len(sweep.done)} of {sweep.there} tried, {sweep.refused.total()} refused"
    sys.stdout.write(f"{new}{told}, {len(sweep.faults)} faults")
    sys.stdout.flush()


def read_sweep(figures: Path | None) -> Sweep:
    """Return what an earlier run came to; an empty sweep where there was none."""
    if figures is None or not figures.exists():
        return Sweep()
    kept = json.loads(figures.read_text(encoding="utf-8"))
    counted = {name: Counter(kept[name]) for name in ("refused", "sites", "outcome")}
    return Sweep(
        **counted,
        entered=kept["entered"],
        faults=kept["faults"],
        there=kept["there"],
        done=kept["done"],
    )


def describe(sweep: Sweep) -> Iterator[str]:
    """Yield the figures, a line each."""
    yield f"refused: {dict(sweep.refused)}"
    yield f"by call: {dict(sweep.sites)}"
    yield f"statuses: {dict(sorted(sweep.outcome.items()))}"
    yield f"refused after their entry was in the book, and said so: {sweep.entered}"
    yield from sweep.faults or ["everything held"]


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", action="append", choices=COMMANDS, default=[])
    parser.add_argument("--error", action="append", choices=CALLS, default=[])
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--figures", type=Path, help="file that the figures are kept in")
    options = parser.parse_args()
    sweep = read_sweep(options.figures)
    with tempfile.TemporaryDirectory() as name:
        os.environ[HOME_VARIABLE] = str(Path(name) / "home")
        kinds, calls = tuple(options.kind) or COMMANDS, tuple(options.error) or CALLS
        refuse_all(Path(name), kinds, calls, sweep, options.figures, options.minutes)
    sys.stdout.write("\n" + "\n".join(describe(sweep)) + "\n")
    return 1 if sweep.faults else 0


if __name__ == "__main__":
    sys.exit(_main())
