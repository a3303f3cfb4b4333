"""Commands that run in this process, each with one call refused from inside Python."""

from __future__ import annotations

import shutil

from judging import Tally, judge, make_words, run_ended, shorten
from kills import Bench
from refusing import ERRORS, Refuser

from ledger.store.machine import find_home
from ledger.store.reading import Book


def refuse_here(bench: Bench, kind: str, step: int = 1, first: int = 1) -> Tally:
    """Refuse calls of a command from inside Python, each error in turn, until it gets through.

    Args:
        bench: the job.
        kind: which command.
        step: every so manieth call is refused.
        first: number of the first one that is.
    """
    tally = Tally()
    roots = (bench.job, bench.drive, bench.base / "another", find_home())
    number = first
    while True:
        bench.lay_anew()
        shutil.rmtree(bench.base / "another", ignore_errors=True)
        words = make_words(bench, kind)
        with Book.open(bench.job) as book:
            before = book.size
        error = ERRORS[number // step % len(ERRORS)]
        with Refuser(roots, number, error) as refuser:
            ended = run_ended(bench, words)
        if not refuser.refused:
            return tally
        tally.refused[kind] += 1
        tally.sites[f"{refuser.refused.split(' ')[0]}:{error}"] += 1
        where = f"{kind}, call {number} {error} ({shorten(refuser.refused)})"
        tally.faults += [f"{where}: {each}" for each in judge(bench, kind, before, ended, tally)]
        number += step
