"""Calls of the system that are refused, one after the other, and what has to hold afterwards.

    python tests/faults/refusals.py [--kind register]… [--error openat:EIO]…

runs each command again and again: the first time its first call of a kind is refused, then its
second, until it gets through. The calls are those of the real command, the ones inside SQLite
among them: `strace` refuses them. Then the book and the copies get a limit of size and a drive of
so many bytes, in small steps. Printed is how many calls were refused and what did not hold.

A refused command has to say why in one line and end with status 2, or go on and be right; the book
has to be unbroken, hold what was told, hold nothing by halves, and take the next entry.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kills import KINDS, Bench, digest, keep_figures, read_entry
from nursery import Child, Nursery
from refusing import ERRORS, Refuser

from ledger.cli.frame import main
from ledger.errors import SwathbookError
from ledger.model.ask import NoProgress
from ledger.store.machine import HOME_VARIABLE, find_home
from ledger.store.reading import BOOK_NAME, Book

# Calls of Linux by what they do, each with the errors that a drive, a share or a full disk gives.
CALLS = (
    "fsync:EIO",
    "fdatasync:EIO",
    "ftruncate:EIO",
    "rename:EIO",
    "unlink:EACCES",
    "mkdir:ENOSPC",
    "write:ENOSPC",
    "write:EIO",
    "openat:EACCES",
    "openat:EIO",
    "openat:ENOSPC",
    "pwrite64:ENOSPC",
    "pwrite64:EIO",
    "pread64:EIO",
    "read:EIO",
    "utimensat:EPERM",
    "close:EIO",
    "lseek:EIO",
    "newfstatat:EIO",
)
COMMANDS = (*KINDS, "recheck", "start")
_ALIKE = 2
_NUMBERS = re.compile(r"\(\d+|= \d+$|0x[0-9a-f]+")  # descriptors and addresses
_HERE = re.compile(r"AT_FDCWD<[^>]*>")
STATUSES = (0, 1, 2, 3)
_CALL = re.compile(r"^(\d+) +(\w+)\(")


@dataclass
class Tally:
    """What came of all refusals.

    Args:
        refused: refused calls by command.
        sites: calls that were refused, by kind of call and error.
        entered: commands that said no after their entry was in the book.
        outcome: how often each status came.
        faults: what did not hold, one sentence each.
    """

    refused: Counter[str] = field(default_factory=Counter)
    sites: Counter[str] = field(default_factory=Counter)
    outcome: Counter[int] = field(default_factory=Counter)
    entered: int = 0
    faults: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Ended:
    """How a command ended, and what it printed."""

    status: int
    out: str
    err: str


def make_words(bench: Bench, kind: str) -> list[str]:
    """Return what is typed, beginning with the option that asks for an object."""
    if kind == "recheck":
        return ["--json", "recheck"]
    if kind == "start":
        return ["--json", "start", str(bench.base / "another")]
    return ["--json", *bench.make_command(kind)]


def judge(bench: Bench, before: int, ended: Ended, tally: Tally) -> list[str]:
    """Return what does not hold after a command that met a refusal.

    Args:
        bench: the job.
        before: entries before it.
        ended: how it ended.
        tally: is told how.
    """
    tally.outcome[ended.status] += 1
    faults = list(_judge_words(ended))
    try:
        with Book.open(bench.job) as book:
            after = book.size
    except SwathbookError as error:
        return [*faults, f"the book cannot be opened: {error}"]
    if after > before + 2:
        faults.append(f"one command entered {after - before}")
    if ended.status == 2 and after > before:
        tally.entered += 1
        told = read_object(ended.out)
        said = re.search(r"(\d+) \(\S+\) (is|are) in the book all the same", ended.err)
        if said is None or int(said[1]) != after or (told and told["entries"][-1:] != [after]):
            faults.append(f"entry {after} is in the book, which is not said: {ended.err.strip()}")
    elif "in the book all the same" in ended.err:
        faults.append(f"no entry is in the book, and it is said: {ended.err.strip()}")
    faults += _judge_copies(bench, ended)
    return faults + bench.list_faults(read_entry(ended.out))


def _judge_words(ended: Ended) -> Iterator[str]:
    """Yield what is wrong with what was said: a status, one line, an object."""
    if ended.status not in STATUSES:
        yield f"status {ended.status}"
    if "Traceback" in ended.err + ended.out:
        yield f"a traceback: {ended.err.strip().splitlines()[-1:]}"
    lines = ended.err.splitlines()
    if any(not line.startswith("swathbook: ") for line in lines):
        yield f"more than lines of ours: {lines}"
    if ended.status == 2 and len(lines) != 1:
        yield f"{len(lines)} lines for one refusal: {lines}"
    if ended.status != 2 and read_object(ended.out) is None:
        yield f"status {ended.status} and no object"


def _judge_copies(bench: Bench, ended: Ended) -> Iterator[str]:
    """Hold what was told of copies against what lies on the drive, and a copy of the book."""
    whole = [path for path in bench.drive.rglob("more_*.bin") if _is_copy(bench, path)]
    for told in (read_object(ended.out) or {}).get("drives", ()):
        if told["copied"] + told["found"] > len(whole):
            yield "more copies were told of than lie there whole"
    for path in bench.drive.rglob(BOOK_NAME):
        with Book.open(path) as book:
            if not book.check(NoProgress()).unbroken:
                yield "the copy of the book is broken"


def _is_copy(bench: Bench, path: Path) -> bool:
    source = bench.job / "raw" / path.name
    return source in bench.fixed and digest(path) == bench.fixed[source]


def read_object(text: str) -> dict[str, Any] | None:
    """Return the object that was printed; None where it is not whole."""
    try:
        found: dict[str, Any] = json.loads(text)
    except ValueError:
        return None
    return found


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
        self.tally = Tally()

    def list_sites(self, kind: str) -> dict[str, list[int]]:
        """Return which calls of a command are for the user's files, by name, each by its number.

        Calls are counted in each thread by itself, from 1, as the refuser counts them. Of calls
        that are alike, such as opening one file again and again, the first and the second count.
        """
        alike: Counter[str] = Counter()
        self.lay_anew()
        names = ",".join(dict.fromkeys(call.split(":")[0] for call in CALLS))
        self.run(make_words(self.bench, kind), "-e", f"trace={names}")
        counts: Counter[tuple[str, str]] = Counter()
        sites: dict[str, set[int]] = {}
        for line in self.read_log():
            if (found := _CALL.match(line)) is None:
                continue
            thread, name = str(found[1]), str(found[2])
            counts[thread, name] += 1
            if not self._concerns_us(line):
                continue
            text = _NUMBERS.sub("", line.partition(" ")[2])
            alike[text] += 1
            if alike[text] <= _ALIKE:
                sites.setdefault(name, set()).add(counts[thread, name])
        return {name: sorted(numbers) for name, numbers in sites.items()}

    def refuse_each(self, kind: str, call: str, numbers: list[int]) -> None:
        """Refuse one call of a command after the other."""
        name, error = call.split(":")
        for number in numbers:
            self.lay_anew()
            words = make_words(self.bench, kind)
            with Book.open(self.bench.job) as book:
                before = book.size
            asked = f"inject={name}:error={error}:when={number}"
            ended = self.run(words, "-e", f"trace={name}", "-e", asked)
            refused = [line for line in self.read_log() if "(INJECTED)" in line]
            if not any(self._concerns_us(line) for line in refused):
                continue
            self.tally.refused[kind] += 1
            self.tally.sites[call] += 1
            where = _shorten(refused[0])
            faults = judge(self.bench, before, ended, self.tally)
            self.tally.faults += [f"{kind}, {call} {number} ({where}): {each}" for each in faults]

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
        status = self.nursery.wait(child)
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


def _shorten(line: str) -> str:
    return " ".join(re.sub(r"/\S*/", "", line).split())[:90]


def refuse_all(
    base: Path,
    commands: tuple[str, ...] = COMMANDS,
    calls: tuple[str, ...] = CALLS,
    figures: Path | None = None,
) -> Tally:
    """Refuse every call of every command, one at a time.

    Args:
        base: an empty folder.
        commands: which.
        calls: calls of the system, each with its error.
        figures: file that the figures are kept in; None for none.
    """
    for name in ("streams", "scratch", "bench"):
        (base / name).mkdir()
    with Nursery(base / "streams") as nursery:
        bench = Bench(base / "bench")
        refusing = Refusing(bench, nursery, base / "scratch")
        sites = {kind: refusing.list_sites(kind) for kind in commands}
        for call in calls:
            for kind in commands:
                refusing.refuse_each(kind, call, sites[kind].get(call.split(":")[0], []))
                _show(refusing.tally, f"{kind} {call}")
                keep_figures(figures, refusing.tally)
        bench.clear()
    return refusing.tally


def refuse_here(bench: Bench, kind: str, step: int = 1, first: int = 1) -> Tally:
    """Refuse calls of a command from inside Python, each error in turn, until it gets through.

    Args:
        bench: the job.
        kind: which command.
        step: every so manieth call is refused.
        first: number of the first one that is.
    """
    tally = Tally()
    roots = (bench.job, bench.drive, bench.base / "another", find_home())
    number = first
    while True:
        bench.lay_anew()
        shutil.rmtree(bench.base / "another", ignore_errors=True)
        words = make_words(bench, kind)
        with Book.open(bench.job) as book:
            before = book.size
        error = ERRORS[number // step % len(ERRORS)]
        with Refuser(roots, number, error) as refuser:
            ended = _run_here(bench, words)
        if not refuser.refused:
            return tally
        tally.refused[kind] += 1
        tally.sites[f"{refuser.refused.split(' ')[0]}:{error}"] += 1
        where = f"{kind}, call {number} {error} ({_shorten(refuser.refused)})"
        tally.faults += [f"{where}: {each}" for each in judge(bench, before, ended, tally)]
        number += step


def _run_here(bench: Bench, words: list[str]) -> Ended:
    """Run a command in this process; whatever it raises is told as a traceback would be."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(bench.job),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            status = main(words)
        except Exception:  # noqa: BLE001 - any of them is a fault
            return Ended(70, out.getvalue(), traceback.format_exc())
    return Ended(status, out.getvalue(), err.getvalue())


def _show(tally: Tally, now: str) -> None:
    line = f"{tally.refused.total()} refused, {len(tally.faults)} faults; {now}"
    last = "".join(f"\n  {fault[:300]}" for fault in tally.faults[-1:])
    sys.stdout.write(f"{line}{last}\n")
    sys.stdout.flush()


def describe(tally: Tally) -> Iterator[str]:
    """Yield the figures, a line each."""
    yield f"refused: {dict(tally.refused)}"
    yield f"by call: {dict(tally.sites)}"
    yield f"statuses: {dict(sorted(tally.outcome.items()))}"
    yield f"refused after their entry was in the book: {tally.entered}"
    yield from tally.faults or ["everything held"]


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", action="append", choices=COMMANDS, default=[])
    parser.add_argument("--error", action="append", choices=CALLS, default=[])
    parser.add_argument("--figures", type=Path, help="file that the figures are kept in")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        os.environ[HOME_VARIABLE] = str(Path(name) / "home")
        tally = refuse_all(
            Path(name),
            tuple(options.kind) or COMMANDS,
            tuple(options.error) or CALLS,
            options.figures,
        )
    sys.stdout.write("\n".join(describe(tally)) + "\n")
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(_main())
