"""Answers that say the same of many files, kept once.

Whatever is not in order is told file by file, since each is mended or accepted by itself. Nobody
looks up 500 times that a file is in order, or that the same thing is missing for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from ledger.contract.check import Check, Finding, Outcome, Where
from ledger.contract.subjects import Subjects
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things

_ALIKE = ("observed", "required", "unit", "criterion_source", "remedy", "catalogue", "needs")


def fold_alike(check: Check, answers: Sequence[Finding], subjects: Subjects) -> tuple[Finding, ...]:
    """Return the answers of one check, those that say the same of many files as one.

    Files in order share one answer. What could not be judged is shared where it is the same for
    every file that the check speaks of: a file that differs from the others is always named.

    Args:
        check: the check.
        answers: its answers.
        subjects: knows which subjects are files.
    """
    of_files = [each for each in answers if subjects.is_file(each.subject)]
    conforming = [each for each in of_files if each.outcome is Outcome.CONFORMS]
    if len({each.subject for each in conforming}) > 1:
        return (*_leave_out(answers, conforming), _tell_conforming(check, conforming))
    if len(of_files) > 1 and len({_compute_likeness(each) for each in of_files}) == 1:
        return (*_leave_out(answers, of_files), _tell_open(of_files))
    return tuple(answers)


def _leave_out(answers: Sequence[Finding], folded: Sequence[Finding]) -> Iterator[Finding]:
    places = {id(each) for each in folded}  # findings are compared field by field otherwise
    return (each for each in answers if id(each) not in places)


def _compute_likeness(finding: Finding) -> tuple[object, ...]:
    """Return what is alike where findings about different files say the same.

    What is not in order is like nothing else.
    """
    if finding.outcome not in (Outcome.NOT_ASSESSED, Outcome.INCONCLUSIVE):
        return (id(finding),)
    said = tuple(getattr(finding, name) for name in _ALIKE)
    told = finding.sentence.replace(finding.subject, "\0")
    return (finding.outcome, told, replace(finding.where, file=""), *said)


def _tell_conforming(check: Check, conforming: Sequence[Finding]) -> Finding:
    files = len({each.subject for each in conforming})
    holds = f"{check.title[0].lower()}{check.title[1:]}"
    common = {
        name: values.pop()
        for name in ("observed", "required", "unit", "criterion_source")
        if len(values := {getattr(each, name) for each in conforming}) == 1
    }
    sentence = f"{count_things(files, 'file')}: {holds}."
    return check.conforms(WHOLE_DELIVERY, sentence, **common)


def _tell_open(alike: Sequence[Finding]) -> Finding:
    first = alike[0]
    told = first.sentence.removeprefix(f"{first.subject}: ").replace(first.subject, "the file")
    sentence = f"Each of {count_things(len(alike), 'file')}: {told[0].lower()}{told[1:]}"
    return replace(first, subject=WHOLE_DELIVERY, sentence=sentence, where=Where())
