"""The contract between the auditor and a check.

Invariants:

- A check object is stateless. All state of a pass is in its tallies.
- A tally holds whole numbers, minima, maxima and counts on the audit-wide lattice; no float sums,
  nothing that depends on the order of points, chunks or files.
- `merge` is associative and has the freshly started tally as its empty element.
- Plans, tallies and summaries can be pickled: another process may do the work.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, ClassVar, Protocol, Self, runtime_checkable

from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.shared import SharedFinding
from ledger.errors import ContractError
from ledger.model.chunk import Lattice, PointChunk
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.model.raster import Raster
from ledger.model.specification import Strict

Answer = Finding | SharedFinding | Raster | Figure
"""What `finish` may yield."""


class Criteria(Strict):
    """Base of the thresholds of a check; units stand in the field name (`rmse_max_m`).

    A field without a default is a criterion that only the customer can state: while it is blank,
    the check is *not assessed*. Each field's `description` names the source of its default.
    """


class NoCriteria(Criteria):
    """For a check without thresholds."""


class Plan:
    """What `prepare` worked out once an audit; frozen by convention, picklable.

    Attributes:
        criteria: the criteria as applied.
        lattice: the lattice of all coordinates in this audit.
        sources: where each criterion comes from, by field name; filled in by the runner.
        family: what the family of the check worked out; filled in by the runner, None for a check
            that counts alone.
    """

    sources: Mapping[str, str] = MappingProxyType({})
    family: Plan | None = None

    def __init__(self, criteria: Criteria, lattice: Lattice, **parts: Any) -> None:  # noqa: ANN401 - open to each check
        """Keep criteria, lattice and whatever else the check worked out."""
        self.criteria = criteria
        self.lattice = lattice
        self.__dict__.update(parts)


class Summary(Protocol):
    """What is left of a closed tally: small, picklable, the check's own type."""


@runtime_checkable
class Tally(Protocol):
    """The state of one check over some points of one file."""

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""

    def merge(self, other: Self) -> None:
        """Take in what another tally of the same file and plan has seen."""

    def close(self) -> Summary:
        """Return what `finish` needs."""


class Check(ABC):
    """One rule with a criterion.

    Attributes:
        id: kebab case, permanent once released.
        title: as a surveyor would say it.
        catalogue: ids of the catalogue of failures that it finds.
        revision: raised when the same input may give another answer.
        needs: named inputs without which nothing can be said (`points`, `records`,
            `specification.coordinates.vertical` …); an unmet need is *not assessed*.
        fields: keys of record fields that it reads, so that the cost of a blank is known.
        specification_keys: keys of `job.toml` that it reads beside those named in `needs`
            (`coordinates.unit.vertical`), its own criteria apart; a key that is stated and that no
            check reads is told to be so.
        dimensions: LAS fields to decode beside the coordinates; empty when points are not read;
            a file whose point format lacks one is *not assessed*.
        criteria: model of the thresholds.
        after: ids of checks whose findings it reads.
        explains: ids of checks whose findings its own may be the reason of: these stand first.
        always_required: may not be left open and cannot be switched off.
    """

    id: ClassVar[str]
    title: ClassVar[str]
    catalogue: ClassVar[tuple[str, ...]] = ()
    revision: ClassVar[int] = 1
    needs: ClassVar[tuple[str, ...]] = ()
    fields: ClassVar[tuple[str, ...]] = ()
    specification_keys: ClassVar[tuple[str, ...]] = ()
    dimensions: ClassVar[frozenset[str]] = frozenset()
    criteria: ClassVar[type[Criteria]] = NoCriteria
    after: ClassVar[tuple[str, ...]] = ()
    explains: ClassVar[tuple[str, ...]] = ()
    always_required: ClassVar[bool] = False

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Work out, once an audit, whatever the tallies need."""
        return Plan(criteria, evidence.lattice)

    @abstractmethod
    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Answer]:
        """Judge the whole delivery; maps and figures for the report may come among the findings.

        Args:
            plan: what `prepare` returned.
            summaries: closed tallies by relative path; empty for a check that reads no points.
                Files that could not be read whole are not among them.
            evidence: everything else that is known.

        An answer without any finding is no pass: the runner adds *inconclusive* for it. What holds
        for many files alike, but for their paths, may come once, as a `SharedFinding`.
        """

    # The five results, each with the parts it must have.

    def conforms(self, subject: str, sentence: str, **parts: Any) -> Finding:  # noqa: ANN401
        """Return a finding that says the criterion is met."""
        return self._finding(Outcome.CONFORMS, subject, sentence, parts)

    def nonconforming(self, grade: Grade, subject: str, sentence: str, **parts: Any) -> Finding:  # noqa: ANN401
        """Return a finding that says the criterion is not met; give `remedy`."""
        return self._finding(Outcome.NONCONFORMING, subject, sentence, {"grade": grade, **parts})

    def inconclusive(self, subject: str, sentence: str, **parts: Any) -> Finding:  # noqa: ANN401
        """Return a finding that says this check cannot tell here, and why."""
        return self._finding(Outcome.INCONCLUSIVE, subject, sentence, parts)

    def not_assessed(
        self,
        subject: str,
        sentence: str,
        needs: Sequence[str],
        **parts: Any,  # noqa: ANN401
    ) -> Finding:
        """Return a finding that names the missing inputs."""
        return self._finding(
            Outcome.NOT_ASSESSED, subject, sentence, {"needs": tuple(needs), **parts}
        )

    def _finding(
        self, outcome: Outcome, subject: str, sentence: str, parts: Mapping[str, Any]
    ) -> Finding:
        return Finding(
            check=self.id,
            outcome=outcome,
            subject=subject,
            sentence=sentence,
            **{"catalogue": self.catalogue, **parts},
        )


class PointCheck(Check):
    """A check that reads points; fed from the one pass.

    A file whose points cannot all be read, or whose point format lacks one of `dimensions`, gets
    no tally that counts: `finish` finds no summary for it, and the runner adds *not assessed* for
    that file.

    Attributes:
        optional_dimensions: LAS fields to decode where the point format has them; ask
            `points.names` before using one.
    """

    optional_dimensions: ClassVar[frozenset[str]] = frozenset()

    @abstractmethod
    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally for one file."""


class Family(ABC):
    """What several checks count together: one tally a file for all of them.

    As stateless as a check, and its tallies keep the same laws. Checks of one plugin whose `family`
    has the same type share it; those that are switched off or lack an input are no members of it
    in that audit.

    Attributes:
        id: kebab case, for messages.
        dimensions: LAS fields to decode beside the coordinates; a file whose point format lacks
            one is *not assessed* by every member.
        optional_dimensions: LAS fields to decode where the point format has them.
    """

    id: ClassVar[str]
    dimensions: ClassVar[frozenset[str]] = frozenset()
    optional_dimensions: ClassVar[frozenset[str]] = frozenset()

    @abstractmethod
    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        """Work out, once an audit, one tally that serves every member.

        Args:
            evidence: what is known before points are read.
            members: the plan of each check that takes part, by its id.
        """

    @abstractmethod
    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally for one file; `plan` is what `prepare` returned."""


class FamilyCheck(PointCheck):
    """A check of points that counts with others of its family.

    Its `prepare` may ask for whatever it needs in its plan; its `finish` finds the plan of the
    family as `plan.family` and the closed tallies of the family as `summaries`. Every member is
    given the same summaries, so that none may alter them.

    Attributes:
        family: what it counts with; its dimensions become those of the check.
    """

    family: ClassVar[Family]

    def __init_subclass__(cls, **parts: Any) -> None:  # noqa: ANN401 - as the base takes them
        """Take the dimensions of the family, so that the two cannot differ."""
        super().__init_subclass__(**parts)
        if hasattr(cls, "family"):
            cls.dimensions = cls.family.dimensions
            cls.optional_dimensions = cls.family.optional_dimensions

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally of the family.

        Raises:
            ContractError: the family has not been prepared.
        """
        if plan.family is None:
            raise ContractError(f"the family of {self.id} has not been prepared")
        return self.family.start(plan.family, file)


__all__ = [
    "Answer",
    "Check",
    "Criteria",
    "DeliveredFile",
    "Evidence",
    "Family",
    "FamilyCheck",
    "Figure",
    "Finding",
    "Grade",
    "NoCriteria",
    "Outcome",
    "Plan",
    "PointCheck",
    "PointChunk",
    "Raster",
    "SharedFinding",
    "Summary",
    "Tally",
    "Where",
]
