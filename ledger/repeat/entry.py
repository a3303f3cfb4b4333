"""The outcome of a repeat as an entry of the book."""

from __future__ import annotations

import os
import platform
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest, encode
from ledger.compare.sides import Side
from ledger.errors import FileError
from ledger.fixity import read_fixity
from ledger.model.entry import Draft, Kind
from ledger.model.filename import make_book_path
from ledger.specentry import enter_specification
from ledger.store.writing import BookWriter

KEPT_VARIABLES = (
    "GDAL_DATA",
    "LANG",
    "LC_ALL",
    "LC_NUMERIC",
    "OMP_NUM_THREADS",
    "PROJ_DATA",
    "PROJ_LIB",
    "PROJ_NETWORK",
    "TZ",
)
"""Variables that change what programs of the trade compute (threads, decimal signs, time zone,
grids of PROJ), and hold no secrets. Common practice, no source."""


def describe_environment(program: str, folder: Path) -> dict[str, Any]:
    """Return what a command was run with: system, machine, variables, and the program by its bytes.

    Of all other variables of the environment nothing is kept: they may hold secrets.

    Args:
        program: first word of the command.
        folder: where it is run.
    """
    found = shutil.which(program, path=None) or str(folder / program)
    digest = ""
    try:
        digest = read_fixity(Path(os.path.realpath(found))).sha256
    except FileError:
        found = program
    return {
        "system": platform.platform(),
        "machine": platform.machine(),
        "processors": os.cpu_count() or 0,
        "program": found,
        "program_sha256": digest,
        "variables": {name: os.environ[name] for name in KEPT_VARIABLES if name in os.environ},
    }


def enter_repeat(
    job: Path, values: dict[str, Any], made: Side | None, folder: Path | None, by: str
) -> int:
    """Enter the outcome; return the number of the entry.

    Args:
        job: the job folder.
        values: what came of it; see `docs/reference/book.md`, repeat.
        made: the new outputs; None where there are none.
        folder: where they lie; None for nowhere.
        by: function of the person.
    """
    files = () if made is None else made.files
    listed = [{"path": file.name, "sha256": file.sha256} for file in files]
    content = encode(listed)
    stored = {
        **values,
        "outputs": compute_digest(content),
        "output_count": len(listed),
        "folder": "" if folder is None else make_book_path(folder, job)[0],
    }
    with BookWriter.open(job) as writer:
        enter_specification(writer, by)
        return writer.append(Draft(Kind.REPEAT, stored, by=by), _list_blobs(content)).seq


def _list_blobs(*contents: bytes) -> Iterable[bytes]:
    return contents
