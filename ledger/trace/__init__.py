"""What made this? From any file, digest or id back to the capture, and onward to what was sent.

Reads the book and, for a path, the bytes of that one file. Points are never read: a file with known
points under another header is found only where the book holds its fingerprint already.
Loads no library of points, coordinates, numbers or models, and no plugin.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path, PurePath

from ledger.loading import load_part
from ledger.model.artefact import POINT_SUFFIXES, RASTER_SUFFIXES, Role
from ledger.model.ask import NoProgress, Progress
from ledger.model.lineage import MatchedBy
from ledger.store.reading import Book, Use, find_book
from ledger.trace.answer import describe_file, describe_record, explain_unknown, list_notes
from ledger.trace.chain import ChainBuilder
from ledger.trace.entries import add_entry
from ledger.trace.files import list_places
from ledger.trace.nodes import (
    Backing,
    ChainNode,
    Copy,
    Place,
    Remedy,
    SettingChange,
    TraceResult,
    UnmeasuredValue,
)
from ledger.trace.remedies import list_remedies
from ledger.trace.target import RECORDED_PATH, Target, find_target

__all__ = [
    "Backing",
    "ChainNode",
    "Copy",
    "Place",
    "Remedy",
    "SettingChange",
    "TraceResult",
    "UnmeasuredValue",
    "trace",
]

_SILENT = NoProgress()
# What was sent, to whom and when.
_TRANSMITTAL = "transmittal"
# Raw files that say little without the flight that they come from.
_OF_A_FLIGHT = (Role.CAPTURE, Role.BASE_LOG, Role.FLIGHT_LOG, Role.TRAJECTORY)


def trace(
    job: Path,
    target: str,
    *,
    onward: bool = False,
    progress: Progress = _SILENT,
) -> TraceResult:
    """Return what the book knows of a file, run, flight, rig, audit, finding or entry.

    Args:
        job: the job folder, or any folder below it.
        target: a path, a SHA-256 or its first 8 or more digits, the id of a finding, or an id:
            `R1`, `run:R1`, `entry:31`.
        onward: look also at what was made of it.
        progress: told while the bytes of a file are hashed.

    Raises:
        NoBookError: there is no book.
        UsageError: the target means nothing, two things, or a folder.
        UnreadableFileError: the file cannot be read.
    """
    with Book.open(find_book(job)) as book:
        found = find_target(book, target, progress)
        if found.kind == "file":
            return _trace_file(book, target, found, onward=onward)
        return _trace_record(book, target, found, onward=onward)


def _trace_file(book: Book, text: str, target: Target, *, onward: bool) -> TraceResult:
    builder = ChainBuilder(book)
    uses = book.uses(target.id)
    suffix = PurePath(target.path or (uses[0].file.path if uses else "")).suffix.lower()
    custody = builder.ancestry.find_custody(
        target.id, is_point_or_raster=suffix in (*POINT_SUFFIXES, *RASTER_SUFFIXES)
    )
    if custody.maker is None and not uses and not book.namers(target.id):
        return explain_unknown(book, text, target)
    builder.add_file(target.id, target.path, custody)
    matched_by = str(custody.matched_by)
    if target.by_path:
        matched_by = RECORDED_PATH
    elif custody.matched_by is MatchedBy.NOTHING:
        matched_by = str(MatchedBy.DIGEST)
    node = next(iter(builder.nodes.values()))
    return _finish(
        builder,
        TraceResult(
            target=text,
            path=target.path or node.name,
            sha256=target.id,
            known=True,
            matched_by=matched_by,
            sentence=describe_file(book, target, custody, node),
            state=custody.state,
            places=list_places(uses),
            notes=list_notes(book, target),
            onward=_follow(book, "file", target.id) if onward else (),
            is_onward=onward,
        ),
        origin="" if custody.maker else _find_missing_origin(uses),
    )


def _find_missing_origin(uses: tuple[Use, ...]) -> str:
    """Return the key of what nobody recorded: what made a file or, of a raw one, its flight."""
    raw = [use for use in uses if use.relation == "registered"]
    if not raw:
        return "file.made_by"
    needs_flight = any(use.file.role in _OF_A_FLIGHT for use in raw)
    return "file.flight" if needs_flight and not any(use.owner for use in raw) else ""


def _trace_record(book: Book, text: str, target: Target, *, onward: bool) -> TraceResult:
    if not target.known:
        return explain_unknown(book, text, target)
    builder = ChainBuilder(book)
    add_entry(builder, target)
    node = next(iter(builder.nodes.values()))
    return _finish(
        builder,
        TraceResult(
            target=text,
            path="",
            sha256="",
            known=True,
            matched_by="id",
            sentence=describe_record(node),
            onward=_follow(book, node.kind, node.id) if onward else (),
            is_onward=onward,
        ),
        origin="",
    )


def _follow(book: Book, kind: str, name: str) -> tuple[ChainNode, ...]:
    """Return what was made of something; the walk is loaded only when it is asked for."""
    made: tuple[ChainNode, ...] = load_part("ledger.trace.onward", "follow")(book, kind, name)
    return made


def _finish(builder: ChainBuilder, result: TraceResult, origin: str) -> TraceResult:
    """Add the chain, the copies, every key without a value once, and what would record it."""
    chain = tuple(builder.nodes.values())
    backing = builder.list_copies()
    missing = [origin] if origin else []
    missing += [key for node in chain for key in node.not_recorded]
    if builder.has_raw_files and not backing.copies:
        missing.append("copies")
    kinds = {node.kind for node in result.onward}
    if "audit" in kinds and _TRANSMITTAL not in kinds:
        missing.append(_TRANSMITTAL)
    return replace(
        result,
        chain=chain,
        backing=backing,
        not_recorded=tuple(dict.fromkeys(missing)),
        remedies=list_remedies(chain, missing, result.path),
    )
