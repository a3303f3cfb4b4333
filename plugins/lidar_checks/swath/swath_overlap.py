"""How much of the ground two swaths or more have seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import cast

from pydantic import Field

from ledger.contract.check import Criteria, Figure, Finding, Grade, Plan, Raster
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.swath.joined_rows import count_cells, join_rows
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import NO_PATCH, SwathCheck, get_family, tell_sample
from lidar_checks.swath.swath_family import CELL_M
from lidar_checks.swath.swath_map import draw_overlap
from lidar_checks.swath.swath_step import TOPIC, can_tell

_ASKED = "specification.criteria.swath-overlap.min_share"


class SwathOverlapCriteria(Criteria):
    """How much has to be seen twice."""

    min_share: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="only the customer or a profile can say how much is seen twice; where blank, "
        "it is told and mapped, and not judged",
    )


class SwathOverlap(SwathCheck):
    """Enough ground that was seen twice."""

    id = "swath-overlap"
    title = "Enough of the ground was seen by two swaths"
    catalogue = ("DN-06",)
    revision = 4
    criteria = SwathOverlapCriteria

    def judge(
        self,
        plan: Plan,
        summaries: Mapping[str, PassSummary],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding | Figure | Raster]:
        """Count cells over all files."""
        asked = cast("SwathOverlapCriteria", plan.criteria)
        rows = join_rows(summaries, get_family(plan), CELL_M)
        if not can_tell(summaries):
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "Swaths cannot be told apart: every point source id is the same, and there is no "
                "GPS time fine enough.",
                ("point_source_id", "gps_time"),
            )
            return
        if rows is None:
            yield self.inconclusive(WHOLE_DELIVERY, NO_PATCH)
            return
        common = rows.take_common()
        cells, twice = count_cells(common)
        if not cells:
            yield self.inconclusive(WHOLE_DELIVERY, "No cell was looked at in every file.")
            return
        share = twice / cells
        sentence = (
            f"{100 * share:.1f} % of {count_things(cells, 'cell')} of {CELL_M:g} m"
            f"{tell_sample(rows.level)} were seen by two swaths or more."
        )
        yield Figure("overlap", TOPIC, sentence, f"{100 * share:.2f}", "%", cells, is_inner=True)
        drawn = draw_overlap(common, plan.lattice)
        if drawn is not None:
            yield drawn
        if asked.min_share is None:
            yield self.not_assessed(
                WHOLE_DELIVERY, f"{sentence} Nobody says how much is asked for.", (_ASKED,)
            )
            return
        parts = {
            "observed": f"{100 * share:.2f}",
            "required": f"at least {100 * asked.min_share:g}",
            "unit": "% of cells",
            "criterion_source": name_sources(plan, "min_share"),
        }
        if share >= asked.min_share:
            yield self.conforms(WHOLE_DELIVERY, sentence, **parts)
            return
        yield self.nonconforming(
            Grade.MINOR,  # blank until somebody asks for it: what is asked for is not met
            WHOLE_DELIVERY,
            sentence,
            remedy="Fly lines between those that are too far apart, or have it accepted; where "
            "swaths do not meet, nothing shows whether they agree.",
            **parts,
        )
