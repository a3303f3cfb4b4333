"""What has to hold after a command that the system refused something, however it was refused."""

from __future__ import annotations

import contextlib
import io
import json
import re
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kills import KINDS, Bench, digest, read_entry, run_here

from ledger.cli.frame import main
from ledger.errors import SwathbookError
from ledger.model.ask import NoProgress
from ledger.store.reading import BOOK_NAME, Book

COMMANDS = (*KINDS, "recheck", "start")
STATUSES = (0, 1, 2, 3)
_STAYS = re.compile(r"(\d+) \(\S+\) (is|are) in the book all the same")


@dataclass
class Tally:
    """What came of all refusals.

    Args:
        refused: refused calls by command.
        sites: calls that were refused, by kind of call and error.
        entered: commands that said no after their entry was in the book.
        outcome: how often each status came.
        faults: what did not hold, one sentence each.
    """

    refused: Counter[str] = field(default_factory=Counter)
    sites: Counter[str] = field(default_factory=Counter)
    outcome: Counter[str] = field(default_factory=Counter)
    entered: int = 0
    faults: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Ended:
    """How a command ended, and what it printed."""

    status: int
    out: str
    err: str


def make_words(bench: Bench, kind: str) -> list[str]:
    """Return what is typed, beginning with the option that asks for an object."""
    if kind == "recheck":
        return ["--json", "recheck"]
    if kind == "start":
        return ["--json", "start", str(bench.base / "another")]
    return ["--json", *bench.make_command(kind)]


def judge(bench: Bench, kind: str, before: int, ended: Ended, tally: Tally) -> list[str]:
    """Return what does not hold after a command that met a refusal.

    Args:
        bench: the job.
        kind: which command it was.
        before: entries before it.
        ended: how it ended.
        tally: is told how.
    """
    tally.outcome[str(ended.status)] += 1
    faults = list(_judge_words(ended))
    try:
        with Book.open(bench.job) as book:
            after = book.size
    except SwathbookError as error:
        return [*faults, f"the book cannot be opened: {error}"]
    if after > before + 2:
        faults.append(f"one command entered {after - before}")
    if kind == "start":
        faults += _judge_start(bench, ended)
    else:
        tally.entered += ended.status == 2 and after > before
        faults += _judge_late(ended, after if after > before else None)
    faults += _judge_copies(bench, ended)
    told = None if kind == "start" else read_entry(ended.out)
    return faults + bench.list_faults(told)


def _judge_late(ended: Ended, entered: int | None) -> Iterator[str]:
    """Yield what is wrong with what a refused command said of its entry.

    Args:
        ended: how it ended.
        entered: the last entry that it stored; None for none.
    """
    told = read_object(ended.out)
    said = _STAYS.search(ended.err)
    if ended.status == 2 and entered is not None:
        if said is None or int(said[1]) != entered or (told and told["entries"][-1:] != [entered]):
            yield f"entry {entered} is in the book, which is not said: {ended.err.strip()}"
    elif said is not None:
        yield f"no entry is in the book, or none failed, and it is said: {ended.err.strip()}"


def _judge_start(bench: Bench, ended: Ended) -> Iterator[str]:
    """Yield what is wrong with a job that was begun: it is whole, or can be begun again."""
    place = bench.base / "another"
    if ended.status == 2 and run_here("start", place) not in (0, 2):
        yield "the job cannot be begun again"
    with contextlib.suppress(SwathbookError), Book.open(place) as book:
        state = book.check(NoProgress())
        if state.unbroken and book.size:
            return
    yield "a job was begun, and its book is broken or empty"


def _judge_words(ended: Ended) -> Iterator[str]:
    """Yield what is wrong with what was said: a status, one line, an object."""
    if ended.status not in STATUSES:
        yield f"status {ended.status}"
    if "Traceback" in ended.err + ended.out:
        yield f"a traceback: {ended.err.strip().splitlines()[-1:]}"
    lines = ended.err.splitlines()
    if any(not line.startswith("swathbook: ") for line in lines):
        yield f"more than lines of ours: {lines}"
    if ended.status == 2 and len(lines) != 1:
        yield f"{len(lines)} lines for one refusal: {lines}"
    if ended.status != 2 and read_object(ended.out) is None:
        yield f"status {ended.status} and no object"


def _judge_copies(bench: Bench, ended: Ended) -> Iterator[str]:
    """Hold what was told of copies against what lies on the drive, and a copy of the book."""
    whole = [path for path in bench.drive.rglob("more_*.bin") if _is_copy(bench, path)]
    for told in (read_object(ended.out) or {}).get("drives", ()):
        if told["copied"] + told["found"] > len(whole):
            yield "more copies were told of than lie there whole"
    for path in bench.drive.rglob(BOOK_NAME):
        with Book.open(path) as book:
            if not book.check(NoProgress()).unbroken:
                yield "the copy of the book is broken"


def _is_copy(bench: Bench, path: Path) -> bool:
    source = bench.job / "raw" / path.name
    return source in bench.fixed and digest(path) == bench.fixed[source]


def read_object(text: str) -> dict[str, Any] | None:
    """Return the object that was printed; None where it is not whole."""
    try:
        found: dict[str, Any] = json.loads(text)
    except ValueError:
        return None
    return found


def run_ended(bench: Bench, words: list[str]) -> Ended:
    """Run a command in this process; whatever it raises is told as a traceback would be."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(bench.job),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            status = main(words)
        except Exception:  # noqa: BLE001 - any of them is a fault
            return Ended(70, out.getvalue(), traceback.format_exc())
    return Ended(status, out.getvalue(), err.getvalue())


def shorten(line: str) -> str:
    """Return a call that was refused, its folders left out."""
    return " ".join(re.sub(r"/\S*/", "", line).split())[:90]
