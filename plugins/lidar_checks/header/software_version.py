"""Was each program behind the delivery used in one version.

Several programs are normal: one processes, another cleans, a third tiles. So versions are compared
within one program and one kind of work. One program in two versions for two kinds of work (an
update between processing and tiling) is only told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.phrases import count_things
from ledger.model.process import Process, find_later
from lidar_checks.header.file_check import COMMON_PRACTICE
from lidar_checks.settings.chain import list_behind
from lidar_checks.settings.remedies import write_command

_NAMES = ("software", "version")
_BUILD = "build"


@dataclass(frozen=True)
class _Use:
    """A program as one run or step used it.

    Args:
        process: the run or step.
        work: kind of work: `processing`, `cleaning` …
        files: number of delivered files behind which it stands.
    """

    process: Process
    work: str
    files: int

    @property
    def program(self) -> str:
        """Return the name of the program, to be compared."""
        return " ".join(_read(self.process, "software").casefold().split())

    @property
    def blanks(self) -> tuple[str, ...]:
        """Return the keys that are not recorded."""
        absent = (name for name in _NAMES if self.process.find_value(name) is None)
        return tuple(f"{self.process.kind}.{name}" for name in absent)


class SoftwareVersion(Check):
    """Every program behind the delivery was used in one version."""

    id = "software-version"
    title = "Every program behind the delivery was used in one version"
    catalogue = ("PS-01",)
    revision = 2
    needs = ("records",)
    fields = tuple(f"{kind}.{name}" for kind in ("run", "step") for name in (*_NAMES, _BUILD))

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Compare the runs and steps behind the delivered files."""
        del plan, summaries
        uses = _list_uses(evidence)
        if not uses:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No accepted or undecided run stands behind these files.",
                ("records",),
            )
            return
        for use in uses:
            if use.blanks:
                yield self._tell_blank(use)
        known = [use for use in uses if not use.blanks]
        found = [finding for each in _group_by_program(known) for finding in self._compare(each)]
        yield from found
        if known and not found:
            yield from self._tell_alike(known, complete=len(known) == len(uses))

    def _tell_blank(self, use: _Use) -> Finding:
        return self.not_assessed(
            use.process.id,
            f"{use.process.id} does not say {' and '.join(use.blanks)}: mixed versions in one "
            "delivery are not seen.",
            use.blanks,
            remedy=_tell_what_to_type(use),
        )

    def _compare(self, uses: list[_Use]) -> Iterator[Finding]:
        """Yield what is wrong with the versions of one program."""
        is_told = False
        for work in dict.fromkeys(use.work for use in uses):
            alike = [use for use in uses if use.work == work]
            if len(_group_by_version(alike)) > 1:
                is_told = True
                yield self._tell_mixed(Grade.MINOR, alike, f" for {work}")
        if not is_told and len(_group_by_version(uses)) > 1:
            yield self._tell_mixed(Grade.OBSERVATION, uses, "")

    def _tell_mixed(self, grade: Grade, uses: list[_Use], work: str) -> Finding:
        groups = _group_by_version(uses)
        program = _read(uses[0].process, "software")
        versions = count_things(len(groups), "version")
        told = "; ".join(f"{version}: {_list_ids(group)}" for version, group in groups.items())
        remedy = (
            "Run all of it with one version, or let somebody accept it with a reason."
            if grade is Grade.MINOR
            else "Make sure that the newer version changed nothing in what the older one made."
        )
        return self.nonconforming(
            grade,
            WHOLE_DELIVERY,
            f"{program} was used{work} in {versions}: {told}.",
            observed=f"{versions} of {program}{work}: {', '.join(groups)}",
            required=f"one version of {program}{work}",
            criterion_source=COMMON_PRACTICE,
            remedy=remedy,
        )

    def _tell_alike(self, uses: list[_Use], *, complete: bool) -> Iterator[Finding]:
        """Yield the pass, which every value must be able to prove."""
        programs = {
            f"{_read(use.process, 'software')} {_read(use.process, 'version')}": None
            for use in uses
        }
        told = f"One version of each program was used: {', '.join(programs)}"
        doubtful = [use for use in uses if not _is_proven(use.process)]
        if doubtful:
            names = ", ".join(use.process.id for use in doubtful)
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}. But nobody confirmed program and version of {names}.",
                remedy=_tell_what_to_type(doubtful[0]),
            )
        elif complete:
            yield self.conforms(WHOLE_DELIVERY, f"{told}.")


def _list_uses(evidence: Evidence) -> list[_Use]:
    behind = list_behind(evidence)
    later = find_later(process for process, _ in behind)
    return [
        _Use(process, _name_work(process, is_later=process.id in later), len(files))
        for process, files in behind
    ]


def _name_work(process: Process, *, is_later: bool) -> str:
    kind = process.find_value("kind")
    if kind is not None:
        return str(kind.value)
    return "later work" if is_later else "processing"


def _group_by_program(uses: list[_Use]) -> list[list[_Use]]:
    groups: dict[str, list[_Use]] = {}
    for use in uses:
        groups.setdefault(use.program, []).append(use)
    return list(groups.values())


def _group_by_version(uses: list[_Use]) -> dict[str, list[_Use]]:
    """Return the uses by version; the build counts only where every use states one."""
    with_build = all(use.process.find_value(_BUILD) is not None for use in uses)
    names = ("version", _BUILD) if with_build else ("version",)
    groups: dict[str, list[_Use]] = {}
    for use in uses:
        version = " ".join(_read(use.process, name) for name in names)
        groups.setdefault(version, []).append(use)
    return groups


def _read(process: Process, name: str) -> str:
    known = process.find_value(name)
    return str(known.value).strip() if known is not None else ""


def _is_proven(process: Process) -> bool:
    known = (process.find_value(name) for name in _NAMES)
    return all(value is not None and value.can_prove for value in known)


def _tell_what_to_type(use: _Use) -> str:
    kind = use.process.kind
    keys = use.blanks or tuple(f"{kind}.{name}" for name in _NAMES)
    return f"Look it up ({write_command(use.process.id, kind, keys)})"


def _list_ids(uses: list[_Use]) -> str:
    """Return the runs with the number of delivered files behind which each stands."""
    return ", ".join(f"{use.process.id} ({count_things(use.files, 'file')})" for use in uses)
