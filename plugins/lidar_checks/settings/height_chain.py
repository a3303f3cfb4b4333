"""Are heights what the job asks for: input type, number of geoids applied, the right one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ledger.contract.check import Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.phrases import count_things
from ledger.model.process import Process
from lidar_checks.settings.chain import Chain, find_geoid_makers, find_height_chains
from lidar_checks.settings.settings_check import RULE_SOURCE, SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys
from lidar_checks.settings.wording import show_value


class HeightChain(SettingsCheck):
    """Heights, their input type and their geoid agree from receiver to output."""

    id = "height-chain"
    title = "Heights and geoid agree from receiver to delivery"
    catalogue = list_catalogue("height-chain")
    fields = (*list_record_fields("height-chain"), "step.kind")
    specification_keys = list_specification_keys("height-chain")

    revision = 2

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Judge whatever settled the heights, then whether all of it used one geoid."""
        yield from super().finish(plan, summaries, evidence)
        makers = {
            process.id: process
            for processes in find_geoid_makers(evidence).values()
            for process in processes
        }
        if len(makers) > 1:
            yield from self._compare_geoids(makers.values())

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the processes that settled the heights of the delivery."""
        return find_height_chains(evidence)

    def _compare_geoids(self, processes: Iterable[Process]) -> Iterator[Finding]:
        """Yield a finding where one delivery holds the heights of several geoids."""
        for name in ("geoid_file", "geoid_name"):
            groups: dict[str, list[str]] = {}
            for process in processes:
                known = process.find_value(name)
                if known is not None:
                    shown = show_value(known.value).strip()
                    groups.setdefault(shown.casefold(), []).append(f"{process.id} {shown}")
            if len(groups) > 1:
                yield self._tell_mixed(groups)
                return

    def _tell_mixed(self, groups: Mapping[str, list[str]]) -> Finding:
        told = "; ".join(", ".join(group) for group in groups.values())
        geoids = count_things(len(groups), "different geoid")
        return self.nonconforming(
            Grade.MAJOR,
            WHOLE_DELIVERY,
            f"The heights of this delivery were made with {geoids}: {told}.",
            observed=f"{geoids}: {told}",
            required="one geoid for the whole delivery",
            criterion_source=RULE_SOURCE,
            remedy="Process all of it with one geoid grid.",
            catalogue=("SC-14", "VD-08"),
        )
