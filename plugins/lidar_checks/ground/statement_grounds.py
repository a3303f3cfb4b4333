"""Why no accuracy may be stated, or only less than a number: what the other checks found decides.

A true number beside a mistake that is known, or a limit that is broken, reads as if all were well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ledger.contract.check import Finding, Grade, Outcome
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.ground.blunders import FEWEST_POINTS
from lidar_checks.ground.checkpoint_count import SPREAD
from lidar_checks.ground.checkpoint_independence import FLAT_MAX, measure_flatness
from lidar_checks.ground.checkpoint_quality import NEIGHBOURHOOD
from lidar_checks.ground.sample import Sample
from lidar_checks.ground.shared_base import BaseState, judge_base
from lidar_checks.ground.strata import UNSAID, find_stratum

LIMITS = ("vertical-accuracy", "horizontal-accuracy")
CAUSE, BLUNDERS, COUNT = "named-cause", "checkpoint-outliers", "checkpoint-count"
QUALITY = "checkpoint-quality"
JUDGES = (*LIMITS, CAUSE, BLUNDERS, COUNT, QUALITY)
"""Checks whose findings decide about the sentence."""

_NOT_VERIFIED = "Say how the heights were made, and that they were not verified."
_PROCESS = "Find the cause before a number is stated, process again, and audit again."
_GROUND = (
    "Say what the points stand on: in a column called surface, or for a whole table "
    "(swathbook record points)"
)


@dataclass(frozen=True)
class Refusal:
    """One reason why no accuracy may be stated.

    Args:
        why: a clause.
        remedy: what to do about it.
        is_wrong: it says that heights or points are wrong, and not that something is unknown.
    """

    why: str
    remedy: str
    is_wrong: bool = False


def list_refusals(sample: Sample) -> tuple[Refusal, ...]:
    """Return why no accuracy may be stated, the weightiest first; empty where one may."""
    empty = _find_empty(sample)
    if empty:
        return (Refusal(empty, _NOT_VERIFIED),)
    return (
        *_list_broken(sample),
        *_list_causes(sample),
        *_list_blunders(sample),
        *_list_dependence(sample),
        *_list_undeclared(sample),
    )


def join_refusals(refusals: Sequence[Refusal]) -> str:
    """Return the reasons as one text without a full stop: what is wrong first and by itself.

    What nobody wrote down is no reason of that weight, and beside a broken limit it reads as one.
    """
    wrong = [each.why for each in refusals if each.is_wrong]
    unknown = [each.why for each in refusals if not each.is_wrong]
    if not wrong or not unknown:
        return "; ".join([*wrong, *unknown])
    return f"{'; '.join(wrong)}. What is missing beside that: {'; '.join(unknown)}"


def _find_empty(sample: Sample) -> str:
    """Return why there is nothing to state an accuracy of, as a clause."""
    if not sample.checkpoints:
        return "there are no checkpoints"
    if not sample.independent and sample.contradicted:
        return f"no checkpoint is left without a second height of its spot, see {BLUNDERS}"
    if not sample.independent:
        return "every checkpoint was control, which shows how well the fit went and nothing else"
    number = len(sample.judged)
    if not number:
        return "no independent checkpoint gives a height of the cloud"
    if number < FEWEST_POINTS:
        return (
            f"{count_things(number, 'independent checkpoint')} {agree(number, 'is', 'are')} too "
            f"few, {FEWEST_POINTS} is the least: below it nobody sees which one is off"
        )
    return ""


def _list_broken(sample: Sample) -> Iterator[Refusal]:
    """Yield the limits that are broken."""
    for name in LIMITS:
        for found in _list_graded(sample, name, Grade.MAJOR):
            yield Refusal(
                f"{name} is broken ({found.observed} {found.unit}, {found.required})",
                _PROCESS,
                is_wrong=True,
            )


def _list_causes(sample: Sample) -> Iterator[Refusal]:
    """Yield that the residuals carry a mistake that has a name, or one that nobody looked for."""
    found = list(_list_graded(sample, CAUSE, Grade.MINOR))
    if found:
        yield Refusal("the residuals carry a mistake, see named-cause", _PROCESS, is_wrong=True)
    elif not _was_judged(sample, CAUSE):
        yield Refusal(
            "nobody looked for what the residuals have in common",
            "Let the check named-cause run, and audit again.",
        )


def _list_blunders(sample: Sample) -> Iterator[Refusal]:
    """Yield that heights are exchanged, or off as a block.

    Blunders are put right before anything is computed (FGDC-STD-007.3-1998, 3.2.2). A single point
    that is off and stays in is told with the number.
    """
    found = next(_list_graded(sample, BLUNDERS, Grade.MINOR), None)
    if found is not None:
        yield Refusal(f"{found.subject}: see {BLUNDERS}", found.remedy, is_wrong=True)


def _list_dependence(sample: Sample) -> Iterator[Refusal]:
    """Yield that nobody can tell whether the cloud was fitted to these very points."""
    if not sample.use.is_known:
        yield Refusal(
            f"{sample.use.question}, so nobody knows whether it was fitted to these points",
            sample.use.remedy,
        )
    elif sample.use.unnamed and not sample.control:
        users = ", ".join(sample.use.unnamed)
        yield Refusal(
            f"{users} used control and no table of it is on record, so nobody knows whether it "
            "was these points",
            "Register the table of the control (swathbook register PATH --as control) and say "
            "what it holds",
        )
    flatness = measure_flatness(sample)
    if flatness is not None and flatness < FLAT_MAX:
        yield Refusal(
            "the means of all axes are zero, as after a fit to the same points",
            "Find out whether the cloud was fitted to these points, and record that step.",
        )


def _list_undeclared(sample: Sample) -> Iterator[Refusal]:
    """Yield what nobody said of the points, or said only by assumption."""
    unsaid = sum(find_stratum(each.stratum) == UNSAID for each in sample.judged)
    if unsaid:
        number = len(sample.judged)
        yield Refusal(
            f"nobody said what ground {unsaid} of {count_things(number, 'checkpoint')} "
            f"{agree(unsaid, 'stands', 'stand')} on, open or in vegetation",
            _GROUND,
        )
    if sample.unproven:
        yield Refusal(
            f"nobody confirmed the {' and the '.join(sample.unproven)}",
            "Look at what is declared, and confirm it (swathbook record points).",
        )


def list_reservations(sample: Sample) -> Iterator[str]:
    """Yield as clauses the lesser findings that belong beside a number that may be stated."""
    results = sample.evidence.results
    if any(each.grade is Grade.OBSERVATION for each in results.get(CAUSE, ())):
        yield "nothing on record explains its mean, which is more than chance"
    off = [
        each.subject
        for each in results.get(BLUNDERS, ())
        if each.grade is Grade.OBSERVATION and each.subject != WHOLE_DELIVERY
    ]
    if off:
        yield f"{', '.join(off)} {agree(len(off), 'lies', 'lie')} off alone and in it"
    if any(each.subject == SPREAD for each in _list_graded(sample, COUNT, Grade.OBSERVATION)):
        yield "the points do not cover the whole site, see checkpoint-count"
    if any(
        each.subject == NEIGHBOURHOOD for each in _list_graded(sample, QUALITY, Grade.OBSERVATION)
    ):
        yield "neighbouring points are off alike, so that they say less than so many would"
    states = {judge_base(table, sample.evidence)[0] for table in sample.tables}
    if BaseState.SHARED in states:
        yield "relative to the base of the flight, which nobody tied to a known mark"
    if BaseState.UNKNOWN in states:
        yield "nobody said from which base the points were surveyed, so it is no absolute accuracy"


def is_full_test(sample: Sample) -> bool:
    """Say whether nothing but the number of points stands against a test by a standard."""
    states = {judge_base(table, sample.evidence)[0] for table in sample.tables}
    spread = (each for each in _list_graded(sample, COUNT, Grade.MINOR) if each.subject == SPREAD)
    return not states & {BaseState.SHARED, BaseState.UNKNOWN} and not any(spread)


def _list_graded(sample: Sample, name: str, least: Grade) -> Iterator[Finding]:
    """Yield the findings of a check that are at least so bad."""
    order = list(Grade)
    for each in sample.evidence.results.get(name, ()):
        if each.grade is not None and order.index(each.grade) <= order.index(least):
            yield each


def _was_judged(sample: Sample, name: str) -> bool:
    """Say whether a check came to any answer; one that broke off or saw nothing did not."""
    answered = (Outcome.CONFORMS, Outcome.NONCONFORMING, Outcome.INCONCLUSIVE)
    return any(each.outcome in answered for each in sample.evidence.results.get(name, ()))
