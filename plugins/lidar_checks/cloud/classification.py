"""Classification: the codes that were asked for are there, and no others.

A class that is missing from one tile may simply not occur there (water, noise), so a required class
is looked for in the whole delivery; a tile that nobody classified is found by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, cast

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import (
    Criteria,
    Finding,
    Grade,
    Plan,
    PointCheck,
    PointChunk,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.class_codes import (
    NEVER_CLASSIFIED,
    UNCLASSIFIED,
    is_reserved,
    name_code,
)
from lidar_checks.cloud.criterion_source import name_sources

_CODES = 256
_STANDARD = "ASPRS LAS 1.4 R15, tables 9 and 17"

Code = Annotated[int, Field(ge=0, le=255)]
Histogram = dict[int, int]


class ClassificationCriteria(Criteria):
    """Which class codes have to be there, and which may be."""

    required: tuple[Code, ...] = Field(
        default=(), description="nothing is asked for unless the customer does"
    )
    allowed: tuple[Code, ...] | None = Field(
        default=None, description="every code of the table is allowed unless the customer says less"
    )


class ClassificationTally:
    """How often each class code occurs in one file."""

    def __init__(self) -> None:
        """Start with none."""
        self.counts = np.zeros(_CODES, dtype=np.int64)

    def chunk(self, points: PointChunk) -> None:
        """Count the codes of all points."""
        codes = cast("NDArray[np.uint8]", points["classification"])
        self.counts += np.bincount(codes, minlength=_CODES)

    def merge(self, other: ClassificationTally) -> None:
        """Add the counts of another part of the same file."""
        self.counts += other.counts

    def close(self) -> Histogram:
        """Return the codes that occur, with their counts."""
        return {int(code): int(self.counts[code]) for code in np.flatnonzero(self.counts)}


class Classification(PointCheck):
    """Class codes against the specification and the table of the standard."""

    id = "classification"
    title = "The classes that were asked for are there, and no others"
    catalogue = ("CL-04",)
    needs = ("points",)
    revision = 2
    dimensions = frozenset({"classification"})
    criteria = ClassificationCriteria

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:  # noqa: ARG002 - the contract's
        """Return an empty histogram."""
        return ClassificationTally()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge the classes of the delivery, then the codes of each file."""
        asked = cast("ClassificationCriteria", plan.criteria)
        formats = {
            file.path: file.header.point_format
            for file in evidence.files
            if file.header is not None
        }
        filled: dict[str, Histogram] = {
            path: summaries[path] for path in sorted(summaries) if summaries[path]
        }
        missing = sorted(
            set(asked.required) - {code for codes in filled.values() for code in codes}
        )
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        elif missing:
            yield self._report_missing(plan, missing, filled, max(formats.values(), default=0))
        # Where nothing at all is classified, the finding about the delivery says it for every tile.
        untouched = {path for path, codes in filled.items() if _is_untouched(codes, asked)}
        alone = untouched if len(untouched) < len(filled) else set()
        for path, codes in filled.items():
            yield from self._judge_file(plan, path, codes, formats.get(path, 0), path in alone)

    def _report_missing(
        self, plan: Plan, missing: list[int], filled: Mapping[str, Histogram], point_format: int
    ) -> Finding:
        present = sorted({code for codes in filled.values() for code in codes})
        wanted = ", ".join(name_code(code, point_format) for code in missing)
        found = ", ".join(name_code(code, point_format) for code in present)
        return self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            f"The specification asks for class {wanted}; the points have only {found}.",
            observed=f"{_name_classes(present)} only",
            required=f"{_name_classes(missing)} as well",
            criterion_source=name_sources(plan, "required"),
            remedy="Classify the points, or change what is asked for.",
        )

    def _judge_file(
        self,
        plan: Plan,
        path: str,
        codes: Histogram,
        point_format: int,
        untouched: bool,  # noqa: FBT001 - private
    ) -> Iterable[Finding]:
        asked = cast("ClassificationCriteria", plan.criteria)
        where = Where(file=path)
        allowed = range(_CODES) if asked.allowed is None else asked.allowed
        strange = {code: count for code, count in codes.items() if code not in allowed}
        wrong = []
        if untouched:
            only = _name(codes, point_format)
            wrong.append(f"was not classified as other files are: it has only {only}")
        if strange:
            wrong.append(f"has class {_name(strange, point_format)}, which is not allowed")
        if wrong:
            wanted = asked.allowed if strange and asked.allowed else asked.required
            yield self.nonconforming(
                Grade.MINOR,
                path,
                f"{path} {', and '.join(wrong)}.",
                observed=_name_classes(strange or codes),
                required=_name_classes(wanted),
                criterion_source=name_sources(plan, "required", "allowed"),
                remedy="Classify this file as was asked, or change what is asked for.",
                where=where,
            )
        reserved = {c: n for c, n in codes.items() if is_reserved(c, point_format)}
        if reserved:
            total = sum(reserved.values())
            yield self.nonconforming(
                Grade.OBSERVATION,
                path,
                f"{count_things(total, 'point')} in {path} {agree(total, 'has', 'have')} "
                f"{_name_classes(reserved)}, which "
                f"the table for point format {point_format} keeps for later editions.",
                observed=_name_classes(reserved),
                required="a defined code",
                criterion_source=_STANDARD,
                remedy="Use a defined code, or a user's own from 64 up in point formats 6 to 10.",
                where=where,
            )
        if not wrong and not reserved:
            yield self.conforms(
                path, f"{path} has class {_name(codes, point_format)}.", where=where
            )


def _is_untouched(codes: Histogram, asked: ClassificationCriteria) -> bool:
    """Say whether nobody classified a file although a class is asked for.

    Code 0 is "created, never classified" and 1 "unclassified" (tables 9 and 17).
    """
    raw = {NEVER_CLASSIFIED, UNCLASSIFIED}
    wanted = set(asked.required)
    return set(codes) <= raw and bool(wanted - raw or (wanted and UNCLASSIFIED not in codes))


def _list(codes: Iterable[int]) -> str:
    return ", ".join(str(code) for code in sorted(codes))


def _name_classes(codes: Iterable[int]) -> str:
    listed = tuple(codes)
    return f"{agree(len(listed), 'class', 'classes')} {_list(listed)}"


def _name(codes: Histogram, point_format: int) -> str:
    return ", ".join(f"{name_code(code, point_format)}: {codes[code]:,}" for code in sorted(codes))
