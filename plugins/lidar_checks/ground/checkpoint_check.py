"""What the checks of checkpoints share: the sample, its wording, and how a number meets a limit."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Figure, Finding, Plan
from ledger.contract.evidence import Evidence
from lidar_checks.ground.residuals import GroundCheck, list_flown, list_residuals
from lidar_checks.ground.sample import Sample

PRACTICE = "common practice, no source"

TOPIC = "Accuracy at checkpoints, and where it says nothing"
"""The heading of every figure about checkpoints."""

_DIGITS = 4


class CheckpointCheck(GroundCheck):
    """A check of what checkpoints show; it judges a sample and never a point by itself."""

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Figure]:
        """Judge the checkpoints of the job."""
        yield from self.judge(
            plan, Sample(list_residuals(plan, summaries), evidence, list_flown(summaries))
        )

    @abstractmethod
    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding | Figure]:
        """Judge a sample of checkpoints."""


def exceeds(value: float, limit: float) -> bool:
    """Say whether a length is greater than its limit, both rounded to a tenth of a millimetre.

    Coordinates are given to the millimetre, so that what lies below says nothing of the ground;
    without a rule a class would hang on the last bit of a root (docs/decisions/0017).
    """
    return round(value, _DIGITS) > round(limit, _DIGITS)


def show(value: float, limit: float | None = None) -> str:
    """Return a length in metres to the millimetre, or finer where the limit would hide in it."""
    text = f"{value:.3f}"
    if limit is not None and exceeds(value, limit) != (float(text) > limit):
        return f"{value:.{_DIGITS}f}"
    return text


def tell_interval(interval: tuple[float, float] | None) -> str:
    """Return the confidence limits of an RMSE in words, or why it has none."""
    if interval is None:
        return "no interval: the bias is larger than the spread"
    return f"95 % interval {interval[0]:.3f} to {interval[1]:.3f} m"


def is_default(plan: Plan, field: str) -> bool:
    """Say whether nobody asked for a criterion: it is the check's own default."""
    return plan.sources.get(field, "").startswith("default")


def tell_unproven(sample: Sample) -> str:
    """Return that nothing passes on what nobody confirmed of the tables; empty where all is."""
    if not sample.unproven:
        return ""
    return f" But nobody confirmed the {' and the '.join(sample.unproven)}."
