"""How time and memory grow: an audit by points, files and cells, a book by its entries.

Part of `performance_page.py`. Each audit runs in a process of its own, which tells its seconds and
the most memory that it ever held.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import alone
from bench_audit import make_job, make_scene
from bench_book import make_draft

from ledger.merkle import compute_inclusion_proof
from ledger.recheck import recheck
from ledger.store.reading import Book
from ledger.store.writing import Addition
from ledger.testing import Scene
from ledger.testing.books import BookBuilder
from ledger.trace import trace

_TOGETHER = 20_000  # entries in one transaction
_TIMES = 9  # what takes milliseconds is done so often, and the middle one told
_SIDE_M = 10.0  # of a tile that is to be opened and no more


@dataclass(frozen=True)
class Audited:
    """What an audit took.

    Args:
        points: points of the delivery.
        files: files of it.
        seconds: by the wall.
        mebibytes: the most that its process ever held, libraries included.
    """

    points: int
    files: int
    seconds: float
    mebibytes: float


@dataclass(frozen=True)
class Entered:
    """What a book of some size takes.

    Args:
        entries: entries in it.
        seconds: of each kind of work, by its name.
        mebibytes: size of the book.
    """

    entries: int
    seconds: dict[str, float]
    mebibytes: float


def audit_points(folder: Path, tiles: Sequence[int]) -> Iterator[Audited]:
    """Yield full audits, each by one process, of more and more tiles of a million points."""
    for number in tiles:
        yield _audit(folder / f"points_{number}", make_scene(number), "--workers", "1")


def audit_files(folder: Path, files: Sequence[int]) -> Iterator[Audited]:
    """Yield quick audits of more and more tiny tiles."""
    for number in files:
        scene = Scene(columns=max(1, number // 20), rows=20, tile_size=_SIDE_M, density=1.0)
        yield _audit(folder / f"files_{number}", scene, "--quick")


def audit_cells(folder: Path, densities: Sequence[float]) -> Iterator[tuple[float, Audited]]:
    """Yield full audits of a million points over more and more ground, with the square metres."""
    for density in densities:
        scene = Scene(columns=1, tile_size=(1e6 / density) ** 0.5, density=density, noise=0.01)
        yield scene.tile_size**2, _audit(folder / f"cells_{density}", scene)


def _audit(folder: Path, scene: Scene, *options: str) -> Audited:
    job, survey = make_job(folder, scene)
    told = alone.run(["audit", str(job), *options])
    return Audited(survey.count_points(), len(survey.paths), told.seconds, told.mebibytes)


def enter_books(folder: Path, sizes: Sequence[int]) -> Iterator[Entered]:
    """Yield what books of more and more entries take."""
    for size in sizes:
        yield _enter(folder / f"entries_{size}", size)


def _enter(folder: Path, size: int) -> Entered:
    """Make a job with a traced file and as many small entries beside it, and time what is asked."""
    with BookBuilder(folder) as builder:
        builder.card("flight", "F1")
        builder.write("raw/capture.bin", "capture")
        builder.register("raw/capture.bin", flight="F1")
        builder.write("out/tile.las", "tile")
        builder.run("out/tile.las", flights=["F1"])
        writer = builder.writer
        while (missing := size - writer.size) > 0:
            numbers = range(min(missing, _TOGETHER))
            writer.append_all([Addition(make_draft(number, signs=100)) for number in numbers])
        append = _time(lambda: writer.append(make_draft(0, signs=100)))
    with Book.open(folder) as book:
        seconds = {
            "append": append,
            "root": _time(lambda: book.root),
            "proof": _time(lambda: compute_inclusion_proof(size // 3, size, book.node)),
        }
    seconds["trace"] = _time(lambda: trace(folder, "out/tile.las"))
    seconds["recheck"] = _time(lambda: recheck(folder, book_only=True), 1)
    held = sum(path.stat().st_size for path in folder.glob("*.sqlite"))
    return Entered(size, seconds, held / 2**20)


def _time(work: Callable[[], object], times: int = _TIMES) -> float:
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)
