"""One piece of work in a process of its own, which tells its seconds and the most memory it held.

Part of other measurements:

    python tests/bench/alone.py audit JOB [--quick] [--workers N] [--store ADDRESS]
    python tests/bench/alone.py decode FILE ...

What the work needs is loaded when it begins: each process that an audit starts loads this module
once more, as it would that of the command.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psutil

_PROC = Path("/proc")
_OFTEN_S = 0.05


@dataclass(frozen=True)
class Told:
    """What a process told of its work.

    Args:
        seconds: by the wall.
        mebibytes: the most that the process ever held, and each that it started, added up.
    """

    seconds: float
    mebibytes: float


def run(*sides: Sequence[str], threads: int = 0) -> Told:
    """Do each piece of work in a process of its own, all at once.

    Args:
        sides: words of each piece of work.
        threads: threads of the decoder in each process; 0 for one a core.

    Returns:
        The seconds of the slowest, and the memory of all.
    """
    around = {**os.environ, **({"RAYON_NUM_THREADS": str(threads)} if threads else {})}
    around.pop("PYTHONDONTWRITEBYTECODE", None)  # what is installed has its bytecode
    start = [sys.executable, str(Path(__file__).resolve())]
    running = [
        subprocess.Popen(
            [*start, *words], env=around, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        for words in sides
    ]
    told = []
    for one in running:
        said, fault = one.communicate()
        if one.returncode:
            raise SystemExit(fault)
        told.append(json.loads(said))
    return Told(max(one["seconds"] for one in told), sum(one["mebibytes"] for one in told))


@contextmanager
def _watch_children(most: dict[int, float]) -> Iterator[None]:
    """Note the most memory of each process that this one starts, by its number, MiB."""
    ended = threading.Event()

    def look() -> None:
        while not ended.wait(_OFTEN_S):
            for child in psutil.Process().children(recursive=True):
                try:
                    most[child.pid] = max(most.get(child.pid, 0.0), _read_most(child))
                except (psutil.Error, OSError, StopIteration):
                    continue  # it has just ended

    watcher = threading.Thread(target=look)
    watcher.start()
    try:
        yield
    finally:
        ended.set()
        watcher.join()


def _read_most(process: psutil.Process) -> float:
    """Return the most memory that a process ever held, MiB."""
    status = _PROC / str(process.pid) / "status"
    if status.exists():  # what `resource` says is that of the parent where it held more
        lines = status.read_text(encoding="utf-8").splitlines()
        told = next(line for line in lines if line.startswith("VmHWM"))
        return int(told.split()[1]) / 1024
    memory = process.memory_info()
    return float(getattr(memory, "peak_wset", memory.rss)) / 2**20


def _decode(paths: Sequence[Path]) -> None:
    from bench_audit import decode_all  # noqa: PLC0415 - the processes of an audit need it not

    decode_all(paths)


def _audit(job: Path, workers: int | None, store: str, *, quick: bool) -> None:
    from bench_audit import audit_once  # noqa: PLC0415 - the same

    from ledger.model.address import read_address  # noqa: PLC0415 - the same

    os.environ["SWATHBOOK_HOME"] = str(job)
    folder = read_address(store) if store else None
    audit_once(job, quick=quick, workers=workers, folder=folder)


def main() -> None:
    """Work once, and print what it took."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("work", choices=("audit", "decode"))
    parser.add_argument("paths", type=Path, nargs="+")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--store", default="")
    wanted = parser.parse_args()
    most: dict[int, float] = {}
    with _watch_children(most):
        begun = time.perf_counter()
        if wanted.work == "decode":
            _decode(wanted.paths)
        else:
            _audit(wanted.paths[0], wanted.workers, wanted.store, quick=wanted.quick)
        seconds = time.perf_counter() - begun
    held = _read_most(psutil.Process()) + sum(most.values())
    sys.stdout.write(json.dumps({"seconds": seconds, "mebibytes": held}))


if __name__ == "__main__":
    main()
