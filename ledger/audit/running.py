"""One audit, from the folder to the entry.

Invariants:

- Everything that can be wrong with `job.toml` is reported before a byte of the folder is read.
- Nothing is written into the audited folder, and nothing to the book before all is judged.
- The verdict so far, from records and headers, is given before the first point is read.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ledger.audit.assembly import assemble, complete, mark_changed
from ledger.audit.blanks import list_blanks
from ledger.audit.criteria import Settled
from ledger.audit.delivery import ReadFile, find_changed, read_delivery
from ledger.audit.entering import Audited, enter_audit
from ledger.audit.folder import POINTS, list_folder
from ledger.audit.folding import fold_alike
from ledger.audit.gaps import (
    tell_absent,
    tell_geoid_grid,
    tell_lost,
    tell_no_check,
    tell_outline,
    tell_plugin_faults,
    tell_printed,
    tell_unhashed,
    tell_unread,
)
from ledger.audit.hands import Hands, open_hands
from ledger.audit.places import Places
from ledger.audit.records import Records
from ledger.audit.request import Request, read_request
from ledger.bookstamp import BookStamp
from ledger.contract.evidence import Evidence
from ledger.contract.guard import Guard
from ledger.contract.ordering import sort_findings
from ledger.contract.passing import PassResult, count_stated_points
from ledger.contract.runner import Runner
from ledger.contract.shared import Told
from ledger.dataclass import dataclass
from ledger.errors import BrokenBookError
from ledger.model.address import Address
from ledger.model.ask import NoProgress, Progress
from ledger.model.audit import AuditOptions, AuditResult, InterimResult
from ledger.model.finding import Finding
from ledger.model.verdict import compute_verdict
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

# New objects after which circles are looked for.
_OBJECTS = 200_000

OnInterim = Callable[[InterimResult], None]


def audit_folder(
    job: Path,
    folder: Path | Address,
    options: AuditOptions,
    progress: Progress,
    on_interim: OnInterim | None = None,
) -> AuditResult:
    """Audit a folder against the job's specification and enter the result.

    Args:
        job: the job folder, or its book.
        folder: the folder that is to be sent, inside the job or elsewhere, or its address in a
            store.
        options: how.
        progress: told of bytes hashed and points read.
        on_interim: given the verdict so far before points are read; not in a quick audit.

    Raises:
        UsageError: the folder is absent, empty, no folder, or holds a book.
        SpecificationError: `job.toml` cannot be used, with every fault in it.
        BookError: the book cannot be used.
        StoreError: the store cannot be reached, or was lost; nothing is entered then.
    """
    with _collect_rarely():
        return _audit(job, folder, options, _Telling(progress, on_interim, time.monotonic()))


def _audit(
    job: Path, folder: Path | Address, options: AuditOptions, telling: _Telling
) -> AuditResult:
    progress = telling.progress
    with BookWriter.open(job) as writer:
        stamp = _require_unbroken(writer, quick=options.quick)
    with Book.open(job) as book, Guard(progress) as guard:
        request = read_request(book.folder, folder, options, guard)
        found = list_folder(request.folder)
        records = Records(book)
        records.read_tables(request.checkpoints)  # what is wrong with it is told before all is read
        with open_hands(options) as hands:
            hands.require_sight(
                each.path for each in found if each.kind == POINTS and not each.fault
            )
            known = records.find_known_digests(request.book_folder) if options.quick else {}
            headers_only = options.quick and isinstance(folder, Address)
            files = read_delivery(found, known, progress, headers_only=headers_only)
            audited = _judge(_Bench(request, records, guard, hands, telling), files)
    is_same = BookStamp.read(book.path) == stamp
    result = enter_audit(request, audited, telling.started)
    if is_same:  # what was added since is this audit
        BookStamp.read(book.path).keep(book.folder)
    return result


@contextmanager
def _collect_rarely() -> Iterator[None]:
    """Look for circles of objects rarely: an audit makes thousands of records and no circle.

    Collecting as often as usual takes a fifth of an audit of many files (measured).
    """
    before = gc.get_threshold()
    gc.set_threshold(_OBJECTS, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


def _require_unbroken(writer: BookWriter, *, quick: bool) -> BookStamp:
    """Refuse a broken book, and mend tables that say otherwise than the entries they are made of.

    A verdict on altered records is worth nothing, and an hour of reading that cannot be entered
    would be lost. A quick audit takes the word of an earlier one on a file that is the same.
    """
    writer.require_sound()
    stamp = BookStamp.read(writer.path)
    if quick and stamp.is_kept(writer.folder):
        return stamp
    state = writer.check(NoProgress())
    if not state.unbroken:
        raise BrokenBookError(
            state.sentence,
            where=str(writer.path),
            remedy="go on with a copy of the book that is unbroken",
        )
    return BookStamp.read(writer.path)


@dataclass(frozen=True)
class _Telling:
    """Tells how far the audit has come, and gives the verdict so far."""

    progress: Progress
    on_interim: OnInterim | None
    started: float

    def give(self, settled: Settled, findings: tuple[Finding, ...], files: int) -> None:
        if self.on_interim is None:
            return
        verdict = compute_verdict(findings, settled.required, (), quick=True)
        seconds = time.monotonic() - self.started
        self.on_interim(InterimResult(verdict, findings, files, seconds))


@dataclass(frozen=True)
class _Bench:
    """What an audit works with."""

    request: Request
    records: Records
    guard: Guard
    hands: Hands
    telling: _Telling


def _judge(bench: _Bench, files: tuple[ReadFile, ...]) -> Audited:
    """Run the checks: records and headers, then points, then all with what points showed."""
    request, guard = bench.request, bench.guard
    runner = Runner(request.settled.enabled, guard)
    evidence = assemble(request.delivery, files, bench.records)
    readings: dict[str, PassResult] = {}
    if not request.options.quick:
        so_far = (*runner.judge_records(evidence), *_tell_gaps(request, evidence, guard))
        bench.telling.give(request.settled, _sort(so_far, request), len(files))
        paths = {each.file.path: each.found.path for each in files}
        hire = bench.hands.choose(count_stated_points(evidence.point_files))
        readings = runner.read_points(evidence, paths, bench.telling.progress, hire)
        evidence = complete(evidence, readings, bench.records)
    evidence = mark_changed(evidence, find_changed(files))
    titles = {each.check.id: each.check.title for each in request.settled.enabled}
    paths_of_files = {file.path for file in evidence.files}

    def fold(found: Iterable[Told]) -> Iterable[Finding]:
        return fold_alike(found, titles, paths_of_files)

    judged = runner.judge_all(evidence, fold)
    lost = tell_lost(runner.lost, evidence.folder)
    judged = (*judged, *lost, *fold(_tell_gaps(request, evidence, guard)))
    places = Places(request.specified.horizontal, evidence.files)
    findings = _sort((places.add_lonlat(each) for each in judged), request)
    blanks = list_blanks(request.settled.enabled, findings, evidence)
    return Audited(files, evidence, findings, readings, blanks, runner.rasters, runner.figures)


def _sort(findings: Iterable[Finding], request: Request) -> tuple[Finding, ...]:
    checks = (each.check for each in request.settled.enabled)
    return sort_findings(findings, {check.id: check.explains for check in checks})


def _tell_gaps(request: Request, evidence: Evidence, guard: Guard) -> tuple[Finding, ...]:
    none = () if request.settled.enabled else (tell_no_check(),)
    return (
        *tell_unread(evidence.files, evidence.folder),
        *tell_unhashed(evidence.files, evidence.folder),
        *tell_outline(evidence),
        *tell_geoid_grid(evidence),
        *tell_plugin_faults(request.faults),
        *tell_absent(request.settled.absent),
        *tell_printed(guard.heard),
        *none,
    )
