"""What a very large audit would take: measured in the small, and carried on by a simulation.

Not a test: a measurement, run by hand.

    python tests/bench/bench_scale.py [--tiles 8] [--side 200] [--cluster]
        [--workers 50 200] [--points 1e12]

Measured: the processor's time of a worker for a point with every point check on, the size of what
it sends back, the time of the first process to join and to judge it, what a file costs without its
points, and with `--cluster` what a task costs a scheduler on loopback. Simulated, from these: tasks
dealt to so many workers, their answers joined one after the other, time and bytes in all.
"""

from __future__ import annotations

import argparse
import heapq
import pickle
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

import psutil
from bench_audit import SPECIFICATION, make_job
from rounds import time_of

from ledger.audit.assembly import Delivery, assemble, complete
from ledger.audit.delivery import read_delivery
from ledger.audit.folder import list_folder
from ledger.audit.specified import add_files
from ledger.audit.wishes import settle_wishes
from ledger.contract import pieces
from ledger.contract.crew import Answered, Event
from ledger.contract.guard import Guard
from ledger.contract.pieces import MOST_POINTS, Piece
from ledger.contract.portions import Kit, carry_out, open_kit
from ledger.contract.registry import build_registry
from ledger.contract.runner import Runner
from ledger.model.ask import NoProgress
from ledger.specfile.reading import read_leniently
from ledger.testing import Scene

TILE_POINTS = 10_000_000


@dataclass
class Costs:
    """What was measured.

    Args:
        worker_s: processor seconds of a worker a point.
        answer_bytes: bytes of an answer a point.
        join_s: seconds of the first process to open and join an answer, a point.
        judge_s: seconds to judge, a point.
        held_bytes: bytes of closed tallies that stay in the first process until all is judged, a
            point; as pickled, which is about what arrays take.
        file_s: seconds for a file before its points: header, records, hash of a small file.
        largest: what takes most of an answer, with its share.
        task_s: seconds of client and scheduler for a task that answers nothing.
        byte_s: seconds until a byte of an answer is with the client.
    """

    worker_s: float
    answer_bytes: float
    join_s: float
    judge_s: float
    held_bytes: float
    file_s: float
    largest: list[tuple[str, float]]
    task_s: float = 0.0
    byte_s: float = 0.0


class Watched:
    """A crew of one, in this process, that notes what its work takes."""

    size, idle = 1, 1

    def __init__(self, kit: Kit) -> None:
        """Take the kit."""
        self._tools = open_kit(kit)
        self._held: list[tuple[int, tuple[Piece, ...]]] = []
        self.seconds = 0.0
        self.bytes = 0
        self.sizes: Counter[str] = Counter()

    def __enter__(self) -> Self:
        """Use as a context."""
        return self

    def __exit__(self, *_error: object) -> None:
        """Do nothing."""

    def hand_out(self, number: int, given: tuple[Piece, ...]) -> None:
        """Take a task."""
        self._held.append((number, given))

    def wait(self) -> Iterator[Event]:
        """Do the tasks that were handed out."""
        while self._held:
            number, given = self._held.pop()
            begun = time.process_time()
            answer = carry_out(self._tools, given, NoProgress())
            packed = pickle.dumps(answer)
            self.seconds += time.process_time() - begun
            self.bytes += len(packed)
            self.sizes.update({name: len(made) for name, made in answer.made.items()})
            yield Answered(number, pickle.loads(packed))  # noqa: S301 - made two lines above


def measure_costs(folder: Path, tiles: int, side: float) -> tuple[Costs, int]:
    """Audit some tiles, step by step, and return what each step took, and the points."""
    scene = Scene(columns=tiles // 2, rows=2, tile_size=side, density=11.0, noise=0.01)
    job, survey = make_job(folder, scene)
    guard = Guard()
    reading = read_leniently(SPECIFICATION.encode(), "job.toml")
    wishes = settle_wishes(reading, build_registry(guard), guard, job)
    specified = add_files(wishes.specified, wishes.specification, job)
    delivery = Delivery("out", wishes.specification, specified)
    files = read_delivery(list_folder(job / "out"), {}, NoProgress())
    runner = Runner(wishes.settled.enabled, guard)
    evidence = assemble(delivery, files)
    paths = {each.file.path: each.found.path for each in files}
    crews: list[Watched] = []

    def hire(kit: Kit) -> Watched:
        crews.append(Watched(kit))
        return crews[-1]

    pieces.LEAST_POINTS = MOST_POINTS  # a task as large as those of a large audit, no file in spans
    begun = time.process_time()
    readings: Any = runner.read_points(evidence, paths, NoProgress(), hire)
    whole = time.process_time() - begun
    (crew,) = crews
    held = len(pickle.dumps([state.summaries for state in runner._states.values()]))
    evidence = complete(evidence, readings)
    judge = time_of(lambda: runner.judge_all(evidence), time.process_time)
    points = survey.count_points()
    return Costs(
        worker_s=crew.seconds / points,
        answer_bytes=crew.bytes / points,
        join_s=(whole - crew.seconds) / points,
        judge_s=judge / points,
        held_bytes=held / points,
        file_s=measure_file(folder.parent / "tiny"),
        largest=[(name, size / crew.bytes) for name, size in crew.sizes.most_common(4)],
    ), points


def measure_file(folder: Path) -> float:
    """Return the seconds that a file takes apart from its points, from 400 tiny ones."""
    job, survey = make_job(folder, Scene(columns=20, rows=20, tile_size=10.0, density=1.0))
    guard = Guard()
    reading = read_leniently(SPECIFICATION.encode(), "job.toml")
    wishes = settle_wishes(reading, build_registry(guard), guard, job)
    delivery = Delivery("out", wishes.specification, wishes.specified)

    def look() -> None:
        evidence = assemble(delivery, read_delivery(list_folder(job / "out"), {}, NoProgress()))
        Runner(wishes.settled.enabled, guard).judge_records(evidence)

    return time_of(look, time.process_time) / len(survey.paths)


def measure_tasks(size: int, tasks: int = 200) -> float:
    """Return the seconds of a task that does nothing and answers with so many bytes.

    Two workers on loopback; the client waits for one answer after the other.
    """
    from distributed import Client, LocalCluster  # noqa: PLC0415 - an extra

    with (
        LocalCluster(n_workers=2, host="127.0.0.1", dashboard_address=":0") as cluster,
        Client(cluster) as client,
    ):
        client.submit(bytes, 1, pure=False).result()
        begun = time.perf_counter()
        for future in [client.submit(bytes, size, pure=False) for _ in range(tasks)]:
            future.result()
        return (time.perf_counter() - begun) / tasks


@dataclass
class Simulated:
    """What a simulated audit takes.

    Args:
        hours: from the first task to the verdict, hashing apart.
        busy: share of that in which the first process works.
        gigabytes: of answers.
        held_gigabytes: that the first process holds at the end.
        waiting: most answers that waited to be joined.
    """

    hours: float
    busy: float
    gigabytes: float
    held_gigabytes: float
    waiting: int


def simulate(costs: Costs, points: float, workers: int) -> Simulated:
    """Deal tasks to workers, each answer joined by the one process that began the audit."""
    share = min(max(points / workers / 4, 1_000_000), MOST_POINTS)
    tasks = round(points / share)
    join = share * (costs.join_s + costs.answer_bytes * costs.byte_s) + costs.task_s
    ends = [0.0] * min(workers, tasks)
    heapq.heapify(ends)
    free = files = points / TILE_POINTS * costs.file_s
    arrivals: list[float] = []
    most = 0
    for number in range(tasks):
        # Some finish sooner than others: a fifth about the mean, by a fixed rule.
        span = share * costs.worker_s * (0.9 + 0.2 * ((number * 7919) % 101) / 100)
        end = heapq.heappop(ends) + span
        heapq.heappush(ends, end)
        arrivals.append(end + files)
    arrivals.sort()
    done = 0
    for number, arrival in enumerate(arrivals):
        while done < number and arrivals[done] + join < arrival:
            done += 1
        most = max(most, number - done)
        free = max(free, arrival) + join
    judged = free + points * costs.judge_s
    work = files + tasks * join + points * costs.judge_s
    return Simulated(
        hours=judged / 3600,
        busy=work / judged,
        gigabytes=points * costs.answer_bytes / 1e9,
        held_gigabytes=points * costs.held_bytes / 1e9,
        waiting=most,
    )


def main() -> None:
    """Measure, simulate, and print both."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--tiles", type=int, default=8, help="how many tiles; even")
    parser.add_argument("--side", type=float, default=200.0, help="of a tile; 25 points a m²")
    parser.add_argument("--cluster", action="store_true", help="measure a scheduler too")
    parser.add_argument("--workers", type=int, nargs="*", default=[2, 10, 50, 200])
    parser.add_argument("--points", type=float, nargs="*", default=[1e9, 1e10, 1e12])
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        costs, points = measure_costs(Path(name) / "job", wanted.tiles, wanted.side)
    out = sys.stdout
    out.write(f"measured on {points:,} points; processor time, load {psutil.getloadavg()[0]:.0f}\n")
    out.write(f"  a worker, a million points     {costs.worker_s * 1e6:8.3f} s\n")
    out.write(f"  its answer, a million points   {costs.answer_bytes:8.3f} MB\n")
    told = ", ".join(f"{name} {share:.0%}" for name, share in costs.largest)
    out.write(f"    of which                     {told}\n")
    out.write(f"  joining, a million points      {costs.join_s * 1e9:8.1f} ms\n")
    out.write(f"  judging, a million points      {costs.judge_s * 1e9:8.1f} ms\n")
    out.write(f"  held, a million points         {costs.held_bytes:8.3f} MB\n")
    out.write(f"  a file before its points       {costs.file_s * 1e3:8.3f} ms\n")
    if wanted.cluster:
        size = round(MOST_POINTS * costs.answer_bytes)
        costs.task_s = measure_tasks(100)
        large = measure_tasks(size, tasks=6)
        out.write(f"  a task of a cluster, empty     {costs.task_s * 1e3:8.3f} ms\n")
        out.write(f"  the same with {size / 1e6:6.1f} MB        {large * 1e3:8.3f} ms\n")
        costs.byte_s = large / size
    out.write("simulated\n")
    out.write("  points   workers  hours  first process busy  answers GB  held GB  waiting\n")
    for total in wanted.points:
        for workers in wanted.workers:
            found = simulate(costs, total, workers)
            out.write(
                f"  {total:7.0e} {workers:8d} {found.hours:7.2f} {found.busy:14.1%}"
                f" {found.gigabytes:14.1f} {found.held_gigabytes:8.1f} {found.waiting:8d}\n"
            )


if __name__ == "__main__":
    main()
