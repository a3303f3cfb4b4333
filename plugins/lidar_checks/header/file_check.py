"""What every check of headers does alike: files of one kind at once, and none passed over.

Invariant: every point file of the delivery is judged; a file whose header cannot be read is *not
assessed*, never silently left out.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from operator import attrgetter
from typing import Any, ClassVar, TypeVar

from ledger.contract.check import Answer, Check, Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.shared import ANY_FILE, SharedFinding, can_share
from ledger.errors import ContractError
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Where
from ledger.model.georeferencing import Crs, CrsReading
from ledger.model.header import LasHeader
from ledger.model.phrases import tell_carried

LAS_SOURCE = "ASPRS LAS 1.4 R15"
SPECIFICATION_SOURCE = "the job's specification"
COMMON_PRACTICE = "common practice, no source"

_CRS = "crs"

Model = TypeVar("Model", bound=Criteria)


class FileCheck(Check):
    """A check that judges each point file by its header.

    Attributes:
        rests_on: what an answer hangs on beside the job: `crs`, first of all, for the coordinate
            system of the file, and fields of `LasHeader`. Files in which they are alike share the
            answer, but for their paths; what does not conform is judged file by file all the same.
            Empty for a check that judges each file by itself.
    """

    rests_on: ClassVar[tuple[str, ...]] = ()
    _read_fields: ClassVar[tuple[Callable[[LasHeader], Hashable], ...]] = ()

    def __init_subclass__(cls, **parts: Any) -> None:  # noqa: ANN401 - as the base takes them
        """Make at once what reads the fields that files have to have alike."""
        super().__init_subclass__(**parts)
        fields = tuple(name for name in cls.rests_on if name != _CRS)
        cls._read_fields = (attrgetter(*fields),) if fields else ()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Answer]:
        """Judge every point file, those of one kind once."""
        del summaries  # points are not read here
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
        kinds: dict[Hashable, list[DeliveredFile]] = {}
        for file in evidence.point_files:
            kind = None if file.header is None else self.find_kind(file, file.header, plan)
            if kind is None:
                yield from self._ask(file, plan, evidence)
            else:
                kinds.setdefault(kind, []).append(file)
        for alike in kinds.values():
            yield from self._share(alike, plan, evidence)

    def find_kind(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Hashable | None:
        """Return what files have alike that share an answer; None where one stands alone."""
        del plan
        if not self.rests_on:
            return None
        kind: Hashable = self._read_fields[0](header) if self._read_fields else ()
        if self.rests_on[0] != _CRS:
            return (kind,)
        return None if file.crs is None else (identify_crs(file.crs), kind)

    def _share(
        self, alike: Sequence[DeliveredFile], plan: Plan, evidence: Evidence
    ) -> Iterable[Answer]:
        """Return what files of one kind share, or the answers of each where they cannot."""
        if len(alike) > 1:
            stand_in = replace(alike[0], path=ANY_FILE)
            told = tuple(self._ask(stand_in, plan, evidence))
            if told and all(map(can_share, told)):
                files = tuple(file.path for file in alike)
                return [SharedFinding(each, files) for each in told]
        return [each for file in alike for each in self._ask(file, plan, evidence)]

    def _ask(self, file: DeliveredFile, plan: Plan, evidence: Evidence) -> Iterable[Finding]:
        if file.header is not None:
            return self.judge(file, file.header, plan, evidence)
        sentence = f"{file.path}: its header cannot be read, so it was not judged."
        return (self.not_assessed(file.path, sentence, ("header",), where=Where(file=file.path)),)

    @abstractmethod
    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterable[Finding]:
        """Return at least one finding about a file with a readable header."""

    def conforms_if_confirmed(
        self,
        evidence: Evidence,
        keys: Iterable[str],
        subject: str,
        sentence: str,
        **parts: Any,  # noqa: ANN401 - the parts of a finding
    ) -> Finding:
        """Return *conforms*, or *inconclusive* where a key of job.toml was only carried over.

        Args:
            evidence: the evidence.
            keys: dotted keys of `job.toml` that the result rests on.
            subject: subject of the finding.
            sentence: what holds, with a final full stop.
            parts: other parts of the finding.
        """
        open_keys = [key for key in keys if not evidence.specification.is_confirmed(key)]
        if not open_keys:
            return self.conforms(subject, sentence, **parts)
        told, remedy = tell_carried(open_keys)
        return self.inconclusive(subject, f"{sentence} {told}", **{**parts, "remedy": remedy})


def identify_crs(reading: CrsReading) -> Hashable:
    """Return what is the same for files that state the same coordinate systems.

    One text is read once for all files, so that the same record stands for the same text.
    """
    return id(reading.wkt), id(reading.geotiff), reading.governing is reading.wkt


def tell_no_point_file(check: Check, evidence: Evidence) -> Finding:
    """Return the finding for a folder without a point file: an empty folder is never a pass."""
    return check.not_assessed(
        WHOLE_DELIVERY,
        f"There is no point file in {evidence.folder}, so there is nothing to judge.",
        ("point files",),
    )


def find_crs(file: DeliveredFile) -> Crs | None:
    """Return the governing CRS of a file; None when absent or not understood."""
    return file.crs.governing.crs if file.crs is not None else None


def require_criteria(plan: Plan, model: type[Model]) -> Model:
    """Return the criteria of a plan as the check's own model.

    Raises:
        ContractError: the plan was made for another check.
    """
    if not isinstance(plan.criteria, model):
        raise ContractError("criteria of another check", found=type(plan.criteria).__name__)
    return plan.criteria


def name_source(plan: Plan, field: str) -> str:
    """Return where a criterion comes from, as the audit worked it out, else its description."""
    stated = type(plan.criteria).model_fields[field].description or ""
    return plan.sources.get(field, stated)
