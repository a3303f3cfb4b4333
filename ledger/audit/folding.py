"""Answers that say the same of many files, kept once.

Whatever is not in order is told file by file, since each is mended or accepted by itself. Nobody
looks up 500 times that a file is in order, or that the same thing is missing for all of them, and
an audit of many tiles would mostly store such answers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Outcome, Where, compute_sort_key
from ledger.model.phrases import count_things

_SHARED = ("observed", "required", "unit", "criterion_source", "remedy")


def fold_alike(
    findings: Iterable[Finding], titles: Mapping[str, str], files: Collection[str]
) -> Iterator[Finding]:
    """Yield findings, of each check those that say the same of many files as one.

    Files in order share one answer. What could not be judged is shared where it is the same for
    every file that the check speaks of: a file that differs from the others is always named.

    Args:
        findings: what the checks found.
        titles: title of each check, by its id.
        files: paths of the delivered files.
    """
    by_check: dict[str, list[Finding]] = {}
    for finding in findings:
        by_check.setdefault(finding.check, []).append(finding)
    for name, answers in by_check.items():
        yield from _fold(answers, titles.get(name, ""), files)


def _fold(answers: Sequence[Finding], title: str, files: Collection[str]) -> Iterable[Finding]:
    of_files = [each for each in answers if each.subject in files]
    conforming = [each for each in of_files if each.outcome is Outcome.CONFORMS]
    if title and len({each.subject for each in conforming}) > 1:
        return (*_leave_out(answers, conforming), _tell_conforming(conforming, title))
    if len(of_files) > 1 and len({_compute_likeness(each) for each in of_files}) == 1:
        return (*_leave_out(answers, of_files), _tell_open(of_files))
    return answers


def _leave_out(answers: Sequence[Finding], folded: Sequence[Finding]) -> Iterator[Finding]:
    places = {id(each) for each in folded}  # findings are compared field by field otherwise
    return (each for each in answers if id(each) not in places)


def _compute_likeness(finding: Finding) -> tuple[object, ...]:
    """Return what is alike where findings about different files say the same.

    What is not in order is like nothing else.
    """
    if finding.outcome not in (Outcome.NOT_ASSESSED, Outcome.INCONCLUSIVE):
        return (id(finding),)
    told = finding.sentence.replace(finding.subject, "\0")
    said = tuple(getattr(finding, name) for name in _SHARED)
    return (finding.outcome, finding.needs, told, replace(finding.where, file=""), *said)


def _tell_conforming(conforming: Sequence[Finding], title: str) -> Finding:
    files = count_things(len({each.subject for each in conforming}), "file")
    shared = _share(conforming, f"{files}: {title[0].lower()}{title[1:]}.")
    return replace(
        shared,
        observed=_find_common(each.observed for each in conforming),
        required=_find_common(each.required for each in conforming),
        unit=_find_common(each.unit for each in conforming),
        criterion_source=_find_common(each.criterion_source for each in conforming),
        remedy=_find_common(each.remedy for each in conforming),
    )


def _find_common(texts: Iterable[str]) -> str:
    """Return what is said alike; empty where anything differs."""
    said = set(texts)
    return said.pop() if len(said) == 1 else ""


def _tell_open(alike: Sequence[Finding]) -> Finding:
    first = _find_first(alike)
    told = first.sentence.removeprefix(f"{first.subject}: ").replace(first.subject, "the file")
    return _share(alike, f"Each of {count_things(len(alike), 'file')}: {told[0].lower()}{told[1:]}")


def _find_first(alike: Sequence[Finding]) -> Finding:
    """Return the one that is listed first."""
    subject = min(each.subject for each in alike)
    return min((each for each in alike if each.subject == subject), key=compute_sort_key)


def _share(alike: Sequence[Finding], sentence: str) -> Finding:
    return replace(
        _find_first(alike),
        subject=WHOLE_DELIVERY,
        sentence=sentence,
        where=Where(),
        digests=(),
        count=len(alike),
    )
