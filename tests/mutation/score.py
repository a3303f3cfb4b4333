"""How many small changes of the code the tests notice.

    pip install cosmic-ray
    python tests/mutation/score.py [--sample 200] [--seed 1] [tree fingerprint statistics book]
    python tests/mutation/score.py --figures figures.jsonl
    python tests/mutation/mutation_page.py figures.jsonl

Each subject is some modules and the tests that hold them. One place of a module is changed (an
operator, a number, a comparison, a branch), its tests run, and a change that fails none of them
has survived. All changes of a subject are tried, or as many as the sample says, chosen by the
seed; annotations are left out, since nothing carries them out. Works in a copy of the last commit.
Needs Linux: tests that no longer end are stopped by the time that they take of a processor.
The score is told with its 95 % interval (Wilson), and each survivor with its place. What came of a
subject goes into the file of `--figures` as soon as it is known; a page is made of it.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from cosmic_ray.work_db import WorkDB, use_db
from cosmic_ray.work_item import MutationSpec, TestOutcome, WorkerOutcome, WorkResult

ROOT = Path(__file__).resolve().parents[2]
# Seconds of a processor, for a busy machine must make no change look noticed; and of the clock, for
# tests that stand still.
_MOST_CPU_S = 240
_LONGEST_S = 1800.0


@dataclass(frozen=True)
class Subject:
    """What is changed, and what should notice; paths from the root of the repository."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


SUBJECTS = {
    "tree": Subject(("ledger/merkle.py",), ("tests/merkle", "tests/published/test_merkle_tree.py")),
    "fingerprint": Subject(
        ("ledger/fingerprint.py", "ledger/pointwords.py", "ledger/lattice.py"),
        ("tests/fingerprint", "tests/lattice"),
    ),
    "statistics": Subject(
        ("plugins/lidar_checks/ground/error_statistics.py",),
        ("tests/published/test_accuracy_statistics.py", "tests/plugins/ground/test_accuracy.py"),
    ),
    "book": Subject(
        tuple(
            f"ledger/store/{name}.py"
            for name in ("blobs", "checking", "derive", "guards", "records", "soundness", "writing")
        ),
        ("tests/store", "tests/canonical"),
    ),
}


@dataclass(frozen=True, order=True)
class Survivor:
    """A change that no test noticed: where, by which operator of the library, in which code."""

    module: str
    line: int
    operator: str
    code: str


@dataclass
class Score:
    """What came of the changes of one subject."""

    made: int
    noticed: int = 0
    survivors: tuple[Survivor, ...] = ()

    @property
    def tried(self) -> int:
        """Changes that were tried."""
        return self.noticed + len(self.survivors)

    def find_interval(self) -> tuple[float, float]:
        """Return the 95 % interval of the share that is noticed (Wilson 1927)."""
        z, n = 1.959964, self.tried
        share = self.noticed / n
        middle = (share + z * z / (2 * n)) / (1 + z * z / n)
        half = z / (1 + z * z / n) * (share * (1 - share) / n + z * z / (4 * n * n)) ** 0.5
        return middle - half, middle + half


def find_annotations(source: str) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Yield where annotations begin and end, as line and column."""
    for node in ast.walk(ast.parse(source)):
        for note in (getattr(node, "annotation", None), getattr(node, "returns", None)):
            if isinstance(note, ast.expr):
                yield (
                    (note.lineno, note.col_offset),
                    (note.end_lineno or note.lineno, note.end_col_offset or 0),
                )


def choose_changes(database: WorkDB, copy: Path, sample: int, dice: random.Random) -> int:
    """Mark what is not tried as skipped, and return how many changes could be made at all."""
    places = {
        path: list(find_annotations((copy / path).read_text(encoding="utf-8")))
        for path in {item.mutations[0].module_path for item in database.work_items}
    }

    def is_annotation(change: MutationSpec) -> bool:
        return any(first <= change.start_pos < last for first, last in places[change.module_path])

    jobs = [(item.job_id, is_annotation(item.mutations[0])) for item in database.work_items]
    carried_out = [job for job, in_note in jobs if not in_note]
    wanted = set(carried_out)
    if sample and sample < len(carried_out):
        wanted = set(dice.sample(sorted(carried_out), sample))
    for job, _ in jobs:
        if job not in wanted:
            database.set_result(job, WorkResult(worker_outcome=WorkerOutcome.SKIPPED))
    return len(carried_out)


def write_settings(subject: Subject, path: Path) -> None:
    """Write the settings of the library that makes and tries the changes."""
    python = f"prlimit --cpu={_MOST_CPU_S} {sys.executable}"
    command = f"{python} -m pytest -x -q -p no:cacheprovider {' '.join(subject.tests)}"
    modules = ", ".join(f'"{name}"' for name in subject.modules)
    path.write_text(
        f"[cosmic-ray]\nmodule-path = [{modules}]\ntimeout = {_LONGEST_S}\nexcluded-modules = []\n"
        f"test-command = '{command}'\n[cosmic-ray.distributor]\nname = 'local'\n",
        encoding="utf-8",
    )


def try_changes(copy: Path, name: str, sample: int, seed: int) -> Score:
    """Make the changes of a subject in a copy, one after the other, and tell what came of them."""
    settings, session = copy / f"{name}.toml", copy / f"{name}.sqlite"
    write_settings(SUBJECTS[name], settings)
    paths = os.pathsep.join((str(copy), str(copy / "plugins")))
    around = {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
    tool = [sys.executable, "-m", "cosmic_ray.cli"]
    for verb in (["baseline", str(settings)], ["init", str(settings), str(session)]):
        subprocess.run([*tool, *verb], cwd=copy, env=around, check=True)
    with use_db(str(session)) as database:
        score = Score(choose_changes(database, copy, sample, random.Random(seed)))
    subprocess.run([*tool, "exec", str(settings), str(session)], cwd=copy, env=around, check=True)
    with use_db(str(session)) as database:
        count_results(database, copy, score)
    return score


def count_results(database: WorkDB, copy: Path, score: Score) -> None:
    """Put what came of each change that was tried into the score."""
    changes = {item.job_id: item.mutations[0] for item in database.work_items}
    survivors = []
    for job, result in database.results:
        if result.worker_outcome is WorkerOutcome.SKIPPED:
            continue
        if result.test_outcome is TestOutcome.SURVIVED:
            change = changes[job]
            line = change.start_pos[0]
            code = (copy / change.module_path).read_text(encoding="utf-8").splitlines()[line - 1]
            module, operator = str(change.module_path), change.operator_name.removeprefix("core/")
            survivors.append(Survivor(module, line, operator, code.strip()))
        else:
            score.noticed += 1
    score.survivors = tuple(sorted(survivors))


def keep_figures(name: str, wanted: argparse.Namespace, score: Score, file: Path) -> None:
    """Add what came of a subject to a file, one JSON object a line."""
    command = f"python tests/mutation/score.py --sample {wanted.sample} --seed {wanted.seed} {name}"
    told = {"subject": name, "day": f"{datetime.now(UTC):%Y-%m-%d}", "command": command}
    with file.open("a", encoding="utf-8") as stream:
        stream.write(json.dumps({**told, **asdict(score)}) + "\n")


def main() -> None:
    """Try the changes of each subject, and print its score and what survived."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("subjects", nargs="*", help=", ".join(SUBJECTS))
    parser.add_argument("--sample", type=int, default=0, help="changes a subject; all if left out")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--figures", type=Path, help="file to add the figures to")
    wanted = parser.parse_args()
    for name in wanted.subjects or SUBJECTS:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "copy"
            subprocess.run(["git", "clone", "-q", str(ROOT), str(copy)], check=True)
            score = try_changes(copy, name, wanted.sample, wanted.seed)
        if wanted.figures:
            keep_figures(name, wanted, score, wanted.figures)
        least, most = score.find_interval()
        sys.stdout.write(
            f"{name}: {score.noticed} of {score.tried} noticed, {score.noticed / score.tried:.1%} "
            f"({least:.1%} to {most:.1%}); {score.made} changes could be made\n"
        )
        sys.stdout.write(
            "".join(
                f"  survived: {each.module}:{each.line} {each.operator}: {each.code}\n"
                for each in score.survivors
            )
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
