"""What the point fingerprint adds to decoding, as a share of the decode time.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_fingerprint.py [--format 6] [--rounds 5]

Every round times, in one process and one thread, over one LAZ file of four million points:

- decode: the decoder through laspy, every field, nothing kept: the limit;
- read: `read_points` with every field on the lattice;
- read and fingerprint: the same, and the fingerprint;
- fingerprint: the fingerprint over slices that are already in memory.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import laspy
from rounds import Clock, Line, Times, measure, show

from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.points import read_points
from ledger.testing import Layout, Scene, SurveyBuilder

SCENE = Scene(columns=1, tile_size=400.0, density=11.0, noise=0.01)
CHUNK = 1_000_000
LINES = [
    Line("decode", "decode"),
    Line("read", "decode"),
    Line("read and fingerprint", "decode"),
    Line("fingerprint", "decode", 0.10),
]


def decode(path: Path) -> None:
    """Decode every field and keep nothing."""
    with laspy.open(path, laz_backend=laspy.LazBackend.Lazrs) as reader:
        for _ in reader.chunk_iterator(CHUNK):
            pass


def measure_file(path: Path, rounds: int, clock: Clock = time.perf_counter) -> Times:
    """Return the seconds of each kind of work."""
    header = read_las_header(path)
    lattice = choose_lattice(header)
    slices = list(read_points(path, header, lattice, DIMENSIONS))

    def read() -> None:
        for _ in read_points(path, header, lattice, DIMENSIONS):
            pass

    def read_and_fingerprint() -> None:
        fingerprint = Fingerprint(lattice)
        for chunk in read_points(path, header, lattice, DIMENSIONS):
            fingerprint.add(chunk)

    def fingerprint() -> None:
        value = Fingerprint(lattice)
        for chunk in slices:
            value.add(chunk)

    work = {
        "decode": lambda: decode(path),
        "read": read,
        "read and fingerprint": read_and_fingerprint,
        "fingerprint": fingerprint,
    }
    return measure(work, rounds, clock=clock)


def make_file(folder: Path, point_format: int = 6) -> tuple[Path, int]:
    """Make a file, and return its path and its points."""
    version = "1.4" if point_format >= 6 else "1.3"
    survey = SurveyBuilder(folder, Layout(version, point_format), SCENE)
    return survey.path(), survey.count_points()


def main() -> None:
    """Make the file, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--format", type=int, default=6)
    parser.add_argument("--rounds", type=int, default=5)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path, points = make_file(Path(folder), wanted.format)
        times = measure_file(path, wanted.rounds)
    show(f"point format {wanted.format}, {points} points", times, LINES)


if __name__ == "__main__":
    main()
