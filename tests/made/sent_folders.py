"""A folder that is audited and handed over, with findings that let it go or do not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.handover import hand_over
from ledger.handover.package import HandoverResult, Package, Wishes
from ledger.model.finding import Finding, Grade, Outcome
from ledger.store.reading import Book
from ledger.testing.books import BookBuilder

MINOR = Finding(
    check="gaps",
    outcome=Outcome.NONCONFORMING,
    grade=Grade.MINOR,
    subject="tile_1.las",
    sentence="Line 6 was flown 14 s without a fixed position.",
    remedy="Fly it again.",
)
MAJOR = Finding(
    check="stale",
    outcome=Outcome.NONCONFORMING,
    grade=Grade.MAJOR,
    subject="tile_2.las",
    sentence="tile_2.las was made by a rejected run.",
    remedy="Replace it.",
)
WISHES = Wishes(to="client engineer", use="volumes, May")


def enter_audit(book: BookBuilder, *findings: Finding, **values: Any) -> None:
    """Enter an audit of the folder with these findings, and close the book."""
    content = encode([write_finding(finding) for finding in findings])
    verdict = "fit to send"
    if findings:
        verdict = "do not send" if MAJOR in findings else "send only with acceptance"
    book.audit(
        "deliver",
        verdict=str(values.pop("verdict", verdict)),
        blobs=(content,),
        findings=compute_digest(content),
        **values,
    )
    book.close()


def no_papers(package: Package) -> Mapping[str, bytes]:
    """Make no paper but the manifest."""
    return {}


def send(book: BookBuilder, wishes: Wishes = WISHES) -> HandoverResult:
    """Hand the folder over."""
    return hand_over(book.folder, book.folder / "deliver", wishes, no_papers)


def list_entries(book: BookBuilder) -> list[str]:
    """Return the kinds of all entries."""
    with Book.open(book.folder) as opened:
        return [entry.kind for entry in opened.entries()]
