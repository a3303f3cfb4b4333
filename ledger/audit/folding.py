"""Answers that say the same of many files, kept once.

Whatever is not in order is told file by file, since each is mended or accepted by itself. Nobody
looks up 500 times that a file is in order, or that the same thing is missing for all of them, and
an audit of many tiles would mostly store such answers. Checks may share an answer among files from
the start; what is kept is the same whether they do or not.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from ledger.contract.shared import ANY_FILE, SharedFinding, Told, spread
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Outcome, Where, compute_sort_key
from ledger.model.phrases import count_things

_SHARED = ("observed", "required", "unit", "criterion_source", "remedy")


def fold_alike(
    answers: Iterable[Told], titles: Mapping[str, str], files: Collection[str]
) -> Iterator[Finding]:
    """Yield findings, of each check those that say the same of many files as one.

    Files in order share one answer. What could not be judged is shared where it is the same for
    every file that the check speaks of: a file that differs from the others is always named.

    Args:
        answers: what the checks found.
        titles: title of each check, by its id.
        files: paths of the delivered files.
    """
    by_check: dict[str, list[Told]] = {}
    for answer in answers:
        by_check.setdefault(_find(answer).check, []).append(answer)
    known = frozenset(files)
    for name, told in by_check.items():
        yield from _fold(told, titles.get(name, ""), known)


def _fold(answers: Sequence[Told], title: str, files: frozenset[str]) -> Iterable[Finding]:
    of_files = [each for each in answers if files.issuperset(_list_paths(each))]
    conforming = [each for each in of_files if _find(each).outcome is Outcome.CONFORMS]
    if title and len(_gather_paths(conforming)) > 1:
        return (*_leave_out(answers, conforming), _tell_conforming(conforming, title))
    likes = {_compute_likeness(_find(each)) for each in of_files}
    if len(likes) == 1 and _count(of_files) > 1:
        return (*_leave_out(answers, of_files), _tell_open(of_files))
    return spread(answers)


def _find(answer: Told) -> Finding:
    return answer.finding if isinstance(answer, SharedFinding) else answer


def _list_paths(answer: Told) -> tuple[str, ...]:
    return answer.files if isinstance(answer, SharedFinding) else (answer.subject,)


def _gather_paths(answers: Iterable[Told]) -> set[str]:
    return {path for each in answers for path in _list_paths(each)}


def _count(answers: Iterable[Told]) -> int:
    return sum(len(_list_paths(each)) for each in answers)


def _leave_out(answers: Sequence[Told], folded: Sequence[Told]) -> Iterator[Finding]:
    places = {id(each) for each in folded}  # findings are compared field by field otherwise
    return spread(each for each in answers if id(each) not in places)


def _compute_likeness(finding: Finding) -> tuple[object, ...]:
    """Return what is alike where findings about different files say the same.

    What is not in order is like nothing else.
    """
    if finding.outcome not in (Outcome.NOT_ASSESSED, Outcome.INCONCLUSIVE):
        return (id(finding),)
    told = finding.sentence.replace(finding.subject, ANY_FILE)
    said = tuple(getattr(finding, name) for name in _SHARED)
    return (finding.outcome, finding.needs, told, replace(finding.where, file=""), *said)


def _tell_conforming(conforming: Sequence[Told], title: str) -> Finding:
    files = count_things(len(_gather_paths(conforming)), "file")
    shared = _share(conforming, f"{files}: {title[0].lower()}{title[1:]}.")
    found = [_find(each) for each in conforming]
    return replace(
        shared,
        observed=_find_common(each.observed for each in found),
        required=_find_common(each.required for each in found),
        unit=_find_common(each.unit for each in found),
        criterion_source=_find_common(each.criterion_source for each in found),
        remedy=_find_common(each.remedy for each in found),
    )


def _find_common(texts: Iterable[str]) -> str:
    """Return what is said alike; empty where anything differs."""
    said = set(texts)
    return said.pop() if len(said) == 1 else ""


def _tell_open(alike: Sequence[Told]) -> Finding:
    first = _find_first(alike)
    told = first.sentence.removeprefix(f"{first.subject}: ").replace(first.subject, "the file")
    files = count_things(_count(alike), "file")
    return _share(alike, f"Each of {files}: {told[0].lower()}{told[1:]}")


def _find_first(alike: Sequence[Told]) -> Finding:
    """Return the one that is listed first."""
    first = min(min(_list_paths(each)) for each in alike)
    told = (each for each in alike if first in _list_paths(each))
    return min(
        (each.tell_first() if isinstance(each, SharedFinding) else each for each in told),
        key=compute_sort_key,
    )


def _share(alike: Sequence[Told], sentence: str) -> Finding:
    return replace(
        _find_first(alike),
        subject=WHOLE_DELIVERY,
        sentence=sentence,
        where=Where(),
        digests=(),
        count=_count(alike),
    )
