"""Answers that say the same of many files are kept once; nothing that differs is lost."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ledger.audit.folding import fold_alike
from ledger.contract.check import Check, Finding, Grade, Outcome, Where
from ledger.model.audit import WHOLE_DELIVERY

PATHS = ("a.laz", "b.laz", "c.laz")


class Sample(Check):
    """A check whose answers are made by hand."""

    id = "sample"
    title = "Files are as they should be"

    def finish(self, *_: Any) -> Iterable[Finding]:
        """Answer nothing."""
        return ()


CHECK = Sample()


def fold(*answers: Finding) -> tuple[Finding, ...]:
    """Return what is left of some answers."""
    return tuple(fold_alike(answers, {CHECK.id: CHECK.title}, PATHS))


def miss(path: str, why: str = "it was not read") -> Finding:
    """Return *not assessed* for a file."""
    return CHECK.not_assessed(path, f"{path}: {why}.", ("points",), where=Where(file=path))


def test_files_in_order_share_one_answer() -> None:
    """Three files that conform are one sentence, made of the title; what is common stays."""
    (one,) = fold(
        *(CHECK.conforms(path, f"{path} is fine.", required="1", unit="m") for path in PATHS)
    )
    assert (one.outcome, one.subject) == (Outcome.CONFORMS, WHOLE_DELIVERY)
    assert one.sentence == "3 files: files are as they should be."
    assert (one.required, one.unit) == ("1", "m")


def test_a_single_file_in_order_keeps_its_own_words() -> None:
    """One file tells more than a count of one."""
    alone = CHECK.conforms("a.laz", "a.laz states EPSG:6346.")
    assert fold(alone) == (alone,)


def test_what_is_not_in_order_is_told_file_by_file() -> None:
    """Nonconforming answers stay, in their order, however alike they are."""
    bad = tuple(
        CHECK.nonconforming(Grade.MINOR, path, f"{path} is odd.", remedy="Look.") for path in PATHS
    )
    assert fold(*bad) == bad
    first, second, shared = fold(*bad[:2], *(CHECK.conforms(p, "fine.") for p in PATHS[1:]))
    assert (first, second) == bad[:2]
    assert shared.sentence.startswith("2 files: ")


def test_what_is_missing_for_every_file_is_said_once() -> None:
    """The same words and needs, names aside, are one answer that names what is missing."""
    (one,) = fold(*(miss(path) for path in PATHS))
    assert one.sentence == "Each of 3 files: it was not read."
    assert (one.outcome, one.needs) == (Outcome.NOT_ASSESSED, ("points",))
    assert (one.subject, one.where) == (WHOLE_DELIVERY, Where())


def test_one_file_that_differs_leaves_every_name() -> None:
    """Where one file is missing something else, nobody is left unnamed."""
    answers = (miss("a.laz"), miss("b.laz"), miss("c.laz", "it is locked"))
    assert fold(*answers) == answers
    answers = (miss("a.laz"), miss("b.laz"), CHECK.conforms("c.laz", "fine."))
    assert fold(*answers) == answers


def test_answers_about_no_file_stay() -> None:
    """Runs, pairs and the delivery itself are no files."""
    answers = (
        CHECK.conforms("R1", "R1 is fine."),
        CHECK.conforms("R2", "R2 is fine."),
        CHECK.inconclusive(WHOLE_DELIVERY, "Nobody can tell."),
    )
    assert fold(*answers) == answers
