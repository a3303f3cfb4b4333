"""Tables of checkpoints say in what system they are, and it is the job's.

The horizontal system may be another one, since places are put into the job's by a known operation,
and so may units, whose factors are exact. Heights are never converted but in unit: a table whose
heights are of another kind, datum or geoid tests nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ledger.contract.check import Check, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.model.known import KnownValue
from ledger.model.surveypoints import CHECKPOINTS, PointTable
from lidar_checks.ground.checkpoint_check import PRACTICE
from lidar_checks.ground.placing import HEIGHT_KINDS, list_unproven

_NEEDED = ("horizontal", "vertical", "unit_horizontal", "unit_vertical")
_WORDS = {
    "horizontal": "its coordinate system",
    "vertical": "what its heights are above",
    "unit_horizontal": "the unit of its coordinates",
    "unit_vertical": "the unit of its heights",
}
_ORTHOMETRIC = "orthometric"


class CheckpointSystems(Check):
    """What is declared of each table of checkpoints."""

    id = "checkpoint-systems"
    revision = 2
    title = "Tables of checkpoints say their system, heights and unit, and they fit the job's"
    catalogue = ("SC-22", "VD-11", "UN-04")
    needs = (CHECKPOINTS,)
    specification_keys = (
        "coordinates.epoch",
        "coordinates.geoid.name",
        "coordinates.vertical",
    )

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge each table."""
        for table in evidence.tables:
            if table.kind == CHECKPOINTS:
                yield from self._judge(table, evidence)

    def _judge(self, table: PointTable, evidence: Evidence) -> Iterator[Finding]:
        missing = [name for name in _NEEDED if not _read(table, name)]
        if missing:
            yield self.not_assessed(
                table.path,
                f"{table.path} does not say {' and '.join(_WORDS[name] for name in missing)}: a "
                "height of the cloud cannot be held against it.",
                tuple(f"{name} of {table.path}" for name in missing),
                remedy="Declare it (swathbook record points)",
            )
        against = (
            *(self._tell_contradicted(table, clause) for clause in table.contradicted),
            *self._list_contradictions(table, evidence),
        )
        yield from against
        if missing or against:
            return
        told = f"{table.path} says its system, its heights and both units, and they fit the job's"
        unproven = list_unproven(table)
        if unproven:
            yield self.inconclusive(
                table.path,
                f"{told}; but nobody confirmed {' and '.join(_WORDS[name] for name in unproven)}.",
                remedy="Look at the declaration, and confirm it (swathbook record points)",
            )
        else:
            yield self.conforms(table.path, f"{told}.")

    def _tell_contradicted(self, table: PointTable, clause: str) -> Finding:
        return self.nonconforming(
            Grade.MINOR,
            table.path,
            f"{table.path} and what was declared of it contradict each other: {clause}. What was "
            "declared counts.",
            observed="declared otherwise than the file says",
            required="the same from both",
            criterion_source=PRACTICE,
            remedy="Ask whoever surveyed the points which is right; declare that (swathbook record "
            "points), or have the file corrected.",
            catalogue=("SC-22", "VD-11", "UN-04"),
        )

    def _list_contradictions(self, table: PointTable, evidence: Evidence) -> Iterator[Finding]:
        asked = evidence.specification.coordinates
        kind = _read(table, "vertical")
        # A system by its code is orthometric as a rule; the pass over the points looks into it.
        if kind in HEIGHT_KINDS and asked.vertical is not None and kind != asked.vertical:
            yield self._tell(
                table,
                Grade.MAJOR,
                f"The heights of {table.path} are {kind}, and the job asks for {asked.vertical} "
                "ones: between the two lies the geoid, tens of metres in most places.",
                (kind, asked.vertical),
                ("SC-22", "VD-11"),
            )
        geoid = _read(table, "geoid")
        named = asked.geoid.name if asked.geoid is not None else ""
        same = geoid.casefold().startswith(named.casefold()) if named else True
        if geoid and not same and asked.vertical == _ORTHOMETRIC:
            yield self._tell(
                table,
                Grade.MINOR,
                f"The heights of {table.path} were made with the geoid {geoid}, the job's with "
                f"{named}: by what lies between the two every error is off.",
                (geoid, named),
                ("SC-22", "VD-11"),
            )
        yield from self._judge_epoch(table, evidence)

    def _judge_epoch(self, table: PointTable, evidence: Evidence) -> Iterator[Finding]:
        asked = evidence.specification.coordinates.epoch
        stated = _read_number(table.declared.get("epoch"))
        if asked is None or stated is None or abs(stated - asked) < 0.05:  # years, as written
            return
        yield self._tell(
            table,
            Grade.MINOR,
            f"{table.path} is of epoch {stated:g}, and the job asks for {asked:g}: plates move by "
            "centimetres a year.",
            (f"{stated:g}", f"{asked:g}"),
            ("SC-22",),
        )

    def _tell(
        self,
        table: PointTable,
        grade: Grade,
        sentence: str,
        values: tuple[str, str],
        ids: tuple[str, ...],
    ) -> Finding:
        return self.nonconforming(
            grade,
            table.path,
            sentence,
            observed=values[0],
            required=values[1],
            criterion_source=f"job.toml; {PRACTICE}",
            remedy="Get the checkpoints in the system of the job from whoever surveyed them, or "
            "declare what they really are (swathbook record points).",
            where=Where(),
            catalogue=ids,
        )


def _read(table: PointTable, name: str) -> str:
    known = table.declared.get(name)
    return "" if known is None else str(known.value).strip()


def _read_number(known: KnownValue | None) -> float | None:
    try:
        return None if known is None else float(str(known.value))
    except ValueError:
        return None
