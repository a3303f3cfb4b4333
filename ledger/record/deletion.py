"""Recording that files were deleted on purpose: the program deletes nothing itself."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from ledger.audited import list_audited_folders
from ledger.copies import Copies, count_good, find_copies
from ledger.dataclass import dataclass
from ledger.deletions import draft_deletion
from ledger.errors import UsageError
from ledger.recheck.expected import Expected, list_expected, select
from ledger.sealed import read_last_seal
from ledger.settings.typedtext import require_no_secret
from ledger.store.writing import BookWriter

_NAMED = 3


@dataclass(frozen=True)
class DeletionResult:
    """What was entered of a deletion.

    Args:
        entry: its entry.
        paths: what is gone, as the book writes it.
        reason: why.
        keep_until: until when the job is to be kept, ISO date; empty where nobody said.
        lost: raw files without any good copy now.
        thin: raw files with fewer good copies than are asked for, those without one apart.
    """

    entry: int
    paths: tuple[str, ...]
    reason: str
    keep_until: str
    lost: int
    thin: int


def record_deletion(
    job: Path, paths: Sequence[Path], reason: str, by: str = "technician"
) -> DeletionResult:
    """Enter that recorded files were deleted on purpose.

    Args:
        job: the job folder, or its book.
        paths: files and folders that are gone.
        reason: why they were deleted.
        by: function of the person.

    Raises:
        UsageError: no reason; nothing recorded there; something is still there, or lies on a drive
            that is not connected, so that nobody can say.
        BookError: the book cannot be used.
    """
    if not reason.strip(" .…"):
        raise UsageError("a deletion needs its reason", remedy='add --reason "…"')
    require_no_secret(reason, "the reason")
    with BookWriter.open(job) as writer:
        gone = select(writer, list_expected(writer, list_audited_folders(writer)), paths)
        _require_gone(gone)
        spots = [(each.path, each.sha256, each.drive) for each in gone]
        entry = writer.append_all([draft_deletion(spots, reason.strip(), by)])[0]
        seal = read_last_seal(writer)
        lost, thin = _count_left(find_copies(writer))
    return DeletionResult(
        entry=entry.seq,
        paths=tuple(each.path for each in gone),
        reason=reason.strip(),
        keep_until=seal.closes if seal is not None else "",
        lost=lost,
        thin=thin,
    )


def _require_gone(expected: Iterable[Expected]) -> None:
    listed = tuple(expected)
    away = [each.path for each in listed if each.place is None]
    if away:
        raise UsageError(
            "whether these are gone cannot be seen: their drive is not connected",
            found=", ".join(away[:_NAMED]),
            remedy="connect it",
        )
    there = [each.path for each in listed if each.place and os.path.lexists(each.place)]
    if there:
        raise UsageError(
            "these are still there; nothing is deleted by this program",
            found=", ".join(there[:_NAMED]) + (", …" if len(there) > _NAMED else ""),
            remedy="delete them first, if that is what is wanted",
        )


def _count_left(copies: Copies) -> tuple[int, int]:
    """Return how many raw files have no good copy, and how many have too few."""
    good = [count_good(places) for places in copies.by_file.values()]
    return sum(number == 0 for number in good), sum(0 < number < copies.needed for number in good)
