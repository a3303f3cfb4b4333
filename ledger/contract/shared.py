"""One answer about many files that are alike, so that it is made and looked at once.

An audit of many files asks dozens of checks about each, and most say of every file that it is in
order, or that the same thing is missing. What is not in order is told file by file: each file is
mended, or accepted, by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field

from ledger.dataclass import dataclass
from ledger.model.finding import Finding, Outcome, Where

ANY_FILE = "\0"
"""Stands for the path of a file in a finding that several files share; no path holds it."""

_SHAREABLE = frozenset({Outcome.CONFORMS, Outcome.INCONCLUSIVE, Outcome.NOT_ASSESSED})
_TEXTS = ("observed", "required", "unit", "criterion_source", "remedy")


@dataclass(frozen=True)
class SharedFinding:
    """A finding that holds for each of several files, but for their paths.

    Args:
        finding: what is found, about `ANY_FILE`; no nonconformity.
        files: relative paths of the files, each once.
        digests: SHA-256 behind a finding about a file, by its path; filled in by the runner.
    """

    finding: Finding
    files: tuple[str, ...]
    digests: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def spread(self) -> Iterator[Finding]:
        """Return what each file would have been told by itself."""
        return map(self.tell, self.files)

    def tell(self, path: str) -> Finding:
        """Return what one of the files would have been told by itself."""
        return self.finding.changed(
            subject=path,
            sentence=self.finding.sentence.replace(ANY_FILE, path),
            where=Where(file=path),
            digests=self.digests.get(path, ()),
        )

    def tell_first(self) -> Finding:
        """Return what the file was told whose path comes first."""
        return self.tell(min(self.files))


Told = Finding | SharedFinding
"""What a check told, of one file or of several."""


def can_share(finding: Finding) -> bool:
    """Say whether a finding about `ANY_FILE` may stand for files that differ by their paths."""
    return (
        finding.outcome in _SHAREABLE
        and finding.subject == ANY_FILE
        and finding.where == Where(file=ANY_FILE)
        and not any(ANY_FILE in getattr(finding, name) for name in _TEXTS)
        and not any(ANY_FILE in need for need in finding.needs)
    )


def spread(answers: Iterable[object]) -> Iterator[Finding]:
    """Yield the findings among the answers of a check, those that files share one by one."""
    for answer in answers:
        if isinstance(answer, SharedFinding):
            yield from answer.spread()
        elif isinstance(answer, Finding):
            yield answer
