"""Are heights what the job asks for: input type, number of geoids applied, the right one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ledger.contract.check import Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.process import Process
from lidar_checks.settings.chain import find_chains
from lidar_checks.settings.rules import list_catalogue, list_record_fields
from lidar_checks.settings.settings_check import RULE_SOURCE, SettingsCheck, show_value


class HeightChain(SettingsCheck):
    """Heights, their input type and their geoid agree from receiver to output."""

    id = "height-chain"
    title = "Heights and geoid agree from receiver to delivery"
    catalogue = list_catalogue("height-chain")
    fields = list_record_fields("height-chain")

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Judge every run, then whether all of them used one geoid."""
        yield from super().finish(plan, summaries, evidence)
        runs = [chain.run for chain in find_chains(evidence) if chain.delivers]
        if len(runs) > 1:
            yield from self._compare_geoids(runs)

    def _compare_geoids(self, runs: list[Process]) -> Iterator[Finding]:
        """Yield a finding where the runs of one delivery used several geoids."""
        for key in ("run.geoid_file", "run.geoid_name"):
            groups: dict[str, list[str]] = {}
            for run in runs:
                if key in run.values:
                    shown = show_value(run.values[key].value).strip()
                    groups.setdefault(shown.casefold(), []).append(f"{run.id} {shown}")
            if len(groups) > 1:
                told = "; ".join(", ".join(group) for group in groups.values())
                yield self.nonconforming(
                    Grade.MAJOR,
                    WHOLE_DELIVERY,
                    f"The runs behind this delivery used {len(groups)} different geoids: {told}.",
                    observed=str(len(groups)),
                    required="1",
                    unit="geoids",
                    criterion_source=RULE_SOURCE,
                    remedy="Process all of it with one geoid grid.",
                    catalogue=("SC-14", "VD-08"),
                )
                return
