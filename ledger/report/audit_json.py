"""The object that `audit --json` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, TypedDict

from ledger.canonical import compute_digest
from ledger.model.audit import AuditResult, CheckFacts
from ledger.model.blanks import Blank
from ledger.model.document import AppliedProfile
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Where
from ledger.report.jsonvalues import ANY_VALUE, make_number, make_plain

if TYPE_CHECKING:  # maps load numpy
    from ledger.model.raster import Raster


class WhereJson(TypedDict):
    """The place of a finding."""

    file: Annotated[str, "relative path in the folder; empty when it is about no single file"]
    xy: Annotated[list[float] | None, "easting and northing in the job's CRS and units"]
    lonlat: Annotated[
        list[float] | None,
        "longitude and latitude, degrees; of the middle of the file where xy is null",
    ]
    cell: Annotated[str, "label of a grid cell"]
    time_span: Annotated[list[str] | None, "first and last time"]
    strips: Annotated[
        list[str], "its strips: `swath 2` for a point source id, `line 6 of F1` for a line flown"
    ]


class FindingJson(TypedDict):
    """One finding that does not simply conform."""

    id: Annotated[str, "stable while bytes, place and criterion stay"]
    check: Annotated[str, "id of the check"]
    plugin: Annotated[str, "distribution that supplied it"]
    catalogue: Annotated[list[str], "ids of the catalogue of failures"]
    outcome: Annotated[str, "nonconforming, inconclusive, not assessed, errored"]
    grade: Annotated[str | None, "major, minor, observation; only when nonconforming"]
    subject: Annotated[str, "relative path, id of a run, or the delivery"]
    where: Annotated[WhereJson, "the place"]
    sentence: Annotated[str, "one plain sentence"]
    observed: Annotated[float | str, "what was found: a number where there is a unit, else words"]
    required: Annotated[float | str, "what was asked for, likewise; words where it is a range"]
    unit: Annotated[str, "unit of both; empty for words"]
    criterion_source: Annotated[str, "where the criterion comes from"]
    remedy: Annotated[str, "what to do"]
    needs: Annotated[list[str], "missing inputs, when not assessed"]
    accepted: Annotated[bool, "somebody accepted it with a reason"]
    count: Annotated[int, "answers that it stands for: files that are alike share one"]


class ConformingJson(TypedDict):
    """How often a check found its criterion met."""

    check: Annotated[str, "id of the check"]
    count: Annotated[int, "results that conform"]


class BlankJson(TypedDict):
    """A blank and its cost."""

    field: Annotated[str, "record field or key of job.toml"]
    checks: Annotated[list[str], "checks that cannot judge fully without it"]


class CriterionJson(TypedDict):
    """One criterion as applied."""

    check: Annotated[str, "id of the check"]
    field: Annotated[str, "its name, with the unit in it"]
    value: Annotated[Any, f"its value: {ANY_VALUE}; null when blank"]
    source: Annotated[str, "job.toml, profile, default or blank"]
    basis: Annotated[str, "document and clause, or where the default comes from"]
    unit: Annotated[str, "unit of the value; empty for none"]
    document: Annotated[str, "title and edition, for a value of a profile; else empty"]
    clause: Annotated[str, "where the document states it, for a value of a profile; else empty"]
    known: Annotated[str, "how a value of a profile is known: document … memory; else empty"]


class NotTestedJson(TypedDict):
    """Something that a document asks for and that no check tests."""

    asks: Annotated[str, "what it asks for"]
    clause: Annotated[str, "where it says so"]
    known: Annotated[str, "how that is known: document … memory; empty for a missing check"]


class ProfileJson(TypedDict):
    """The profile that job.toml names."""

    id: Annotated[str, "its id"]
    title: Annotated[str, "title of the document"]
    edition: Annotated[str, "its edition"]
    sha256: Annotated[str, "digest of the profile's file, or of its values where it has none"]
    file: Annotated[str, "the file in the job folder; empty for one of a plugin"]
    plugin: Annotated[str, "plugin that supplies it; empty for a file in the job folder"]
    not_tested: Annotated[list[NotTestedJson], "what the document also asks for"]


class SwitchedOffJson(TypedDict):
    """A check that did not run because `job.toml` says so."""

    check: Annotated[str, "id of the check"]
    reason: Annotated[str, "why, as job.toml says"]
    by: Annotated[str, "function of the person who entered that job.toml"]
    entry: Annotated[int, "number of the entry that holds it"]


class RasterJson(TypedDict):
    """A small map that a check drew; its values are in the book."""

    check: Annotated[str, "id of the check"]
    name: Annotated[str, "name within the check"]
    title: Annotated[str, "what it shows"]
    unit: Annotated[str, "unit of a value; empty for a mere number"]
    least: Annotated[float | None, "least value; null where no cell has one"]
    greatest: Annotated[float | None, "greatest value"]
    step: Annotated[float, "value of one unit of what is stored"]
    origin: Annotated[list[float], "X and Y of the lower left corner, units of the files"]
    cell: Annotated[float, "side of a cell, units of the files"]
    cell_unit: Annotated[
        str, "m, ft or ftUS, as the files say; empty where they do not, or not alike"
    ]
    rows: Annotated[int, "rows, southernmost first"]
    columns: Annotated[int, "columns"]
    sha256: Annotated[str, "digest of the values: little-endian int32, least int32 for no value"]


class FigureJson(TypedDict):
    """A number that a check told; it is no verdict."""

    check: Annotated[str, "id of the check"]
    name: Annotated[str, "name within the check"]
    topic: Annotated[str, "heading that figures share which belong together"]
    sentence: Annotated[str, "the number as a person reads it"]
    value: Annotated[float | None, "the number; null where there is none to tell"]
    unit: Annotated[str, "unit of it and of its limits; empty for a mere number"]
    count: Annotated[int | None, "how many things it was computed from"]
    low: Annotated[float | None, "lower limit of its interval of 95 %"]
    high: Annotated[float | None, "upper limit of its interval of 95 %"]
    of: Annotated[str, "which of the things; empty for all"]
    listed: Annotated[list[str], "names of what was counted"]
    inner: Annotated[bool, "it compares files among themselves, and proves nothing of the ground"]
    step: Annotated[float | None, "size of equal steps from value upward that values count in"]
    values: Annotated[list[float | None], "the number of each of them; empty where none was told"]


class AuditJson(TypedDict):
    """What `audit --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "number of the entry made"]
    id: Annotated[str, "id of the deliverable (D1)"]
    folder: Annotated[str, "the audited folder"]
    verdict: Annotated[str, "do not send, incomplete, send only with acceptance, fit to send"]
    quick: Annotated[bool, "points were not read"]
    manifest_sha256: Annotated[str, "digest of the manifest: the identity of the deliverable"]
    specification: Annotated[str, "digest of job.toml"]
    files: Annotated[int, "files in the folder"]
    points: Annotated[int | None, "points counted by reading them; null when not read"]
    seconds: Annotated[float, "time taken"]
    findings: Annotated[list[FindingJson], "all that does not simply conform, worst first"]
    conforming: Annotated[list[ConformingJson], "what conforms, by check"]
    blanks: Annotated[list[BlankJson], "what is blank and what that costs"]
    criteria: Annotated[list[CriterionJson], "every criterion as applied"]
    switched_off: Annotated[list[SwitchedOffJson], "checks that did not run, each with its reason"]
    rasters: Annotated[list[RasterJson], "small maps that the checks drew"]
    figures: Annotated[list[FigureJson], "numbers that the checks told"]
    read_by_no_check: Annotated[list[str], "keys of job.toml that no check and no command reads"]
    plugin_faults: Annotated[list[str], "plugins that could not be used"]
    not_traced: Annotated[list[str], "documents that no recorded process made"]
    profile: Annotated[ProfileJson | None, "the profile that job.toml names; null for none"]


def make_json(result: AuditResult) -> AuditJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "id": result.id,
        "folder": result.folder,
        "verdict": str(result.verdict),
        "quick": result.quick,
        "manifest_sha256": result.manifest_sha256,
        "specification": result.specification,
        "files": result.files,
        "points": result.points,
        "seconds": round(result.seconds, 3),
        "findings": [
            describe_finding(f, accepted=f.id in result.accepted) for f in result.open_findings
        ],
        "conforming": [{"check": c, "count": n} for c, n in result.conforming.items()],
        "blanks": [_describe_blank(blank) for blank in result.blanks],
        "criteria": [each for check in result.checks for each in describe_criteria(check)],
        "switched_off": [
            {
                "check": check.id,
                "reason": check.switched_off,
                "by": result.specification_by,
                "entry": result.specification_entry,
            }
            for check in result.switched_off
        ],
        "rasters": [_describe_raster(raster) for raster in result.rasters],
        "figures": [_describe_figure(figure) for figure in result.figures],
        "read_by_no_check": list(result.unread),
        "plugin_faults": [str(fault) for fault in result.plugin_faults],
        "not_traced": list(result.not_traced),
        "profile": describe_profile(result.profile),
    }


def describe_profile(profile: AppliedProfile | None) -> ProfileJson | None:
    """Return a profile as JSON values; None for none."""
    if profile is None:
        return None
    return {
        "id": profile.id,
        "title": profile.title,
        "edition": profile.edition,
        "sha256": profile.sha256,
        "file": profile.file,
        "plugin": profile.plugin,
        "not_tested": [
            {"asks": each.asks, "clause": each.clause, "known": each.known}
            for each in profile.not_tested
        ],
    }


def describe_finding(finding: Finding, *, accepted: bool) -> FindingJson:
    """Return a finding as JSON values."""
    return {
        "id": finding.id,
        "check": finding.check,
        "plugin": finding.plugin,
        "catalogue": list(finding.catalogue),
        "outcome": str(finding.outcome),
        "grade": str(finding.grade) if finding.grade is not None else None,
        "subject": finding.subject,
        "where": _describe_where(finding.where),
        "sentence": finding.sentence,
        "observed": make_number(finding.observed) if finding.unit else finding.observed,
        "required": make_number(finding.required) if finding.unit else finding.required,
        "unit": finding.unit,
        "criterion_source": finding.criterion_source,
        "remedy": finding.remedy,
        "needs": list(finding.needs),
        "accepted": accepted,
        "count": finding.count,
    }


def _describe_where(where: Where) -> WhereJson:
    return {
        "file": where.file,
        "xy": list(where.xy) if where.xy is not None else None,
        "lonlat": list(where.lonlat) if where.lonlat is not None else None,
        "cell": where.cell,
        "time_span": list(where.time_span) if where.time_span is not None else None,
        "strips": list(where.strips),
    }


def _describe_raster(raster: Raster) -> RasterJson:
    extremes = raster.extremes
    rows, columns = raster.values.shape
    return {
        "check": raster.check,
        "name": raster.name,
        "title": raster.title,
        "unit": raster.unit,
        "least": extremes[0] if extremes else None,
        "greatest": extremes[1] if extremes else None,
        "step": raster.step,
        "origin": list(raster.origin),
        "cell": raster.cell,
        "cell_unit": raster.cell_unit,
        "rows": rows,
        "columns": columns,
        "sha256": compute_digest(raster.content),
    }


def _describe_figure(figure: Figure) -> FigureJson:
    return {
        "check": figure.check,
        "name": figure.name,
        "topic": figure.topic,
        "sentence": figure.sentence,
        "value": _read(figure.value),
        "unit": figure.unit,
        "count": figure.count,
        "low": _read(figure.low),
        "high": _read(figure.high),
        "of": figure.of,
        "listed": list(figure.listed),
        "inner": figure.is_inner,
        "step": _read(figure.step),
        "values": [_read(value) for value in figure.values],
    }


def _read(number: str) -> float | None:
    return float(number) if number else None


def _describe_blank(blank: Blank) -> BlankJson:
    return {"field": blank.field, "checks": list(blank.checks)}


def describe_criteria(check: CheckFacts) -> list[CriterionJson]:
    """Return the criteria of a check as JSON values."""
    return [
        {
            "check": check.id,
            "field": criterion.field,
            "value": make_plain(criterion.value),
            "source": str(criterion.source),
            "basis": criterion.basis,
            "unit": criterion.unit,
            "document": criterion.document,
            "clause": criterion.clause,
            "known": criterion.known,
        }
        for criterion in check.criteria
    ]
