"""What the swath checks say alike."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Iterable, Mapping
from typing import Any, cast

import numpy as np

from ledger.contract.check import Criteria, FamilyCheck, Figure, Finding, Plan, Raster, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.timescale import write_utc
from lidar_checks.cloud.file_units import HEIGHT_KEYS, PLAN_KEYS
from lidar_checks.swath.joined_rows import BoolArray, Rows
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_family import FAMILY, MemberPlan, SwathPlan, find_units, list_unusable

_LATEST_S = 4_000_000_000
"""GPS seconds of a day in 2106: times beyond it are no times."""

PRACTICE = "common practice, no source"
NO_PATCH = "No patch of ground has points that can be looked at, and few enough to be kept."


class SwathCheck(FamilyCheck):
    """A check of the swath family; a subclass says what it makes of the counts in `judge`."""

    family = FAMILY
    needs = ("points",)
    specification_keys = (*PLAN_KEYS, *HEIGHT_KEYS)

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the units of the files, which the family takes from here."""
        return MemberPlan(criteria, evidence.lattice, units=find_units(evidence))

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Figure | Raster]:
        """Say which files could not be looked at, then judge the others together."""
        unusable = list_unusable(plan, summaries)
        for path, sentence, needs in unusable:
            yield self.not_assessed(path, sentence, needs, where=Where(file=path))
        left = {path for path, _, _ in unusable}
        usable = {path: each for path, each in summaries.items() if path not in left}
        if any(each.points for each in usable.values()):
            yield from self.judge(plan, usable, evidence)
        elif not unusable:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))

    @abstractmethod
    def judge(
        self, plan: Plan, summaries: Mapping[str, PassSummary], evidence: Evidence
    ) -> Iterable[Finding | Figure | Raster]:
        """Return what the files show together; some have points."""


def get_family(plan: Plan) -> SwathPlan:
    """Return the plan of the family."""
    return cast("SwathPlan", plan.family)


def find_smooth(rows: Rows, slope_max_deg: float, rough_max_m: float) -> BoolArray:
    """Say of each row whether its pass saw a smooth, gently sloping surface in the cell."""
    slope, rough = (rows[name].astype(np.float64) for name in ("slope", "rough_m"))
    with np.errstate(invalid="ignore"):
        smooth = (slope < math.tan(math.radians(slope_max_deg))) & (rough <= rough_max_m)
    return np.asarray(smooth & rows["is_fit"].astype(np.bool_))


def find_times(rows: Rows, chosen: Iterable[int], evidence: Evidence) -> tuple[str, str] | None:
    """Return when the passes of some rows went over their patches, begin and end in ISO form, UTC.

    None where a file holds seconds of the week, which name no day (ASPRS LAS 1.4 R15, global
    encoding bit 0), or where its times are of no day on which anybody flew.
    """
    origins = {f.path: f.header.time_origin_s for f in evidence.point_files if f.header}
    begun, ended = (rows[name].astype(np.float64) for name in ("first", "last"))
    spans = []
    for row in chosen:
        origin = origins.get(rows.paths[int(rows["file"][row])])
        if origin is None:
            return None
        spans.append((float(begun[row]) + origin, float(ended[row]) + origin))
    first, last = min(begin for begin, _ in spans), max(end for _, end in spans)
    if not 0 < first <= last < _LATEST_S:
        return None
    return write_utc(first), write_utc(last)


def tell_sample(level: int) -> str:
    """Return how much of the area was looked at, as a clause; empty for all of it."""
    return f" (in one patch of {1 << level})" if level else ""
