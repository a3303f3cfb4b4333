"""Answers for a whole book to questions that a command answers for one file, run or word."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from ledger.auditentry import StoredAudit, read_figures, read_latest_audits
from ledger.jobfolder import find_places
from ledger.loading import load_part
from ledger.model.entry import Kind
from ledger.model.finding import Outcome
from ledger.model.known import KnownValue, show_value
from ledger.model.phrases import count_things
from ledger.model.process import Card, Decision, Process
from ledger.store.reading import Book

Answer = tuple[str, str]

NOT_RECORDED = "not recorded"
_GEOID = ("geoid_name", "geoid_version", "geoid_file")
_COMPARED = (
    "frame",
    "epoch",
    "crs",
    "output_height_type",
    "geoid_name",
    "unit_horizontal",
    "unit_vertical",
    "scale_basis",
    "version",
)
# What is asked for after a slip: fields by the ends of their keys, with what a person calls them.
_SHARED = {
    "scanner_serial": "scanner",
    "aircraft_serial": "aircraft",
    "base_serial": "base receiver",
    "base_mark": "base mark",
    "calibration_serial": "calibration of",
    "calibration_date": "calibration of day",
    "calibration_file": "calibration file",
    "geoid_name": "geoid",
    "geoid_file": "geoid file",
    "software": "program",
    "version": "version",
}
# Failures that answer a question, by the ids that checks give them; see docs/reference/coverage.md.
THIN_AREAS = frozenset({"DN-01", "DN-03", "DN-04", "DN-05", "DN-06", "CP-02"})
CONTROL = frozenset({"CP-01", "CP-03", "CP-07"})
HEIGHTS = frozenset({"VD-01", "VD-06"})
FIXES = frozenset({"GN-03"})
BALANCE = frozenset({"CL-06"})
ORPHANS = frozenset({"RH-03"})
_DIGITS = 12
_NAMED = 6


def tell(known: KnownValue | None, label: str) -> str:
    """Return a value with its label and how it is known; that it is not recorded."""
    if known is None:
        return f"{label} {NOT_RECORDED}"
    text = show_value(known)
    is_digest = len(text) == 64 and not text.strip("0123456789abcdef")
    return f"{label} {text[:_DIGITS] if is_digest else text} ({known.known_by})"


def read_geoids_of_files(book: Book) -> Iterator[Answer]:
    """Yield for each run and step with outputs which geoid is in their heights."""
    for process in book.processes():
        if process.outputs:
            told = "; ".join(tell(process.find_value(n), n.replace("_", " ")) for n in _GEOID)
            heights = tell(process.find_value("output_height_type"), "heights")
            yield process.id, f"{_name_outputs(process)}: {heights}; {told}"


def _name_outputs(process: Process) -> str:
    names = [output.file.path.rpartition("/")[2] for output in process.outputs]
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return f"{names[0]}{more}"


def read_standings(book: Book) -> Iterator[Answer]:
    """Yield whether each audited folder is as it was audited, told by sizes and times."""
    list_folders = load_part("ledger.audited", "list_audited_folders")
    judge = load_part("ledger.standing", "judge")
    look_at_files = load_part("ledger.standing", "look_at_files")
    rechecks = load_part("ledger.rechecked", "read_rechecks")(book)
    seen = {record.path: record for record in book.files_last_seen()}
    for audit in list_folders(book):
        standing = judge(book, audit, look_at_files(audit, seen, rechecks))
        told = standing.sentence or "As it was audited, by sizes and times; recheck reads bytes."
        yield f"{audit.id}, {audit.folder}", told


def read_readiness(book: Book) -> Iterator[Answer]:
    """Yield for each run and step how far it could be made again, and what is missing."""
    list_items = load_part("ledger.repeat.readiness", "list_items")
    grade = load_part("ledger.repeat.readiness", "grade")
    for process in book.processes():
        items = list_items(book, process)
        lacking = [f"{item.name}: {item.told}" for item in items if item.remedy]
        told = "; ".join(lacking) or "nothing is missing"
        yield process.id, f"grade {grade(items)}, {process.decision}; {told}"


def read_differences(book: Book) -> Iterator[Answer]:
    """Yield what differs between each run and the one before it."""
    compare_runs = load_part("ledger.compare", "compare_runs")
    runs = [each.id for each in book.processes() if each.kind == Kind.RUN]
    for first, second in pairwise(runs):
        compared: Any = compare_runs(book.path, first, second)
        for each in compared.differences:
            metres = each.effect.metres
            effect = "" if metres is None else f", can move it by {metres} m"
            change = f"{show_value(each.before)}, then {show_value(each.after)}"
            name = each.field.replace("_", " ")
            yield f"{first} and {second}", f"{name}: {change} ({each.weight}{effect})"
        for name, run in compared.one_sided:
            yield f"{first} and {second}", f"{name.replace('_', ' ')}: only {run} says it"
        if not compared.differences and not compared.one_sided:
            yield f"{first} and {second}", f"no recorded setting; {compared.alike} are alike"


def read_sources(book: Book) -> Iterator[Answer]:
    """Yield from what each run and step was made, then where the raw files lie."""
    for process in book.processes():
        used = [each.flight or each.path for each in process.inputs]
        yield process.id, f"from {_shorten(used)}" if used else f"inputs {NOT_RECORDED}"
    copies: Any = load_part("ledger.copies", "find_copies")(book)
    if copies.files:
        yield "raw data", copies.tally
    for volume, places in copies.by_volume.items():
        good = sum(place.verified for place in places)
        told = f"{count_things(len(places), 'file')}, {good} of them read back there"
        yield "raw data", f"{volume}: {told}"


def _shorten(names: list[str]) -> str:
    distinct = list(dict.fromkeys(names))
    more = f" and {len(distinct) - _NAMED} more" if len(distinct) > _NAMED else ""
    return f"{', '.join(distinct[:_NAMED])}{more}"


def read_areas(book: Book) -> Iterator[Answer]:
    """Yield where the latest audits found voids, thin places and no checkpoints."""
    for audit in read_latest_audits(book):
        for figure in read_figures(audit.entry):
            if figure.listed and not figure.values:  # names of what was not reached
                yield audit.folder, figure.sentence
        yield from ((audit.folder, sentence) for sentence in _list_sentences(audit, THIN_AREAS))


def read_audited(book: Book, failures: frozenset[str]) -> Iterator[Answer]:
    """Yield what the latest audits say of some failures.

    Args:
        book: an open book.
        failures: their ids.
    """
    for audit in read_latest_audits(book):
        yield from ((audit.folder, sentence) for sentence in _list_sentences(audit, failures))


def _list_sentences(audit: StoredAudit, failures: frozenset[str]) -> Iterator[str]:
    """Yield what is said of some failures, alike things once with their number, then what holds."""
    alike: dict[tuple[str, str], list[str]] = defaultdict(list)
    for each in audit.findings:
        found = each.finding
        if found.outcome is not Outcome.CONFORMS and failures & set(found.catalogue):
            said = found.sentence.replace(found.subject, "", 1) if found.subject else found.sentence
            alike[str(found.outcome), said].append(found.sentence)
    for (outcome, _), sentences in alike.items():
        rest = len(sentences) - 1
        yield f"{outcome}: {sentences[0]}{f' And {rest} more like it.' if rest else ''}"
    conforming = audit.entry.values.get("conforming") or {}
    for check in audit.entry.values.get("checks") or ():
        if conforming.get(check["id"]) and failures & set(check.get("catalogue", ())):
            yield f"conforms: {check['id']}"


def read_shared(book: Book) -> Iterator[Answer]:
    """Yield each scanner, base mark, calibration, grid and version with records that name it."""
    named: dict[Answer, list[str]] = defaultdict(list)
    records: list[Card | Process] = [*book.cards("rig"), *book.cards("flight"), *book.processes()]
    for record in records:
        for key, known in record.values.items():
            what = _SHARED.get(key.partition(".")[2])
            if what is not None and known.value != "none":
                named[what, show_value(known)].append(record.id)
    for (what, text), ids in sorted(named.items()):
        yield f"{what} {text[:_DIGITS] if len(text) == 64 else text}", ", ".join(ids)


def read_unexplained(book: Book) -> Iterator[Answer]:
    """Yield the outputs and delivered files that no run explains, by folder."""
    outputs: Any = load_part("ledger.outputs", "sort_outputs")(book, find_places(book.folder).out)
    folders = Counter(each.name.rpartition("/")[0] or "." for each in outputs.waiting)
    for folder, count in sorted(folders.items()):
        yield folder, f"{count_things(count, 'file')} that no run or step made"
    yield from read_audited(book, ORPHANS)


def read_comparable(book: Book) -> Iterator[Answer]:
    """Yield what decides whether this survey may be compared with another, as runs recorded it."""
    for process in book.processes():
        if process.outputs and process.decision is Decision.ACCEPTED:
            told = (tell(process.find_value(name), name.replace("_", " ")) for name in _COMPARED)
            yield process.id, "; ".join(told)
