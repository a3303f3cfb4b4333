"""The report of a delivery: one HTML page without script, network, or a file beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from ledger.handover.package import Package
from ledger.loading import load_part
from ledger.model.acceptance import Acceptance
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Grade
from ledger.model.phrases import count_things
from ledger.model.raster import NO_VALUE, Raster
from ledger.report.auditfindings import find_shared, group_findings, list_rows
from ledger.report.chain_drawing import draw_chain
from ledger.report.sheet_page import (
    CAUTION,
    NOT_RECORDED,
    NOT_VERIFIED,
    describe_time,
    list_gaps,
    list_handed,
    name_job,
)
from ledger.sealed import format_root

_FEWEST_PLOTTED = 2  # one number is no plot
_FEWEST_COUNTED = 8  # nor do a few make a histogram
_PARTS = (
    ("verdict", "Verdict"),
    ("findings", "Findings"),
    ("accuracy", "Accuracy"),
    ("maps", "Maps"),
    ("custody", "Chain of custody"),
    ("gaps", "Not assessed"),
    ("criteria", "Criteria"),
    ("files", "Files"),
)


@dataclass(frozen=True)
class Plot:
    """A plot or map with what stands below it."""

    svg: Markup
    caption: str


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
        despite=package.wishes.despite,
        summary=_summarise(package),
        handed=list(list_handed(package)),
        groups=list(_list_groups(package)),
        figures=_group_figures(package),
        not_verified="" if _has_ground(package) else NOT_VERIFIED,
        plots=list(_list_plots(package)),
        maps=[_draw(raster) for raster in package.maps],
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
    return (
        f"Audit of entry {package.audit.entry.seq}, {package.audit.entry.time}: {checks}, "
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
        topics.setdefault(figure.topic, []).append(figure.sentence)
    return list(topics.items())


def _has_ground(package: Package) -> bool:
    """Say whether a figure holds the delivery against the ground, not against itself."""
    return any(not figure.is_inner for figure in package.figures)


def _list_plots(package: Package) -> Iterator[Plot]:
    """Yield plots of the figures that tell a number of each of several things."""
    for figure in package.figures:
        if len(figure.values) < _FEWEST_PLOTTED:
            continue
        values = tuple(float(value) for value in figure.values)
        unit = f", {figure.unit}" if figure.unit else ""
        is_mean = bool(figure.low)
        dots = load_part("ledger.report.plots", "Dots")(
            f"{figure.check}-{figure.name}",
            f"{'cloud less survey' if is_mean else 'median difference'}{unit}",
            figure.listed,
            values,
            float(figure.value) if is_mean else None,
            (float(figure.low), float(figure.high)) if is_mean else None,
        )
        caption = f"{figure.sentence} Each dot is one of {count_things(len(values), 'value')}"
        if is_mean:
            caption += (
                f"; broken line: their mean; grey: {float(figure.low):+.3f} to "
                f"{float(figure.high):+.3f} {figure.unit}, where the true mean lies in 95 of 100 "
                "such surveys, if the points are independent"
            )
        svg: Any = load_part("ledger.report.plots", "draw_dots")(dots, f"{caption}.")
        yield Plot(Markup(svg), f"{caption}.")  # noqa: S704 - as below
        if is_mean and len(values) >= _FEWEST_COUNTED:
            told = _tell_histogram(figure)
            svg = load_part("ledger.report.plots", "draw_histogram")(dots, told)
            yield Plot(Markup(svg), told)  # noqa: S704 - as below


def _tell_histogram(figure: Figure) -> str:
    count = count_things(len(figure.values), "point")
    return f"How often each difference in height of cloud less survey occurs, of {count}."


def _draw(raster: Raster) -> Plot:
    unit = f" {raster.unit}" if raster.unit else ""
    blank = int((raster.values == NO_VALUE).sum())
    extremes = raster.extremes
    told = (
        "no cell has a value" if extremes is None else f"{extremes[0]:g} to {extremes[1]:g}{unit}"
    )
    caption = (
        f"{raster.title}: {told}; cells of {raster.cell:g} in units of the files, "
        f"{blank:,} of {raster.values.size:,} without a value, grey."
    )
    svg: Any = load_part("ledger.report.plots", "draw_map")(raster, caption)
    return Plot(Markup(svg), caption)  # noqa: S704 - drawn by us; all text in it is escaped there


def _list_criteria(package: Package) -> Iterator[_CriterionRow]:
    for check in package.audit.entry.values.get("checks") or ():
        rows = check.get("criteria") or {}
        for name, row in rows.items():
            value = row.get("value")
            source = ": ".join(
                filter(None, (str(row.get("source", "")), str(row.get("basis", ""))))
            )
            yield _CriterionRow(check["id"], name, "blank" if value is None else str(value), source)


def _name_without(package: Package) -> str:
    """Return the checks that have no criterion, in one line."""
    checks = package.audit.entry.values.get("checks") or ()
    return ", ".join(str(check["id"]) for check in checks if not check.get("criteria"))
