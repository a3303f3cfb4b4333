"""How long a person waits for a command that has next to nothing to do.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_startup.py [--rounds 15] [--only WORD] [--cpu]

Every round runs, each in a process of its own: python alone, python with `import click` (the
limit), the commands in a fresh copy of a small job, and, for commands whose files need large
libraries, the import of those libraries alone. The last lines say of every missed budget how much
of it those libraries take: where they pass it alone, no command can keep it. Compiled files are
kept, as in any installation that was used once.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rounds import Clock, Line, Times, find_ratios, measure, read_children_clock, show

from ledger.testing import Layout, Scene, SurveyBuilder

CLICK = "import click"
HELP, READING, WRITING = 1.3, 3.5, 6.0
FINDING = "FINDING"  # stands for the id of a minor finding of the job

# What a call loads at the least, whatever is written around it: screens and book, then what its
# files need. A system of coordinates needs pyproj, points need laspy, job.toml needs pydantic; a
# plugin is found through its entry point and computes with numpy.
SCREEN = "import click, rich.console, rich.table, rich.progress, sqlite3"
CRS = f"{SCREEN}, pyproj"
POINTS = f"{CRS}, numpy, laspy"
CHECKS = f"{SCREEN}, pluggy, pydantic, numpy; from importlib.metadata import entry_points as e; e()"
HEADERS = f"{CHECKS}; import pyproj"
AUDIT = f"{HEADERS}, laspy"


@dataclass(frozen=True)
class Command:
    """A command that is timed.

    Args:
        words: what is typed in the job folder.
        budget: the greatest ratio to the limit.
        libraries: an import that the files at hand make necessary; empty where none is large.
    """

    words: tuple[str, ...]
    budget: float
    libraries: str = ""


def _type(line: str, budget: float, libraries: str = "") -> Command:
    return Command(tuple(line.split()), budget, libraries)


COMMANDS = {
    "--help": _type("--help", HELP),
    "--version": _type("--version", HELP),
    "bare": _type("", READING),
    "trace": _type("trace out/tile_0_0.laz", READING),
    "trace --json": _type("--json trace out/tile_0_0.laz", READING),
    "find": _type("find tile", READING),
    "checks": _type("checks", READING, CHECKS),
    "start": _type("start ../new --reference QM-1 --title Pit", WRITING),
    "register texts": _type("register texts --flight F1", WRITING),
    "register LAS": _type("register las", WRITING, CRS),
    "record rig --set": _type("record rig --set scanner_serial=A1", WRITING),
    "record flight --from": _type("record flight --from flight.toml", WRITING),
    "record run --set": _type("record more --input F1 --set software=x", WRITING, POINTS),
    "record run --from": _type("record more --input F1 --from run.toml", WRITING, POINTS),
    "record decision": _type("record decision R1 accepted --reason tidy", WRITING),
    "audit --quick": _type("audit out --quick", WRITING, HEADERS),
    "audit": _type("audit out", WRITING, AUDIT),
    "accept": _type(f"accept {FINDING} --by office --reason agreed", WRITING),
    "amend": _type("amend R1 --set software=y --reason typo", WRITING),
    "recheck": _type("recheck", WRITING),
}


def make_job(folder: Path, run: Callable[[list[str]], bytes]) -> Path:
    """Make a job with a flight, a tile that a run made, an audit, and files for every command."""
    job = folder / "job"
    run(["start", str(job)])
    (job / "raw" / "flight.bin").write_bytes(b"raw" * 1000)
    (job / "texts").mkdir()
    for name, text in (("notes.md", "wind\n"), ("a.cfg", "a = 1\n"), ("run.log", "done\n")):
        (job / "texts" / name).write_text(text, encoding="utf-8")
    (job / "run.toml").write_text('[run]\nsoftware = "x"\nframe = "y"\n', encoding="utf-8")
    (job / "flight.toml").write_text('[flight]\nmount_mode = "drone"\n', encoding="utf-8")
    small = Scene(columns=1, density=1.0)
    SurveyBuilder(job / "las", Layout(compressed=False), scene=small)
    SurveyBuilder(job / "out", scene=small)
    SurveyBuilder(job / "more", scene=Scene(columns=1, density=1.0, seed=2))
    run(["--job", str(job), "register", str(job / "raw"), "--flight", "F1"])
    run(["--job", str(job), "record", str(job / "out"), "--input", "F1", "--set", "software=x"])
    return job


def find_minor(answer: bytes) -> str:
    """Return the id of a minor finding in an audit's JSON."""
    findings = json.loads(answer)["findings"]
    return next(str(one["id"]) for one in findings if one["grade"] == "minor")


def explain_missed(times: Times, commands: dict[str, Command]) -> None:
    """Say of every budget that is missed how much of it the libraries take alone."""
    for name, command in commands.items():
        ratio = statistics.median(find_ratios(times, Line(name, CLICK)))
        if ratio <= command.budget:
            continue
        told = "its files need no large library: mend it"
        if command.libraries:
            alone = statistics.median(find_ratios(times, Line(command.libraries, CLICK)))
            own = "passes it" if alone > command.budget else "leaves the rest to our own modules"
            told = f"the import of what its files need takes {alone:.2f} by itself, which {own}"
        print(f"{name}: {ratio:.2f} against {command.budget}; {told}")  # noqa: T201 - a result


def measure_startup(
    folder: Path, commands: dict[str, Command], rounds: int, clock: Clock = time.perf_counter
) -> Times:
    """Return the seconds of python, of the limit, of commands and of the libraries they need."""
    environment = {**os.environ, "SWATHBOOK_HOME": str(folder)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)

    def python(*words: str, place: str = str(folder)) -> bytes:
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
            raise SystemExit(f"{words}: {done.stderr.decode()}")
        return done.stdout

    job = make_job(folder, lambda words: python("-m", "ledger.cli", *words))
    audited = python("-m", "ledger.cli", "--json", "audit", "out", place=str(job))
    finding = find_minor(audited)
    copy = folder / "copies" / "job"

    def prepare() -> None:
        shutil.rmtree(copy.parent, ignore_errors=True)
        shutil.copytree(job, copy)

    def work_on(command: Command) -> Callable[[], object]:
        words = [finding if word == FINDING else word for word in command.words]
        return lambda: python("-m", "ledger.cli", *words, place=str(copy))

    def load(libraries: str) -> Callable[[], object]:
        return lambda: python("-c", libraries)

    work = {"python": load(""), CLICK: load(CLICK)}
    work |= {name: work_on(command) for name, command in commands.items()}
    needed = sorted({command.libraries for command in commands.values()} - {""}, key=len)
    work |= {libraries: load(libraries) for libraries in needed}
    measure(work, 1, prepare=prepare)  # compiled files are written
    return measure(work, rounds, prepare=prepare, clock=clock)


def main() -> None:
    """Make the job, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--only", default="", metavar="WORD", help="commands with this in the name")
    parser.add_argument("--cpu", action="store_true", help="processor time, on a busy machine")
    wanted = parser.parse_args()
    clock = read_children_clock if wanted.cpu else time.perf_counter
    commands = {name: command for name, command in COMMANDS.items() if wanted.only in name}
    with tempfile.TemporaryDirectory() as folder:
        times = measure_startup(Path(folder), commands, wanted.rounds, clock)
    lines = [Line("python", CLICK), Line(CLICK, CLICK)]
    lines += [Line(name, CLICK, command.budget) for name, command in commands.items()]
    show("start-up, processor time" if wanted.cpu else "start-up", times, lines)
    explain_missed(times, commands)


if __name__ == "__main__":
    main()
