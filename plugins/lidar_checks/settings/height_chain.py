"""Are heights what the job asks for: input type, number of geoids applied, the right one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from ledger.contract.check import Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.phrases import count_things
from ledger.model.process import Process
from ledger.model.sitegeoid import ALIKE_M, SiteGeoid, compare_site_geoids
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

    revision = 3

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
            yield from self._compare_geoids(tuple(makers.values()), evidence.geoids)

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the processes that settled the heights of the delivery."""
        return find_height_chains(evidence)

    def _compare_geoids(
        self, processes: Sequence[Process], geoids: Mapping[str, SiteGeoid]
    ) -> Iterator[Finding]:
        """Yield a finding where one delivery holds the heights of several geoids."""
        files = _group(processes, "geoid_file", geoids)
        if len(files) > 1:
            yield self._tell_mixed(files)
            return
        if sum(map(len, files)) == len(processes):
            return  # one grid, whatever it is called
        names = _group(processes, "geoid_name", {})
        if len(names) > 1:
            yield self._tell_mixed(names)

    def _tell_mixed(self, groups: Sequence[Sequence[str]]) -> Finding:
        told = "; ".join(", ".join(group) for group in groups)
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


def _group(
    processes: Iterable[Process], name: str, geoids: Mapping[str, SiteGeoid]
) -> list[list[str]]:
    """Return the processes with their value of a setting, those of one geoid together."""
    groups: list[tuple[str, list[str]]] = []
    for process in processes:
        known = process.find_value(name)
        if known is None:
            continue
        shown = show_value(known.value).strip()
        value = str(known.value).strip().casefold()
        group = next((told for first, told in groups if _is_one(first, value, geoids)), None)
        if group is None:
            group = []
            groups.append((value, group))
        group.append(f"{process.id} {shown}")
    return [told for _, told in groups]


def _is_one(first: str, second: str, geoids: Mapping[str, SiteGeoid]) -> bool:
    """Say whether two values name one geoid: by themselves, or by what the grids say here."""
    if first == second:
        return True
    if first not in geoids or second not in geoids:
        return False
    largest = compare_site_geoids(geoids[first], geoids[second]).largest_m
    return largest is not None and largest <= ALIKE_M
