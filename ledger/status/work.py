"""The work at the desk: outputs that no run explains, runs that nobody decided on."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Sequence
from pathlib import PurePosixPath

from ledger.audited import AuditedFolder
from ledger.errors import FileError
from ledger.jobfolder import find_places
from ledger.lineage import Ancestry
from ledger.model.artefact import POINT_SUFFIXES, RASTER_SUFFIXES
from ledger.model.filename import make_book_path
from ledger.model.lineage import CustodyState, describe_decision
from ledger.model.nextstep import NextStep
from ledger.model.phrases import agree, count_things
from ledger.model.process import Decision, Process
from ledger.model.statement import describe_statement
from ledger.model.typed import quote_path
from ledger.outputs import Outputs, find_explained, sort_outputs
from ledger.status.lines import StatusLine
from ledger.store.reading import Book

_FOLDERS, _NAMES = 6, 3
_PATHS_TYPED = 3
_STATEMENTS = 2


def describe_outputs(
    book: Book, audit: AuditedFolder | None
) -> tuple[tuple[StatusLine, ...], tuple[str, ...]]:
    """Return how the outputs stand, and the path of every one that no run explains.

    Args:
        book: an open book.
        audit: the last audit, whose folder may hold files that lie nowhere else.
    """
    name = _name_folder(book)
    try:
        outputs = sort_outputs(book, find_places(book.folder).out)
    except FileError as error:
        sentence = f"{name} cannot be looked through: {error.faults[0].sentence()}."
        return (StatusLine("outputs", sentence),), ()
    waiting = tuple(found.name for found in outputs.waiting)
    lines = [_describe_waiting(name, waiting) if waiting else _describe_settled(name, outputs)]
    if outputs.touched:
        lines.append(_describe_touched(name, outputs))
    orphans = _find_orphans(book, audit, waiting) if audit is not None else ()
    if audit is not None and orphans:
        lines.append(_describe_orphans(audit, orphans))
    return tuple(lines), (*waiting, *orphans)


def _name_folder(book: Book) -> str:
    return make_book_path(find_places(book.folder).out, book.folder)[0]


def _describe_waiting(name: str, waiting: Sequence[str]) -> StatusLine:
    files = count_things(len(waiting), "file")
    verb = agree(len(waiting), "is", "are")
    return StatusLine(
        "outputs",
        f"{files} in {name} {verb} explained by no run: {list_by_folder(waiting)}.",
        NextStep("swathbook record"),
    )


def list_by_folder(paths: Iterable[str]) -> str:
    """Return files as a person looks for them: by folder, the first names, how many more."""
    folders: dict[str, list[str]] = {}
    for path in paths:
        place = PurePosixPath(path)
        folders.setdefault(str(place.parent), []).append(place.name)
    parts = []
    for folder, names in list(folders.items())[:_FOLDERS]:
        more = f" and {len(names) - _NAMES} more" if len(names) > _NAMES else ""
        parts.append(f"{folder}/ {', '.join(names[:_NAMES])}{more}")
    if len(folders) > _FOLDERS:
        parts.append(f"and {count_things(len(folders) - _FOLDERS, 'more folder')}")
    return "; ".join(parts)


def _describe_settled(name: str, outputs: Outputs) -> StatusLine:
    explained = len(outputs.explained) + len(outputs.touched)
    if not explained:
        return StatusLine("outputs", f"{name} holds no point or raster file.")
    if explained == 1:
        return StatusLine("outputs", f"The one file in {name} has its run.")
    return StatusLine("outputs", f"All {count_things(explained, 'file')} in {name} have their run.")


def _describe_touched(name: str, outputs: Outputs) -> StatusLine:
    """Say which outputs may have changed: nobody has compared their bytes."""
    paths = [found.name for found in outputs.touched]
    return StatusLine(
        "outputs",
        f"{count_things(len(paths), 'file')} {agree(len(paths), 'looks', 'look')} changed: size"
        " same, time other, as after a copy or restore; recheck reads the bytes:"
        f" {list_by_folder(paths)}.",
        NextStep(f"swathbook recheck {quote_path(name)}"),
        can_wait=True,
    )


def _find_orphans(book: Book, audit: AuditedFolder, known: Collection[str]) -> tuple[str, ...]:
    """Return the point and raster files of an audited folder that no run or step made."""
    ancestry = Ancestry(book)
    explained = find_explained(book)
    return tuple(
        file.path
        for _, file in sorted(audit.files.items())
        if file.sha256
        and file.sha256 not in explained
        and file.path not in known
        and os.path.isfile(file.place)
        and PurePosixPath(file.name).suffix.lower() in (*POINT_SUFFIXES, *RASTER_SUFFIXES)
        and ancestry.find_custody(file.sha256).state is CustodyState.ORPHAN
    )


def _describe_orphans(audit: AuditedFolder, orphans: Sequence[str]) -> StatusLine:
    typed = " ".join(quote_path(path) for path in orphans)
    files = count_things(len(orphans), "file")
    verb = agree(len(orphans), "comes", "come")
    return StatusLine(
        "outputs",
        f"{files} audited in {audit.id} {verb} from no run: {list_by_folder(orphans)}.",
        NextStep(f"swathbook record {typed if len(orphans) <= _PATHS_TYPED else 'PATH…'}"),
    )


def describe_processes(processes: Sequence[Process], folder: str) -> StatusLine:
    """Return the runs and steps, and those that nobody decided on.

    Args:
        processes: all of them, in order of entry.
        folder: the folder of outputs.
    """
    if not processes:
        step = NextStep("swathbook record", f"once something is processed into {folder}")
        return StatusLine("runs", "No run is recorded.", step)
    undecided = [process.id for process in processes if process.decision is Decision.UNDECIDED]
    if undecided:
        return StatusLine(
            "runs",
            f"Nobody has decided on {', '.join(undecided)}: accepted or rejected.",
            NextStep(
                f"swathbook record decision {undecided[0]} accepted", 'or rejected --reason "…"'
            ),
        )
    last = processes[-1]
    kinds = count_things(len(processes), "run or step", "runs and steps")
    return StatusLine("runs", f"{kinds}; the last, {last.id}, was {describe_decision(last)}.")


def describe_statements(book: Book) -> StatusLine | None:
    """Return the numbers that a report states; None where none is recorded."""
    cards = book.cards("statement")
    if not cards:
        return None
    told = "; ".join(
        f"{card.id}, {describe_statement(card.values)}" for card in cards[-_STATEMENTS:]
    )
    older = len(cards) - _STATEMENTS
    more = f"; and {older} before" if older > 0 else ""
    sentence = f"{told}{more}. As stated; an audit computes it again."
    return StatusLine("statements", sentence)
