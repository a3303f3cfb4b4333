"""What an audit of a delivery in object storage fetches, and what it takes beside one on a drive.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_remote.py [--rounds 3] [--tiles 4] [--waits 0 30]

LAZ tiles of a million points each, every point check on, audited from a drive and from the store of
the tests on loopback, each audit in processes of its own. The store counts the bytes that it sends
and what it is asked; `--waits` has it answer so many milliseconds late, as one far away does. Then
one tile is read through with blocks of several sizes.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "made"))

import alone
from bench_audit import make_job
from bench_workers import make_row
from made_store import Store, make_environment, open_store

from ledger.fixity import read_fixity
from ledger.model.address import Address
from ledger.remote import objects
from ledger.remote.files import list_store

ADDRESS = "s3://bucket/out"
WAYS = (
    ("quick", ["--quick"]),
    ("1 process", ["--workers", "1"]),
    ("2 processes", ["--workers", "2"]),
)
BLOCKS = (1 << 18, 1 << 20, 1 << 22, 1 << 23)


@dataclass(frozen=True)
class Row:
    """One way of auditing.

    Args:
        name: what was done, and where the files lay.
        seconds: median, by the wall.
        mebibytes: the most that all processes held.
        sent: bytes that the store sent, as a share of the delivery.
        asked: requests.
    """

    name: str
    seconds: float
    mebibytes: float
    sent: float
    asked: int


def audit_ways(job: Path, store: Store, rounds: int) -> Iterator[Row]:
    """Yield what each way of auditing takes, from a drive and from the store."""
    size = sum(map(len, store.objects.values()))
    for name, words in WAYS:
        for place, more in (("drive", []), ("store", ["--store", ADDRESS])):
            told = []
            for _ in range(rounds):
                (job / "swathbook.sqlite").write_bytes((job / "begun").read_bytes())
                store.served.clear()
                store.requests.clear()
                told.append(alone.run(["audit", str(job), *words, *more]))
            yield Row(
                f"{name}, {place}",
                statistics.median(each.seconds for each in told),
                max(each.mebibytes for each in told),
                store.sent / size,
                len(store.requests),
            )


def read_through(rounds: int) -> Iterator[tuple[int, float]]:
    """Yield the seconds in which a tile is hashed, by the size of a block."""
    first = list_store(Address("s3", "bucket", "out"))[0]
    for size in BLOCKS:
        objects._BLOCKS["straight"] = (size, 1)
        taken = []
        for _ in range(rounds):
            begun = time.perf_counter()
            read_fixity(first)
            taken.append(time.perf_counter() - begun)
        yield size, statistics.median(taken)


def show(wait_ms: float, rows: Iterator[Row]) -> None:
    """Print the rows of one distance."""
    print(f"\nanswers {wait_ms:g} ms late")  # noqa: T201 - the result of a measurement
    for row in rows:
        print(  # noqa: T201 - the same
            f"{row.name:20} {row.seconds:7.1f} s {row.mebibytes:7.0f} MiB "
            f"{row.sent:7.3f} of the bytes {row.asked:6} requests",
            flush=True,
        )


def main() -> None:
    """Make the tiles, measure, and print what was fetched."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--tiles", type=int, default=4, help="millions of points")
    parser.add_argument("--waits", type=float, nargs="*", default=[0.0, 30.0], help="milliseconds")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, open_store() as store:
        os.environ.update({"SWATHBOOK_HOME": name, **make_environment(store.address)})
        job, survey = make_job(Path(name) / "job", make_row(wanted.tiles))
        (job / "begun").write_bytes((job / "swathbook.sqlite").read_bytes())
        store.put_folder(job / "out", "bucket/out")
        size = sum(map(len, store.objects.values()))
        print(f"{survey.count_points():,} points in {size:,} bytes")  # noqa: T201 - the same
        for wait in wanted.waits:
            store.wait_s = wait / 1000
            show(wait, audit_ways(job, store, wanted.rounds))
            for block, seconds in read_through(wanted.rounds):
                print(f"hashing one tile in blocks of {block >> 10} KiB: {seconds:.2f} s")  # noqa: T201 - the same


if __name__ == "__main__":
    main()
