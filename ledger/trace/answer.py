"""The answer of a trace in one sentence."""

from __future__ import annotations

from pathlib import PurePath

from ledger.model.artefact import POINT_SUFFIXES
from ledger.model.filename import make_book_path
from ledger.model.lineage import (
    Custody,
    CustodyState,
    MatchedBy,
    describe_day,
    describe_decision,
)
from ledger.model.process import Process
from ledger.store.reading import Book, Use
from ledger.trace.nodes import ChainNode, TraceResult
from ledger.trace.target import Target

_NAMED_AFTER = {"input": "was used by", "audited": "was audited in"}


def describe_file(book: Book, target: Target, custody: Custody, node: ChainNode) -> str:
    """Return what made a known file."""
    name = PurePath(node.name).name or node.id
    absent = f"There is no file at {node.name} now; the book saw one. " if target.by_path else ""
    if custody.maker is not None:
        return absent + name + _describe_match(custody) + _describe_maker(custody)
    return absent + name + _describe_uses(book.uses(target.id))


def describe_record(node: ChainNode) -> str:
    """Return what an id stands for."""
    title = f"{node.kind} {node.id}" + (f" ({node.name})" if node.name else "")
    made = f", entered on {describe_day(node.time)} by the {node.by}" if node.time else ""
    decision = node.values.get(f"{node.kind}.decision")
    verdict = node.values.get("audit.verdict")
    said = decision or verdict
    return f"{title}{made}{': ' + str(said.value) if said else ''}."


def explain_unknown(book: Book, text: str, target: Target) -> TraceResult:
    """Return the answer about something that the book does not know."""
    if target.kind != "file":
        sentence = f"There is no {target.kind} {target.id} in this book."
        return _make_unknown(text, target, sentence, "")
    if not target.path:
        sentence = f"No file in this book has a SHA-256 that begins with {target.id}."
        return _make_unknown(text, target, sentence, "")
    sentence = f"This book does not know the bytes of {PurePath(target.path).name}."
    sentence += _describe_earlier(book, target)
    if PurePath(target.path).suffix.lower() in POINT_SUFFIXES:
        remedy = (
            "its points may be known under another header: swathbook audit FOLDER reads the points"
            " of the folder it lies in; if nobody recorded it, swathbook record enters it"
        )
    else:
        remedy = "swathbook record enters an output, swathbook register a raw file"
    return _make_unknown(text, target, sentence, remedy)


def _make_unknown(text: str, target: Target, sentence: str, remedy: str) -> TraceResult:
    is_file = target.kind == "file"
    return TraceResult(
        target=text,
        path=target.path,
        sha256=target.id if is_file else "",
        known=False,
        matched_by=str(MatchedBy.NOTHING),
        sentence=sentence,
        state=CustodyState.ORPHAN if is_file else None,
        remedy=remedy,
    )


def _describe_match(custody: Custody) -> str:
    if custody.matched_by is MatchedBy.POINTS:
        return f" has other bytes but the same points as {custody.recorded_path}, which"
    if custody.matched_by is MatchedBy.GEOMETRY:
        return f" has the coordinates, but not the whole points, of {custody.recorded_path}, which"
    return ""


def _describe_maker(custody: Custody) -> str:
    maker = custody.lines[0].processes[0]
    sentence = f" was made by {_describe_process(maker)}"
    culprit = custody.culprit
    if culprit is None or culprit.id == maker.id:
        return f"{sentence}, {describe_decision(maker)}."
    return f"{sentence}, from {_describe_process(culprit)}, {describe_decision(culprit)}."


def _describe_process(process: Process) -> str:
    known = (process.values.get(f"{process.kind}.{key}") for key in ("software", "version"))
    software = " ".join(str(value.value) for value in known if value and value.value)
    return f"{process.kind} {process.id}" + (f" ({software})" if software else "")


def _describe_uses(uses: tuple[Use, ...]) -> str:
    registered = next((use for use in uses if use.relation == "registered"), None)
    if registered is not None:
        flight = f" of flight {registered.owner}" if registered.owner else ""
        return f" is a raw file{flight}, registered in entry {registered.entry}."
    used = next((use for use in uses if use.relation in _NAMED_AFTER), uses[0])
    seen = _NAMED_AFTER.get(used.relation)
    told = f"{seen} {used.owner}" if seen else f"was seen in entry {used.entry}"
    return f" {told}, but no recorded run or step made it."


def _describe_earlier(book: Book, target: Target) -> str:
    """Say what the book saw under the same path, if that was something else."""
    stored, _ = make_book_path(book.folder / target.path, book.folder)
    for record in book.files_last_seen():
        if record.path == stored:
            return " The file that it saw under this path had other bytes: changed or replaced."
    return ""
