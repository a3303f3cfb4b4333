"""The geoid grids at hand: that of `job.toml`, those that were named, those registered."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.errors import SwathbookError, UsageError
from ledger.fixity import read_fixity
from ledger.gridfiles import find_grid_file
from ledger.model.artefact import FileRecord, Role
from ledger.model.specification import Specification
from ledger.sitecard.heights import Grid
from ledger.store.reading import Book


def list_grids(
    job: Path | None, specification: Specification, named: Sequence[Path]
) -> tuple[Grid, ...]:
    """Return the grids at hand, each bytes once: that of the job, those named, then the finest.

    Args:
        job: the job folder; None outside a job.
        specification: `job.toml`; a blank one outside a job.
        named: files that were named.

    Raises:
        UsageError: a file that was named is not there.
        BookError: the book cannot be read.
    """
    found: dict[str, Grid] = {}
    for key, grid in _list_all(job, specification, named):
        found.setdefault(key, grid)
    return tuple(found.values())


def _list_all(
    job: Path | None, specification: Specification, named: Sequence[Path]
) -> Iterator[tuple[str, Grid]]:
    """Yield each grid with what tells it from others: its digest, or its path without one."""
    geoid = specification.coordinates.geoid
    if job is not None and geoid is not None:
        if geoid.file is None:
            yield geoid.name, Grid(geoid.name, None, "job.toml names no file of it")
        else:
            absent = f"{geoid.file} of job.toml is not there"
            yield _take_up(geoid.name, job / geoid.file, absent, "job.toml names it")
    for path in named:
        if not os.path.isfile(path):
            raise UsageError("there is no such geoid grid", where=str(path))
        yield _take_up(path.name, path, "", "named first")
    if job is not None:
        with Book.open(job) as book:
            yield from _list_registered(book)


def _take_up(name: str, path: Path, absent: str, why: str) -> tuple[str, Grid]:
    if not os.path.isfile(path):
        return str(path), Grid(name, None, absent)
    try:
        return read_fixity(path).sha256, Grid(name, path.absolute(), "", why)
    except SwathbookError as error:
        return str(path), Grid(name, None, str(error))


def _list_registered(book: Book) -> Iterator[tuple[str, Grid]]:
    for file in sorted(book.files_last_seen(Role.GEOID), key=_find_step):
        path = find_grid_file(book, file.sha256, file.path)
        reason = "" if path else f"{file.path} is not there, or was changed since"
        yield file.sha256, Grid(Path(file.path).name, path, reason, "the finest registered here")


def _find_step(file: FileRecord) -> float:
    """Return the step of a grid as it was registered; infinite where it says none."""
    try:
        return float(str(file.facts.get("step_x", "inf")))
    except ValueError:
        return math.inf
