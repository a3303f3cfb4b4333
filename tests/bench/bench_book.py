"""What the book costs: an entry against one fsync, and its check against reading its rows.

Not a test: a measurement, run by hand on a quiet machine.

    python tests/bench/bench_book.py [--entries 10000] [--rounds 5] [--folder ON_THE_DRIVE]

The folder has to lie on a drive: where temporary files are kept in memory, an fsync costs nothing.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import tempfile
from pathlib import Path

from rounds import Line, Times, measure, show

from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store.reading import BOOK_NAME, Book
from ledger.store.writing import Addition, BookWriter, create_book

SINGLE = 100
TOGETHER = 20 * SINGLE
PAGE = os.urandom(4096)


def make_draft(number: int, signs: int = 1600) -> Draft:
    """Return an entry of the usual size, some 1.8 KB, or with fewer signs of text."""
    text = "".join(f"{number}.{index} measured, " for index in range(100))
    return Draft(Kind.JOB, {"reference": str(number), "title": text[:signs], "like": ""})


def append_one_by_one(book: Path) -> None:
    """Append entries, each acknowledged before the next."""
    with BookWriter.open(book) as writer:
        for number in range(SINGLE):
            writer.append(make_draft(number))


def append_together(book: Path) -> None:
    """Append twenty times as many entries in one transaction."""
    with BookWriter.open(book) as writer:
        writer.append_all([Addition(make_draft(number)) for number in range(TOGETHER)])


def sync(path: Path) -> None:
    """Write a few kilobytes and wait for them, as often as entries are appended."""
    with path.open("wb") as stream:
        for _ in range(SINGLE):
            stream.write(PAGE)
            stream.flush()
            os.fsync(stream.fileno())


def measure_appends(folder: Path, rounds: int) -> Times:
    """Return the seconds of entries and of fsyncs."""
    create_book(folder).close()
    work = {
        "fsync": lambda: sync(folder / "scratch"),
        "append one by one": lambda: append_one_by_one(folder),
        "append 20 x together": lambda: append_together(folder),
    }
    measure(work, 1)
    return measure(work, rounds)


def measure_check(folder: Path, entries: int, rounds: int) -> Times:
    """Return the seconds of a check and of reading the rows."""
    with create_book(folder) as writer:
        writer.append_all([Addition(make_draft(number)) for number in range(entries)])

    def read_rows() -> None:
        with sqlite3.connect(folder / BOOK_NAME) as connection:
            for _ in connection.execute("SELECT seq, body, root FROM journal ORDER BY seq"):
                pass

    def check() -> None:
        with Book.open(folder) as book:
            state = book.check(NoProgress())
        if not state.unbroken or state.entries != entries:
            raise SystemExit(state.sentence)

    return measure({"read rows": read_rows, "check": check}, rounds)


def main() -> None:
    """Make the books, measure, and print the ratios."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--entries", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--folder", type=Path, help="where; a drive, not memory")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=wanted.folder) as name:
        os.environ["SWATHBOOK_HOME"] = name
        folders = [Path(name) / part for part in ("append", "check")]
        for folder in folders:
            folder.mkdir()
        appends = measure_appends(folders[0], wanted.rounds)
        checks = measure_check(folders[1], wanted.entries, wanted.rounds)
    size = len(str(make_draft(0).values))
    lines = [
        Line("fsync", "fsync"),
        Line("append one by one", "fsync", 1 / 0.2),
        Line("append 20 x together", "append one by one", 1.0),
    ]
    show(f"{SINGLE} entries of about {size} bytes", appends, lines)
    lines = [Line("read rows", "read rows"), Line("check", "read rows", 5.0)]
    show(f"{wanted.entries} entries", checks, lines)


if __name__ == "__main__":
    main()
