"""The rows of `docs/reference/performance.md`: work, limit, budget, and why one is missed.

What stands here by hand is the reason; every number on the page comes from the run that wrote it.
"""

from __future__ import annotations

from dataclasses import dataclass

import bench_copying
import bench_register
import bench_workers
from bench_startup import CLICK, COMMANDS


@dataclass(frozen=True)
class Row:
    """One budget.

    Args:
        work: what is done, as a reader understands it.
        name: its name in the times of the measurement.
        limit: name of the limit in the same times.
        limit_words: the limit, as a reader understands it.
        budget: the greatest ratio that is allowed; None where nothing is.
        why: what the rest consists of, for a budget that is missed.
    """

    work: str
    name: str
    limit: str
    limit_words: str
    budget: float | None
    why: str = ""


_DECODE = "decoding the same files with one thread, every field, nothing kept"
_OF_FULL = (
    "a dozen tallies share what decoding does not take; fingerprint and taking records apart are a "
    "third of it (decision 0022)"
)
LAZ = (
    Row("full audit of LAZ", "audit", "decode, 1 thread", _DECODE, 1.25, _OF_FULL),
    Row(
        "the same, against a decoder that has all cores too",
        "audit",
        "decode, all cores",
        "decoding the same files on all cores, every field, nothing kept",
        None,
    ),
)
LAS = (
    Row(
        "full audit of LAS; no budget, for reading LAS takes next to nothing",
        "audit",
        "decode, 1 thread",
        "reading the same files, every field, nothing kept",
        None,
    ),
)
SMALL = (
    Row(
        "full audit of small tiles of LAZ",
        "audit",
        "decode, 1 thread",
        _DECODE,
        1.25,
        "what is looked for among neighbouring points and along swaths is closed file by file, and "
        "takes as long for a small sample as for a large one; beside it stand the tallies of the "
        "full audit above",
    ),
)
_ONE_THREAD = "the same with one process that decodes with one thread"
PROCESSES = (
    Row(
        "full audit, one process, decoder with one thread",
        bench_workers.ONE_THREAD,
        bench_workers.DECODE,
        _DECODE,
        1.25,
        _OF_FULL,
    ),
    Row(
        "full audit, one process, decoder on all cores, as it comes",
        bench_workers.ONE,
        bench_workers.ONE_THREAD,
        _ONE_THREAD,
        None,
    ),
    Row(
        "full audit, two processes",
        bench_workers.TWO,
        bench_workers.ONE_THREAD,
        _ONE_THREAD,
        1 / 1.7,
        "each process loads the checks, and what they found is sent and joined",
    ),
    Row(
        "full audit, two processes",
        bench_workers.TWO,
        bench_workers.DECODE_BOTH,
        "decoding half of the files in each of two processes, every field, nothing kept",
        1.35,
        _OF_FULL,
    ),
)
QUICK = (
    Row(
        "quick audit",
        "quick audit",
        "open headers",
        "opening the same files with the general library",
        1.5,
        "what it consists of stands in decision 0022",
    ),
)
_MEMORY = "SHA-256 of the same bytes in memory, one thread"
_COPIED = (
    "reading a file copies it out of the cache of files, which a fast digest feels; "
    "`hashlib.file_digest` of the standard library takes no less"
)
REGISTER = (
    Row(
        "digests of files, one thread",
        "digests, 1 thread",
        bench_register.MEMORY,
        _MEMORY,
        1.05,
        _COPIED,
    ),
    Row(
        "register, two files at a time",
        "register",
        bench_register.MEMORY,
        _MEMORY,
        1 / 1.8,
        f"{_COPIED}; facts of the files and the entry come on top",
    ),
)
_COPY = "hash, copy and hash of the copy, one after the other"
COPIES = (
    Row(
        "register with one copy",
        "1 verified copy",
        bench_copying.ONE,
        _COPY,
        0.75,
        "how long the drive takes to write differs from round to round by more than that",
    ),
    Row(
        "register with two copies on one drive",
        "2 verified copies",
        bench_copying.TWO,
        f"{_COPY}, for two",
        1.1,
    ),
)
FINGERPRINT = (
    Row(
        "point fingerprint of points in memory",
        "fingerprint",
        "decode",
        "decoding the same file, one thread",
        0.10,
        "three levels and two lanes are finished for each point; one lane would miss some shifts",
    ),
)
_SCREEN = "screen and book are loaded, and nothing beside them"
_ALL = "every check is loaded, some 280 modules with their criteria, 0.7 ms a module"
_POINTS = "points are read, which needs the libraries for numbers, points and coordinate systems"
_LOADED = {
    "bare": _SCREEN,
    "trace": _SCREEN,
    "trace --json": _SCREEN,
    "find": _SCREEN,
    "checks": f"{_ALL}, to be listed",
    "register LAS": "a coordinate system is read, which needs its library",
    "record run --set": _POINTS,
    "record run --from": _POINTS,
    "audit --quick": f"{_ALL}, beside the libraries for numbers and coordinate systems",
    "audit": f"{_ALL}, beside the libraries for numbers, points and coordinate systems",
}
STARTUP = tuple(
    Row(
        f"`{name}`" if name != "bare" else "the bare command",
        name,
        CLICK,
        "a fresh interpreter with `import click`",
        command.budget,
        _LOADED.get(name, ""),
    )
    for name, command in COMMANDS.items()
)
BOOK = (
    Row(
        "append an entry of 1.8 KB, durable",
        "append one by one",
        "fsync",
        "one fsync of 4 KiB",
        5.0,
        "SQLite syncs its journal as well as the book",
    ),
    Row(
        "append 2,000 entries in one command",
        "append 20 x together",
        "append one by one",
        "appending 100 of them one after the other",
        1.0,
        "where the wait for the drive is short, waiting once saves little",
    ),
    Row(
        "check of the whole book",
        "check",
        "read rows",
        "reading its rows",
        5.0,
        "the root after every entry, not the last alone, takes 3.5 readings of the rows; knowing "
        "that each body is an entry takes 2, holding the tables for look-ups against them 2 more",
    ),
)
