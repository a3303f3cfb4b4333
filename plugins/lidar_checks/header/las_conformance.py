"""Does a header keep the rules of the LAS specification, version 1.0 to 1.5, LAZ and COPC.

What makes programs read a file wrongly is minor, the rest an observation. What makes it unreadable
is told by `file-readable`. Header against points is the business of `header-counts` and
`header-extent`.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from lidar_checks.header import (
    las_rules_copc,
    las_rules_counts,
    las_rules_encoding,
    las_rules_layout,
    las_rules_records,
    las_rules_waveform,
)
from lidar_checks.header.file_check import FileCheck
from lidar_checks.header.las_rule import KIND, HeaderCase, LasRule

RULES: tuple[LasRule, ...] = (
    *las_rules_counts.RULES,
    *las_rules_encoding.RULES,
    *las_rules_records.RULES,
    *las_rules_layout.RULES,
    *las_rules_waveform.RULES,
    *las_rules_copc.RULES,
)
_OF_ONE_FILE = tuple(rule for rule in RULES if rule.is_of_one_file)


class LasConformance(FileCheck):
    """Headers keep the rules of the LAS specification."""

    id = "las-conformance"
    title = "Headers keep the rules of the LAS specification"
    catalogue = tuple(dict.fromkeys(id_ for rule in RULES for id_ in (*rule.catalogue, rule.id)))

    rests_on = KIND

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """List once what lies beside the files."""
        return Plan(criteria, evidence.lattice, companions=_list_companions(evidence))

    def find_kind(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Hashable | None:
        """Return what files have alike whose counts and places keep their rules."""
        case = HeaderCase(file, header, vars(plan)["companions"])
        if any(rule.find(case) for rule in _OF_ONE_FILE):
            return None
        return super().find_kind(file, header, plan)

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return one finding for each rule whose breach misleads, and one for all the others."""
        del evidence
        case = HeaderCase(file, header, vars(plan)["companions"])
        broken = [(rule, fault) for rule in RULES if (fault := rule.find(case))]
        harmless = [row for row in broken if row[0].grade is Grade.OBSERVATION]
        for row in broken:
            if row not in harmless:
                yield self._tell(case, row)
        if harmless:
            yield self._tell(case, *harmless)
        if not broken:
            yield self.conforms(
                file.path,
                f"{file.path}: its header keeps all {len(RULES)} rules of LAS that are looked at.",
                where=Where(file.path),
            )

    def _tell(self, case: HeaderCase, *rows: tuple[LasRule, str]) -> Finding:
        """Return a finding on broken rules of one grade; the first says what to do."""
        file = case.file
        rules = [rule for rule, _ in rows]
        told = "; ".join(fault for _, fault in rows)
        ids = [id_ for rule in rules for id_ in rule.catalogue] + [rule.id for rule in rules]
        return self.nonconforming(
            rules[0].grade,
            file.path,
            f"{file.path}: {told}.",
            observed=told,
            criterion_source="; ".join(dict.fromkeys(rule.name_clause(case) for rule in rules)),
            remedy=rules[0].remedy,
            catalogue=tuple(dict.fromkeys(ids)),
            where=Where(file.path),
        )


def _list_companions(evidence: Evidence) -> frozenset[str]:
    """Return the waveform files of the delivery, in lower case."""
    paths = (file.path.casefold() for file in evidence.files)
    return frozenset(path for path in paths if path.endswith(".wdp"))
