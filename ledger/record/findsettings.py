"""Finding what the processing program left beside the outputs, and offering to read one of it.

Invariants:

- Nothing is read before a person said so: which file belongs to a run is known to nobody else.
- A file that cannot be read as settings is said, and the form goes on without it.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from ledger.errors import FileError, UsageError
from ledger.forms import ARROWS
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.artefact import Role
from ledger.model.ask import Ask, Question
from ledger.model.filename import make_book_path
from ledger.model.moments import from_file_time, read_moment
from ledger.model.phrases import count_things
from ledger.model.process import Process
from ledger.record.candidates import Candidate
from ledger.record.fromsettings import (
    NOTHING_READ,
    ReadSettings,
    parse_rows,
    read_settings_files,
)
from ledger.record.process import ProcessOptions
from ledger.record.verbs import Verb
from ledger.settings.mapping import MapRow
from ledger.store.reading import Book

SUFFIXES = (".json", ".xml", ".ini", ".toml", ".yaml", ".yml", ".cfg", ".conf", ".log", ".txt")

# Where programs are told to leave settings that do not lie beside the outputs.
_FOLDER = "config"
# A larger file is hardly settings; it is read where somebody names it.
_SMALL = 1 << 20
_OFFERED = 6
_NONE = "none of these"
_HIDDEN = (".", "~$")


def read_or_offer_settings(
    book: Book, verb: Verb, options: ProcessOptions, files: Sequence[Candidate], ask: Ask
) -> ReadSettings:
    """Return what the settings files say that a person named, or chose among those found.

    Args:
        book: an open book.
        verb: what is recorded.
        options: what was said already; where it names files, nothing is offered.
        files: the outputs.
        ask: the person; where nobody is there, only named files are read.

    Raises:
        UsageError: a row of the map that cannot be used, or a map without a file.
        FileError: a file that was named cannot be read as settings.
    """
    rows = parse_rows(verb.kind, options.map_rows)
    if options.settings or not ask.interactive:
        return _read(book, verb, options.settings, rows, ask)
    chosen = _choose(book, verb, find_settings(book.folder, files), ask)
    try:
        return _read(book, verb, chosen, rows, ask)
    except FileError as error:
        ask.tell(f"{error}. The form goes on without it.")
        return NOTHING_READ


def _read(
    book: Book, verb: Verb, paths: Sequence[Path], rows: tuple[MapRow, ...], ask: Ask
) -> ReadSettings:
    if paths:
        return read_settings_files(book, verb.kind, paths, rows, ask)
    if rows:
        raise UsageError("--map speaks of a settings file", remedy="name it with --settings")
    return NOTHING_READ


def find_settings(job: Path, files: Sequence[Candidate]) -> tuple[Path, ...]:
    """Return small files that may hold settings, newest first.

    Args:
        job: the job folder.
        files: the outputs; their folders are looked through, and `config` in the job folder.
    """
    folders = dict.fromkeys([job / _FOLDER, *(each.path.parent for each in files)])
    outputs = {each.path for each in files if each.holds_points}
    found: dict[Path, int] = {}
    for folder in folders:
        for path, status in _list_small(folder):
            if path not in outputs:
                found[path] = status.st_mtime_ns
    return tuple(sorted(found, key=lambda path: (-found[path], path)))


def _list_small(folder: Path) -> Iterator[tuple[Path, os.stat_result]]:
    """Yield the small files in a folder that are named as settings are; none where it is away."""
    try:
        inside = sorted(folder.iterdir())
    except OSError:
        return
    for path in inside:
        is_named = path.suffix.lower() in SUFFIXES and not path.name.startswith(_HIDDEN)
        if not is_named or path.name == SPECIFICATION_NAME:
            continue
        try:
            status = path.stat()
        except OSError:
            continue
        if stat.S_ISREG(status.st_mode) and 0 < status.st_size <= _SMALL:
            yield path, status


def _choose(book: Book, verb: Verb, found: Sequence[Path], ask: Ask) -> tuple[Path, ...]:
    """Return the file that a person says to hold the settings; none of them by Enter."""
    if not found:
        return ()
    read = _list_read(book)
    offered = {_describe(path, book, read): path for path in found[:_OFFERED]}
    older = len(found) - len(offered)
    more = f"; {count_things(older, 'older file')} not shown" if older else ""
    question = Question(
        key="settings",
        text=f"Settings that this {verb.kind} was made with: read which file",
        default=_NONE,
        choices=(_NONE, *offered),
        hint=f"newest first{more}; {ARROWS}",
        required=True,
    )
    chosen = offered.get(ask.answer(question))
    return () if chosen is None else (chosen,)


def _list_read(book: Book) -> dict[str, Process]:
    """Return the latest run or step that each settings file was read for, by path."""
    return {
        used.path: process
        for process in book.processes()
        for used in process.inputs
        if used.role == Role.CONFIG
    }


def _describe(path: Path, book: Book, read: Mapping[str, Process]) -> str:
    """Return one line: where it lies, when it was written, and what it was read for since."""
    name = make_book_path(path, book.folder)[0]
    moment = from_file_time(path.stat().st_mtime_ns)
    if moment is None:
        return name
    before = read.get(name)
    told = ""
    if before is not None and read_moment(before.time) >= moment.replace(microsecond=0):
        told = f", read for {before.id}"
    return f"{name} (written {moment.astimezone():%Y-%m-%d %H:%M}{told})"
