"""The custody sheet: one A4 page in black and white, readable over a telephone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined

from ledger.handover.package import Fact, Package
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.phrases import agree, count_things, describe_bytes
from ledger.report.root import list_root_lines

NAME = "custody-sheet.html"
CAUTION = (
    "This sheet reports tests; it does not certify. Who may state positions, heights, volumes or "
    "boundaries is a matter of local law and licence: ask whoever is licensed where the work is "
    "done. The root shows that the records were not changed after it was given away; it does not "
    "show that they are true."
)
NOT_RECORDED = "not recorded"
NOT_VERIFIED = "Accuracy: not verified against ground by this audit."
_LISTED = 5
_LONGEST = 140  # letters of one text
_MOST_STATED = 3  # values of one fact
_MINUTE = len("2026-05-14T10:00")


@dataclass(frozen=True)
class _Row:
    """One line of the table of facts."""

    label: str
    lines: tuple[str, ...]
    wanted: str


def make_sheet(package: Package) -> bytes:
    """Return the custody sheet of a handover, an HTML page that needs nothing else, UTF-8."""
    pages = Environment(
        loader=PackageLoader("ledger.report", "pages"), autoescape=True, undefined=StrictUndefined
    )
    page = pages.get_template("sheet.html").render(
        id=package.id,
        job=clip(name_job(package)),
        revision=package.wishes.revision,
        supersedes=package.wishes.supersedes,
        day=describe_time(package),
        to=package.wishes.to,
        by=package.wishes.by,
        handed=[(label, clip(text)) for label, text in list_handed(package)],
        facts=[_make_row(fact) for fact in package.facts],
        verdict=f"{str(package.verdict).capitalize()}: audit of entry {package.audit.entry.seq}",
        despite=clip(package.wishes.despite),
        accuracy=list_accuracy(package),
        lists=[
            ("Not met, and accepted by nobody", _shorten(_list_open(package))),
            ("Minor findings that were accepted", _shorten(_list_accepted(package))),
            ("Not assessed", _shorten(list_gaps(package))),
        ],
        entry=package.entry,
        root=list_root_lines(package.root),
        cautions=[CAUTION],
    )
    return page.encode()


def clip(text: str) -> str:
    """Return a text as it fits on the sheet; the report has it in full."""
    if len(text) <= _LONGEST:
        return text
    return f"{text[:_LONGEST].rstrip()} … (in full in the report)"


def name_job(package: Package) -> str:
    """Return reference and title of the job, or the folder where neither is stated."""
    return ", ".join(filter(None, package.job)) or package.folder


def describe_time(package: Package) -> str:
    """Return when it was handed over, to the minute."""
    return write_minute(package.time)


def write_minute(time: str) -> str:
    """Return the time of an entry, to the minute: `2026-05-14 10:00 UTC`."""
    return f"{time[:_MINUTE].replace('T', ' ')} UTC"


def list_handed(package: Package) -> Iterator[tuple[str, str]]:
    """Yield label and value of what was handed over."""
    files = f"{count_things(len(package.files), 'file')}, {describe_bytes(package.bytes)}"
    points = "points not counted"
    if package.points is not None:
        points = count_things(package.points, "point")
    yield "Files", f"{package.folder}: {files}, {points}"
    yield "Manifest, SHA-256", package.audit.manifest_sha256
    yield "Intended use", package.wishes.use
    yield "Limits", package.wishes.limits or "none stated"
    yield "Raw data", package.copies or "none registered"


def _make_row(fact: Fact) -> _Row:
    lines = tuple(clip(value) for value in fact.values[:_MOST_STATED]) or (NOT_RECORDED,)
    left = len(fact.values) - _MOST_STATED
    more = (f"{left} more in the report",) if left > 0 else ()
    return _Row(fact.label, (*lines, *more), clip(fact.wanted))


def list_accuracy(package: Package) -> list[str]:
    """Return what may be said of accuracy; that nothing may, where nothing was tested."""
    told = [figure.sentence for figure in package.figures if not figure.is_inner]
    return told or [NOT_VERIFIED]


def _list_open(package: Package) -> Iterator[str]:
    taken = {each.id for each, _ in package.accepted}
    for each in package.audit.findings:
        if each.finding.grade in (Grade.MAJOR, Grade.MINOR) and each.id not in taken:
            yield f"{str(each.finding.grade).capitalize()}: {each.finding.sentence}"


def _list_accepted(package: Package) -> Iterator[str]:
    for each, acceptance in package.accepted:
        yield f"{each.finding.sentence} Accepted by {acceptance.by}: {acceptance.reason}"


def list_gaps(package: Package) -> Iterator[str]:
    """Yield each check that could not be made once, with the inputs that it lacked."""
    needs: dict[str, dict[str, None]] = {}
    for each in package.audit.findings:
        if each.finding.outcome in (Outcome.NOT_ASSESSED, Outcome.ERRORED):
            lacked = needs.setdefault(each.finding.check, {})
            lacked.update(dict.fromkeys(_name_needs(each.finding)))
    by_need: dict[tuple[str, ...], list[str]] = {}
    for check, lacked in needs.items():
        by_need.setdefault(tuple(lacked), []).append(check)
    for lacked_, checks in by_need.items():
        why = f": {', '.join(lacked_)}" if lacked_ else ""
        yield f"{', '.join(checks)}{why}"


def _name_needs(finding: Finding) -> Iterator[str]:
    """Yield what a check lacked, as far as it is named, without the reasons."""
    for need in finding.needs:
        yield f"no {need.partition(':')[0]}"


def _shorten(lines: Iterable[str]) -> list[str]:
    """Return the first lines, and how many more the report has."""
    every = [clip(line) for line in lines]
    if len(every) <= _LISTED:
        return every
    left = len(every) - _LISTED + 1
    more = f"{left} more {agree(left, 'stands', 'stand')} in the report"
    return [*every[: _LISTED - 1], more]
