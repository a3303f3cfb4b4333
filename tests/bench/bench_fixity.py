"""What reading a file for its digest costs, against SHA-256 of the same bytes in memory.

Not a test: a measurement, run by hand on a quiet machine, with the files in the page cache.

    python tests/bench/bench_fixity.py [--mebibytes 512] [--rounds 5]
"""

from __future__ import annotations

import argparse
import hashlib
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from ledger.fixity import PIECE_BYTES, read_fixity, read_many


def time_of(work: Callable[[], object]) -> float:
    """Return the seconds that `work` takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def hash_memory(content: memoryview) -> None:
    """Hash bytes that are in memory, in pieces."""
    digest = hashlib.sha256()
    for start in range(0, len(content), PIECE_BYTES):
        digest.update(content[start : start + PIECE_BYTES])


def hash_by_library(path: Path) -> None:
    """Hash a file as the standard library does."""
    with path.open("rb") as stream:
        hashlib.file_digest(stream, "sha256")


def main() -> None:
    """Make two files, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--mebibytes", type=int, default=512)
    parser.add_argument("--rounds", type=int, default=5)
    wanted = parser.parse_args()
    content = os.urandom(1 << 20) * wanted.mebibytes
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / name for name in "ab"]
        for path in paths:
            path.write_bytes(content)
        work: dict[str, Callable[[], object]] = {
            "memory": lambda: hash_memory(memoryview(content)),
            "file_digest": lambda: hash_by_library(paths[0]),
            "read_fixity": lambda: read_fixity(paths[0]),
            "two files, 1 thread": lambda: list(read_many(paths, threads=1)),
            "two files, 2 threads": lambda: list(read_many(paths, threads=2)),
        }
        times: dict[str, list[float]] = {name: [] for name in work}
        for _ in range(wanted.rounds):
            for name, one in work.items():
                times[name].append(time_of(one))
    for name, taken in times.items():
        shares = [one / limit for one, limit in zip(taken, times["memory"], strict=True)]
        print(  # noqa: T201 - the result of a measurement
            f"{name:20} {statistics.median(shares):6.3f} of memory"
            f" ({min(shares):.3f} to {max(shares):.3f})"
        )


if __name__ == "__main__":
    main()
