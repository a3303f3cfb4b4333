"""Geoid grids of a job, offered as answers: nobody types name and path of a file that is there.

What is offered is only what was said of these very bytes: by an earlier run, else by `job.toml`,
else by the file. The grid is known by its digest; a name alone would say nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath

from ledger.errors import SwathbookError
from ledger.fixity import read_fixity
from ledger.forms import Offer
from ledger.jobfolder import GeoidAsked, read_geoid
from ledger.model.artefact import FileRecord, Role
from ledger.model.ask import NoProgress
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Process
from ledger.store.reading import Book

NAME, VERSION, FILE = "run.geoid_name", "run.geoid_version", "run.geoid_file"
_NONE = "none"
_MOST = 8


def offer_geoids(book: Book) -> tuple[Offer, ...]:
    """Return the geoid grids that are registered, that of `job.toml` first, and `none`.

    Args:
        book: an open book.

    Returns:
        Nothing where no grid is registered: then the question is a plain one.
    """
    records = book.files_last_seen(Role.GEOID)
    asked = read_geoid(book.folder)
    wanted = "" if asked is None else _find_digest(book.folder / asked.file, records)
    grids: dict[str, FileRecord] = {}
    for file in sorted(records, key=lambda each: (each.sha256 != wanted, not _is_inside(each))):
        grids.setdefault(file.sha256, file)
    if not grids:
        return ()
    runs = book.processes()
    found = [
        _offer(file, asked if file.sha256 == wanted else None, runs)
        for file in list(grids.values())[:_MOST]
    ]
    return (*found, Offer("none: no geoid was applied", {NAME: KnownValue(_NONE)}))


def _find_digest(path: Path, records: Sequence[FileRecord]) -> str:
    """Return the digest of the grid that `job.toml` names, where it can be one of these.

    It may lie in the folder of the last job, so that its path says nothing; it is read only where
    its size is that of a registered one.
    """
    try:
        size = path.stat().st_size
        if all(file.bytes != size for file in records):
            return ""
        return read_fixity(path, NoProgress()).sha256
    except (OSError, ValueError, SwathbookError):  # not there, unreadable, no path at all
        return ""


def _is_inside(file: FileRecord) -> bool:
    return not PurePosixPath(file.path).is_absolute() and ":" not in file.path


def _offer(file: FileRecord, asked: GeoidAsked | None, runs: Sequence[Process]) -> Offer:
    said = _read_said(file.sha256, runs)
    if not said and asked is not None:
        said = dict(_read_asked(asked))
    name = said.get(NAME, KnownValue(PurePosixPath(file.path).stem))
    version = said.get(VERSION)
    values = {NAME: name, FILE: KnownValue(file.sha256, where=file.path)}
    if version is not None:
        values[VERSION] = version
    told = [f"{name.value}, version {version.value}" if version else str(name.value)]
    told += [each for each in (file.path, *_describe(file.facts)) if each]
    return Offer("; ".join(told), values, known_of=frozenset({VERSION}))


def _describe(facts: Mapping[str, object]) -> Iterator[str]:
    """Yield what the file says: the heights it leads to."""
    vertical = facts.get("vertical")
    if vertical:
        yield f"gives heights of {vertical}"


def _read_said(sha256: str, runs: Sequence[Process]) -> dict[str, KnownValue]:
    """Return name and version that the latest run said of a grid, as carried from it."""
    for run in reversed(runs):
        grid = run.values.get(FILE)
        if grid is not None and grid.value == sha256:
            return {
                key: KnownValue(run.values[key].value, known_by=KnownBy.CARRIED)
                for key in (NAME, VERSION)
                if key in run.values and run.values[key].known_by is not KnownBy.ASSUMED
            }
    return {}


def _read_asked(asked: GeoidAsked) -> Iterator[tuple[str, KnownValue]]:
    """Yield what `job.toml` says of its grid; what nobody confirmed there stays unconfirmed."""
    known_by = KnownBy.READ if asked.confirmed else KnownBy.CARRIED
    for key, text in ((NAME, asked.name), (VERSION, asked.version)):
        if text:
            where = f"job.toml: coordinates.geoid.{key.rpartition('_')[2]}"
            yield key, KnownValue(text, known_by=known_by, confirmed=asked.confirmed, where=where)
