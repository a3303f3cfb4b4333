"""What the point fingerprint adds to decoding, as a share of the decode time.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_fingerprint.py [--format 6] [--rounds 5]

Every round times, in one process and one thread, over one LAZ file of about two million points:

- decode: the decoder through laspy, every field, nothing kept: the limit;
- read: `read_points` with every field on the lattice;
- whole: `read_points` and the fingerprint;
- alone: the fingerprint over slices that are already in memory.

Trust the ratios within a round; the absolute times depend on the machine.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import laspy

from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.points import read_points
from ledger.testing import Layout, Scene, SurveyBuilder

SCENE = Scene(columns=1, tile_size=300.0, density=10.0, noise=0.01)
CHUNK = 1_000_000


def time_of(work: Callable[[], object]) -> float:
    """Return the seconds that `work` takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def decode(path: Path) -> None:
    """Decode every field and keep nothing."""
    with laspy.open(path, laz_backend=laspy.LazBackend.Lazrs) as reader:
        for _ in reader.chunk_iterator(CHUNK):
            pass


def measure(path: Path, rounds: int) -> dict[str, list[float]]:
    """Return the seconds of each kind of work, a round at a time."""
    header = read_las_header(path)
    lattice = choose_lattice(header)
    slices = list(read_points(path, header, lattice, DIMENSIONS))

    def read() -> None:
        for _ in read_points(path, header, lattice, DIMENSIONS):
            pass

    def whole() -> None:
        fingerprint = Fingerprint(lattice)
        for chunk in read_points(path, header, lattice, DIMENSIONS):
            fingerprint.add(chunk)

    def alone() -> None:
        fingerprint = Fingerprint(lattice)
        for chunk in slices:
            fingerprint.add(chunk)

    work = {"decode": lambda: decode(path), "read": read, "whole": whole, "alone": alone}
    times: dict[str, list[float]] = {name: [] for name in work}
    for _ in range(rounds):
        for name, one in work.items():
            times[name].append(time_of(one))
    return times


def main() -> None:
    """Make the file, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--format", type=int, default=6)
    parser.add_argument("--rounds", type=int, default=5)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        version = "1.4" if wanted.format >= 6 else "1.3"
        survey = SurveyBuilder(Path(folder), Layout(version, wanted.format), SCENE)
        points = survey.count_points()
        times = measure(survey.path(), wanted.rounds)
    print(f"point format {wanted.format}, {points} points, {wanted.rounds} rounds")  # noqa: T201
    for name, taken in times.items():
        shares = [one / limit for one, limit in zip(taken, times["decode"], strict=True)]
        nanoseconds = statistics.median(taken) / points * 1e9
        print(  # noqa: T201 - the result of a measurement
            f"{name:7} {statistics.median(shares):6.3f} of decode"
            f" ({min(shares):.3f} to {max(shares):.3f}), {nanoseconds:6.1f} ns a point"
        )


if __name__ == "__main__":
    main()
