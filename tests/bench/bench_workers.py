"""What more processes gain in an audit, and from how many points on.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_workers.py [--rounds 3] [--tiles 20] [--one] [--workers 2]

An audit of LAZ tiles of a million points each, every point check on, with one process and with
more, in turn, each in processes of its own. One process decodes on all cores if nothing is said;
with one thread it is what a process more is worth. With `--one` the points lie in one file, which
is read in spans. `--sizes` looks for the number of points from which a second process pays. Beside
the time on the clock stands the processor's time of all processes together: on a machine that
others use, the clock says less.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import alone
import psutil
from bench_audit import make_job
from rounds import Line, Times, show

from ledger.testing import Scene

DECODE = "decode, 1 thread"
DECODE_BOTH = "decode, 2 processes"
ONE = "1 process"
ONE_THREAD = "1 process, 1 thread"
TWO = "2 processes"


@dataclass
class Shared:
    """What was measured.

    Args:
        points: points of the delivery.
        clock: seconds by the wall.
        spent: processor seconds of all processes together.
        mebibytes: the most that the processes of an audit ever held, added up.
    """

    points: int
    clock: Times = field(default_factory=dict)
    spent: Times = field(default_factory=dict)
    mebibytes: dict[str, float] = field(default_factory=dict)


def measure_job(folder: Path, scene: Scene, workers: Sequence[int], rounds: int) -> Shared:
    """Return what audits of one delivery take, by how they are shared out."""
    job, survey = make_job(folder, scene)
    half = -(-len(survey.paths) // 2)
    paths = [str(path) for path in survey.paths]
    halves = [["decode", *some] for some in (paths[:half], paths[half:]) if some]
    work: dict[str, Callable[[], alone.Told]] = {
        DECODE: partial(alone.run, ["decode", *paths]),
        DECODE_BOTH: partial(alone.run, *halves),
        ONE_THREAD: partial(alone.run, _audit(job, 1), threads=1),
        **{_name(count): partial(alone.run, _audit(job, count)) for count in (1, *workers)},
    }
    found = Shared(survey.count_points())
    work[DECODE]()
    for _ in range(rounds):
        for name, one in work.items():
            before = _read_processor()
            told = one()
            found.clock.setdefault(name, []).append(told.seconds)
            found.spent.setdefault(name, []).append(_read_processor() - before)
            found.mebibytes[name] = max(found.mebibytes.get(name, 0.0), told.mebibytes)
    return found


def _audit(job: Path, workers: int) -> list[str]:
    return ["audit", str(job), "--workers", str(workers)]


def _name(count: int) -> str:
    return ONE if count == 1 else f"{count} processes"


def make_row(millions: float, *, one_file: bool = False) -> Scene:
    """Return a row of tiles of a million points each, in two passes, or one file of them all."""
    if one_file or millions < 1:
        return Scene(columns=1, rows=1, tile_size=(millions * 40_000) ** 0.5, density=11.0)
    return Scene(columns=round(millions), rows=1, tile_size=200.0, density=11.0)


def _read_processor() -> float:
    """Return the processor seconds of this process and of those that it started and that ended."""
    times = psutil.Process().cpu_times()
    return times.user + times.system + times.children_user + times.children_system


def main() -> None:
    """Make the points, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--tiles", type=int, default=20, help="millions of points")
    parser.add_argument("--one", action="store_true", help="all points in one file")
    parser.add_argument("--workers", type=int, nargs="*", default=[2])
    parser.add_argument("--sizes", type=float, nargs="*", help="millions of points, one by one")
    wanted = parser.parse_args()
    sizes = wanted.sizes or [wanted.tiles]
    with tempfile.TemporaryDirectory() as name:
        os.environ["SWATHBOOK_HOME"] = name
        for number, size in enumerate(sizes):
            scene = make_row(size, one_file=wanted.one)
            folder = Path(name) / str(number)
            found = measure_job(folder, scene, wanted.workers, wanted.rounds)
            lines = [Line(each, ONE_THREAD) for each in found.clock]
            lines.append(Line(TWO, DECODE_BOTH, 1.35))
            title = f"audit of {found.points:,} points"
            show(f"{title}, on the clock", found.clock, lines)
            show(f"{title}, time of the processor", found.spent, lines[:-1])
            held = ", ".join(f"{each} {most:.0f}" for each, most in found.mebibytes.items())
            print(f"most memory, MiB: {held}")  # noqa: T201 - the result of a measurement


if __name__ == "__main__":
    main()
