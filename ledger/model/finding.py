"""Findings of an audit, in the words of ISO 19011: criterion, evidence, finding."""

from __future__ import annotations

import hashlib
from enum import StrEnum
from typing import Any, Self

from ledger.dataclass import dataclass

SPECIFICATION = "specification."
"""What a need begins with that names a key of `job.toml`."""


class Outcome(StrEnum):
    """What a check found."""

    CONFORMS = "conforms"
    NONCONFORMING = "nonconforming"
    INCONCLUSIVE = "inconclusive"
    NOT_ASSESSED = "not assessed"
    ERRORED = "errored"


class Grade(StrEnum):
    """How bad a nonconformity is, worst first."""

    MAJOR = "major"
    MINOR = "minor"
    OBSERVATION = "observation"


@dataclass(frozen=True)
class Where:
    """The place of a finding.

    Args:
        file: relative path in the deliverable; empty when it is about no single file.
        xy: easting and northing in the job's CRS and units.
        lonlat: longitude and latitude in degrees, of `xy`, or of the middle of the file.
        cell: label of a grid cell.
        time_span: first and last time, as text.
        strips: the strips that it is about, as a person calls them: `swath 2` for a point source
            id, `line 6 of F1` for a line that a log of the flight shows.
    """

    file: str = ""
    xy: tuple[float, float] | None = None
    lonlat: tuple[float, float] | None = None
    cell: str = ""
    time_span: tuple[str, str] | None = None
    strips: tuple[str, ...] = ()


@dataclass(frozen=True)
class Finding:
    """One result of one check about one subject.

    Args:
        check: id of the check.
        outcome: what was found.
        subject: relative path of a file, or the id of a run, a pair, or the whole delivery.
        sentence: one plain sentence, numbers with units.
        grade: only for a nonconformity.
        observed: the value found, as text.
        required: the criterion's value, as text.
        unit: unit of both.
        criterion_source: where the criterion comes from, with edition and clause.
        remedy: one thing to do.
        where: the place.
        catalogue: ids of the catalogue of failures that this is an instance of.
        needs: for *not assessed*, the names of the missing inputs.
        plugin: distribution that supplied the check; filled in by the runner.
        revision: revision of the check; filled in by the runner.
        digests: SHA-256 of the subjects' bytes; filled in by the runner.
        criterion: canonical text of the criteria as applied; filled in by the runner.
        count: answers that it stands for: files that are alike share one.
    """

    check: str
    outcome: Outcome
    subject: str
    sentence: str
    grade: Grade | None = None
    observed: str = ""
    required: str = ""
    unit: str = ""
    criterion_source: str = ""
    remedy: str = ""
    where: Where = Where()
    catalogue: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    plugin: str = ""
    revision: int = 0
    digests: tuple[str, ...] = ()
    criterion: str = ""
    count: int = 1

    def changed(self, **parts: Any) -> Self:  # noqa: ANN401 - any of the fields
        """Return a finding with some of its fields changed.

        As `dataclasses.replace` does, without setting every field anew: an audit of many files
        changes thousands of findings.
        """
        finding = object.__new__(type(self))
        vars(finding).update(vars(self), **parts)
        return finding

    @property
    def id(self) -> str:
        """Return a stable id of 12 hex digits.

        It depends on what an acceptance accepts: check, revision, catalogue id, the bytes of
        the subjects, the place, the criterion, and the values found and required; not on the
        wording.
        """
        parts = (
            self.check,
            str(self.revision),
            ",".join(self.catalogue),
            self.subject,
            ",".join(sorted(self.digests)),
            self.where.file,
            self.where.cell,
            ",".join(float.__repr__(float(number)) for number in self.where.xy or ()),
            ",".join(self.where.time_span or ()),
            self.criterion,
            self.observed,
            self.required,
            str(self.grade or self.outcome),
        )
        return hashlib.sha256("\x1f".join(parts).encode("utf-8", "surrogatepass")).hexdigest()[:12]


_GRADE_ORDER = {Grade.MAJOR: 0, Grade.MINOR: 1, Grade.OBSERVATION: 2}
_OUTCOME_ORDER = {
    Outcome.NONCONFORMING: 0,
    Outcome.ERRORED: 1,
    Outcome.INCONCLUSIVE: 2,
    Outcome.NOT_ASSESSED: 3,
    Outcome.CONFORMS: 4,
}


def compute_sort_key(
    finding: Finding, rank: int = 0
) -> tuple[int, int, int, bool, str, str, str, str, str, str]:
    """Return the key that sorts findings worst first, those of one cause together.

    Of one grade those of a greater rank come first, then those about records, record by record,
    since a run that was set wrong makes everything that is said of its files idle; then those about
    files, file by file. What has no grade is sorted by check.

    Args:
        finding: the finding.
        rank: of its check: how many others may follow from what it found.
    """
    grade = _GRADE_ORDER[finding.grade] if finding.grade is not None else len(_GRADE_ORDER)
    about = (finding.where.file or finding.subject) if finding.grade is not None else ""
    return (
        grade,
        _OUTCOME_ORDER[finding.outcome],
        -rank,
        bool(finding.grade is not None and finding.where.file),
        about,
        finding.check,
        finding.subject,
        finding.where.file,
        finding.where.cell,
        finding.sentence,
    )
