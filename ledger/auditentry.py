"""How an audit stands in the book, and what follows from it later.

Light: reading a stored verdict needs no plugin, no points and no coordinate system.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from ledger.canonical import compute_digest, decode, make_decimal, make_decimals
from ledger.dataclass import dataclass
from ledger.model.acceptance import Acceptance
from ledger.model.entry import Entry, Kind
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.verdict import Verdict, compute_verdict
from ledger.store.reading import Book

if TYPE_CHECKING:  # who reads an audit has no use for the facts of checks
    from ledger.model.audit import CheckFacts
    from ledger.model.document import AppliedProfile
    from ledger.model.raster import Raster


@dataclass(frozen=True)
class StoredFinding:
    """A finding with the id that it had when it was entered.

    Args:
        id: its id, to which acceptances refer.
        finding: the finding.
    """

    id: str
    finding: Finding


@dataclass(frozen=True)
class StoredAudit:
    """An audit as the book holds it.

    Args:
        entry: its entry.
        findings: its findings, worst first.
        required: ids of the checks that might not be left open.
    """

    entry: Entry
    findings: tuple[StoredFinding, ...]
    required: frozenset[str]

    @property
    def folder(self) -> str:
        """Return the audited folder as the book writes it."""
        return str(self.entry.values["folder"])

    @property
    def is_quick(self) -> bool:
        """Say whether points were left unread."""
        return bool(self.entry.values["quick"])

    @property
    def manifest_sha256(self) -> str:
        """Return the identity of the deliverable."""
        return str(self.entry.values["manifest_sha256"])

    def compute_verdict(self, accepted: Iterable[str]) -> Verdict:
        """Return the verdict with the acceptances given so far."""
        known = {each.id: each.finding.id for each in self.findings}
        taken = {known.get(name, name) for name in accepted}
        listed = [each.finding for each in self.findings]
        return compute_verdict(listed, self.required, taken, quick=self.is_quick)


def read_audit(book: Book, entry: Entry) -> StoredAudit:
    """Return an audit by its entry."""
    rows = decode(book.blob(entry.values["findings"]))
    return StoredAudit(
        entry,
        tuple(StoredFinding(row["id"], read_finding(row)) for row in rows),
        frozenset(entry.values["required"]),
    )


def read_latest_audits(book: Book) -> tuple[StoredAudit, ...]:
    """Return the latest audit of every folder, newest first.

    Where that one was quick, the latest full audit of the same bytes is returned too.
    """
    latest: dict[str, Entry] = {}
    full: dict[tuple[str, str], Entry] = {}
    for entry in book.entries(Kind.AUDIT):
        folder, manifest = entry.values["folder"], entry.values["manifest_sha256"]
        latest[folder] = entry
        if not entry.values["quick"]:
            full[folder, manifest] = entry
    chosen = {entry.seq: entry for entry in latest.values()}
    for folder, entry in latest.items():
        same = full.get((folder, entry.values["manifest_sha256"]))
        if same is not None:
            chosen[same.seq] = same
    return tuple(read_audit(book, chosen[seq]) for seq in sorted(chosen, reverse=True))


def read_acceptances(book: Book) -> dict[str, Acceptance]:
    """Return every acceptance in force, by the id of the finding."""
    return {
        finding: Acceptance(
            finding, str(entry.values["by"]), str(entry.values["reason"]), entry.seq, entry.time
        )
        for finding, entry in book.acceptances().items()
    }


def write_finding(finding: Finding) -> dict[str, Any]:
    """Return the canonical mapping of a finding; what says nothing is left out."""
    values: dict[str, Any] = {
        "id": finding.id,
        "check": finding.check,
        "outcome": str(finding.outcome),
        "grade": None if finding.grade is None else str(finding.grade),
        "revision": finding.revision,
        "where": _write_where(finding.where),
    }
    if finding.count > 1:
        values["count"] = finding.count
    for name in (*_TEXTS, *_LISTS):
        value = getattr(finding, name)
        if value:
            values[name] = _clean(value) if name in _TEXTS else [_clean(part) for part in value]
    return values


_TEXTS = (
    "subject",
    "sentence",
    "observed",
    "required",
    "unit",
    "criterion_source",
    "remedy",
    "plugin",
    "criterion",
)
_LISTS = ("catalogue", "needs", "digests")


def _clean(text: str) -> str:
    """Return text that can be stored: half a surrogate pair is written out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _write_where(where: Where) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if where.file:
        values["file"] = _clean(where.file)
    if where.cell:
        values["cell"] = _clean(where.cell)
    for name in ("xy", "lonlat"):
        pair = getattr(where, name)
        if pair is not None:
            values[name] = [make_decimal(float(number)) for number in pair]
    if where.time_span is not None:
        values["time_span"] = [_clean(part) for part in where.time_span]
    if where.strips:
        values["strips"] = [_clean(part) for part in where.strips]
    return values


def read_finding(row: Mapping[str, Any]) -> Finding:
    """Read back what `write_finding` returned."""
    grade = row["grade"]
    return Finding(
        check=row["check"],
        outcome=Outcome(row["outcome"]),
        grade=None if grade is None else Grade(grade),
        revision=row["revision"],
        where=_read_where(row["where"]),
        subject=row.get("subject", ""),
        sentence=row.get("sentence", ""),
        observed=row.get("observed", ""),
        required=row.get("required", ""),
        unit=row.get("unit", ""),
        criterion_source=row.get("criterion_source", ""),
        remedy=row.get("remedy", ""),
        plugin=row.get("plugin", ""),
        criterion=row.get("criterion", ""),
        catalogue=tuple(row.get("catalogue", ())),
        needs=tuple(row.get("needs", ())),
        digests=tuple(row.get("digests", ())),
        count=row.get("count", 1),
    )


def _read_where(values: Mapping[str, Any]) -> Where:
    span = values.get("time_span")
    return Where(
        file=values.get("file", ""),
        xy=_read_pair(values.get("xy")),
        lonlat=_read_pair(values.get("lonlat")),
        cell=values.get("cell", ""),
        time_span=None if span is None else (span[0], span[1]),
        strips=tuple(values.get("strips", ())),
    )


def _read_pair(texts: list[str] | None) -> tuple[float, float] | None:
    return None if texts is None else (float(texts[0]), float(texts[1]))


def write_check(facts: CheckFacts) -> dict[str, Any]:
    """Return the canonical mapping of a check as it stood in an audit."""
    return {
        "id": facts.id,
        "catalogue": list(facts.catalogue),
        "revision": facts.revision,
        "plugin": facts.plugin.name,
        "version": facts.plugin.version,
        "digest": facts.plugin.digest,
        "module": facts.plugin.module,
        "required": facts.required,
        "criteria": {
            each.field: {
                "value": make_decimals(each.value),
                "source": str(each.source),
                "basis": each.basis,
                "known": each.known,
            }
            for each in facts.criteria
        },
    }


def write_raster(raster: Raster) -> dict[str, Any]:
    """Return the canonical mapping of a map; its values are a blob of the book."""
    rows, columns = raster.values.shape
    return {
        "check": raster.check,
        "name": raster.name,
        "title": raster.title,
        "unit": raster.unit,
        "step": make_decimal(raster.step),
        "origin": [make_decimal(each) for each in raster.origin],
        "cell": make_decimal(raster.cell),
        "cell_unit": raster.cell_unit,
        "rows": rows,
        "columns": columns,
        "sha256": compute_digest(raster.content),
    }


def write_figure(figure: Figure) -> dict[str, Any]:
    """Return the canonical mapping of a figure; what says nothing is left out."""
    values = asdict(figure)
    values["listed"] = [_clean(name) for name in figure.listed]
    values["values"] = list(figure.values)
    for name in ("topic", "sentence", "of"):
        values[name] = _clean(values[name])
    return {name: value for name, value in values.items() if value not in ("", None, [], False)}


def read_figures(entry: Entry) -> tuple[Figure, ...]:
    """Return the numbers that an audit told; none of one from before they were kept."""
    rows = entry.values.get("figures") or ()
    return tuple(
        Figure(**{**row, **{name: tuple(row.get(name, ())) for name in ("listed", "values")}})
        for row in rows
    )


def write_profile(profile: AppliedProfile | None) -> dict[str, Any] | None:
    """Return the canonical mapping of the profile that an audit applied; None for none."""
    if profile is None:
        return None
    values = asdict(profile)
    return {**values, "not_tested": list(values["not_tested"])}


def write_rows(rows: Iterable[Any]) -> list[dict[str, Any]]:
    """Return plain records (blanks, plugin faults) as canonical mappings."""
    return [asdict(row) for row in rows]
