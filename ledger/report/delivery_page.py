"""The report of a delivery: one HTML page without script, network, or a file beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from jinja2 import Environment, PackageLoader, StrictUndefined

from ledger.dataclass import dataclass
from ledger.handover.package import Package
from ledger.model.acceptance import Acceptance
from ledger.model.finding import Finding, Grade
from ledger.model.phrases import count_things
from ledger.report.auditfindings import find_shared, group_findings, list_rows
from ledger.report.chain_drawing import draw_chain
from ledger.report.delivery_plots import list_heights, list_maps, list_plots
from ledger.report.sheet_page import (
    CAUTION,
    NOT_RECORDED,
    NOT_VERIFIED,
    describe_time,
    list_gaps,
    list_handed,
    name_job,
    write_minute,
)
from ledger.sealed import format_root

_PARTS = (
    ("verdict", "Verdict"),
    ("findings", "Findings"),
    ("accuracy", "Accuracy"),
    ("maps", "Maps and heights"),
    ("custody", "Chain of custody"),
    ("gaps", "Not assessed"),
    ("criteria", "Criteria"),
    ("files", "Files"),
)


@dataclass(frozen=True)
class _Told:
    """One finding of a group: its sentence, and what no other of the group says."""

    sentence: str
    own: str


@dataclass(frozen=True)
class _Group:
    """Findings that one thing puts right."""

    grade: str
    told: tuple[_Told, ...]
    shared: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _CriterionRow:
    """One criterion as the page shows it."""

    check: str
    name: str
    value: str
    source: str


def make_report(package: Package) -> bytes:
    """Return the report of a handover, UTF-8."""
    pages = Environment(
        loader=PackageLoader("ledger.report", "pages"), autoescape=True, undefined=StrictUndefined
    )
    page = pages.get_template("report.html").render(
        id=package.id,
        job=name_job(package),
        revision=package.wishes.revision,
        supersedes=package.wishes.supersedes,
        day=describe_time(package),
        to=package.wishes.to,
        by=package.wishes.by,
        parts=_PARTS,
        verdict=str(package.verdict).capitalize(),
        lapsed=package.lapse,
        despite=package.wishes.despite,
        summary=_summarise(package),
        handed=list(list_handed(package)),
        groups=list(_list_groups(package)),
        figures=_group_figures(package),
        not_verified="" if _has_ground(package) else NOT_VERIFIED,
        plots=list(list_plots(package.figures)),
        maps=[*list_maps(package.maps), *list_heights(package.figures)],
        chain=draw_chain(package.chain),
        facts=[
            {"label": f.label, "lines": f.values or (NOT_RECORDED,), "wanted": f.wanted}
            for f in package.facts
        ],
        gaps=list(list_gaps(package)),
        criteria=list(_list_criteria(package)),
        without=_name_without(package),
        files=package.files,
        entry=package.entry,
        root=format_root(package.root),
        cautions=[CAUTION],
    )
    return page.encode()


def _summarise(package: Package) -> str:
    values = package.audit.entry.values
    conforming = sum(values["conforming"].values()) if values.get("conforming") else 0
    checks = count_things(len(values.get("checks") or ()), "check")
    entry = package.audit.entry
    return (
        f"Audit of entry {entry.seq}, {write_minute(entry.time)}: {checks}, "
        f"{count_things(conforming, 'answer')} that conform."
    )


def _list_groups(package: Package) -> Iterator[_Group]:
    """Yield the findings that were not met, worst first, those that are alike together."""
    taken = {each.finding.id: acceptance for each, acceptance in package.accepted}
    by_grade: dict[Grade, list[Finding]] = {}
    for each in package.audit.findings:
        if each.finding.grade is not None:
            by_grade.setdefault(each.finding.grade, []).append(each.finding)
    for grade, findings in by_grade.items():
        for group in group_findings(findings):
            shared = find_shared(group) if len(group) > 1 else list_rows(group[0])
            told = tuple(
                _Told(finding.sentence, _tell_own(finding, shared, taken)) for finding in group
            )
            rows = {**shared, "check": ", ".join((group[0].check, *group[0].catalogue))}
            yield _Group(str(grade).capitalize(), told, tuple((k, v) for k, v in rows.items() if v))


def _tell_own(finding: Finding, shared: Mapping[str, str], taken: Mapping[str, Acceptance]) -> str:
    """Return in one line what stands below this finding alone."""
    rows = [f"{k}: {v}" for k, v in list_rows(finding).items() if v and k not in shared]
    acceptance = taken.get(finding.id)
    if acceptance is not None:
        rows.append(f"accepted by {acceptance.by}: {acceptance.reason}")
    elif finding.grade is not Grade.OBSERVATION:
        rows.append("accepted by nobody")
    return "; ".join([*rows, f"finding {finding.id}"])


def _group_figures(package: Package) -> list[tuple[str, list[str]]]:
    topics: dict[str, list[str]] = {}
    for figure in package.figures:
        if not figure.step:  # of heights nothing is said of how right they are
            topics.setdefault(figure.topic, []).append(figure.sentence)
    return list(topics.items())


def _has_ground(package: Package) -> bool:
    """Say whether a figure holds the delivery against the ground, not against itself."""
    return any(not figure.is_inner for figure in package.figures)


def _list_criteria(package: Package) -> Iterator[_CriterionRow]:
    for check in package.audit.entry.values.get("checks") or ():
        rows = check.get("criteria") or {}
        for name, row in rows.items():
            value = row.get("value")
            source = ": ".join(
                filter(None, (str(row.get("source", "")), str(row.get("basis", ""))))
            )
            yield _CriterionRow(check["id"], name, _show_criterion(value), source)


def _show_criterion(value: object) -> str:
    """Return a criterion as a person says it."""
    if value is None:
        return "blank"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(map(_show_criterion, value)) or "none"
    return str(value) or "none"


def _name_without(package: Package) -> str:
    """Return the checks that have no criterion, in one line."""
    checks = package.audit.entry.values.get("checks") or ()
    return ", ".join(str(check["id"]) for check in checks if not check.get("criteria"))
