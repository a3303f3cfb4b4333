"""What registering a folder costs, against SHA-256 of the same bytes in memory.

Not a test: a measurement, run by hand on a quiet machine, with the files in the page cache.

    python tests/bench/bench_register.py [--mebibytes 1024] [--files 16] [--rounds 5]

Every round registers the folder into a book of its own: digests, facts and entry. Registering
reads two files at a time, so that its limit is half the time of one thread; the ratio with one
thread is that of `bench_fixity.py`.
"""

from __future__ import annotations

import argparse
import hashlib
import itertools
import os
import tempfile
from pathlib import Path

from rounds import Line, Times, measure, show

from ledger.fixity import PIECE_BYTES, read_many
from ledger.model.ask import NoProgress
from ledger.register import RegisterOptions, register_paths
from ledger.start import start_job

MEMORY = "memory, 1 thread"


def hash_memory(contents: list[bytes]) -> None:
    """Hash bytes that are in memory, in pieces."""
    for content in contents:
        digest, view = hashlib.sha256(), memoryview(content)
        for start in range(0, len(view), PIECE_BYTES):
            digest.update(view[start : start + PIECE_BYTES])


LINES = [
    Line(MEMORY, MEMORY),
    Line("digests, 1 thread", MEMORY, 1.05),
    Line("digests, 2 threads", MEMORY, 1 / 1.8),
    Line("register", MEMORY, 1 / 1.8),
    Line("register", "digests, 2 threads"),
]


def measure_register(folder: Path, mebibytes: int, files: int, rounds: int) -> Times:
    """Return the seconds of hashing memory, of digests, and of registering."""
    size = (mebibytes << 20) // files
    raw = folder / "raw"
    raw.mkdir(parents=True)
    contents = [os.urandom(size) for _ in range(files)]
    paths = [raw / f"capture_{number}.bin" for number in range(files)]
    for path, content in zip(paths, contents, strict=True):
        path.write_bytes(content)
    jobs = (start_job(folder / f"job_{number}").folder for number in itertools.count())
    fresh: list[Path] = []
    work = {
        MEMORY: lambda: hash_memory(contents),
        "digests, 1 thread": lambda: list(read_many(paths, threads=1)),
        "digests, 2 threads": lambda: list(read_many(paths, threads=2)),
        "register": lambda: register_paths(fresh.pop(), [raw], RegisterOptions(), NoProgress()),
    }
    return measure(work, rounds, prepare=lambda: fresh.append(next(jobs)))


def main() -> None:
    """Make the files, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--mebibytes", type=int, default=1024)
    parser.add_argument("--files", type=int, default=16)
    parser.add_argument("--rounds", type=int, default=5)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        os.environ["SWATHBOOK_HOME"] = name
        times = measure_register(Path(name), wanted.mebibytes, wanted.files, wanted.rounds)
    show(f"{wanted.files} files, {wanted.mebibytes} MiB", times, LINES)


if __name__ == "__main__":
    main()
