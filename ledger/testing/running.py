"""One check run as an audit runs it: real headers, real points, the real runner."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from ledger.audit.assembly import Delivery, assemble, complete
from ledger.audit.delivery import read_delivery
from ledger.audit.folder import list_folder
from ledger.audit.records import Records
from ledger.audit.specified import add_files
from ledger.audit.wishes import Wishes, settle_wishes
from ledger.contract.check import Check, Finding
from ledger.contract.guard import Guard
from ledger.contract.registry import RegisteredCheck, Registry
from ledger.contract.runner import Runner
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.ask import NoProgress
from ledger.model.audit import Plugin
from ledger.model.filename import make_book_path
from ledger.specfile.reading import read_leniently
from ledger.store.reading import Book
from ledger.testing.books import BookBuilder
from ledger.testing.tiles import TileSet

_SILENT = NoProgress()
_PLUGIN = Plugin("under-test", "0", "0" * 64, "under_test")


def run_check(
    check: Check,
    survey: TileSet | Path,
    specification: str = "",
    *,
    book: BookBuilder | None = None,
    beside: Sequence[Check] = (),
    **parts: Any,  # noqa: ANN401 - fields of Evidence
) -> tuple[Finding, ...]:
    """Run one check over a folder as an audit does and return what it finds, worst first.

    Args:
        check: the check.
        survey: a survey, or the folder that would be sent.
        specification: the text of `job.toml`, with `[criteria.ID]` for the check's thresholds.
        book: the book of the job: runs, flights and registered files are taken from it.
        beside: other checks of the same audit, for one that waits for their findings.
        parts: fields of `Evidence` instead of what is found, or `quick=True` for an audit that
            reads no points.

    Raises:
        SpecificationError: the specification cannot be used, or the check's model refuses it.
        UsageError: there is no file in the folder.
    """
    folder = survey.folder if isinstance(survey, TileSet) else survey
    # What a check prints is what its author wants to see.
    guard = Guard(quiet=False)
    job = folder.parent if book is None else book.folder
    wishes = _settle((check, *beside), specification, guard, job)
    specified = add_files(wishes.specified, wishes.specification, job)
    delivery = Delivery(
        make_book_path(folder, job)[0], wishes.specification, specified, bool(parts.get("quick"))
    )
    files = read_delivery(list_folder(folder), {}, _SILENT)
    runner = Runner(wishes.settled.enabled, guard)
    with _read_records(book) as records:
        evidence = replace(assemble(delivery, files, records), **parts)
        runner.judge_records(evidence)
        if not evidence.quick:
            paths = {each.file.path: each.found.path for each in files}
            read = runner.read_points(evidence, paths, _SILENT)
            evidence = replace(complete(evidence, read, records), **parts)
    return tuple(each for each in runner.judge_all(evidence) if each.check == check.id)


def _settle(checks: Sequence[Check], specification: str, guard: Guard, job: Path) -> Wishes:
    reading = read_leniently(specification.encode("utf-8"), SPECIFICATION_NAME)
    registered = tuple(RegisteredCheck(each, _PLUGIN) for each in checks)
    return settle_wishes(reading, Registry(registered, plugins=(_PLUGIN,)), guard, job)


@contextmanager
def _read_records(book: BookBuilder | None) -> Iterator[Records | None]:
    if book is None:
        yield None
        return
    with Book.open(book.folder) as opened:
        yield Records(opened)
