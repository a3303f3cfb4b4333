"""The last audit, whether it is still valid, and what it leaves to do."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import PurePosixPath

from ledger.audited import AuditedFolder, is_said_already
from ledger.auditentry import StoredAudit, StoredFinding, read_audit
from ledger.jobfolder import find_places
from ledger.model.artefact import POINT_SUFFIXES, FileRecord
from ledger.model.entry import Entry, Kind
from ledger.model.filename import make_book_path
from ledger.model.finding import Grade
from ledger.model.lineage import describe_day
from ledger.model.nextstep import NOTHING, NextStep, find_audit_step
from ledger.model.phrases import count_things
from ledger.model.process import Decision, Process
from ledger.model.typed import quote_path
from ledger.model.verdict import Verdict
from ledger.rechecked import PastRecheck
from ledger.standing import Standing, judge, look_at_files
from ledger.status.lines import StatusLine
from ledger.status.sent import is_handed_over
from ledger.store.reading import Book

_TOPIC = "last audit"
_CHECKS_NAMED = 3


def find_telling_audit(book: Book) -> Entry | None:
    """Return the last audit; where that one was quick, a full one of the same bytes says more."""
    last = book.last(Kind.AUDIT)
    telling = last
    for entry in book.entries(Kind.AUDIT):
        if last is not None and is_said_already(last, entry):
            telling = entry
    return telling


def describe_audit(
    book: Book,
    folder: AuditedFolder,
    seen: Mapping[str, FileRecord],
    rechecks: Sequence[PastRecheck],
) -> StatusLine:
    """Return verdict and standing of an audit, told from sizes and times.

    Args:
        book: an open book.
        folder: its folder.
        seen: the latest record of every path in the book.
        rechecks: all rechecks, newest first.
    """
    audit = read_audit(book, folder.entry)
    accepted = book.acceptances().keys()
    verdict = Verdict(str(folder.entry.values["verdict"]))
    minor = _list_minor(audit)
    taken = ""
    if verdict is Verdict.ACCEPTANCE_NEEDED:  # the only one that acceptances change
        verdict = audit.compute_verdict(accepted)
        count = sum(each.id in accepted for each in minor.values())
        taken = f", {count} of {len(minor)} minor accepted"
    quick = ", quick" if audit.is_quick else ""
    day = describe_day(folder.entry.time)
    said = f"{folder.id}, {folder.folder}, {day}{quick}: {verdict}{taken}"
    standing = judge(book, folder, look_at_files(folder, seen, rechecks))
    if folder.is_in_store:
        step = NextStep(f"swathbook audit {quote_path(folder.folder)}", "looks there again")
        return StatusLine(_TOPIC, f"{said}. It lies in a store, which only an audit reads.", step)
    if not os.path.isdir(folder.place):
        return StatusLine(_TOPIC, f"{said}. The folder is not there now.")
    if not standing.holds:
        return StatusLine(_TOPIC, f"{said}. {standing.sentence}", _find_repeat(standing))
    major = [each for each in audit.findings if each.finding.grade is Grade.MAJOR]
    if major:
        more = f", and {len(major) - 1} more major" if len(major) > 1 else ""
        said += f". {major[0].finding.sentence.rstrip('.')}{more}"
    left = [name for name, each in minor.items() if each.id not in accepted]
    step = find_audit_step(verdict, audit.folder, next(iter(left), ""), quick=audit.is_quick)
    if verdict is Verdict.FIT_TO_SEND and is_handed_over(book, audit.manifest_sha256):
        step = NOTHING
    return StatusLine(_TOPIC, f"{said}. It holds by sizes and times; recheck reads bytes.", step)


def _list_minor(audit: StoredAudit) -> dict[str, StoredFinding]:
    """Return the minor findings of an audit by id; alike ones have one id."""
    return {each.id: each for each in audit.findings if each.finding.grade is Grade.MINOR}


def _find_repeat(standing: Standing) -> NextStep:
    typed = quote_path(standing.folder)
    if standing.reasons or standing.doubts or standing.files.unseen:
        return NextStep(f"swathbook audit {typed}")
    return NextStep(f"swathbook recheck {typed}", "reads the bytes")


def describe_no_audit(book: Book, processes: Sequence[Process]) -> StatusLine:
    """Return that nothing was audited, and what could be: never before any run is accepted."""
    said = "Nothing has been audited."
    accepted = [each for each in processes if each.decision is Decision.ACCEPTED and each.outputs]
    if not accepted:
        return StatusLine(_TOPIC, said)
    folder = _find_delivery(book) or _find_common_folder(accepted[-1])
    typed = quote_path(folder) if folder else "FOLDER"
    return StatusLine(_TOPIC, said, NextStep(f"swathbook audit {typed}", "before it is sent"))


def _find_delivery(book: Book) -> str:
    """Return the one folder of the job that holds points or rasters besides raw and outputs."""
    places = find_places(book.folder)
    found = []
    for folder in sorted(book.folder.iterdir()):
        if folder in (places.raw, places.out) or folder.name.startswith("."):
            continue
        if os.path.isdir(folder) and _holds_delivery(folder):
            found.append(make_book_path(folder, book.folder)[0])
    return found[0] if len(found) == 1 else ""


def _holds_delivery(folder: os.PathLike[str]) -> bool:
    """Say whether a folder directly holds point files: grids alone are no delivery."""
    try:
        with os.scandir(folder) as listing:
            return any(
                PurePosixPath(each.name).suffix.lower() in POINT_SUFFIXES for each in listing
            )
    except OSError:
        return False


def _find_common_folder(process: Process) -> str:
    """Return the folder of all outputs of a run; empty where they have none in common."""
    parents = {str(PurePosixPath(output.file.path).parent) for output in process.outputs}
    common = parents.pop() if len(parents) == 1 else ""
    return "" if common == "." else common


def describe_blanks(audit: Entry) -> StatusLine | None:
    """Return what the blanks cost, as an audit counted it; None for none."""
    blanks = audit.values.get("blanks")
    if not isinstance(blanks, list) or not blanks:
        return None
    checks = sorted({str(check) for blank in blanks for check in blank.get("checks", ())})
    fields = count_things(len(blanks), "value")
    some = ", ".join(checks[:_CHECKS_NAMED])
    more = f" and {len(checks) - _CHECKS_NAMED} more" if len(checks) > _CHECKS_NAMED else ""
    cost = f", which limits {count_things(len(checks), 'check')}: {some}{more}"
    return StatusLine("blanks", f"{fields} blank at {audit.values['id']}{cost if checks else ''}.")
