"""Errors that are planted on purpose, one just beyond the gate of a check and one just inside it.

A case is run twice. Beyond the gate the check has to speak, inside it has to be silent: a check
that is never wrong because it never speaks is as useless as one that cries out always.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from made_records import Records

from ledger.contract.check import Check, Finding, Outcome
from ledger.contract.evidence import Evidence
from ledger.testing import Layout, Scene, SurveyBuilder, drive_check, run_check

METRES = """
[coordinates]
horizontal = "EPSG:6346"
vertical = "orthometric"
vertical_crs = "EPSG:5703"
unit = { horizontal = "metre", vertical = "metre" }
"""

Look = Callable[[Path], Iterable[Finding]]


@dataclass(frozen=True)
class Planted:
    """One error, on both sides of a gate.

    Args:
        check: id of the check that has to find it.
        fault: what was done, in a few words.
        beyond: runs the check, in an empty folder, with the error beyond the gate.
        inside: the same with the error inside it, or with none where a gate has no width.
        gate: the two sizes in words (`0.06 m against 0.04 m`); empty where a gate has no width.
        ids: what has to be told, where the check tells several failures: one id of a finding, or
            its first ones; empty for any of them.
    """

    check: str
    fault: str
    beyond: Look
    inside: Look
    gate: str = ""
    ids: tuple[str, ...] = ()

    def is_found(self, folder: Path) -> bool:
        """Say whether the check finds the error beyond the gate."""
        return bool(self.name_found(folder))

    def is_silent(self, folder: Path) -> bool:
        """Say whether the check lets the error inside the gate pass."""
        return not self._list_told(self.inside(folder))

    def name_found(self, folder: Path) -> frozenset[str]:
        """Return the ids of the failures that the check tells beyond the gate."""
        told = self._list_told(self.beyond(folder))
        return frozenset(name for each in told for name in each.catalogue)

    def _list_told(self, findings: Iterable[Finding]) -> list[Finding]:
        """Return what does not conform; a check that broke or says nothing is no answer."""
        told = tuple(findings)
        assert told, f"{self.check} says nothing at all"
        broken = [each for each in told if each.outcome is Outcome.ERRORED]
        assert not broken, broken
        against = [each for each in told if each.outcome is Outcome.NONCONFORMING]
        if len(self.ids) == 1:
            return [each for each in against if self.ids[0] in each.catalogue]
        return [each for each in against if each.catalogue[: len(self.ids)] == self.ids]


@dataclass(frozen=True)
class Flown:
    """A survey in files, and what is done to it.

    Args:
        check: the check.
        spoil: puts an error of some size into the survey.
        scene: what was flown.
        layout: how it is stored.
        specification: what stands in `job.toml`.
        beside: other checks that it waits for.
        options: fields of `Evidence`, or `quick=True`.
    """

    check: Check
    spoil: Callable[[SurveyBuilder, Any], object]
    scene: Scene = field(default_factory=Scene)
    layout: Layout = field(default_factory=Layout)
    specification: str = METRES
    beside: tuple[Check, ...] = ()
    options: tuple[tuple[str, Any], ...] = ()

    def run(self, folder: Path, size: Any) -> tuple[Finding, ...]:
        """Fly, spoil and check."""
        survey = SurveyBuilder(folder / "out", self.layout, self.scene)
        self.spoil(survey, size)
        return run_check(
            self.check, survey, self.specification, beside=self.beside, **dict(self.options)
        )


def plant(
    fault: str,
    flown: Flown,
    beyond: Any,
    inside: Any,
    gate: str = "",
    ids: tuple[str, ...] = (),
) -> Planted:
    """Return a case of one survey with an error of two sizes."""
    return Planted(
        flown.check.id,
        fault,
        lambda folder: flown.run(folder, beyond),
        lambda folder: flown.run(folder, inside),
        gate,
        ids,
    )


def record(
    fault: str,
    check: Check,
    beyond: Evidence | Callable[[], Evidence],
    inside: Evidence | Callable[[], Evidence],
    gate: str = "",
    criteria: dict[str, Any] | None = None,
    ids: tuple[str, ...] = (),
) -> Planted:
    """Return a case of a check that reads records, headers or names and no points."""

    def look(evidence: Evidence | Callable[[], Evidence]) -> Look:
        return lambda _: drive_check(
            check, evidence if isinstance(evidence, Evidence) else evidence(), criteria=criteria
        )

    return Planted(check.id, fault, look(beyond), look(inside), gate, ids)


def make_chain(**changes: Any) -> Evidence:
    """Return records of one rig, flight and run that agree, with some values changed.

    Args:
        **changes: values by field, with two underscores for the dot (`run__mount_mode="hand"`).
    """
    given = {name.replace("__", "."): value for name, value in changes.items()}

    def part(entry: str) -> dict[str, Any]:
        return {key: value for key, value in given.items() if key.startswith(f"{entry}.")}

    made = Records()
    made.rig(changes=part("rig")).flight(changes=part("flight"))
    made.process(changes=part("run")).deliver("tile_01.las", "R1")
    return made.evidence()
