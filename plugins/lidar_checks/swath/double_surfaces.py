"""Ghosting: two surfaces, one above the other, where the ground has one.

A drifting or jumping trajectory, a wrong merge or calibration leaves a second roof or wall a few
centimetres off. It is looked for in cells whose points lie on a gentle slope; `two_surfaces` says
how one is told from kerbs, walls and grass.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import cast

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import PRACTICE, SwathCheck, get_family, tell_sample
from lidar_checks.swath.swath_family import CELL_M
from lidar_checks.swath.two_surfaces import TwoSurfaces

FEWEST_CELLS = 30
"""Cells without which no share is said (common practice, no source)."""


class DoubleSurfacesCriteria(Criteria):
    """How many cells may show two surfaces, and what one is.

    Surfaces closer than `apart_min_m`, which is what swaths may differ by, are not told apart.
    """

    max_share_of_cells: float = Field(default=0.02, ge=0, lt=1, description=PRACTICE)
    apart_min_m: float = Field(default=0.08, gt=0, description=PRACTICE)
    apart_max_m: float = Field(default=1.0, gt=0, description=PRACTICE)
    slope_max_deg: float = Field(default=10.0, gt=0, le=45, description=PRACTICE)
    rough_max_m: float = Field(default=0.08, gt=0, description=PRACTICE)


class DoubleSurfaces(SwathCheck):
    """One surface where there is one."""

    id = "double-surfaces"
    title = "Smooth ground and roofs show one surface, not two"
    catalogue = ("SW-02",)
    revision = 3
    criteria = DoubleSurfacesCriteria

    def judge(
        self,
        plan: Plan,
        summaries: Mapping[str, PassSummary],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding]:
        """Count the cells with two surfaces over all files."""
        asked = cast("DoubleSurfacesCriteria", plan.criteria)
        family = get_family(plan)
        cells = doubles = level = 0
        apart: list[float] = []
        names: Counter[tuple[int, int]] = Counter()
        worst: tuple[int, str, tuple[float, float]] | None = None
        for path, summary in sorted(summaries.items()):
            found = summary.cells.get(family.steps[CELL_M])
            if found is None:
                continue
            level = max(level, summary.level)
            flat, double = _judge_cells(found.two, asked)
            cells += int(np.count_nonzero(flat))
            here = int(np.count_nonzero(double))
            doubles += here
            apart += found.two.apart_m[double].tolist()
            pairs = zip(found.two.below[double], found.two.above[double], strict=True)
            names.update((int(a), int(b)) for a, b in pairs)
            if here and (worst is None or here > worst[0]):
                worst = (here, path, _find_middle(found.two, double, plan.lattice.steps_xy))
        if cells < FEWEST_CELLS and not _is_too_many(doubles, cells, asked):
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"Only {count_things(cells, 'cell')} of {CELL_M:g} m{tell_sample(level)} hold a "
                f"smooth surface, fewer than {FEWEST_CELLS}.",
            )
            return
        share = doubles / cells
        parts = {
            "observed": f"{100 * share:.2f}",
            "required": f"at most {100 * asked.max_share_of_cells:g}",
            "unit": "% of smooth cells",
            "criterion_source": name_sources(plan, "max_share_of_cells"),
        }
        looked = f"{count_things(cells, 'smooth cell')} of {CELL_M:g} m{tell_sample(level)}"
        if worst is None or not _is_too_many(doubles, cells, asked):
            sentence = f"{doubles} of {looked} show two surfaces."
            yield self.conforms(WHOLE_DELIVERY, sentence, **parts)
            return
        yield self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            f"{doubles} of {looked} show two surfaces, {float(np.median(apart)):.3f} m apart"
            f"{_tell_lines(names)}; most of them in {worst[1]}.",
            remedy="Look at a section there; process the run again with a sound trajectory, or "
            "adjust the swaths to each other.",
            where=Where(file=worst[1], xy=worst[2], strips=_list_strips(names)),
            **parts,
        )


def _judge_cells(
    two: TwoSurfaces, asked: DoubleSurfacesCriteria
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the cells that can be judged, and those of them with two surfaces."""
    double = two.is_double & (two.within_m <= asked.rough_max_m)
    double &= (two.apart_m >= asked.apart_min_m) & (two.apart_m <= asked.apart_max_m)
    flat = two.slope < math.tan(math.radians(asked.slope_max_deg))
    flat &= double | (two.rough_m <= asked.rough_max_m)
    return flat, flat & double


def _is_too_many(doubles: int, cells: int, asked: DoubleSurfacesCriteria) -> bool:
    """Say whether so many of the cells are more than the criterion, and more than one or two."""
    return doubles > max(2, asked.max_share_of_cells * cells)


def _find_middle(two: TwoSurfaces, double: NDArray[np.bool_], steps: int) -> tuple[float, float]:
    """Return the place of the cell that lies nearest to the middle of those with two surfaces."""
    x, y = two.x[double], two.y[double]
    index = int(np.argmin((x - np.median(x)) ** 2 + (y - np.median(y)) ** 2))
    return int(x[index]) / steps, int(y[index]) / steps


def _list_strips(names: Counter[tuple[int, int]]) -> tuple[str, ...]:
    """Return the swaths of all cells with two surfaces; none where several were in one cell."""
    found = sorted({number for pair in names for number in pair} - {-1})
    return tuple(f"swath {number}" for number in found)


def _tell_lines(names: Counter[tuple[int, int]]) -> str:
    """Return between which swaths, or in which, most of them lie."""
    pair, count = min(names.items(), key=lambda item: (-item[1], item[0]))
    if 2 * count <= sum(names.values()) or -1 in pair:
        return ""
    if pair[0] == pair[1]:
        return f", both of swath {pair[0]}"
    return f", swath {pair[1]} above swath {pair[0]}"
