"""Taking a minor finding: a named function, a reason, an entry; no point is read again.

An acceptance is of a finding's id, and the id depends on the bytes, the place, the criterion and
the values found. So it lapses by itself when any of them changes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path

from ledger.auditentry import StoredAudit, StoredFinding, read_acceptances, read_latest_audits
from ledger.errors import Fault, UsageError
from ledger.model.acceptance import Acceptance
from ledger.model.audit import AcceptResult, AuditStand, TakenFinding
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.nextstep import NextStep, find_audit_step
from ledger.settings.typedtext import require_no_secret
from ledger.status import find_next_step
from ledger.store.writing import Addition, BookWriter

SHORTEST_PREFIX = 4
_LISTED = 8


def accept_findings(job: Path, prefixes: Sequence[str], by: str, reason: str) -> AcceptResult:
    """Enter that somebody takes minor findings of the latest audits: all of them, or none.

    What the same person took for the same reason already is said, and not entered again. Another
    person, or another reason, is an entry of its own beside the earlier one.

    Args:
        job: the job folder, or its book.
        prefixes: the ids of the findings, or their first characters, at least four.
        by: function of the person who takes them, never a name.
        reason: why they may be sent all the same.

    Raises:
        UsageError: function or reason is blank; with one fault for each id that is too short,
            unknown or ambiguous, and for each finding that nobody can accept.
        BookError: the book cannot be used.
    """
    _require_said(by, "the function of the person who takes it", "--by")
    _require_said(reason, "the reason", "--reason")
    require_no_secret(reason, "the reason")
    said = (by.strip(), reason.strip())
    with BookWriter.open(job) as writer:
        found = _find_minors(read_latest_audits(writer), prefixes)
        before = read_acceptances(writer)
        fresh = {name: audit for name, audit in found.items() if not _is_said(before, name, said)}
        drafts = [_draft(name, audit, said) for name, audit in fresh.items()]
        made = dict(zip(fresh, writer.append_all(drafts) if drafts else (), strict=True))
        accepted = writer.acceptances().keys()
    taken = tuple(_tell(name, audit, made, before) for name, audit in found.items())
    audits = list({audit.entry.seq: audit for audit in found.values()}.values())
    stands = tuple(
        AuditStand(audit.entry.seq, audit.folder, audit.compute_verdict(accepted))
        for audit in audits
    )
    left = tuple(name for audit in audits for name in _list_left(audit, accepted))
    return AcceptResult(taken, stands, left, _find_step(audits, accepted) or find_next_step(job))


def _find_step(audits: Iterable[StoredAudit], accepted: Collection[str]) -> NextStep | None:
    """Return what to type next about the first of these audits that asks for anything."""
    for audit in audits:
        verdict = audit.compute_verdict(accepted)
        finding = next(iter(_list_left(audit, accepted)), "")
        step = find_audit_step(verdict, audit.folder, finding, quick=audit.is_quick)
        if step.command:
            return step
    return None


def _list_left(audit: StoredAudit, accepted: Collection[str]) -> list[str]:
    """Return the ids of the minor findings that nobody has accepted, each once, worst first."""
    minor = (each.id for each in audit.findings if each.finding.grade is Grade.MINOR)
    return [name for name in dict.fromkeys(minor) if name not in accepted]


def _find_minors(
    audits: tuple[StoredAudit, ...], prefixes: Sequence[str]
) -> dict[str, StoredAudit]:
    """Return the audit of each finding that is meant, by its id; every fault is told."""
    found: dict[str, StoredAudit] = {}
    faults: list[Fault] = []
    for prefix in prefixes:
        try:
            name = _find_id(audits, prefix.strip().lower())
            audit = _choose_audit(audits, name)
            _require_minor(name, next(f.finding for f in audit.findings if f.id == name))
            found[name] = audit
        except UsageError as error:
            faults += error.faults
    if faults:
        raise UsageError.from_faults(tuple(faults))
    return found


def _is_said(before: Mapping[str, Acceptance], name: str, said: tuple[str, str]) -> bool:
    known = before.get(name)
    return known is not None and (known.by, known.reason) == said


def _draft(name: str, audit: StoredAudit, said: tuple[str, str]) -> Addition:
    by, reason = said
    values = {"finding": name, "by": by, "reason": reason, "audit": audit.entry.seq}
    return Addition(Draft(Kind.ACCEPTANCE, values, by=by))


def _tell(
    name: str, audit: StoredAudit, made: Mapping[str, Entry], before: Mapping[str, Acceptance]
) -> TakenFinding:
    known = before.get(name)
    entry = made.get(name)
    return TakenFinding(
        finding=name,
        sentences=tuple(each.finding.sentence for each in audit.findings if each.id == name),
        entry=entry.seq if entry else known.entry if known else 0,
        audit=audit.entry.seq,
        before=known,
        is_new=entry is not None,
    )


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
