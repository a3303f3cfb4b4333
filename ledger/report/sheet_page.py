"""The custody sheet: one A4 page in black and white, readable over a telephone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from ledger.dataclass import dataclass
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
LONGEST = 140  # letters of one text
# What fits on A4 with the letters of the page: lines, and letters in a line and in a cell beside a
# label (measured in a browser, words broken at blanks).
_LINES = 66
_WIDE, _NARROW = 98, 72
_DIGEST = 64
_ASKED = "asked for: "
_OPENING = 90  # letters of the line that begins with the job
_MINUTE = len("2026-05-14T10:00")


@dataclass(frozen=True)
class _Row:
    """One line of the table of facts."""

    label: str
    lines: tuple[str, ...]
    wanted: str


@dataclass(frozen=True)
class _Room:
    """How much of everything is told.

    Args:
        listed: lines of a list.
        longest: letters of a text.
        stated: values of a fact.
    """

    listed: int
    longest: int
    stated: int


# From what is told where there is room, to what always fits.
_ROOMS = (
    _Room(10, 3 * LONGEST, 5),
    _Room(5, LONGEST, 3),
    _Room(4, 120, 2),
    _Room(3, 100, 1),
    _Room(2, 50, 1),
)


def make_sheet(package: Package) -> bytes:
    """Return the custody sheet of a handover, an HTML page that needs nothing else, UTF-8.

    It is one page of A4, whatever there is to tell: the more there is, the shorter each is told,
    with how many more the report has.
    """
    told = next(
        (told for told in _lay_out_all(package) if _count_lines(told) <= _LINES),
        _lay_out(package, _ROOMS[-1]),
    )
    pages = Environment(
        loader=PackageLoader("ledger.report", "pages"), autoescape=True, undefined=StrictUndefined
    )
    return pages.get_template("sheet.html").render(told).encode()


def _lay_out_all(package: Package) -> Iterator[dict[str, Any]]:
    return (_lay_out(package, room) for room in _ROOMS)


def _lay_out(package: Package, room: _Room) -> dict[str, Any]:
    """Return what stands on the page where each part has some room."""
    wishes = package.wishes
    return {
        "id": package.id,
        "job": clip(name_job(package), room.longest),
        "revision": wishes.revision,
        "supersedes": wishes.supersedes,
        "day": describe_time(package),
        "to": clip(wishes.to, room.longest),
        "by": clip(wishes.by, room.longest),
        "handed": [(label, _clip_text(text, room.longest)) for label, text in list_handed(package)],
        "facts": [_make_row(fact, room) for fact in package.facts],
        "verdict": f"{str(package.verdict).capitalize()}: audit of entry {package.audit.entry.seq}",
        "lapsed": clip(package.lapse, 2 * room.longest),
        "despite": clip(wishes.despite, room.longest),
        "accuracy": _shorten(list_accuracy(package), replace(room, longest=2 * room.longest)),
        "lists": [
            ("Not met, and accepted by nobody", _shorten(_list_open(package), room)),
            ("Minor findings that were accepted", _shorten(_list_accepted(package), room)),
            ("Not assessed", _shorten(list_gaps(package), room)),
        ],
        "entry": package.entry,
        "root": list_root_lines(package.root),
        "cautions": [f"“(report)” ends what stands in full in the report. {CAUTION}"],
    }


def _count_lines(told: Mapping[str, Any]) -> float:
    """Return about how many lines of text the page takes, a heading being two."""
    whole = [
        told["lapsed"],
        told["despite"],
        *told["accuracy"],
        *told["cautions"],
        told["job"] + " " * _OPENING,
    ]
    lists = [lines for _, lines in told["lists"] if lines]
    whole += [line for lines in lists for line in lines]
    cells = [text for _, text in told["handed"]]
    for row in told["facts"]:
        cells += [*row.lines, *([f"{_ASKED}{row.wanted}"] if row.wanted else [])]
    headings = 2 * (4 + len(lists))
    return headings + 6 + _fill(whole, _WIDE) + _fill(cells, _NARROW)


def _fill(texts: Iterable[str], letters: int) -> int:
    return sum(-(-len(text) // letters) for text in texts)


def clip(text: str, longest: int = LONGEST) -> str:
    """Return a text as it fits on the sheet; the report has it in full."""
    if len(text) <= longest:
        return text
    return f"{text[:longest].rstrip()} … (report)"


def _clip_text(text: str, longest: int) -> str:
    """Return a text cut where it is long; a digest, which says nothing in part, is left whole."""
    return text if len(text) == _DIGEST and text.isalnum() else clip(text, longest)


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


def _make_row(fact: Fact, room: _Room) -> _Row:
    lines = tuple(clip(value, room.longest) for value in fact.values[: room.stated])
    left = len(fact.values) - room.stated
    if left > 0:
        lines = (*lines[:-1], f"{lines[-1]}; {left} more (report)")
    wanted = clip(fact.wanted, room.longest)
    return _Row(fact.label, lines or (NOT_RECORDED,), wanted)


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


def _shorten(lines: Iterable[str], room: _Room) -> list[str]:
    """Return the first lines, and how many more the report has."""
    every = [clip(line, room.longest) for line in lines]
    if len(every) <= room.listed:
        return every
    left = len(every) - room.listed + 1
    more = f"{left} more {agree(left, 'stands', 'stand')} in the report"
    return [*every[: room.listed - 1], more]
