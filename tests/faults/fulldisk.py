"""A disk that runs full, and a file that may grow no further, at every 4 KiB of the work.

    python tests/faults/fulldisk.py [--kind register]… [--way ext4]… [--every 1] [--figures FILE]

types each command again and again, each time with 4 KiB more of room, until it gets through: on a
small file system of its own, in memory and as ext4 in a file (as root, who may mount one), and
with a limit of the length of any file, as old drives have it, from that of the book on. What runs
full is the job's disk, which the user's own folder lies on, or the drive that is copied to. While
there is no room things can be looked up; then room is made, and all is judged as any refusal is.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Self
from unittest import mock

from judging import COMMANDS, Tally, judge, make_words, run_ended
from kills import Bench, keep_figures, run_here

from ledger.store.machine import HOME_VARIABLE
from ledger.store.reading import BOOK_NAME, Book

STEP = 4096
WAYS = ("memory", "ext4", "length")
_DISK_BYTES = 24 << 20
_ENOUGH = 6  # so often in a row a command got through
_MOST_STEPS = 400


@dataclass
class Filled(Tally):
    """What came of all of it.

    Args:
        ways: how often each way met a command.
    """

    ways: Counter[str] = field(default_factory=Counter)


class SmallDisk:
    """A file system of a few MiB; use it as a context manager."""

    def __init__(self, base: Path, way: str) -> None:
        """Make it, not yet mounted.

        Args:
            base: folder that it is laid in.
            way: `memory` or `ext4`.
        """
        self.place = base / "disk"
        self.place.mkdir()
        self._filler = self.place / "filler"
        self._words = ["-t", "tmpfs", "-o", f"size={_DISK_BYTES}", "tmpfs"]
        if way == "ext4":
            image = base / "image"
            image.touch()
            os.truncate(image, _DISK_BYTES)
            run_tool("mkfs.ext4", "-q", "-F", "-m", "0", image)
            self._words = ["-o", "loop", str(image)]

    def __enter__(self) -> Self:
        run_tool("mount", *self._words, self.place)
        return self

    def __exit__(self, *_: object) -> None:
        run_tool("umount", self.place)

    @contextmanager
    def leaving(self, room: int) -> Iterator[None]:
        """Leave so many bytes free, within a block of the disk, for as long as the block lasts."""
        with self._filler.open("xb") as stream:
            for _ in range(8):  # what a filler needs for itself grows with it
                excess = self._find_free() - room
                if excess < STEP:
                    break
                end = stream.seek(0, os.SEEK_END)
                with contextlib.suppress(OSError):
                    os.posix_fallocate(stream.fileno(), end, excess // STEP * STEP)
        usage = shutil.disk_usage(self.place)._replace(free=_DISK_BYTES << 10)
        try:
            # Whoever asks before it begins finds room; other programs take it meanwhile.
            with mock.patch.object(shutil, "disk_usage", return_value=usage):
                yield
        finally:
            self._filler.unlink()

    def _find_free(self) -> int:
        found = os.statvfs(self.place)
        return found.f_bavail * found.f_frsize


def run_tool(*words: object) -> None:
    """Run a tool of the system.

    Raises:
        CalledProcessError: it refused.
        FileNotFoundError: there is none.
    """
    subprocess.run([str(word) for word in words], check=True, capture_output=True)


def can_mount(base: Path) -> bool:
    """Say whether a small disk can be had here."""
    try:
        with SmallDisk(base, "memory"):
            return True
    except (OSError, subprocess.CalledProcessError):
        return False
    finally:
        shutil.rmtree(base / "disk")


@contextmanager
def bounding_length(size: int) -> Iterator[None]:
    """Let no file of this process grow beyond so many bytes: a write is cut short there."""
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, most))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def fill(
    bench: Bench,
    kind: str,
    room: int,
    bounding: AbstractContextManager[None],
    tally: Filled,
    what: str,
) -> int:
    """Type a command where there is little room; return its status.

    Args:
        bench: the job.
        kind: the command.
        room: bytes that there are, for what is told.
        bounding: leaves so little room for as long as it lasts.
        tally: is told what did not hold.
        what: how the room is bounded.
    """
    bench.lay_anew()
    shutil.rmtree(bench.base / "another", ignore_errors=True)
    words = make_words(bench, kind)
    with Book.open(bench.job) as book:
        before = book.size
    with bounding:
        ended = run_ended(bench, words)
        looked = run_here("--job", bench.job, "trace", "R1")
    tally.refused[kind] += 1
    tally.ways[what] += 1
    faults = judge(bench, kind, before, ended, tally)
    if looked != 0:
        faults.append(f"nothing can be looked up while there is no room: status {looked}")
    tally.faults += [f"{kind}, {what}, {room} bytes: {each}" for each in faults]
    return ended.status


def sweep(
    bench: Bench,
    kind: str,
    disk: SmallDisk | None,
    tally: Filled,
    what: str,
    every: int = 1,
    most: int = _MOST_STEPS,
) -> None:
    """Give a command more and more room until it gets through.

    Args:
        bench: the job.
        kind: the command.
        disk: what runs full; None to bound the length of files.
        tally: is told what came of it.
        what: name of the way.
        every: steps of 4 KiB that are taken at once.
        most: steps at most.
    """

    def bound(room: int) -> AbstractContextManager[None]:
        return disk.leaving(room) if disk is not None else bounding_length(room)

    roomy = fill(bench, kind, _DISK_BYTES, bound(_DISK_BYTES), tally, what)
    bench.lay_anew()
    # A file that is longer than any may be cannot even be brought back to what it was.
    length = (bench.job / BOOK_NAME).stat().st_size if disk is None and kind != "start" else 0
    first, through = length // STEP, 0
    for number in range(first, first + most * every, every):
        room = number * STEP
        status = fill(bench, kind, room, bound(room), tally, what)
        through = through + 1 if status == roomy else 0
        if through == _ENOUGH:
            break


@contextmanager
def laid(base: Path, way: str) -> Iterator[tuple[Bench, Bench | None, SmallDisk | None]]:
    """Give a bench on a small disk, one whose drive lies there, and that disk.

    For a limit of length there is one bench, and no disk.
    """
    base.mkdir()
    before = os.environ.get(HOME_VARIABLE)
    with contextlib.ExitStack() as stack:
        disk = None if way == "length" else stack.enter_context(SmallDisk(base, way))
        place = base if disk is None else disk.place
        os.environ[HOME_VARIABLE] = str(place / "home")
        (place / "bench").mkdir()
        bench = Bench(place / "bench")
        stack.callback(bench.clear)
        other = None
        if disk is not None:
            (base / "beside").mkdir()
            other = Bench(base / "beside")
            other.clear()
            other.drive = place / "drive"
            other.drive.mkdir()
        yield bench, other, disk
    if before is not None:
        os.environ[HOME_VARIABLE] = before


def fill_all(
    base: Path,
    kinds: tuple[str, ...],
    ways: tuple[str, ...],
    every: int,
    figures: Path | None,
) -> Filled:
    """Fill disks under every command, in every way.

    Args:
        base: an empty folder.
        kinds: which commands.
        ways: which ways.
        every: steps of 4 KiB that are taken at once.
        figures: file that the figures are kept in; None for none.
    """
    tally = Filled()
    for way in ways:
        with laid(base / way, way) as (bench, other, disk):
            for kind in kinds:
                sweep(bench, kind, disk, tally, way, every)
                if other is not None and kind == "copy":
                    sweep(other, kind, disk, tally, f"{way}, the drive", every)
                _show(tally, f"{way} {kind}")
                keep_figures(figures, tally)
    return tally


def _show(tally: Filled, now: str) -> None:
    last = "".join(f"\n  {fault[:500]}" for fault in tally.faults[-1:])
    sys.stdout.write(f"{tally.refused.total()} typed, {len(tally.faults)} faults; {now}{last}\n")
    sys.stdout.flush()


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", action="append", choices=COMMANDS, default=[])
    parser.add_argument("--way", action="append", choices=WAYS, default=[])
    parser.add_argument("--every", type=int, default=1, help="steps of 4 KiB at once")
    parser.add_argument("--figures", type=Path, help="file that the figures are kept in")
    options = parser.parse_args()
    kinds, ways = tuple(options.kind) or COMMANDS, tuple(options.way) or WAYS
    with tempfile.TemporaryDirectory() as name:
        tally = fill_all(Path(name), kinds, ways, options.every, options.figures)
    sys.stdout.write(f"{dict(tally.ways)}, statuses {dict(tally.outcome)}\n")
    sys.stdout.write("".join(f"{fault}\n" for fault in tally.faults) or "everything held\n")
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(_main())
