"""What comparing two sets of points costs beside decoding them, and how much memory it takes.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_compare.py [--side 400] [--rounds 3]

Every round times, in processor seconds of one process, over two LAZ files of eleven points a square
metre: decoding both with every field; comparing a file with the same points in another order; and
comparing it with points that all moved, so that every partner is looked for and none is found.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

import laspy
import numpy as np
from rounds import Line, measure, show

from ledger.compare.setresult import Grade
from ledger.compare.sets import compare_sets
from ledger.compare.sides import read_folder
from ledger.fingerprint import DIMENSIONS
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.model.ask import NoProgress
from ledger.points import read_points
from ledger.testing import Layout, Scene, SurveyBuilder

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

SILENT = NoProgress()
LINES = [
    Line("decode both", "decode both"),
    Line("same points", "decode both"),
    Line("all moved", "decode both"),
]


def write_altered(source: Path, target: Path, *, moved: bool) -> Path:
    """Write the points of a file in another order, or each moved by some steps of its scale."""
    with laspy.open(source) as reader:
        las = reader.read()
    random = np.random.default_rng(1)
    if moved:
        las.Z = np.array(las.Z) + random.integers(1, 4, len(las.points)).astype(np.int32)
    else:
        las.points = las.points[random.permutation(len(las.points))]
    las.write(target)
    return target


def decode(*paths: Path) -> None:
    """Decode every field of every file onto the lattice, and keep nothing."""
    for path in paths:
        header = read_las_header(path)
        for _ in read_points(path, header, choose_lattice(header), DIMENSIONS):
            pass


def compare(first: Path, second: Path, *, same: bool) -> None:
    """Hold two files against each other; the answer has to be right."""
    sides = [read_folder(path, path.name, None, SILENT) for path in (first, second)]
    found = compare_sets(sides[0], sides[1], None, SILENT)
    if (found.grade is Grade.SAME_POINTS) is not same:
        raise SystemExit(f"the answer is wrong: {found.sentence}")


def main() -> None:
    """Make the files, measure, and print the ratios and the peak of the memory."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--side", type=float, default=400.0, help="of the site, metres")
    parser.add_argument("--rounds", type=int, default=3)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        scene = Scene(columns=1, tile_size=given.side, density=11.0, noise=0.01)
        first = SurveyBuilder(Path(folder), Layout(), scene).path(0)
        shuffled = write_altered(first, Path(folder) / "shuffled.laz", moved=False)
        moved = write_altered(first, Path(folder) / "moved.laz", moved=True)
        work = {
            "decode both": lambda: decode(first, shuffled),
            "same points": lambda: compare(first, shuffled, same=True),
            "all moved": lambda: compare(first, moved, same=False),
        }
        count = read_las_header(first).point_count
        times = measure(work, given.rounds, clock=time.process_time)
    show(f"{count:,} points a side, processor seconds", times, LINES)
    if resource is not None:
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        sys.stdout.write(f"peak of this process {peak} MiB, the making of the files included\n")


if __name__ == "__main__":
    main()
