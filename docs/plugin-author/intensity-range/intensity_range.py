"""A check: intensity was exported, and not too much of it is clipped at the top of its range.

Source of the range: ASPRS LAS 1.4 R15, "Intensity": 16 bits, normalised to the full range, and
optional. How much clipping spoils a picture: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import Field

from ledger.contract.check import (
    Check,
    Criteria,
    Finding,
    Grade,
    Plan,
    PointCheck,
    PointChunk,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.hookspecs import hookimpl

_HIGHEST = 65_535


class IntensityCriteria(Criteria):
    """How much may be clipped."""

    max_clipped_share: float = Field(
        default=0.02, ge=0, le=1, description="common practice, no source"
    )


@dataclass(frozen=True)
class IntensitySummary:
    """What is left of one file: three whole numbers."""

    points: int
    dark: int
    clipped: int


class IntensityTally:
    """Counts the points of one file: all, those at 0, those at the top."""

    def __init__(self) -> None:
        """Start with none."""
        self.points = self.dark = self.clipped = 0

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        intensity = points["intensity"]
        self.points += len(points)
        self.dark += int(np.count_nonzero(intensity == 0))
        self.clipped += int(np.count_nonzero(intensity == _HIGHEST))

    def merge(self, other: IntensityTally) -> None:
        """Take in what another tally of the same file has seen."""
        self.points += other.points
        self.dark += other.dark
        self.clipped += other.clipped

    def close(self) -> IntensitySummary:
        """Return what is needed to judge."""
        return IntensitySummary(self.points, self.dark, self.clipped)


class IntensityRange(PointCheck):
    """Intensity is there, and little of it is clipped."""

    id = "intensity-range"
    title = "Intensity was exported and is not clipped"
    needs = ("points",)
    dimensions = frozenset({"intensity"})
    criteria = IntensityCriteria

    def start(self, plan: Plan, file: DeliveredFile) -> IntensityTally:
        """Return an empty tally for one file."""
        return IntensityTally()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge each file by itself."""
        assert isinstance(plan.criteria, IntensityCriteria)
        limit = plan.criteria.max_clipped_share
        for path, summary in sorted(summaries.items()):
            yield self._judge(path, summary, limit, plan.sources["max_clipped_share"])

    def _judge(self, path: str, found: IntensitySummary, limit: float, source: str) -> Finding:
        where = Where(file=path)
        if not found.points:
            return self.inconclusive(path, f"{path} holds no point.", where=where)
        if found.dark == found.points:
            return self.nonconforming(
                Grade.OBSERVATION,
                path,
                f"{path}: every intensity is 0, so it was not exported.",
                observed="0 in every point",
                required="intensities of the scanner",
                criterion_source="ASPRS LAS 1.4 R15, Intensity",
                remedy="Export again with intensity, or say that none was asked for.",
                where=where,
            )
        share = found.clipped / found.points
        if share > limit:
            return self.nonconforming(
                Grade.MINOR,
                path,
                f"{path}: {share:.1%} of the intensities are clipped at {_HIGHEST}.",
                observed=f"{share:.4f}",
                required=f"at most {limit:.4f}",
                unit="share of points",
                criterion_source=source,
                remedy="Export again with a wider range of intensity.",
                where=where,
            )
        return self.conforms(
            path, f"{path}: {share:.1%} of the intensities are clipped.", where=where
        )


@hookimpl
def register_checks() -> Iterable[Check]:
    """Offer the check."""
    return (IntensityRange(),)
