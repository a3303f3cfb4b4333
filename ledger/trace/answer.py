"""The answer of a trace in one sentence."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePath

from ledger.model.address import is_address
from ledger.model.artefact import POINT_SUFFIXES
from ledger.model.filename import make_book_path
from ledger.model.lineage import (
    Custody,
    CustodyState,
    MatchedBy,
    describe_day,
    describe_decision,
)
from ledger.model.process import Decision, Process
from ledger.model.typed import quote_path
from ledger.store.reading import Book
from ledger.trace.nodes import ChainNode, Remedy, TraceResult
from ledger.trace.target import Target

_NAMED_AFTER = {"input": "was used by", "audited": "was audited in"}
_WHOLE_DIGEST = 64


def describe_file(book: Book, target: Target, custody: Custody, node: ChainNode) -> str:
    """Return what made a known file."""
    asked = target.path or node.name
    name = PurePath(asked).name or node.id
    absent = _describe_place(asked) if target.by_path else ""
    if custody.maker is not None:
        made = _describe_match(custody) + _describe_maker(custody)
        return absent + name + made + _describe_others(custody)
    return absent + name + _describe_uses(book, target)


def _describe_place(asked: str) -> str:
    """Return why the answer is about what the book saw, and not about what lies there."""
    if is_address(asked):
        return f"The store was not asked for {asked}; an audit saw it there. "
    return f"There is no file at {asked} now; the book saw one. "


def describe_record(node: ChainNode) -> str:
    """Return what an id stands for."""
    title = f"{node.kind} {node.id}" + (f" ({node.name})" if node.name else "")
    made = f", entered on {describe_day(node.time)} by the {node.by}" if node.time else ""
    if node.kind == "finding":
        sentence = str(node.values["finding.sentence"].value)
        return f"Finding {node.id} of {node.name}: {sentence}"
    decision = node.values.get(f"{node.kind}.decision")
    verdict = node.values.get("audit.verdict")
    said = decision or verdict
    return f"{title[:1].upper()}{title[1:]}{made}{': ' + str(said.value) if said else ''}."


def list_notes(book: Book, target: Target) -> tuple[str, ...]:
    """Return what the book saw under the path of a file, if that was something else."""
    stored, seen = _find_earlier(book, target)
    if not seen or target.by_path:
        return ()
    return (f"The book last saw other bytes under {stored}: the file there was replaced since.",)


def explain_unknown(book: Book, text: str, target: Target) -> TraceResult:
    """Return the answer about something that the book does not know."""
    if target.kind != "file":
        return _make_unknown(text, target, _describe_absent(book, target))
    if not target.path:
        sentence = (
            f"No file in this book has a SHA-256 that begins with {target.id}, and no audit has"
            " such a finding."
        )
        return _make_unknown(text, target, sentence)
    sentence = f"This book does not know the bytes of {PurePath(target.path).name}."
    if _find_earlier(book, target)[1]:
        sentence += " The file that it saw under this path had other bytes: changed or replaced."
    return _make_unknown(text, target, sentence, _list_ways_in(target.path))


def _list_ways_in(path: str) -> tuple[Remedy, ...]:
    """Return the commands that could make an unknown file a known one."""
    typed = quote_path(path)
    if PurePath(path).suffix.lower() not in POINT_SUFFIXES:
        return (
            Remedy(f"swathbook record {typed}", "if a run or step made it"),
            Remedy(f"swathbook register {typed}", "if it is a raw file"),
        )
    folder = quote_path(PurePath(path).parent.as_posix())
    return (
        Remedy(f"swathbook record {typed}", "if nobody has recorded the run that made it"),
        Remedy(f"swathbook audit {folder}", "reads points: they may be known under another header"),
    )


def _describe_absent(book: Book, target: Target) -> str:
    """Say that there is no such record, and which is the last one."""
    sentence = f"There is no {target.kind} {target.id} in this book"
    if target.kind == "entry":
        return f"{sentence}; its last one is entry {book.size}."
    if target.kind == "flight":
        known = [card.id for card in book.cards("flight")]
    elif target.kind == "rig":
        known = [card.id for card in book.cards("rig")]
    elif target.kind == "statement":
        known = [card.id for card in book.cards("statement")]
    elif target.kind == "points":
        known = [card.id for card in book.cards("points")]
    elif target.kind in ("run", "step"):
        known = [each.id for each in book.processes() if each.kind == target.kind]
    else:
        return f"{sentence}."
    return f"{sentence}; " + (
        f"the last is {known[-1]}." if known else f"it holds no {target.kind}."
    )


def _make_unknown(
    text: str, target: Target, sentence: str, remedies: tuple[Remedy, ...] = ()
) -> TraceResult:
    is_file = target.kind == "file"
    return TraceResult(
        target=text,
        path=target.path,
        sha256=target.id if is_file and len(target.id) == _WHOLE_DIGEST else "",
        known=False,
        matched_by=str(MatchedBy.NOTHING),
        sentence=sentence,
        state=CustodyState.ORPHAN if is_file else None,
        remedies=remedies,
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
        return f"{sentence}, {_describe_decision(maker)}."
    return f"{sentence}, from {_describe_process(culprit)}, {describe_decision(culprit)}."


def _describe_others(custody: Custody) -> str:
    """Return which runs and steps beside its line of descent have the same outputs on record."""
    same = {MatchedBy.DIGEST: "bytes", MatchedBy.POINTS: "points"}.get(custody.matched_by)
    behind = {process.id for process in custody.lines[0].processes}
    makers = (line.processes[0] for line in custody.lines)
    others = [each for each in makers if each.id not in behind]
    if same is None or not others:
        return ""
    told = "; ".join(f"{each.kind} {each.id}, {_describe_decision(each)}" for each in others)
    return f" The same {same} are on record as made by others too: {told}."


def _describe_decision(process: Process) -> str:
    """Return what became of a process; why it was accepted is no part of a short answer."""
    known = replace(process, reason="") if process.decision is Decision.ACCEPTED else process
    return describe_decision(known)


def _describe_process(process: Process) -> str:
    known = (process.find_value(key) for key in ("software", "version"))
    software = " ".join(str(value.value) for value in known if value and value.value)
    return f"{process.kind} {process.id}" + (f" ({software})" if software else "")


def _describe_uses(book: Book, target: Target) -> str:
    uses = book.uses(target.id)
    raw = [use for use in uses if use.relation == "registered"]
    registered = next((use for use in raw if use.owner), raw[0] if raw else None)
    if registered is not None:
        role = f" ({registered.file.role})" if registered.file.role else ""
        flight = f" of flight {registered.owner}" if registered.owner else ""
        return f" is a raw file{flight}{role}, registered in entry {registered.entry}."
    if not uses:
        owner, key = book.namers(target.id)[0]
        name = key.rpartition(".")[2].replace("_", " ")
        return f" is named by {owner} as its {name}, and was never registered."
    used = next((use for use in reversed(uses) if use.relation in _NAMED_AFTER), uses[-1])
    seen = _NAMED_AFTER.get(used.relation)
    told = f"{seen} {used.owner}" if seen else f"was seen in entry {used.entry}"
    return f" {told}, but no recorded run or step made it."


def _find_earlier(book: Book, target: Target) -> tuple[str, bool]:
    """Return the path of a file, and whether the book saw other bytes there last."""
    stored, _ = make_book_path(book.folder / target.path, book.folder)
    record = book.file_at(stored) if target.path else None
    return stored, record is not None and record.sha256 != target.id
