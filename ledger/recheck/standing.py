"""Whether the folders of the latest audits are still what was audited."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ledger.audited import AuditedFolder
from ledger.recheck.states import AuditStanding, CheckedFile, FileState

_UNSEEN = (FileState.NOT_CONNECTED, FileState.UNREADABLE)


def find_standing(
    audits: Iterable[AuditedFolder], files: Iterable[CheckedFile]
) -> tuple[AuditStanding, ...]:
    """Return how each audited folder stands, given what was found of its files."""
    by_path = {file.path: file for file in files}
    return tuple(_judge(audit, by_path) for audit in audits)


def _judge(audit: AuditedFolder, by_path: Mapping[str, CheckedFile]) -> AuditStanding:
    changed, missing, unseen = [], [], []
    for name, audited in sorted(audit.files.items()):
        file = by_path.get(audited.path)
        if file is None or not audited.sha256 or file.state in _UNSEEN:
            unseen.append(name)
        elif file.state is FileState.MISSING:
            missing.append(name)
        elif file.found != audited.sha256:
            changed.append(name)
    return AuditStanding(
        id=audit.id,
        entry=audit.entry.seq,
        time=audit.entry.time,
        folder=audit.folder,
        verdict=str(audit.entry.values.get("verdict", "")),
        changed=tuple(changed),
        missing=tuple(missing),
        added=audit.added if audit.is_listable else (),
        unseen=(*unseen, *(() if audit.is_listable else (audit.folder,))),
    )
