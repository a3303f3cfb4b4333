"""Are heights what the job asks for: input type, number of geoids applied, the right one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.phrases import count_things
from ledger.model.process import Process
from ledger.model.sitegeoid import ALIKE_M, SiteGeoid, compare_site_geoids
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.chain import Chain, find_geoid_makers, find_height_chains
from lidar_checks.settings.operands import Finder
from lidar_checks.settings.rule import Rule
from lidar_checks.settings.settings_check import RULE_SOURCE, SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys
from lidar_checks.settings.wording import show_value

_GEOID_RULE = "SC-14"
_ACCURACY = "vertical-accuracy"
_HARMLESS_SHARE = 0.25


class HeightChainCriteria(Criteria):
    """How far off another geoid may be: the limit that counts is that of `vertical-accuracy`.

    A grid that differs at the site by more than `rmse_max_m` is major, by less minor, and by less
    than a quarter of it an observation. One whose difference nobody can tell is major.
    """

    rmse_max_m: float = Field(
        default=0.05,
        gt=0,
        description="common practice, no source; where criteria.vertical-accuracy states its own "
        "limit, that one counts. A quarter: ASPRS Positional Accuracy Standards, Edition 2, 7.2",
    )


class HeightChain(SettingsCheck):
    """Heights, their input type and their geoid agree from receiver to output."""

    id = "height-chain"
    title = "Heights and geoid agree from receiver to delivery"
    catalogue = list_catalogue("height-chain")
    fields = (*list_record_fields("height-chain"), "step.kind")
    specification_keys = list_specification_keys("height-chain")

    revision = 4
    criteria = HeightChainCriteria

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
            limit_m = _find_limit(plan, evidence)
            yield from self._compare_geoids(tuple(makers.values()), evidence.geoids, limit_m)

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the processes that settled the heights of the delivery."""
        return find_height_chains(evidence)

    def find_grade(self, rule: Rule, chain: Chain, plan: Plan, evidence: Evidence) -> Grade:
        """Return how bad another geoid is by what it does to heights here."""
        if rule.id != _GEOID_RULE:
            return rule.grade
        known = Finder(chain, None, evidence).find("site.geoid_difference").known
        apart_m = None if known is None else float(known.value)
        return grade_geoid(apart_m, _find_limit(plan, evidence))

    def _compare_geoids(
        self, processes: Sequence[Process], geoids: Mapping[str, SiteGeoid], limit_m: float
    ) -> Iterator[Finding]:
        """Yield a finding where one delivery holds the heights of several geoids."""
        files = _group(processes, "geoid_file", geoids)
        if len(files) > 1:
            yield self._tell_mixed(files, grade_geoid(_find_largest(processes, geoids), limit_m))
            return
        if sum(map(len, files)) == len(processes):
            return  # one grid, whatever it is called
        names = _group(processes, "geoid_name", {})
        if len(names) > 1:
            yield self._tell_mixed(names, Grade.MAJOR)

    def _tell_mixed(self, groups: Sequence[Sequence[str]], grade: Grade) -> Finding:
        told = "; ".join(", ".join(group) for group in groups)
        geoids = count_things(len(groups), "different geoid")
        return self.nonconforming(
            grade,
            WHOLE_DELIVERY,
            f"The heights of this delivery were made with {geoids}: {told}.",
            observed=f"{geoids}: {told}",
            required="one geoid for the whole delivery",
            criterion_source=RULE_SOURCE,
            remedy="Process all of it with one geoid grid.",
            catalogue=("SC-14", "VD-08"),
        )


def grade_geoid(apart_m: float | None, limit_m: float) -> Grade:
    """Return how bad heights by another geoid are.

    Args:
        apart_m: how far the two are apart at the site, metres; None where nobody can tell.
        limit_m: what is asked of the RMSE of heights, metres.
    """
    if apart_m is None or apart_m > limit_m:
        return Grade.MAJOR
    return Grade.MINOR if apart_m > _HARMLESS_SHARE * limit_m else Grade.OBSERVATION


def _find_limit(plan: Plan, evidence: Evidence) -> float:
    """Return the limit of the RMSE of heights, metres: that of the accuracy where one is stated."""
    section = evidence.specification.criteria.get(_ACCURACY)
    stated = section.get("rmse_max_m") if isinstance(section, Mapping) else None
    if isinstance(stated, (int, float)) and stated > 0:
        return float(stated)
    return require_criteria(plan, HeightChainCriteria).rmse_max_m


def _find_largest(processes: Iterable[Process], geoids: Mapping[str, SiteGeoid]) -> float | None:
    """Return how far any two grids of some processes are apart; None where one says nothing."""
    known = (each.find_value("geoid_file") for each in processes)
    digests = sorted({str(each.value) for each in known if each is not None})
    if any(digest not in geoids for digest in digests):
        return None
    apart = [
        compare_site_geoids(geoids[one], geoids[two]).largest_m
        for one, two in combinations(digests, 2)
    ]
    return None if None in apart else max((each for each in apart if each is not None), default=0.0)


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
