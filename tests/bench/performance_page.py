"""Writes docs/reference/performance.md anew: every budget and how things grow, measured now.

    python tests/bench/performance_page.py [--short] [--cpu] [--only WORD] [--show]

The long run took 12 minutes on two quiet cores; the short one (`--short`) takes fewer points,
bytes, entries and rounds. Where others work on the machine the page says so; `--cpu` then takes
processor time where one process does the work.
`--only` measures topics with this word in the title, and `--show` prints instead of writing.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import growth
import machine
import performance_rows as rows
from bench_audit import SMALL_TILES, make_scene, make_small_scene, measure_full, measure_quick
from bench_book import measure_appends, measure_check
from bench_copying import measure_copies
from bench_fingerprint import make_file, measure_file
from bench_recall import LIMIT_S, measure_recall
from bench_register import measure_register
from bench_startup import COMMANDS, measure_startup
from bench_workers import TWO, make_row, measure_job
from rounds import Clock, Line, Times, find_ratios, read_children_clock, tell_growth

MOST_MIB = 512  # of all processes of an audit with two
MOST_OF_ONE_MIB = 256  # of an audit with one process, however many points
MOST_GROWN = {"root": 3.0, "proof": 3.0}  # times as long in the largest book as in the smallest
PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "performance.md"
Lines = Iterator[str]
_INTRODUCTION = (
    "How fast, against what, and how it grows.",
    "Each work is timed in turn with its limit and divided by the limit of the same round.",
    "The middle ratio is told, with the least and the greatest of all rounds.",
    "Trust the ratios; seconds are those of the machine below, with files in its page cache.",
)


@dataclass(frozen=True)
class Mode:
    """How much is measured.

    Args:
        name: `long` or `short`.
        cpu: take processor time where one process does the work.
        rounds: how often each work and its limit are timed in turn.
        tiles: tiles of a million points of the full audits.
        small_tiles: tiles of some 20,000 points of the full audit of small ones.
        mebibytes: bytes that are registered, and that are copied.
        checked: entries of the book that is checked against reading its rows.
        jobs: jobs that a recall asks.
        growing_tiles: tiles of a million points, more and more.
        growing_files: tiny tiles, more and more.
        growing_entries: entries of a book, more and more.
        densities: points a square metre, less and less.
    """

    name: str
    cpu: bool
    rounds: int
    tiles: int
    small_tiles: int
    mebibytes: int
    checked: int
    jobs: int
    growing_tiles: tuple[int, ...]
    growing_files: tuple[int, ...]
    growing_entries: tuple[int, ...]
    densities: tuple[float, ...]

    @property
    def clock(self) -> Clock:
        """Return what gives the seconds of work in this process."""
        return time.process_time if self.cpu else time.perf_counter


def choose_mode(*, short: bool, cpu: bool) -> Mode:
    """Return the mode that is asked for."""
    if short:
        return Mode(
            *("short", cpu, 3, 2, 100, 128, 3_000, 100),
            *((2, 4), (100, 200, 400), (1_000, 10_000), (10.0, 1.0)),
        )
    return Mode(
        *("long", cpu, 5, 20, SMALL_TILES, 512, 100_000, 1_000),
        *((2, 8, 20), (100, 500, 2_000), (1_000, 100_000, 1_000_000), (10.0, 1.0, 0.1)),
    )


def tell_rows(times: Times, table: tuple[rows.Row, ...]) -> Lines:
    """Yield the table of some budgets."""
    yield "| work | limit, timed in the same rounds | budget | measured | |"
    yield "| --- | --- | --- | --- | --- |"
    for row in table:
        ratios = find_ratios(times, Line(row.name, row.limit, row.budget))
        middle = statistics.median(ratios)
        told = f"{middle:.2f} × ({min(ratios):.2f} to {max(ratios):.2f})"
        allowed = "–" if row.budget is None else f"≤ {row.budget:.2f} ×"
        verdict = tell_verdict(middle, row.budget, row.why)
        yield f"| {row.work} | {row.limit_words} | {allowed} | {told} | {verdict} |"


def tell_verdict(measured: float, budget: float | None, why: str) -> str:
    """Return whether a budget is met, else by how much it is missed and why."""
    if budget is None:
        return ""
    if measured <= budget:
        return "met"
    over = 100 * (measured / budget - 1)
    return f"**missed by {over:.0f} %**" + (f": {why}" if why else "")


def _audit(folder: Path, mode: Mode, *, compressed: bool) -> tuple[Times, int]:
    scene = make_scene(mode.tiles)
    return measure_full(folder, mode.rounds, scene, mode.clock, compressed=compressed)


def _tell_full(folder: Path, mode: Mode) -> Lines:
    for name, table in (("LAZ", rows.LAZ), ("LAS", rows.LAS)):
        yield ""
        times, points = _audit(folder / name, mode, compressed=name == "LAZ")
        rate = points / statistics.median(times["audit"]) / 1e6
        yield f"{name}: {points / 1e6:.1f} million points, {rate:.1f} million a second."
        yield ""
        yield from tell_rows(times, table)


def _tell_small(folder: Path, mode: Mode) -> Lines:
    scene = make_small_scene(mode.small_tiles)
    times, points = measure_full(folder / "small", mode.rounds, scene, mode.clock)
    each = 1e3 * statistics.median(times["audit"]) / mode.small_tiles
    yield f"{mode.small_tiles} tiles, {points / 1e6:.1f} million points; {each:.0f} ms a tile."
    yield ""
    yield from tell_rows(times, rows.SMALL)


def _tell_processes(folder: Path, mode: Mode) -> Lines:
    found = measure_job(folder / "processes", make_row(mode.tiles), (2,), mode.rounds)
    held = found.mebibytes[TWO]
    yield f"{found.points / 1e6:.1f} million points in LAZ, each work in processes of its own."
    yield "On the clock, loading the checks included."
    yield ""
    yield from tell_rows(found.clock, rows.PROCESSES)
    yield ""
    verdict = tell_verdict(held, MOST_MIB, "")
    yield f"Most memory of all processes of an audit with two, added up: {held:.0f} MiB; {verdict}."


def _tell_quick(folder: Path, mode: Mode) -> Lines:
    times, tiles = measure_quick(folder / "quick", mode.rounds, mode.clock)
    yield f"{tiles} tiles; {1e3 * statistics.median(times['quick audit']):.0f} ms."
    yield ""
    yield from tell_rows(times, rows.QUICK)


def _tell_register(folder: Path, mode: Mode) -> Lines:
    yield f"{mode.mebibytes} MiB, in the page cache."
    yield ""
    yield from tell_rows(measure_register(folder, mode.mebibytes, 16, mode.rounds), rows.REGISTER)


def _tell_copies(folder: Path, mode: Mode) -> Lines:
    yield f"{mode.mebibytes} MiB; source and copies on one drive, each copy read back from it."
    yield ""
    yield from tell_rows(measure_copies(folder, folder, mode.mebibytes, mode.rounds), rows.COPIES)


def _tell_fingerprint(folder: Path, mode: Mode) -> Lines:
    path, points = make_file(folder)
    yield f"{points / 1e6:.1f} million points."
    yield ""
    yield from tell_rows(measure_file(path, mode.rounds, mode.clock), rows.FINGERPRINT)


def _tell_startup(folder: Path, mode: Mode) -> Lines:
    clock = read_children_clock if mode.cpu else time.perf_counter
    times = measure_startup(folder, COMMANDS, 2 * mode.rounds + 1, clock)
    yield "Every command in a process of its own, in a small job."
    yield ""
    yield from tell_rows(times, rows.STARTUP)


def _tell_book(folder: Path, mode: Mode) -> Lines:
    appended = measure_appends(folder / "append", mode.rounds)
    checked = measure_check(folder / "check", mode.checked, mode.rounds)
    yield f"The check is that of {mode.checked:,} entries."
    yield ""
    yield from tell_rows(appended | checked, rows.BOOK)


def _tell_recall(folder: Path, mode: Mode) -> Lines:
    times, reached = measure_recall(folder, mode.jobs)
    again, budget = min(times[1:]), LIMIT_S * mode.jobs / 1_000
    yield "| work | budget | measured | |"
    yield "| --- | --- | --- | --- |"
    yield (
        f"| recall over {mode.jobs:,} jobs, {reached} recipients reached | ≤ {budget:.1f} s | "
        f"{again:.2f} s; {times[0]:.2f} s when every book is read first | "
        f"{tell_verdict(again, budget, '')} |"
    )


def _tell_growth(folder: Path, mode: Mode) -> Lines:
    yield "Each audit in a process of its own; memory is the most that it ever held, all included."
    yield "Seconds are by the wall, and include loading the checks; one process reads."
    yield ""
    yield from _tell_points(list(growth.audit_points(folder, mode.growing_tiles)))
    yield ""
    yield "| quick audit: files | s | ms a file | MiB |"
    yield "| --- | --- | --- | --- |"
    audited = list(growth.audit_files(folder, mode.growing_files))
    for one in audited:
        each = 1e3 * one.seconds / one.files
        yield f"| {one.files:,} | {one.seconds:.2f} | {each:.2f} | {one.mebibytes:.0f} |"
    yield ""
    seconds = [one.seconds for one in audited]
    yield tell_growth("Files", [one.files for one in audited], seconds)
    yield ""
    yield "| full audit of a million points: cells of 1 m² | s | MiB |"
    yield "| --- | --- | --- |"
    cells = list(growth.audit_cells(folder, mode.densities))
    for area, one in cells:
        yield f"| {area:,.0f} | {one.seconds:.1f} | {one.mebibytes:.0f} |"
    yield ""
    yield tell_growth("Cells", [area for area, _ in cells], [one.seconds for _, one in cells])


def _tell_points(audited: list[growth.Audited]) -> Lines:
    yield "| full audit: points | s | s a million | MiB |"
    yield "| --- | --- | --- | --- |"
    for one in audited:
        rate = one.seconds / one.points * 1e6
        yield f"| {one.points:,} | {one.seconds:.1f} | {rate:.2f} | {one.mebibytes:.0f} |"
    yield ""
    most = max(one.mebibytes for one in audited)
    yield tell_growth("Points", [o.points for o in audited], [o.seconds for o in audited])
    yield f"Most memory: {most:.0f} MiB, budget {MOST_OF_ONE_MIB}: {_tell_held(most)}."


def _tell_held(mebibytes: float) -> str:
    why = "the ground that the tiles cover takes its share"
    return tell_verdict(mebibytes, MOST_OF_ONE_MIB, why)


def _tell_entries(folder: Path, mode: Mode) -> Lines:
    names = ("append", "root", "proof", "trace", "recheck")
    yield f"| book: entries | {' | '.join(f'{name}, ms' for name in names)} | MiB |"
    yield "| --- " * (len(names) + 2) + "|"
    entered = list(growth.enter_books(folder, mode.growing_entries))
    for one in entered:
        told = " | ".join(f"{1e3 * one.seconds[name]:,.2f}" for name in names)
        yield f"| {one.entries:,} | {told} | {one.mebibytes:.1f} |"
    yield ""
    yield "Entries are small; `recheck` is that of the book alone, and reads every one of them."
    yield ""
    for name in names:
        seconds = [one.seconds[name] for one in entered]
        told = tell_growth(f"`{name}`", [one.entries for one in entered], seconds)
        if name in MOST_GROWN:
            verdict = tell_verdict(seconds[-1] / seconds[0], MOST_GROWN[name], "")
            told += f" Budget {MOST_GROWN[name]:.0f} times: {verdict}."
        yield f"- {told}"


TOPICS: dict[str, Callable[[Path, Mode], Lines]] = {
    "Full audit": _tell_full,
    "Full audit of small tiles": _tell_small,
    "Full audit in more processes": _tell_processes,
    "Quick audit of 500 tiles": _tell_quick,
    "Register": _tell_register,
    "Register with copies": _tell_copies,
    "Fingerprint": _tell_fingerprint,
    "Start-up": _tell_startup,
    "Book": _tell_book,
    "Recall": _tell_recall,
    "How an audit grows": _tell_growth,
    "How a book grows": _tell_entries,
}


def measure_topic(title: str, mode: Mode) -> Lines:
    """Yield the section of a topic, measured in a folder of its own, and who else was at work."""
    yield f"## {title}"
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        os.environ["SWATHBOOK_HOME"] = str(Path(name) / "home")
        folder = Path(name) / "work"
        for place in ("", "append", "check"):
            (folder / place).mkdir(parents=True, exist_ok=True)
        told = list(TOPICS[title](folder, mode))
    yield from told if told[0] == "" else ("", *told)
    others = machine.read_others()
    sys.stderr.write(f"{title}: {time.perf_counter() - begun:.0f} s\n")
    yield ""
    if others is not None and others > machine.BUSY:
        yield f"DISTURBED: {others:.1f} programs of others wanted a processor meanwhile."
        yield ""


def write_page(mode: Mode, only: str) -> str:
    """Return the page, measured now."""
    begun = time.monotonic()
    titles = [title for title in TOPICS if only.casefold() in title.casefold()]
    sections = [line for title in titles for line in measure_topic(title, mode)]
    minutes = (time.monotonic() - begun) / 60
    disturbed = any(line.startswith("DISTURBED") for line in sections)
    words = f"{'' if mode.name == 'long' else ' --short'}{' --cpu' if mode.cpu else ''}"
    made = (
        f"Measured on {datetime.now(UTC):%Y-%m-%d} in the {mode.name} run, which took "
        f"{minutes:.1f} minutes, by `python tests/bench/performance_page.py{words}`."
    )
    head = ["# Performance", "", *_INTRODUCTION, "", made]
    if mode.cpu:
        head.append("Audits, fingerprint and start-up are in processor time, all else in seconds.")
    if disturbed:
        head.append(
            "**Others worked on the machine meanwhile: sections marked DISTURBED are no verdict, "
            "and the page has to be made again on a quiet one.**"
        )
    if mode.name == "short":
        head.append(
            "The long run takes more points, bytes, entries and rounds; what a short one misses by "
            "little may be met there, and the other way round."
        )
    facts = [f"| {name} | {told} |" for name, told in machine.describe()]
    return "\n".join((*head, "", "| machine | |", "| --- | --- |", *facts, "", *sections)).rstrip()


def main() -> None:
    """Measure, and write or print the page."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--short", action="store_true", help="fewer points, bytes and rounds")
    parser.add_argument("--cpu", action="store_true", help="processor time, on a busy machine")
    parser.add_argument("--only", default="", metavar="WORD", help="topics with this in the title")
    parser.add_argument("--show", action="store_true", help="print the page instead of writing it")
    wanted = parser.parse_args()
    if wanted.only and not wanted.show:
        parser.error("a page of some topics is not written: add --show")
    page = write_page(choose_mode(short=wanted.short, cpu=wanted.cpu), wanted.only) + "\n"
    if wanted.show:
        sys.stdout.write(page)
    else:
        PAGE.write_text(page, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
