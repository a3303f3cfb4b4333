"""What an audit costs beyond decoding its points, and a quick one beyond opening its files.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_audit.py [--rounds 3] [--threads 1] [--tiles 12] [--cpu]

The full audit of LAZ tiles of a million points, every point check on, is held against decoding the
same files with one thread, every field, nothing kept, and so is that of 500 tiles of some 20,000
points. The decoder works on all cores unless `--threads` says less. The quick audit of 500 tiny
tiles is held against opening their headers. Each audit hashes its files and enters itself into a
book, as a person's does.

With `--cpu` the processor's time of this process is taken, of all its threads together: on a
machine that others use, it stands still while they are served.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

import laspy
from rounds import Clock, Line, Times, measure, show

from ledger.audit.running import audit_folder
from ledger.lasheader import read_las_header
from ledger.model.address import Address
from ledger.model.ask import NoProgress
from ledger.model.audit import AuditOptions, AuditResult
from ledger.start import start_job
from ledger.testing import Layout, Scene, SurveyBuilder

ROWS = 2
SMALL_TILES, SMALL_ROWS = 500, 20
TINY = Scene(columns=25, rows=20, tile_size=10.0, density=1.0)
CHUNK = 1_000_000
SPECIFICATION = """
[coordinates]
horizontal = "EPSG:6346"
vertical = "orthometric"
vertical_crs = "EPSG:5703"
unit = { horizontal = "metre", vertical = "metre" }

[criteria.point-density]
min_pts_per_m2 = 4

[criteria.seams]
step_max_m = 0.05

[criteria.classification]
required = [2]
"""


def make_job(folder: Path, scene: Scene, *, compressed: bool = True) -> tuple[Path, SurveyBuilder]:
    """Make a job whose specification asks for every point check, and a folder of tiles."""
    job = start_job(folder).folder
    (job / "job.toml").write_text(SPECIFICATION, encoding="utf-8")
    return job, SurveyBuilder(job / "out", Layout(compressed=compressed), scene)


def decode(path: Path, backend: laspy.LazBackend) -> None:
    """Decode every field and keep nothing."""
    with laspy.open(path, laz_backend=backend) as reader:
        for _ in reader.chunk_iterator(CHUNK):
            pass


def decode_all(paths: Iterable[Path]) -> None:
    """Decode files one after the other with one thread."""
    for path in paths:
        decode(path, laspy.LazBackend.Lazrs)


def audit_once(
    job: Path,
    *,
    quick: bool = False,
    workers: int | None = 1,
    folder: Path | Address | None = None,
) -> AuditResult:
    """Audit what is to be sent; a check that broke ends the measurement."""
    options = AuditOptions(quick=quick, workers=workers)
    result = audit_folder(job, folder or job / "out", options, NoProgress())
    if result.plugin_faults:
        raise SystemExit(f"a check broke: {result.plugin_faults}")
    return result


def open_headers(paths: tuple[Path, ...]) -> None:
    """Open files with the general library, headers only."""
    for path in paths:
        with laspy.open(path):
            pass


def read_headers(paths: tuple[Path, ...]) -> None:
    """Read headers as we do."""
    for path in paths:
        read_las_header(path)


def make_scene(tiles: int) -> Scene:
    """Return a scene of tiles of a million points each."""
    columns = max(1, tiles // ROWS)
    return Scene(columns=columns, rows=ROWS, tile_size=200.0, density=11.0, noise=0.01)


def make_small_scene(tiles: int) -> Scene:
    """Return a scene of small tiles, some 20,000 points each."""
    columns = max(1, tiles // SMALL_ROWS)
    return Scene(columns=columns, rows=SMALL_ROWS, tile_size=30.0, density=11.0, noise=0.01)


def measure_full(
    folder: Path, rounds: int, scene: Scene, clock: Clock, *, compressed: bool = True
) -> tuple[Times, int]:
    """Return the seconds of a full audit and of decoding, and the points."""
    job, survey = make_job(folder, scene, compressed=compressed)

    def decode_wide() -> None:
        for path in survey.paths:
            decode(path, laspy.LazBackend.LazrsParallel)

    def audit() -> None:
        result = audit_once(job)
        if result.points != survey.count_points():
            raise SystemExit("the audit did not read every point")

    work = {
        "decode, 1 thread": lambda: decode_all(survey.paths),
        "decode, all cores": decode_wide,
        "audit": audit,
    }
    measure(work, 1)
    return measure(work, rounds, clock=clock), survey.count_points()


def measure_quick(folder: Path, rounds: int, clock: Clock) -> tuple[Times, int]:
    """Return the seconds of a quick audit and of opening headers, and the tiles."""
    job, survey = make_job(folder, TINY)

    work = {
        "open headers": lambda: open_headers(survey.paths),
        "read headers": lambda: read_headers(survey.paths),
        "quick audit": lambda: audit_once(job, quick=True),
    }
    measure(work, 1)
    return measure(work, rounds, clock=clock), len(survey.paths)


def main() -> None:
    """Make the tiles, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--threads", type=int, help="threads of the decoder; all cores if left out")
    parser.add_argument("--tiles", type=int, default=4, help="tiles of a million points; even")
    parser.add_argument("--cpu", action="store_true", help="take the processor's time")
    wanted = parser.parse_args()
    clock = time.process_time if wanted.cpu else time.perf_counter
    if wanted.threads:
        os.environ["RAYON_NUM_THREADS"] = str(wanted.threads)
    with tempfile.TemporaryDirectory() as name:
        os.environ["SWATHBOOK_HOME"] = name
        scene = make_scene(wanted.tiles)
        full, points = measure_full(Path(name) / "full", wanted.rounds, scene, clock)
        scene = make_small_scene(SMALL_TILES)
        small, few = measure_full(Path(name) / "small", wanted.rounds, scene, clock)
        quick, tiles = measure_quick(Path(name) / "quick", wanted.rounds, clock)
    lines = [
        Line("decode, 1 thread", "decode, 1 thread"),
        Line("decode, all cores", "decode, 1 thread"),
        Line("audit", "decode, 1 thread", 1.25),
        Line("audit", "decode, all cores"),
    ]
    show(f"full audit of {points} points", full, lines)
    show(f"full audit of {few} points in {SMALL_TILES} small tiles", small, lines)
    lines = [
        Line("open headers", "open headers"),
        Line("read headers", "open headers"),
        Line("quick audit", "open headers", 1.5),
    ]
    show(f"quick audit of {tiles} tiles", quick, lines)


if __name__ == "__main__":
    main()
