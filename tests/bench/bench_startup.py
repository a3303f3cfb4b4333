"""How long a person waits for a command that has next to nothing to do.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_startup.py [--rounds 15]

Every round runs, each in a process of its own: python alone, python with `import click` (the
limit), and the commands in a job with one file and one run. Compiled files are kept, as in any
installation that was used once.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from rounds import Line, measure, show

from ledger.testing import Scene, SurveyBuilder

CLICK = "import click"
READING, ANY = 3.5, 6.0

# Arguments by the name in the table, with the budget.
COMMANDS: dict[str, tuple[list[str], float | None]] = {
    "--help": (["--help"], 1.3),
    "--version": (["--version"], 1.3),
    "bare": ([], READING),
    "trace": (["trace", "out/tile_0_0.laz"], READING),
    "trace --json": (["--json", "trace", "out/tile_0_0.laz"], READING),
    "recheck": (["recheck"], ANY),
    "register one file": (["register", "raw"], ANY),
    "checks": (["checks"], None),
    "audit --quick": (["audit", "out", "--quick"], None),
    "audit": (["audit", "out"], None),
}


def make_job(folder: Path, run: Callable[[list[str]], object]) -> Path:
    """Make a job with one raw file and one tile that a run made."""
    job = folder / "job"
    run(["start", str(job)])
    (job / "raw" / "flight.bin").write_bytes(b"raw" * 1000)
    SurveyBuilder(job / "out", scene=Scene(columns=1, density=1.0))
    run(["--job", str(job), "register", str(job / "raw"), "--flight", "F1"])
    run(["--job", str(job), "record", str(job / "out"), "--input", "F1", "--set", "software=x"])
    return job


def main() -> None:
    """Make the job, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=15)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "SWATHBOOK_HOME": folder}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)

        def python(*words: str, place: str = folder) -> subprocess.CompletedProcess[bytes]:
            done = subprocess.run(
                [sys.executable, *words],
                cwd=place,
                env=environment,
                capture_output=True,
                check=False,
                stdin=subprocess.DEVNULL,
            )
            # 2 is a command that was not understood, 1 a traceback of python as well.
            if done.returncode == 2 or b"Traceback" in done.stderr:
                raise SystemExit(done.stderr.decode())
            return done

        job = make_job(Path(folder), lambda words: python("-m", "ledger.cli", *words))

        def command(words: list[str]) -> Callable[[], object]:
            return lambda: python("-m", "ledger.cli", *words, place=str(job))

        work = {"python": lambda: python("-c", ""), CLICK: lambda: python("-c", CLICK)}
        work |= {name: command(words) for name, (words, _) in COMMANDS.items()}
        measure(work, 1)  # compiled files are written
        times = measure(work, wanted.rounds)
    budgets = {name: budget for name, (_, budget) in COMMANDS.items()}
    show("start-up", times, [Line(name, CLICK, budgets.get(name)) for name in work])


if __name__ == "__main__":
    main()
