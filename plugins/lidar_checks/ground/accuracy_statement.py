"""The sentence about accuracy that the checkpoints bear out, and the numbers that reports state.

A number in a report is computed again from the files. A spread that is passed off as an RMSE hides
the bias, which is what is wrong with most clouds that are wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import Criteria, Figure, Finding, Grade, Outcome, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from ledger.model.process import Card
from ledger.model.statement import describe_statement
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.accuracy_claim import (
    CLAIM_FIELDS,
    Claim,
    choose_points,
    compute_again,
    read_claim,
)
from lidar_checks.ground.accuracy_figures import list_figures
from lidar_checks.ground.checkpoint_check import PRACTICE, TOPIC, CheckpointCheck
from lidar_checks.ground.error_statistics import compute_statistics
from lidar_checks.ground.published_rules import COUNT_MIN_2, compute_vertical_95
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import Sample, list_heights
from lidar_checks.ground.statement_grounds import (
    JUDGES,
    Refusal,
    join_refusals,
    list_refusals,
)
from lidar_checks.ground.statement_sentence import Rules, write_sentence
from lidar_checks.lineage.statement_support import is_about

_INDEPENDENT = "FGDC-STD-007.3-1998, 3.2: tested against an independent source of higher accuracy"
_SENTENCE = f"{WHOLE_DELIVERY}, sentence"
BIAS_SHARE = 0.25
"""A bias of less than this share of the spread leaves RMSE and spread alike (common practice)."""


SPREAD_M = 0.001
"""A number this near the spread, beside its rounding, is it (common practice, no source)."""


class AccuracyStatementCriteria(Criteria):
    """What a sentence about accuracy has to keep to."""

    apart_max_m: float = Field(
        default=0.002,
        gt=0,
        description="between a stated number and the one computed here, beside its rounding: "
        f"another surface through the same points gives so much; {PRACTICE}",
    )
    count_min: int = Field(
        default=COUNT_MIN_2,
        ge=1,
        description="ASPRS Positional Accuracy Standards, Edition 2, 7.13 and 7.15: a report on "
        "fewer says so",
    )
    standard: str = Field(
        default="", description="document that the sentence names; a profile sets its own"
    )
    at_95: bool = Field(
        default=False,
        description="say 1.9600 x RMSE at 95 % as well; editions since 2023 do not",
    )


class AccuracyStatement(CheckpointCheck):
    """What may be said of the accuracy."""

    id = "accuracy-statement"
    revision = 3
    title = "What is said of the accuracy is what the checkpoints bear out"
    catalogue = ("RH-06", "RH-07", "CP-06", "CP-10", "SC-39")
    criteria = AccuracyStatementCriteria
    fields = CLAIM_FIELDS
    after = JUDGES

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding | Figure]:
        """Tell the figures, the sentence, and what is wrong with each stated number."""
        yield from list_figures(sample)
        refusals = list_refusals(sample)
        sentence = self._tell_sentence(plan, sample, refusals)
        yield Figure("sentence", TOPIC, sentence.sentence)
        yield sentence
        for card in sample.evidence.job.statements:
            if is_about(card, sample.evidence):
                yield from self._judge_claim(plan, card, sample, refusals)

    def _tell_sentence(self, plan: Plan, sample: Sample, refusals: tuple[Refusal, ...]) -> Finding:
        """Return the sentence, or why there is none."""
        asked = cast("AccuracyStatementCriteria", plan.criteria)
        parts: dict[str, Any] = {
            "catalogue": ("RH-07",),
            "criterion_source": name_sources(plan, "count_min", "standard"),
        }
        if refusals:
            return self.inconclusive(
                _SENTENCE,
                f"No accuracy may be stated: {join_refusals(refusals)}.",
                remedy=refusals[0].remedy,
                **parts,
            )
        rules = Rules(asked.count_min, asked.standard, asked.at_95)
        return self.conforms(_SENTENCE, write_sentence(rules, sample), **parts)

    def _judge_claim(
        self, plan: Plan, card: Card, sample: Sample, refusals: tuple[Refusal, ...]
    ) -> Iterator[Finding]:
        claim = read_claim(card)
        if claim is None:
            return  # what is missing in it is told by statement-support
        points = choose_points(claim, sample)
        computed = compute_again(claim, points)
        told = describe_statement(card.values)
        if not sample.independent:
            yield self.nonconforming(
                Grade.MAJOR,
                card.id,
                f"Statement {card.id} says {told}, and no independent checkpoint bears it out: "
                f"{join_refusals(refusals)}.",
                observed="a stated accuracy",
                required="independent checkpoints behind it",
                criterion_source=_INDEPENDENT,
                remedy="Take the number out of the report: say how the heights were made, and that "
                "they were not verified against ground.",
                catalogue=("RH-07", "CP-06"),
            )
            return
        if computed is None:
            yield self.inconclusive(
                card.id,
                f"Statement {card.id} ({told}) cannot be computed again: "
                f"{_tell_why_not(claim, points)}.",
                catalogue=("RH-06",),
            )
            return
        found = self._compare(plan, claim, computed, points, told)
        if found.outcome is Outcome.CONFORMS and refusals:
            found = self.inconclusive(
                claim.id,
                f"{found.sentence[:-1]}, but no accuracy may be stated: {join_refusals(refusals)}.",
                remedy=refusals[0].remedy,
                criterion_source=found.criterion_source,
                catalogue=("RH-07",),
            )
        yield found

    def _compare(
        self, plan: Plan, claim: Claim, computed: float, points: list[Residual], told: str
    ) -> Finding:
        asked = cast("AccuracyStatementCriteria", plan.criteria)
        allowed = asked.apart_max_m + claim.rounding
        parts: dict[str, Any] = {
            "observed": f"{claim.value:g}",
            "required": f"{computed:.4f} within {allowed:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "apart_max_m"),
            "catalogue": ("RH-06", "SC-39"),
        }
        number = count_things(len(points), "independent checkpoint")
        # Rounding of the sum must not turn a number at the limit into one beyond it.
        if abs(claim.value - computed) <= allowed + 1e-9:
            return self.conforms(
                claim.id,
                f"Statement {claim.id} ({told}) is what {number} give: {computed:.3f} m.",
                **parts,
            )
        spread = self._find_hidden_bias(claim, points)
        if spread is not None:
            return self.nonconforming(
                Grade.MAJOR,
                claim.id,
                f"Statement {claim.id} calls {claim.value:g} m an RMSE, but that is the spread "
                f"about the mean; the RMSE with the bias of {spread:+.3f} m in it is "
                f"{computed:.3f} m at {number}.",
                remedy="State the RMSE with the bias, or say that the heights were shifted and "
                "state the accuracy of points that the shift was not taken from.",
                **{**parts, "catalogue": ("RH-06", "CP-10")},
            )
        better = abs(claim.value) < abs(computed)
        return self.nonconforming(
            Grade.MAJOR if better else Grade.MINOR,
            claim.id,
            f"Statement {claim.id} says {told}, and the files give {computed:.3f} m at {number}"
            + ("." if better else ": the report says less than they do."),
            remedy=f"Correct the report, and what is recorded of it (swathbook record statement "
            f"{claim.id}).",
            **parts,
        )

    def _find_hidden_bias(self, claim: Claim, points: list[Residual]) -> float | None:
        """Return the bias that a stated RMSE leaves out; None where it is no such number."""
        if claim.accuracy != "vertical" or claim.statistic not in ("RMSE", "1.96 RMSE"):
            return None
        found = compute_statistics(list_heights(points))
        if found.deviation is None or abs(found.mean) <= BIAS_SHARE * found.deviation:
            return None
        spread = found.deviation
        if claim.statistic == "1.96 RMSE":
            spread = compute_vertical_95(spread)
        return found.mean if abs(claim.value - spread) <= SPREAD_M + claim.rounding else None


def _tell_why_not(claim: Claim, points: list[Residual]) -> str:
    if not points:
        return "no independent checkpoint of that kind has such an error"
    return f"{claim.accuracy} {claim.statistic} is not one number that all compute alike"
