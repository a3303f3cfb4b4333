"""Was everything in the delivery made with one version of one program."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.process import Process
from lidar_checks.header.file_check import COMMON_PRACTICE, count
from lidar_checks.settings.chain import Chain, find_chains

_KEYS = ("run.software", "run.version")
_BUILD = "run.build"


class SoftwareVersion(Check):
    """All runs behind the delivery used one version of one program."""

    id = "software-version"
    title = "The delivery was made with one version of one program"
    catalogue = ("PS-01",)
    needs = ("records",)
    fields = (*_KEYS, _BUILD)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Compare the runs behind the delivered files."""
        del plan, summaries
        chains = find_chains(evidence)
        if not chains:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No accepted or undecided run stands behind these files.",
                ("records",),
            )
            return
        open_chains = [chain for chain in chains if _find_blanks(chain.run)]
        for chain in open_chains:
            blanks = _find_blanks(chain.run)
            yield self.not_assessed(
                chain.run.id,
                f"{chain.run.id} does not say {' and '.join(blanks)}: mixed versions in one "
                "delivery are not seen.",
                blanks,
            )
        known = [chain for chain in chains if chain not in open_chains]
        if known:
            yield from self._compare(known, complete=not open_chains)

    def _compare(self, chains: list[Chain], *, complete: bool) -> Iterator[Finding]:
        groups: dict[str, list[Chain]] = {}
        with_build = all(_BUILD in chain.run.values for chain in chains)
        for chain in chains:
            groups.setdefault(_name_program(chain.run, with_build=with_build), []).append(chain)
        if len(groups) > 1:
            told = "; ".join(f"{name}: {_list_ids(group)}" for name, group in groups.items())
            yield self.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                f"The delivery was made with {len(groups)} program versions: {told}.",
                observed=str(len(groups)),
                required="1",
                unit="program versions",
                criterion_source=COMMON_PRACTICE,
                remedy="Run all of it with one version, or let somebody accept it with a reason.",
            )
        elif not all(_is_proven(chain.run) for chain in chains):
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"All runs used {next(iter(groups))}, but nobody confirmed that.",
                remedy="Confirm program and version of the runs.",
            )
        elif complete:
            yield self.conforms(WHOLE_DELIVERY, f"All runs used {next(iter(groups))}.")


def _find_blanks(run: Process) -> tuple[str, ...]:
    return tuple(key for key in _KEYS if key not in run.values)


def _is_proven(run: Process) -> bool:
    return all(run.values[key].can_prove for key in _KEYS)


def _name_program(run: Process, *, with_build: bool) -> str:
    """Return program and version; the build counts only where every run states one."""
    keys = (*_KEYS, _BUILD) if with_build else _KEYS
    return " ".join(str(run.values[key].value).strip() for key in keys)


def _list_ids(chains: list[Chain]) -> str:
    """Return the runs with the number of delivered files behind which each stands."""
    return ", ".join(f"{chain.run.id} ({count(len(chain.files), 'file')})" for chain in chains)
