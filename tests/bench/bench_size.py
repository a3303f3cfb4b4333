"""What a full audit takes with the size of a delivery: greatest memory and time, and their slopes.

Not a test: a measurement, run by hand.

    python tests/bench/bench_size.py [--points 1e6 1e7 1e8] [--tiles 1 10 100 500] [--density 8]

Tiles of points strewn at random over rolling ground, in two passes, are written one by one, and a
fresh process audits them with every point check on. Memory is the most that this process ever held.
Slopes are taken between the two largest sizes (below them buffers and samples still fill) and
carried on to 2 · 10⁹ points. What is kept grows with the area, so that it is given by the square
metre too.

The largest size of the default needs some 1.5 GB on the disk for the system's temporary files, and
an hour.
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import psutil
from bench_audit import SPECIFICATION

from ledger.audit.running import audit_folder
from ledger.model.ask import NoProgress
from ledger.model.audit import AuditOptions
from ledger.start import start_job
from ledger.testing import Layout
from ledger.testing.layout import write_points

SLICE = 500_000
PASSES = 2
FAR = 2_000_000_000
# Four bytes a square metre, and sixteen for each source in it.
GRID_BYTES = 4 + 16 * PASSES
BUDGET_MIB = 256
WISHES = f"{SPECIFICATION}\n[criteria.voids]\narea_min_m2 = 1.96\n"
Points = dict[str, Any]


def make_slices(corner: tuple[float, float], side: float, points: int) -> Iterator[Points]:
    """Yield the points of one tile in slices, pass after pass, from south to north."""
    random = np.random.default_rng([int(each) for each in corner])
    for number in range(PASSES):
        whole, done = points // PASSES, 0
        while done < whole:
            count = min(SLICE, whole - done)
            x = corner[0] + random.uniform(0.002, side - 0.002, count)
            along = np.sort(done + random.uniform(0, count, count)) / whole
            y = corner[1] + np.clip(along * side, 0.002, side - 0.002)
            tall = random.random(count) < 0.2
            ground = 20 + 2 * np.sin(x / 70) * np.cos(y / 55) + random.normal(0, 0.01, count)
            yield {
                "x": x,
                "y": y,
                "z": ground + tall * random.uniform(1, 9, count),
                "return_number": np.ones(count, dtype=np.uint8),
                "number_of_returns": np.where(tall, 2, 1).astype(np.uint8),
                "classification": np.where(tall, 5, 2).astype(np.uint8),
                "gps_time": 3e8 + number * 1e4 + along * side / 5 + y / 5,
                "point_source_id": np.full(count, number + 1, dtype=np.uint16),
                "intensity": random.integers(1_000, 60_000, count).astype(np.uint16),
            }
            done += count


def write_tiles(folder: Path, points: int, tiles: int, density: float) -> None:
    """Write the tiles of one delivery, about square."""
    folder.mkdir(parents=True, exist_ok=True)
    side, columns = (points / tiles / density) ** 0.5, max(1, round(tiles**0.5))
    for tile in range(tiles):
        corner = 500_000 + tile % columns * side, 3_100_000 + tile // columns * side
        slices = make_slices(corner, side, points // tiles)
        path = folder / f"tile_{tile:03}.laz"
        first = next(slices)
        write_points(path, first, Layout())
        with laspy.open(path) as reader:
            header = reader.header
        with laspy.open(path, "w", header=header, laz_backend=laspy.LazBackend.Lazrs) as writer:
            for each in itertools.chain([first], slices):
                record = laspy.ScaleAwarePointRecord.zeros(len(each["x"]), header=header)
                for name, values in each.items():
                    record[name] = values
                writer.write_points(record)


def read_peak() -> int:
    """Return the most memory that this process ever held, bytes."""
    told = Path("/proc/self/status")
    if told.exists():
        for line in told.read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    told_by_windows: Any = psutil.Process().memory_info()
    return int(told_by_windows.peak_wset)


def audit(job: Path, answer: Any) -> None:
    """Audit a job in this process, and tell memory, bytes, seconds and points."""
    started = time.process_time()
    result = audit_folder(job, job / "out", AuditOptions(workers=1), NoProgress())
    if result.plugin_faults:
        raise SystemExit(f"a check broke: {result.plugin_faults}")
    answer.put((read_peak(), time.process_time() - started, result.points))


def measure(home: Path, points: int, tiles: int, density: float) -> tuple[float, float]:
    """Return memory, MiB, and processor seconds of one audit."""
    with tempfile.TemporaryDirectory(dir=home) as name:
        job = start_job(Path(name) / "job").folder
        (job / "job.toml").write_text(WISHES, encoding="utf-8")
        write_tiles(job / "out", points, tiles, density)
        context = multiprocessing.get_context("spawn")
        answer = context.Queue()
        worker = context.Process(target=audit, args=(job, answer))
        worker.start()
        worker.join()
        if worker.exitcode:
            raise SystemExit(f"the audit ended with status {worker.exitcode}")
        peak, seconds, read = answer.get()
    if read < points * 0.99:
        raise SystemExit(f"{read:,} of {points:,} points were read")
    return peak / 2**20, seconds


def tell_slope(sizes: list[int], told: list[tuple[float, float]], density: float) -> None:
    """Print what a million points more take, and that carried on."""
    more = (sizes[-1] - sizes[-2]) / 1e6
    memory, seconds = ((told[-1][n] - told[-2][n]) / more for n in (0, 1))
    far = (FAR - sizes[-1]) / 1e6
    area = FAR / density / 1e6
    sys.stdout.write(
        f"{'slope':>13} {memory:.3f} MiB and {seconds:.2f} s a million points, "
        f"{memory * 2**20 * density / 1e6:.2f} bytes a m²\n"
        f"{'2·10⁹':>13} {told[-1][0] + memory * far:,.0f} MiB over {area:,.0f} km²; allowed "
        f"{BUDGET_MIB + GRID_BYTES * area * 1e6 / 2**20:,.0f}\n"
    )


def main() -> None:
    """Measure every size with every number of tiles."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--points", type=float, nargs="+", default=[1e6, 1e7, 1e8])
    parser.add_argument("--tiles", type=int, nargs="+", default=[1, 10, 100, 500])
    parser.add_argument("--density", type=float, default=8.0, help="points a square metre")
    wanted = parser.parse_args()
    sizes = sorted(int(each) for each in wanted.points)
    with tempfile.TemporaryDirectory() as name:
        os.environ["SWATHBOOK_HOME"] = name
        for tiles in wanted.tiles:
            told = []
            for points in sizes:
                told.append(measure(Path(name), points, tiles, wanted.density))
                memory, seconds = told[-1]
                size = f"{points:>13,} points, {tiles:>3} tiles"
                each = 1e9 * seconds / points
                sys.stdout.write(f"{size}: {memory:6.0f} MiB, {each:6.0f} ns a point\n")
                sys.stdout.flush()
            if len(sizes) > 1:
                tell_slope(sizes, told, wanted.density)


if __name__ == "__main__":
    main()
