"""Are intensity and colour there, and scaled to 16 bits.

Source: ASPRS LAS 1.4 R15, point data records: intensity and colour are 16 bits wide, values of
fewer bits are scaled up (8-bit colour by 256). Files whose points never had them say nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ledger.contract.check import Finding, Grade, Plan, PointCheck, PointChunk, Tally, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things

_SOURCE = "ASPRS LAS 1.4 R15, point data records"
_COLOURS = ("red", "green", "blue", "nir")
_NAMES = ("intensity", *_COLOURS)
_EIGHT_BITS = 255


@dataclass(frozen=True)
class RangeSummary:
    """Points of one file, and least and greatest value of each field that they have."""

    points: int
    ranges: tuple[tuple[str, int, int], ...]


class RangeTally:
    """Least and greatest intensity and colour."""

    def __init__(self) -> None:
        """Begin without a point."""
        self.points = 0
        self.ranges: dict[str, tuple[int, int]] = {}

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if not len(points):
            return
        self.points += len(points)
        for name in _NAMES:
            if name in points.names:
                self._widen(name, int(points[name].min()), int(points[name].max()))

    def _widen(self, name: str, low: int, high: int) -> None:
        first = self.ranges.get(name, (low, high))
        self.ranges[name] = (min(first[0], low), max(first[1], high))

    def merge(self, other: RangeTally) -> None:
        """Take in what another tally has seen."""
        self.points += other.points
        for name, (low, high) in other.ranges.items():
            self._widen(name, low, high)

    def close(self) -> RangeSummary:
        """Return what the judgement needs."""
        ranges = tuple((name, *self.ranges[name]) for name in _NAMES if name in self.ranges)
        return RangeSummary(self.points, ranges)


class AttributeRange(PointCheck):
    """Intensity and colour were kept and are scaled."""

    id = "attribute-range"
    title = "Intensity and colour were kept and fill their 16 bits"
    catalogue = ("FT-09",)
    needs = ("points",)
    optional_dimensions = frozenset(_NAMES)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:  # noqa: ARG002 - the contract's
        """Return an empty tally."""
        return RangeTally()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge each file by itself."""
        del plan, evidence
        filled = {path: summaries[path] for path in sorted(summaries) if summaries[path].points}
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        for path, summary in filled.items():
            yield self._judge(path, summary)

    def _judge(self, path: str, summary: RangeSummary) -> Finding:
        faults = [*_list_faults(summary)]
        if not faults:
            told = ", ".join(f"{name} {low:,} to {high:,}" for name, low, high in summary.ranges)
            return self.conforms(path, f"{path}: {told}.", where=Where(path))
        return self.nonconforming(
            Grade.OBSERVATION,
            path,
            f"{path}: {'; '.join(faults)}.",
            observed="; ".join(faults),
            required="values scaled to 16 bits",
            criterion_source=_SOURCE,
            remedy="Export again with intensity and colour as 16-bit values, or in a point format "
            "without colour.",
            where=Where(path),
        )


def _list_faults(summary: RangeSummary) -> Iterator[str]:
    """Yield what was lost or not scaled; of a single point nothing can be said."""
    if summary.points < 2:
        return
    ranges = {name: (low, high) for name, low, high in summary.ranges}
    low, high = ranges.get("intensity", (0, 1))
    if low == high:
        yield f"every intensity of {count_things(summary.points, 'point')} is {low:,}"
    greatest = [ranges[name][1] for name in _COLOURS if name in ranges]
    if greatest and max(greatest) == 0:
        yield "every colour is black: the point format has colour, and none was stored"
    elif greatest and max(greatest) <= _EIGHT_BITS:
        yield f"no colour is above {max(greatest)}: 8-bit colour that was not multiplied by 256"
