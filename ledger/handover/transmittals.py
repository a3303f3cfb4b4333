"""Transmittals: what was sent to whom, as entries of the book."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from ledger.errors import UsageError
from ledger.handover.package import Wishes
from ledger.handover.validity import Judged
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.finding import Grade, Outcome
from ledger.model.phrases import join_choices
from ledger.settings.typedtext import require_no_secret
from ledger.store.reading import Book
from ledger.store.writing import Addition

PREFIX = "H"
_NONE = "none"
# A revision names a folder, on Windows too.
_REVISION = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,30}[A-Za-z0-9_-])?")
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")


def read_transmittals(book: Book) -> tuple[Entry, ...]:
    """Return every transmittal of a book, oldest first."""
    return tuple(book.entries(Kind.TRANSMITTAL))


def settle(wishes: Wishes, folder: str, before: Sequence[Entry]) -> Wishes:
    """Return what a person said with revision and what it supersedes filled in.

    Args:
        wishes: as typed.
        folder: the folder as the book writes it.
        before: the transmittals so far, oldest first.

    Raises:
        UsageError: recipient or use is blank, a text holds a password, a revision can be no
            folder, or there is no such transmittal to supersede.
    """
    _require_said(wishes)
    known = {str(entry.values["id"]): entry for entry in before}
    if wishes.supersedes not in ("", _NONE, *known):
        raise UsageError(
            "there is no such transmittal to supersede",
            found=wishes.supersedes,
            expected=join_choices([*known, _NONE]),
            where="--supersedes",
        )
    supersedes = wishes.supersedes or next(
        (name for name, entry in reversed(known.items()) if _is_same_line(entry, folder, wishes)),
        _NONE,
    )
    return replace(
        wishes,
        to=wishes.to.strip(),
        use=wishes.use.strip(),
        revision=wishes.revision or _find_revision(before),
        supersedes="" if supersedes == _NONE else supersedes,
    )


def _require_said(wishes: Wishes) -> None:
    for text, what, option in (
        (wishes.to, "the function of whoever receives it", "--to"),
        (wishes.use, "what it is intended for", "--use"),
        (wishes.by, "the function of whoever hands over", "--by"),
    ):
        if not text.strip(" .…"):
            raise UsageError(f"{what} is blank", remedy=f'add {option} "…"')
    for text, option in (
        (wishes.to, "--to"),
        (wishes.use, "--use"),
        (wishes.limits, "--limits"),
        (wishes.despite, "--despite"),
    ):
        require_no_secret(text, option)
    revision = wishes.revision
    if revision and (not _REVISION.fullmatch(revision) or _RESERVED.fullmatch(revision)):
        raise UsageError(
            "this revision can be no folder",
            found=revision[:40],
            expected="letters, digits, dots, dashes",
            where="--revision",
        )


def _is_same_line(entry: Entry, folder: str, wishes: Wishes) -> bool:
    return (entry.values["folder"], entry.values["to"]) == (folder, wishes.to.strip())


def _find_revision(before: Sequence[Entry]) -> str:
    """Return the next number that no revision has."""
    taken = {str(entry.values["revision"]).lower() for entry in before}
    number = 1
    while str(number) in taken:
        number += 1
    return str(number)


def find_same(before: Sequence[Entry], judged: Judged, wishes: Wishes) -> Entry | None:
    """Return the transmittal that says the same already; None when there is none.

    Raises:
        UsageError: the revision was given to something else.
    """
    named = [e for e in before if str(e.values["revision"]).lower() == wishes.revision.lower()]
    if not named:
        return None
    entry = named[-1]
    said = (judged.audit.manifest_sha256, wishes.to.strip(), wishes.use.strip())
    if tuple(entry.values[key] for key in ("manifest_sha256", "to", "use")) == said:
        return entry
    raise UsageError(
        "this revision was handed over already",
        found=f"{entry.values['id']}, to {entry.values['to']} on {entry.time[:10]}",
        where=f"--revision {wishes.revision}",
        remedy="name another, or leave it out",
    )


def draft_transmittal(judged: Judged, wishes: Wishes) -> Addition:
    """Return the entry of a handover."""
    audit = judged.audit
    values: dict[str, Any] = {
        "deliverable": judged.folder.id,
        "folder": audit.folder,
        "manifest_sha256": audit.manifest_sha256,
        "manifest_root": audit.entry.values["manifest_root"],
        "audit": audit.entry.seq,
        "verdict": str(judged.verdict),
        "to": wishes.to,
        "use": wishes.use,
        "limits": wishes.limits,
        "revision": wishes.revision,
        "supersedes": wishes.supersedes,
        "accepted": sorted(judged.acceptances),
        "open": sorted(_list_open(judged)),
        "despite": wishes.despite,
    }
    if judged.lapsed:  # it goes out despite that, and whoever receives it has to know
        values["lapsed"] = list(judged.lapsed)
    return Addition(Draft(Kind.TRANSMITTAL, values, by=wishes.by), id_prefix=PREFIX)


def _list_open(judged: Judged) -> set[str]:
    """Return the ids of findings that it goes out with although nobody took them."""
    return {
        each.id
        for each in judged.audit.findings
        if each.finding.outcome is Outcome.NONCONFORMING
        and each.finding.grade in (Grade.MAJOR, Grade.MINOR)
        and each.id not in judged.acceptances
    }
