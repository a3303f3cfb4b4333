"""What more processes gain in an audit, and from how many points on.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_workers.py [--rounds 3] [--tiles 20] [--one]

An audit of LAZ tiles of a million points each, every point check on, with one process (which
decodes on all cores) and with more, in turn. With `--one` the points lie in one file, which is read
in spans. `--sizes` looks for the number of points from which a second process pays. Beside the time
on the clock stands the processor's time of all processes together: on a machine that others use,
the clock says less.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

import psutil
from bench_audit import make_job
from rounds import Line, Times, measure, show

from ledger.audit.running import audit_folder
from ledger.model.ask import NoProgress
from ledger.model.audit import AuditOptions
from ledger.testing import Scene

ONE = "1 process"


def measure_job(
    folder: Path, scene: Scene, workers: list[int], rounds: int
) -> tuple[Times, Times, int]:
    """Return seconds on the clock and of the processor, by number of workers, and the points."""
    job, survey = make_job(folder, scene)
    spent: Times = {}

    def audit(count: int) -> None:
        before = _read_processor()
        result = audit_folder(job, job / "out", AuditOptions(workers=count), NoProgress())
        spent.setdefault(_name(count), []).append(_read_processor() - before)
        if result.points != survey.count_points() or result.plugin_faults:
            raise SystemExit("the audit did not read every point")

    work = {_name(count): (lambda count=count: audit(count)) for count in (1, *workers)}
    measure(work, 1)
    spent.clear()
    return measure(work, rounds), spent, survey.count_points()


def _name(count: int) -> str:
    return ONE if count == 1 else f"{count} processes"


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
            scene = Scene(columns=max(1, round(size)), rows=1, tile_size=300.0, density=11.1)
            if wanted.one or size < 1:
                scene = Scene(columns=1, rows=1, tile_size=(size * 90_000) ** 0.5, density=11.1)
            folder = Path(name) / str(number)
            clock, spent, points = measure_job(folder, scene, wanted.workers, wanted.rounds)
            lines = [Line(each, ONE) for each in clock]
            show(f"audit of {points:,} points, on the clock", clock, lines)
            show(f"audit of {points:,} points, time of the processor", spent, lines)


if __name__ == "__main__":
    main()
