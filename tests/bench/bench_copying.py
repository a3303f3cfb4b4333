"""What verified copies cost, against hash, copy and hash of the copy one after the other.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_copying.py [--mebibytes 512] [--rounds 5] [--second FOLDER]

The limit is made of `hashlib.file_digest`, the system's own copy (`shutil.copyfile`, which asks the
kernel to copy), `fsync`, the file dropped from the page cache, and `hashlib.file_digest` of the
copy, each after the other in the same round. All copies lie on one drive unless a folder on a
second one is named.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from rounds import Line, Times, measure, show

from ledger.copying import Copy, copy_verified

ONE, TWO = "hash, copy, hash: 1 copy", "hash, copy, hash: 2 copies"
LINES = [
    Line(ONE, ONE),
    Line("1 verified copy", ONE, 0.75),
    Line(TWO, TWO),
    Line("2 verified copies", TWO, 1.1),
]


def read_digest(path: Path) -> str:
    """Return the SHA-256 of a file by the standard library."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def copy_one_after_the_other(source: Path, targets: Sequence[Path]) -> None:
    """Hash, copy to each target, hash each copy past the page cache."""
    wanted = read_digest(source)
    for target in targets:
        shutil.copyfile(source, target)
        with target.open("rb+") as stream:
            os.fsync(stream.fileno())
            if hasattr(os, "posix_fadvise"):
                os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        if read_digest(target) != wanted:
            raise SystemExit(f"{target} does not read back as it was written")


def copy_by_ours(source: Path, targets: Sequence[Path]) -> None:
    """Copy as `register --copy-to` does."""
    _, copies = copy_verified(source, targets)
    if not all(isinstance(copy, Copy) and not copy.found for copy in copies):
        raise SystemExit(f"no copy of {source} was made: {copies}")


def measure_copies(folder: Path, second: Path, mebibytes: int, rounds: int) -> Times:
    """Return the seconds of copies, by the system's own means and by ours.

    Args:
        folder: where source and first copy lie.
        second: where the second copy lies.
        mebibytes: size of the file.
        rounds: how many.
    """
    source = folder / "capture.bin"
    source.write_bytes(os.urandom(1 << 20) * mebibytes)
    targets = [folder / "first" / "capture.bin", second / "second" / "capture.bin"]

    def prepare() -> None:
        for target in targets:
            shutil.rmtree(target.parent, ignore_errors=True)
            target.parent.mkdir(parents=True)
        os.sync()
        read_digest(source)  # in the page cache for whoever comes next

    work = {
        ONE: lambda: copy_one_after_the_other(source, targets[:1]),
        "1 verified copy": lambda: copy_by_ours(source, targets[:1]),
        TWO: lambda: copy_one_after_the_other(source, targets),
        "2 verified copies": lambda: copy_by_ours(source, targets),
    }
    return measure(work, rounds, prepare=prepare)


def main() -> None:
    """Make a file, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--mebibytes", type=int, default=512)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--folder", help="where source and copies lie; that of scratch by default")
    parser.add_argument("--second", help="a folder on another drive, for the second copy")
    wanted = parser.parse_args()
    with (
        tempfile.TemporaryDirectory(dir=wanted.folder) as name,
        tempfile.TemporaryDirectory(dir=wanted.second or wanted.folder) as second,
    ):
        times = measure_copies(Path(name), Path(second), wanted.mebibytes, wanted.rounds)
    show(f"{wanted.mebibytes} MiB", times, LINES)


if __name__ == "__main__":
    main()
