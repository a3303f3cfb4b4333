"""What is added to the answers of a check: what it cannot know, and how far they may be trusted.

Invariants:

- A criterion that was carried over and never confirmed cannot be passed on.
- A criterion that is known from memory only neither passes nor fails anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from ledger.contract.enabled import EnabledCheck
from ledger.contract.shared import SharedFinding, Told
from ledger.contract.subjects import Subjects
from ledger.model.document import tell_recalled
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.phrases import tell_carried


def stamp(told: Told, enabled: EnabledCheck, subjects: Subjects) -> Told:
    """Return an answer with everything that the check itself cannot know."""
    if isinstance(told, Finding):
        return _stamp_finding(told, enabled, subjects)
    return SharedFinding(
        _stamp_finding(told.finding, enabled, subjects), told.files, subjects.digests_of_files
    )


def _stamp_finding(finding: Finding, enabled: EnabledCheck, subjects: Subjects) -> Finding:
    """Return a finding with everything that the check itself cannot know."""
    where = finding.where
    if not where.file and subjects.is_file(finding.subject):
        where = replace(where, file=finding.subject)
    stamped = finding.changed(
        where=where,
        plugin=enabled.plugin.name,
        revision=enabled.check.revision,
        criterion=enabled.criterion_text,
        criterion_source=finding.criterion_source or _join_sources(enabled, finding),
        digests=subjects.find_digests(finding.subject, where.file),
    )
    rests = _find_recalled(finding, enabled.recalled)
    return _doubt(_hold_back(stamped, enabled.unconfirmed), rests)


def _join_sources(enabled: EnabledCheck, finding: Finding) -> str:
    if not finding.required:
        return ""
    return "; ".join(f"{name}: {origin}" for name, origin in enabled.sources.items())


def _hold_back(finding: Finding, unconfirmed: Iterable[str]) -> Finding:
    """Return *inconclusive* for a pass on criteria that nobody confirmed in this job."""
    keys = tuple(unconfirmed)
    if finding.outcome is not Outcome.CONFORMS or not keys:
        return finding
    told, remedy = tell_carried(keys)
    sentence = f"{finding.sentence} {told}"
    return replace(finding, outcome=Outcome.INCONCLUSIVE, sentence=sentence, remedy=remedy)


def _find_recalled(finding: Finding, recalled: Mapping[str, str]) -> tuple[str, ...]:
    """Return the criteria from memory on which a finding rests, as the check gave it.

    A check that names the sources of what decided rests on those alone; one that names none may
    rest on any of its criteria.
    """
    named = finding.criterion_source
    return tuple(field for field, origin in recalled.items() if not named or origin in named)


def _doubt(finding: Finding, rests: tuple[str, ...]) -> Finding:
    """Return *inconclusive* for what was judged by criteria that are known from memory only.

    An observation decides nothing anyway, and stays.
    """
    judged = finding.outcome in (Outcome.CONFORMS, Outcome.NONCONFORMING)
    if not rests or not judged or finding.grade is Grade.OBSERVATION:
        return finding
    told, remedy = tell_recalled(rests)
    sentence = f"{finding.sentence} {told}"
    return replace(
        finding, outcome=Outcome.INCONCLUSIVE, grade=None, sentence=sentence, remedy=remedy
    )
