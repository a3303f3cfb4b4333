"""Commands over whole files that nobody can trust: books, raw data, specifications, scratch.

Each has to end as commands do; that a check of ours broke is a fault, too.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import fuzzseeds

from ledger.cli.frame import main
from ledger.store.reading import BOOK_NAME

_INSTRUMENTS = "INFO: Instrumenting "  # what the fuzzer itself prints while a module is loaded


class BrokenCheckError(AssertionError):
    """A command went on, and a part of it had broken."""


def feed_book(content: bytes, folder: Path) -> None:
    """Open bytes as a book: look things up, check it, and add to it."""
    job = folder / "job"
    job.mkdir()
    (job / BOOK_NAME).write_bytes(content)
    _type_all(job, *_LOOKS)


def feed_entries(content: bytes, folder: Path) -> None:
    """Open a book whose tree fits, and whose entries somebody wrote as they liked."""
    job = folder / "job"
    job.mkdir()
    fuzzseeds.forge_book(content, job / BOOK_NAME)
    _type_all(job, *_LOOKS)


_LOOKS = (
    ("recheck", "--book-only"),
    ("status",),
    ("trace", "R1"),
    ("trace", "out/points.las"),
    ("find", "software"),
    ("amend", "R1", "--set", "version=2", "--reason", "typed wrong"),
    ("record", "flight", "--set", "wind=light"),
    ("register", "raw"),
    ("seal",),
)


def feed_job(content: bytes, folder: Path) -> None:
    """Register bytes as raw data of several kinds, and audit them as what is delivered."""
    job = folder / "job"
    shutil.copytree(_find_template(), job)
    for name in ("raw/scan.las", "raw/base.obs", "raw/points.csv", "raw/geoid.tif", "out/a.las"):
        (job / name).write_bytes(content)
    _type_all(job, ("register", "raw", "--flight", "F1"), ("audit", "out"), ("status",))


def feed_wish(content: bytes, folder: Path) -> None:
    """Audit against a specification that somebody wrote."""
    job = folder / "job"
    shutil.copytree(_find_template(), job)
    (job / "job.toml").write_bytes(content)
    _type_all(job, ("audit", "out"), ("checks",), ("status",), ("sitecard",))


def feed_scratch(content: bytes, folder: Path) -> None:
    """Lay bytes where the program keeps what may be lost, and where the user's own things lie."""
    job = folder / "job"
    shutil.copytree(_find_template(), job)
    content = content.replace(fuzzseeds.JOB, str(job).encode())
    home = Path(os.environ["SWATHBOOK_HOME"])
    for name in _SCRATCH:
        place = job / ".swathbook" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
    home.mkdir(parents=True, exist_ok=True)
    for name in ("jobs.jsonl", "machine"):
        (home / name).write_bytes(content)
    _type_all(
        job,
        ("register", "raw"),
        ("status",),
        ("record", "rig", "--set", "scanner=another"),
        ("record", "out", "--set", "version=2"),
        ("recheck", "--book-only"),
        ("find", "x", "--everywhere"),
    )


# What may be lost: half-done work, drafts of forms, notes of who holds the book and how it was.
_SCRATCH = (
    "register.resume",
    "writer.json",
    "book.unbroken",
    "drafts/run.json",
    "drafts/step.json",
    "drafts/rig-new.json",
)


def _find_template() -> Path:
    """Return a job with a flight and a run, made once a process."""
    place = Path(os.environ["SWATHBOOK_HOME"]) / "template"
    if not place.exists():
        fuzzseeds.make_job(place)
    return place


def _type_all(job: Path, *commands: tuple[str, ...]) -> None:
    """Run commands one after the other; each has to end as commands do."""
    for words in commands:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = main(["--job", str(job), "--json", *_place(job, words)])
        told = (line for line in err.getvalue().splitlines() if not line.startswith(_INSTRUMENTS))
        _require_told(words, status, out.getvalue(), "\n".join(told))


def _place(job: Path, words: tuple[str, ...]) -> Iterator[str]:
    """Yield words with folders of the job made whole: this process stands elsewhere."""
    for word in words:
        yield str(job / word) if (job / word).exists() else word


def _require_told(words: tuple[str, ...], status: int, out: str, err: str) -> None:
    """Refuse what is no answer: another status, no object, more than it may say."""
    if status not in (0, 1, 2, 3):
        raise BrokenCheckError(f"{words[0]} ended with status {status}")
    result = json.loads(out)
    if status == 2 and not (result["errors"] and err.startswith("swathbook: ")):
        raise BrokenCheckError(f"{words[0]} refused and did not say why: {err[:200]}")
    if status < 2 and err:
        raise BrokenCheckError(f"{words[0]} said more than its answer: {err[:200]}")
    broken = [each for each in result.get("findings", ()) if each.get("outcome") == "errored"]
    if broken:
        raise BrokenCheckError(f"{broken[0]['check']} broke: {broken[0].get('sentence')}")
