"""What the checks of cover, duplicates and lattice cost: nanoseconds a point, and memory.

Memory is that of a fresh process that feeds tiles of points at random, as dense as a level asks for
(8 a square metre in two swaths), closes each and judges all: 10^7 and 4 · 10^7 points in
10, 100 and 500 tiles. The slope between two sizes is carried on to 2 · 10^9 points. Fewer points
than 10^7 would not do: up to there the sample that repeats are looked for in still fills.

    PYTHONPATH=tests/made python tests/bench/bench_cover.py [points ...]
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import psutil
from made_cloud import make_header

from ledger.contract.check import FamilyCheck, Plan, PointCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.feeds import group_checks, make_feed
from ledger.model.chunk import PointChunk
from ledger.model.specification import Specification
from ledger.testing.chunks import METRES, restrict
from ledger.testing.driver import make_criteria, make_evidence, make_file
from lidar_checks.cloud.coordinate_lattice import CoordinateLattice
from lidar_checks.cloud.density_spread import DensitySpread
from lidar_checks.cloud.duplicates import Duplicates
from lidar_checks.cloud.ground_density import GroundDensity
from lidar_checks.cloud.point_density import PointDensity
from lidar_checks.cloud.spatial_distribution import SpatialDistribution
from lidar_checks.cloud.voids import Voids

SLICE = 125_000
DENSITY = 8.0
FAR = 2_000_000_000
CRITERIA: dict[str, dict[str, Any]] = {
    "point-density": {"min_pts_per_m2": 4.0},
    "spatial-distribution": {"cell_m": 0.7},
    "voids": {"area_min_m2": 1.96},
}
CHECKS: tuple[PointCheck, ...] = (
    CoordinateLattice(),
    DensitySpread(),
    Duplicates(),
    GroundDensity(),
    PointDensity(),
    SpatialDistribution(),
    Voids(),
)


def make_slices(number: int, points: int) -> Iterator[PointChunk]:
    """Yield the points of one tile, line by line, in slices."""
    random = np.random.default_rng(number)
    side = (points / DENSITY) ** 0.5
    left, bottom = 500_000 + number % 23 * side, 4_000_000 + number // 23 * side
    done = 0
    while done < points:
        count = min(SLICE, points - done)
        x = left + random.uniform(0, side, count)
        y = bottom + (done + random.uniform(0, 1, count) * count) / points * side
        fields = {
            "return_number": np.where(random.random(count) < 0.8, 1, 2).astype(np.uint8),
            "number_of_returns": np.full(count, 2, dtype=np.uint8),
            "classification": np.where(random.random(count) < 0.5, 2, 5).astype(np.uint8),
            "withheld": np.zeros(count, dtype=np.bool_),
            "gps_time": 3e8 + (done + np.arange(count)) * 1e-6,
            "point_source_id": np.where(x < left + side / 2, 1, 2).astype(np.uint16),
        }
        # Stored to the millimetre, on a lattice of a tenth of it.
        east, north, height = (
            np.round(each * 1e3).astype(np.int64) * 10
            for each in (x, y, random.uniform(0, 9, count))
        )
        yield PointChunk(east, north, height, METRES, fields)
        done += count


def prepare(
    checks: Sequence[PointCheck], tiles: int, points: int
) -> tuple[list[Any], dict[str, Plan], Evidence]:
    """Return feeds, plans and evidence for some checks."""
    specification = Specification.model_validate({"coordinates": {"unit": {"horizontal": "metre"}}})
    header = make_header(count=points // tiles)
    files = [make_file(f"tile_{number}.laz", header=header) for number in range(tiles)]
    evidence = make_evidence(*files, specification=specification)
    plans = {
        each.id: each.prepare(evidence, make_criteria(each, CRITERIA.get(each.id)))
        for each in checks
    }
    by_id = {each.id: each for each in checks}
    groups = group_checks(by_id, {})
    feeds = [
        make_feed({n: by_id[n] for n in group}, {n: plans[n] for n in group}, evidence)
        for group in groups
    ]
    return feeds, plans, evidence


def feed(source: Any, plan: Plan, file: DeliveredFile, slices: Sequence[PointChunk]) -> Any:
    """Return the summary of one tile, and the seconds it took."""
    wanted = source.dimensions | source.optional_dimensions
    narrowed = [restrict(each, wanted) for each in slices]
    started = time.process_time()
    tally = source.start(plan, file)
    for each in narrowed:
        tally.chunk(each)
    return tally.close(), time.process_time() - started


def measure_cost(points: int = 2_000_000, rounds: int = 3) -> None:
    """Print nanoseconds a point, each check alone and those of the family together."""
    slices = list(make_slices(0, points))
    family = tuple(each for each in CHECKS if isinstance(each, FamilyCheck))
    for checks in (*((each,) for each in CHECKS), family):
        feeds, plans, evidence = prepare(checks, 1, points)
        best = min(
            feed(feeds[0].source, feeds[0].plan, evidence.files[0], slices)[1]
            for _ in range(rounds)
        )
        summary, _ = feed(feeds[0].source, feeds[0].plan, evidence.files[0], slices)
        started = time.process_time()
        for each in checks:
            list(each.finish(plans[each.id], {evidence.files[0].path: summary}, evidence))
        judging = time.process_time() - started
        name = checks[0].id if len(checks) == 1 else "the family together"
        cost, judged = (1e9 * each / points for each in (best, judging))
        sys.stdout.write(f"{name:22} {cost:6.1f} ns a point, {judged:6.1f} to judge\n")


def use_memory(points: int, tiles: int, answer: Any) -> None:
    """Feed tiles, judge them and tell the greatest memory seen, MiB."""
    feeds, plans, evidence = prepare(CHECKS, tiles, points)
    by_id = {each.id: each for each in CHECKS}
    summaries: dict[str, dict[str, Any]] = {name: {} for name in by_id}
    process, most = psutil.Process(), 0
    for number, file in enumerate(evidence.files):
        tallies = [(each, each.source.start(each.plan, file)) for each in feeds]
        for piece in make_slices(number, points // tiles):
            for _, tally in tallies:
                tally.chunk(piece)
            most = max(most, process.memory_info().rss)
        for each, tally in tallies:
            closed = tally.close()
            for name in each.members:
                summaries[name][file.path] = closed
        most = max(most, process.memory_info().rss)
    closed_mib = process.memory_info().rss / 2**20
    for name, check in by_id.items():
        list(check.finish(plans[name], summaries[name], evidence))
        most = max(most, process.memory_info().rss)
    answer.put((most / 2**20, closed_mib))


def measure_memory(sizes: Sequence[int]) -> None:
    """Print the memory of each size, and the slope carried on."""
    context = multiprocessing.get_context("spawn")
    for tiles in (10, 100, 500):
        told = []
        for points in sizes:
            answer = context.Queue()
            worker = context.Process(target=use_memory, args=(points, tiles, answer))
            worker.start()
            most, closed = answer.get()
            worker.join()
            told.append(most)
            size = f"{points:>13,} points, {tiles:>3} tiles"
            sys.stdout.write(f"{size}: {most:6.0f} MiB, {closed:6.0f} when closed\n")
        slope = (told[-1] - told[0]) / (sizes[-1] - sizes[0])
        far = told[-1] + slope * (FAR - sizes[-1])
        text = f"{slope * 1e6:.2f} MiB a million points: {far:,.0f} MiB at 2·10⁹"
        sys.stdout.write(f"{'slope':>13} {text}\n")


if __name__ == "__main__":
    measure_cost()
    measure_memory([int(each) for each in sys.argv[1:]] or [10_000_000, 40_000_000])
