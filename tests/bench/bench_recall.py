"""A recall over an office's jobs: reading the books once, and answering afterwards.

Run `python tests/bench/bench_recall.py [JOBS]`. Each job has 50 entries and a delivery that went
out; one in ten used the grid that is called back. The limit is 5 s for 1,000 jobs.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

from ledger.canonical import compute_digest
from ledger.deliverables import draft_deliverables
from ledger.find.office import recall
from ledger.model.known import KnownBy, KnownValue
from ledger.office import note_job
from ledger.store.machine import HOME_VARIABLE
from ledger.testing.books import BookBuilder

LIMIT_S = 5.0
ENTRIES = 50
KINDS = 10  # different books; the others are copies of these in other folders
BAD = compute_digest(b"bad grid")


def make_book(folder: Path, number: int) -> None:
    """Make a job of 50 entries."""
    book = BookBuilder(folder)
    book.card("flight", "F1")
    book.write("raw/cap.bin", f"capture {number}")
    book.register("raw/cap.bin", flight="F1")
    grid = "bad grid" if number == 0 else f"grid {number}"
    for run in range((ENTRIES - 6) // 2):
        name = f"out/tile_{run}.las"
        book.write(name, f"{number} {run}")
        geoid = KnownValue(compute_digest(grid.encode()), known_by=KnownBy.TYPED)
        book.run(name, flights=["F1"], values={"run.geoid_file": geoid})
        book.see(name)
    shutil.copytree(folder / "out", folder / "deliver")
    audit = book.audit("deliver")
    book.writer.append_all(draft_deliverables(book.writer, "technician"))
    sent = {
        "id": "H1",
        "deliverable": "D1",
        "folder": "deliver",
        "to": "client",
        "revision": "1",
        "supersedes": "",
        "manifest_sha256": audit.values["manifest_sha256"],
    }
    book.enter("transmittal", sent)
    while book.writer.size < ENTRIES:
        book.enter("recheck", {"counts": {}, "book": "unbroken", "paths": [], "book_only": True})
    book.close()


def measure_recall(base: Path, jobs: int) -> tuple[list[float], int]:
    """Return the seconds of three recalls, the first of which reads every book, and who is reached.

    `SWATHBOOK_HOME` has to name a folder of its own.
    """
    for number in range(KINDS):
        make_book(base / f"kind{number}", number)
    for number in range(jobs):
        folder = base / "jobs" / f"{number:05}"
        folder.mkdir(parents=True)
        source = base / f"kind{number % KINDS}" / "swathbook.sqlite"
        shutil.copyfile(source, folder / "swathbook.sqlite")
        note_job(folder)
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        result = recall([BAD[:12]], None, everywhere=True)
        times.append(time.perf_counter() - begun)
    return times, sum(len(each.sent) for each in result.touched)


def main(jobs: int) -> int:
    """Make the jobs, time a first and a second recall, and print both."""
    with tempfile.TemporaryDirectory() as name:
        os.environ[HOME_VARIABLE] = str(Path(name) / "home")
        times, reached = measure_recall(Path(name), jobs)
    told = (
        f"{jobs} jobs of {ENTRIES} entries: {reached} recipients reached",
        f"first, every book read: {times[0]:.2f} s, {1000 * times[0] / jobs:.1f} ms a job",
        f"afterwards: {min(times[1:]):.2f} s (limit {LIMIT_S:.0f} s for 1,000 jobs)",
    )
    sys.stdout.write("".join(f"{line}\n" for line in told))
    return 0 if reached == -(-jobs // KINDS) and min(times[1:]) < LIMIT_S else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
