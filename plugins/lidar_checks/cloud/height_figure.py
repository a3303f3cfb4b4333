"""How many points lie at which height, for the report: from steps that are counted anyway."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from ledger.contract.check import Figure
from ledger.model.phrases import count_things
from ledger.units import METRE, find_linear_unit
from lidar_checks.cloud.height_bins import HeightBins

TOPIC = "Heights of the points"
MOST_STEPS = 128


def tell_heights(files: Iterable[HeightBins], step: float, metres: float) -> Figure | None:
    """Return how points are spread over heights; None where there are none.

    Steps are joined in pairs, again and again, until there are at most `MOST_STEPS`.

    Args:
        files: points of each file by cell and step of height.
        step: height of a step, units of the files.
        metres: size of that unit, metres.
    """
    counts: Counter[int] = Counter()
    for file in files:
        for (_, _, up), count in file.counts.items():
            counts[up] += count
    if not counts:
        return None
    joined = 0
    while (max(counts) >> joined) - (min(counts) >> joined) >= MOST_STEPS:
        joined += 1
    steps: Counter[int] = Counter()
    for up, count in counts.items():
        steps[up >> joined] += count
    side = step * (1 << joined)
    low, high = min(steps), max(steps)
    unit = (find_linear_unit(metres) or METRE).symbol
    points = count_things(sum(steps.values()), "point")
    return Figure(
        "heights",
        TOPIC,
        f"{points} between {low * side:.1f} and {(high + 1) * side:.1f} {unit}, counted in steps "
        f"of {side:.2f} {unit}; without noise, wires and withheld points.",
        f"{low * side:.4f}",
        unit,
        sum(steps.values()),
        listed=tuple(f"{up * side:.2f} {unit}" for up in range(low, high + 1)),
        values=tuple(str(steps[up]) for up in range(low, high + 1)),
        is_inner=True,
        step=f"{side:.4f}",
    )
