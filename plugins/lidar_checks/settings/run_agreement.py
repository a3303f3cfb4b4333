"""Were all runs behind one delivery made with the same settings.

Held against each other are the runs on raw data, in what says where the numbers are and how points
were kept. Mode, arm and positions belong to a flight and may differ; the geoid and the version of
the program have checks of their own, and so has what a run used that is not of this job.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade
from ledger.model.known import KnownValue
from ledger.model.process import Process
from ledger.model.weight import Weight, is_equal, weigh
from lidar_checks.settings.chain import find_capture_chains
from lidar_checks.settings.remedies import write_command
from lidar_checks.settings.settings_check import RULE_SOURCE
from lidar_checks.settings.wording import show_value

_PLACING = (
    "crs",
    "frame",
    "epoch",
    "ellipsoid",
    "zone",
    "unit_horizontal",
    "unit_vertical",
    "scale_basis",
    "combined_factor",
    "input_height_type",
    "output_height_type",
    "vertical_datum",
)
_KEEPING = (
    "range_min",
    "range_max",
    "scan_angle_max",
    "thinning",
    "thinning_spacing",
    "excluded_sector",
    "control_used",
)
_SCALE = ("scale_basis", "combined_factor", "ellipsoid")


@dataclass(frozen=True)
class _Setting:
    """One setting of several runs.

    Args:
        name: its key without the kind of record.
        values: by id of the run, where it is recorded.
    """

    name: str
    values: Mapping[str, KnownValue]

    @property
    def differs(self) -> bool:
        """Say whether two runs have another value."""
        first, *others = self.values.values()
        return any(not is_equal(first, other) for other in others)

    @property
    def moves(self) -> bool:
        """Say whether it decides where points lie."""
        return weigh(self.name) is Weight.GEODETIC or self.name in _SCALE

    def describe(self) -> str:
        """Return its values with their runs: `range_max: R1 90 m, R2 80 m`."""
        told = (
            f"{name} {show_value(known.value)}{f' {known.unit}' if known.unit else ''}"
            for name, known in self.values.items()
        )
        return f"{self.name}: {', '.join(told)}"


class RunAgreement(Check):
    """Holds the runs behind one delivery against each other."""

    id = "run-agreement"
    title = "All runs behind the delivery have the same settings"
    catalogue = ("SC-30", "PS-02")
    needs = ("records",)
    fields = tuple(f"run.{name}" for name in (*_PLACING, *_KEEPING))

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Compare what the runs on raw data have on record."""
        del plan, summaries
        runs = [chain.process for chain in find_capture_chains(evidence)]
        if not runs:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No accepted or undecided run on raw data stands behind these files.",
                ("records",),
            )
        elif len(runs) == 1:
            yield self.conforms(
                WHOLE_DELIVERY, f"One run, {runs[0].id}, stands behind all of the delivery."
            )
        else:
            yield from self._compare(runs)

    def _compare(self, runs: Sequence[Process]) -> Iterator[Finding]:
        settings = [each for each in map(_Collect(runs), (*_PLACING, *_KEEPING)) if each.values]
        differing = [each for each in settings if each.differs]
        yield from self._tell_differing([each for each in differing if each.moves], Grade.MINOR)
        yield from self._tell_differing(
            [each for each in differing if not each.moves], Grade.OBSERVATION
        )
        if not differing:
            yield self._tell_alike(runs, settings)

    def _tell_differing(self, settings: Sequence[_Setting], grade: Grade) -> Iterator[Finding]:
        if not settings:
            return
        told = "; ".join(each.describe() for each in settings)
        names = ", ".join(each.name for each in settings)
        remedy = (
            "Process all of it with one set of these, or let somebody accept it with the reason."
            if grade is Grade.MINOR
            else "Make sure that this was meant: parts of the delivery look different."
        )
        yield self.nonconforming(
            grade,
            WHOLE_DELIVERY,
            f"The runs behind this delivery differ in {names}.",
            observed=told,
            required="the same in every run of one delivery",
            criterion_source=RULE_SOURCE,
            remedy=remedy,
        )

    def _tell_alike(self, runs: Sequence[Process], settings: Sequence[_Setting]) -> Finding:
        names = " and ".join(run.id for run in runs)
        if not settings:
            return self.not_assessed(
                WHOLE_DELIVERY, f"{names} have none of these settings on record.", self.fields[:2]
            )
        for each in settings:
            blank = [run for run in runs if run.id not in each.values]
            if each.moves and blank:
                return self._tell_open(
                    f"{names} agree in what is on record. But {blank[0].id} does not say "
                    f"{each.name}.",
                    blank[0],
                    each.name,
                )
            doubtful = [run for run in runs if _is_doubtful(each.values.get(run.id))]
            if doubtful:
                return self._tell_open(
                    f"{names} agree. But nobody confirmed {each.name} of {doubtful[0].id}.",
                    doubtful[0],
                    each.name,
                )
        told = ", ".join(each.name for each in settings)
        return self.conforms(WHOLE_DELIVERY, f"{names} agree in {told}.")

    def _tell_open(self, sentence: str, run: Process, name: str) -> Finding:
        key = f"{run.kind}.{name}"
        return self.inconclusive(
            WHOLE_DELIVERY,
            sentence,
            needs=(key,),
            remedy=f"Look it up ({write_command(run.id, run.kind, [key])})",
        )


@dataclass(frozen=True)
class _Collect:
    """Collects one setting of several runs."""

    runs: Sequence[Process]

    def __call__(self, name: str) -> _Setting:
        found = {run.id: run.find_value(name) for run in self.runs}
        return _Setting(name, {each: known for each, known in found.items() if known is not None})


def _is_doubtful(known: KnownValue | None) -> bool:
    return known is not None and not known.can_prove
