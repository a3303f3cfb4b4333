"""What every check of headers does alike: one file after another, and none passed over.

Invariant: every point file of the delivery is judged; a file whose header cannot be read is *not
assessed*, never silently left out.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, ClassVar, TypeVar

from ledger.contract.check import Check, Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.errors import ContractError
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Outcome, Where
from ledger.model.georeferencing import Crs
from ledger.model.header import LasHeader
from ledger.model.phrases import tell_carried

LAS_SOURCE = "ASPRS LAS 1.4 R15"
SPECIFICATION_SOURCE = "the job's specification"
COMMON_PRACTICE = "common practice, no source"

Model = TypeVar("Model", bound=Criteria)


# Stands for the path of a file in an answer that many files share; no path holds it.
_ANY_PATH = "\0"


class FileCheck(Check):
    """A check that judges each point file by its header.

    Attributes:
        rests_on_crs: whether a file conforms hangs on its coordinate system and on the job, and on
            nothing else of the file: files with the same one then share the answer, but for
            their paths. What does not conform is judged file by file all the same.
    """

    rests_on_crs: ClassVar[bool] = False

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Judge every point file in turn."""
        del summaries  # points are not read here
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
        shared: dict[object, tuple[Finding, ...]] = {}
        for file in evidence.point_files:
            yield from self._share(file, plan, evidence, shared) or self._ask(file, plan, evidence)

    def _share(
        self,
        file: DeliveredFile,
        plan: Plan,
        evidence: Evidence,
        shared: dict[object, tuple[Finding, ...]],
    ) -> tuple[Finding, ...]:
        """Return the answer that files of one coordinate system share; empty for none."""
        if not self.rests_on_crs or file.header is None or file.crs is None:
            return ()
        # One text is read once for all files, so that the same object stands for the same text.
        key = id(file.crs.wkt), id(file.crs.geotiff), file.crs.governing is file.crs.wkt
        if key not in shared:
            stand_in = replace(file, path=_ANY_PATH)
            shared[key] = _keep_if_alike(self.judge(stand_in, file.header, plan, evidence))
        return tuple(
            each.changed(
                subject=file.path,
                sentence=each.sentence.replace(_ANY_PATH, file.path),
                where=Where(file=file.path),
            )
            for each in shared[key]
        )

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


def _keep_if_alike(answers: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the answers about a file where all conform and differ by its path alone."""
    kept = tuple(answers)
    alike = all(
        each.outcome is Outcome.CONFORMS
        and (each.subject, each.where) == (_ANY_PATH, Where(file=_ANY_PATH))
        and _ANY_PATH not in f"{each.observed}{each.required}{each.unit}{each.remedy}"
        for each in kept
    )
    return kept if alike else ()


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
