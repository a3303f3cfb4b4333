"""Writers that are killed, and writers side by side: real processes, no simulation."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from ledger.model.ask import NoProgress
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME
from ledger.store.writing import create_book

PROGRAM = Path(__file__).with_name("append_until_killed.py")
KILLS = 20


@contextmanager
def start_writer(folder: Path, name: str, count: int = 0) -> Iterator[subprocess.Popen]:
    """Start a writing process that says when it is ready and waits for a line to begin."""
    process = subprocess.Popen(
        [sys.executable, str(PROGRAM), str(folder), name, str(count)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        process.stdin.close()
        process.stdout.close()


def require_ready(process: subprocess.Popen) -> None:
    """Wait until a writer is ready."""
    assert process.stdout.readline() == "ready\n"


def begin(process: subprocess.Popen) -> None:
    """Let a writer that is ready begin."""
    process.stdin.write("\n")
    process.stdin.flush()


def read_acknowledged(
    process: subprocess.Popen, name: str, before: Sequence[str] = ()
) -> dict[int, tuple[str, int]]:
    """Return what a writer told: number of each entry, with writer and count.

    Args:
        process: the writer, at its end.
        name: its name.
        before: lines that were read of it already.
    """
    lines = [*before, *process.stdout.read().splitlines(keepends=True)]
    told = [line.split() for line in lines if line.endswith("\n")]
    return {int(seq): (name, int(number)) for seq, number in told}


def require_whole(folder: Path, acknowledged: dict[int, tuple[str, int]]) -> int:
    """Check that a book is unbroken and holds every acknowledged entry; return its size."""
    with Book.open(folder) as book:
        state = book.check(NoProgress())
        assert (state.unbroken, state.derived_difference) == (True, ""), state.sentence
        left = dict(acknowledged)
        for entry in book.entries():
            written = entry.values["writer"], entry.values["count"]
            assert left.pop(entry.seq, written) == written
            assert len(book.blob(entry.values["manifest"])) > 1000
    assert not left
    return state.entries


def measure_journal(folder: Path) -> int:
    """Return the size of the rollback journal; a write that was begun and not ended has one."""
    try:
        return (folder / f"{BOOK_NAME}-journal").stat().st_size
    except FileNotFoundError:
        return 0


def test_a_killed_writer_loses_no_acknowledged_entry_and_leaves_no_half(tmp_path):
    """Killed at random instants, 20 times on one book, every entry told of is there and whole.

    At most one more is there: stored, and killed before it could be told.
    """
    create_book(tmp_path).close()
    dice = random.Random(20260504)
    size = halves = 0
    with ExitStack() as processes:
        following = processes.enter_context(start_writer(tmp_path, "0"))
        for kill in range(KILLS):
            writer = following
            require_ready(writer)
            begin(writer)
            following = processes.enter_context(start_writer(tmp_path, str(kill + 1)))
            # Some entries first, however slow the machine is; then any instant of a later one.
            told = [writer.stdout.readline() for _ in range(dice.randrange(1, 4))]
            time.sleep(dice.uniform(0.0, 0.02))
            writer.kill()
            writer.wait()
            halves += measure_journal(tmp_path) > 0
            acknowledged = read_acknowledged(writer, str(kill), told)
            grown = require_whole(tmp_path, acknowledged)
            assert len(acknowledged) <= grown - size <= len(acknowledged) + 1
            size = grown
    assert size > KILLS
    assert halves > 2  # so many were killed between the beginning of a write and its end


@pytest.mark.parametrize(("names", "count"), [("ab", 40), ("abcdefgh", 8)])
def test_writers_side_by_side_keep_one_order(tmp_path, open_behind, names, count):
    """Processes that write at once give one book without gaps, each one's entries in order."""
    create_book(tmp_path).close()
    gate = open_behind(tmp_path)
    with ExitStack() as processes:
        writers = {
            name: processes.enter_context(start_writer(tmp_path, name, count)) for name in names
        }
        for writer in writers.values():
            require_ready(writer)
        gate.execute("BEGIN IMMEDIATE")  # all are waiting before any may write
        for writer in writers.values():
            begin(writer)
        time.sleep(0.1)
        gate.execute("ROLLBACK")
        told: dict[int, tuple[str, int]] = {}
        for name, writer in writers.items():
            told |= read_acknowledged(writer, name)
        assert {writer.wait() for writer in writers.values()} == {0}
    assert require_whole(tmp_path, told) == len(told) == len(names) * count
    for name in names:
        numbers = [told[seq][1] for seq in sorted(told) if told[seq][0] == name]
        assert numbers == list(range(1, count + 1))
