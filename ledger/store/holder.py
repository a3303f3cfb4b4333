"""The note that a writer leaves beside the book while it holds it.

The lock itself is SQLite's; the note only lets the next one say who holds it. It may be lost, and
a killed writer leaves it behind.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ledger.store.schema import SCRATCH_NAME

NOTE_NAME = "writer.json"


@contextmanager
def leave_note(folder: Path, machine: str, since: str) -> Iterator[None]:
    """Say, while the book is held, who holds it.

    Args:
        folder: the job folder.
        machine: short id of this computer.
        since: UTC, RFC 3339.
    """
    note = folder / SCRATCH_NAME / NOTE_NAME
    text = json.dumps({"machine": machine, "process": os.getpid(), "since": since})
    with suppress(OSError):  # no note is no reason not to write the book
        note.parent.mkdir(exist_ok=True)
        note.write_text(text, encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            note.unlink(missing_ok=True)


def describe_holder(folder: Path) -> str:
    """Return who holds the book, as far as the note beside it says."""
    try:
        note = json.loads((folder / SCRATCH_NAME / NOTE_NAME).read_text(encoding="utf-8"))
        machine, process, since = str(note["machine"]), int(note["process"]), str(note["since"])
    except (OSError, ValueError, KeyError, TypeError):
        return "a program that left no note, such as a backup or a synchronising program"
    if process == os.getpid():  # it is this program that waits, for one that only reads
        return "a program that reads it"
    return f"process {process} on computer {machine}, since {since}"
