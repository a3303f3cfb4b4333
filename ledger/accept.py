"""Taking a minor finding: a named function, a reason, an entry; no point is read again.

An acceptance is of a finding's id, and the id depends on the bytes, the place, the criterion and
the values found. So it lapses by itself when any of them changes.
"""

from __future__ import annotations

from pathlib import Path

from ledger.auditentry import StoredAudit, StoredFinding, read_latest_audits
from ledger.errors import UsageError
from ledger.model.audit import AcceptResult
from ledger.model.entry import Draft, Kind
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.nextstep import find_audit_step
from ledger.status import find_next_step
from ledger.store.writing import BookWriter

SHORTEST_PREFIX = 4
_LISTED = 8


def accept_finding(job: Path, finding_id_prefix: str, by: str, reason: str) -> AcceptResult:
    """Enter that somebody takes a minor finding of the latest audits.

    Args:
        job: the job folder, or its book.
        finding_id_prefix: the id of the finding, or its first characters, at least four.
        by: function of the person who takes it, never a name.
        reason: why it may be sent all the same.

    Raises:
        UsageError: function or reason is blank; the id is too short, unknown or ambiguous; the
            finding is major, or there is nothing to accept.
        BookError: the book cannot be used.
    """
    _require_said(by, "the function of the person who takes it", "--by")
    _require_said(reason, "the reason", "--reason")
    with BookWriter.open(job) as writer:
        audits = read_latest_audits(writer)
        name = _find_id(audits, finding_id_prefix.strip().lower())
        audit = _choose_audit(audits, name)
        taken = [each.finding for each in audit.findings if each.id == name]
        _require_minor(name, taken[0])
        values = {
            "finding": name,
            "by": by.strip(),
            "reason": reason.strip(),
            "audit": audit.entry.seq,
        }
        entry = writer.append(Draft(Kind.ACCEPTANCE, values, by=by.strip()))
        accepted = writer.acceptances().keys()
        verdict = audit.compute_verdict(accepted)
        left = tuple(each for each in _list_minor(audit) if each not in accepted)
    step = find_audit_step(verdict, audit.folder, next(iter(left), ""), quick=audit.is_quick)
    return AcceptResult(
        entry=entry.seq,
        finding=name,
        sentences=tuple(finding.sentence for finding in taken),
        audit=audit.entry.seq,
        folder=audit.folder,
        verdict=verdict,
        open=left,
        step=step if step.command else find_next_step(job),
    )


def _list_minor(audit: StoredAudit) -> list[str]:
    """Return the ids of the minor findings of an audit, each once, worst first."""
    minor = (each.id for each in audit.findings if each.finding.grade is Grade.MINOR)
    return list(dict.fromkeys(minor))


def _require_said(text: str, what: str, option: str) -> None:
    # Three dots stand in the printed command for what a person has to say.
    if not text.strip(" .…"):
        raise UsageError(f"{what} is blank", remedy=f'add {option} "…"')


def _find_id(audits: tuple[StoredAudit, ...], prefix: str) -> str:
    """Return the one id that begins like this."""
    if len(prefix) < SHORTEST_PREFIX:
        raise UsageError(
            "the id of the finding is too short",
            found=prefix or "nothing",
            expected=f"at least {SHORTEST_PREFIX} characters",
        )
    listed = [each for audit in audits for each in audit.findings]
    known = {each.id for each in listed if each.finding.outcome is not Outcome.CONFORMS}
    matches = sorted(name for name in known if name.startswith(prefix))
    if not matches:
        raise UsageError(
            "the latest audits have no such finding", found=prefix, remedy=_name_open(listed)
        )
    if len(matches) > 1:
        raise UsageError(
            "several findings begin like this", found=prefix, expected=" or ".join(matches)
        )
    return matches[0]


def _name_open(listed: list[StoredFinding]) -> str:
    """Return a remedy that names what could be accepted."""
    minor = sorted({each.id for each in listed if each.finding.grade is Grade.MINOR})
    if not minor:
        return "there is no minor finding to accept; an audit of changed files gives new ids"
    more = ", …" if len(minor) > _LISTED else ""
    return f"minor findings: {', '.join(minor[:_LISTED])}{more}"


def _choose_audit(audits: tuple[StoredAudit, ...], name: str) -> StoredAudit:
    """Return the audit whose verdict counts: the newest full one, else the newest."""
    holding = [audit for audit in audits if any(each.id == name for each in audit.findings)]
    return next((audit for audit in holding if not audit.is_quick), holding[0])


def _require_minor(name: str, finding: Finding) -> None:
    if finding.grade is Grade.MINOR:
        return
    if finding.grade is Grade.MAJOR:
        what, remedy = "a major finding cannot be accepted", finding.remedy
    elif finding.grade is Grade.OBSERVATION:
        what, remedy = "an observation needs no acceptance", ""
    else:
        what = f"this is {finding.outcome}, which nobody can accept"
        remedy = finding.remedy or "supply what is missing and audit again"
    raise UsageError(
        what, found=finding.sentence.rstrip("."), where=name, remedy=remedy.rstrip(".")
    )
