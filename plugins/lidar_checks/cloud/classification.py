"""Classification: the codes that were asked for are there, and no others.

A class that is missing from one tile may simply not occur there (water, noise), so a required class
is looked for in the whole delivery; a tile that nobody classified is found by itself, and so is one
whose ground was left out while all others have ground.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, cast

from pydantic import Field

from ledger.contract.check import Criteria, FamilyCheck, Finding, Grade, Plan, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.attributes import AttributeFamily
from lidar_checks.cloud.class_codes import (
    NEVER_CLASSIFIED,
    UNCLASSIFIED,
    is_reserved,
    name_code,
)
from lidar_checks.cloud.criterion_source import name_sources

_CODES = 256
_STANDARD = "ASPRS LAS 1.4 R15, tables 9 and 17"
# Its codes were the user's own (from memory), so that none of them can be held against a table.
_WITHOUT_TABLE = "1.0"
_GROUND = 2
# Unclassified, vegetation and noise: codes that are no surface on which anybody stands.
_NO_SURFACE = frozenset({0, 1, 3, 4, 5, 7, 18})
# How many files must have how much ground for one without any to stand out; common practice, no
# source.
_FEWEST_FILES, _FEWEST_POINTS, _GROUND_SHARE = 2, 1000, 0.1
# A few points that came in from a neighbour make no ground; common practice, no source.
_STRAY_SHARE = 1 / 2_000

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


class Classification(FamilyCheck):
    """Class codes against the specification and the table of the standard."""

    id = "classification"
    title = "The classes that were asked for are there, and no others"
    catalogue = ("CL-04",)
    needs = ("points",)
    revision = 5
    family = AttributeFamily()
    criteria = ClassificationCriteria

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge the classes of the delivery, then the codes of each file."""
        asked = cast("ClassificationCriteria", plan.criteria)
        files = {file.path: file for file in evidence.files}
        filled: dict[str, Histogram] = {
            path: summaries[path].histogram for path in sorted(summaries) if summaries[path].points
        }
        present = {code for codes in filled.values() for code in codes}
        missing = sorted(set(asked.required) - present)
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        elif missing:
            newest = max(_find_format(files[path]) for path in filled)
            yield self._report_missing(plan, missing, sorted(present), newest)
        # Where nothing at all is classified, the finding about the delivery says it for every tile.
        untouched = {path for path, codes in filled.items() if _is_untouched(codes, asked)}
        alone = untouched if len(untouched) < len(filled) else set()
        bare = _find_bare(filled)
        for path, codes in filled.items():
            if path in bare and path not in alone:
                yield self._report_bare(path, codes, _find_format(files[path]), len(filled) - 1)
            elif not asked.required and set(codes) == {NEVER_CLASSIFIED} != present:
                yield self._report_left_out(path, codes, _find_format(files[path]))
            else:
                yield from self._judge_file(plan, files[path], codes, path in alone)

    def _report_missing(
        self, plan: Plan, missing: list[int], present: list[int], point_format: int
    ) -> Finding:
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

    def _report_left_out(self, path: str, codes: Histogram, point_format: int) -> Finding:
        only = _name(codes, point_format)
        return self.nonconforming(
            Grade.OBSERVATION,
            path,
            f"{path} was not classified as other files are: it has only {only}.",
            observed=_name_classes(codes),
            required="classified as the other files",
            criterion_source="common practice, no source",
            remedy="Classify this file as the others, or say in the report that it is not.",
            where=Where(file=path),
        )

    def _report_bare(self, path: str, codes: Histogram, point_format: int, others: int) -> Finding:
        has = _name(codes, point_format)
        stray = _count_surface(codes)
        few, nor = (f"only {count_things(stray, 'point')}", "or") if stray else ("no point", "nor")
        return self.nonconforming(
            Grade.MINOR,
            path,
            f"{path} has {few} of ground (class {_GROUND}) {nor} of any other surface, and "
            f"{count_things(others, 'other file')} {agree(others, 'has', 'have')} ground: it has "
            f"only {has}.",
            observed=_name_classes(codes),
            required=f"class {_GROUND} as in the other files",
            criterion_source="common practice, no source",
            remedy="Class the ground of this file as that of the others, or accept it where it is "
            "all trees or roofs.",
            where=Where(file=path),
        )

    def _judge_file(
        self,
        plan: Plan,
        file: DeliveredFile,
        codes: Histogram,
        untouched: bool,  # noqa: FBT001 - private
    ) -> Iterable[Finding]:
        asked = cast("ClassificationCriteria", plan.criteria)
        path, point_format, where = file.path, _find_format(file), Where(file=file.path)
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
        tabled = file.header is None or file.header.version != _WITHOUT_TABLE
        reserved = {c: n for c, n in codes.items() if tabled and is_reserved(c, point_format)}
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
            bare = set(codes) == {NEVER_CLASSIFIED}
            note = ": nobody classified it, and nobody asks for it" if bare else ""
            told = f"{path} has class {_name(codes, point_format)}{note}."
            yield self.conforms(path, told, where=where)


def _find_bare(filled: Mapping[str, Histogram]) -> set[str]:
    """Return files without any surface where all others have a good share of ground.

    A file of water, roofs or roads has a class that says so, and a sliver at the rim says nothing.
    """
    bare = {
        path
        for path, codes in filled.items()
        if (count := sum(codes.values())) >= _FEWEST_POINTS
        and _count_surface(codes) <= _STRAY_SHARE * count
    }
    rest = [codes for path, codes in filled.items() if path not in bare]
    if len(rest) < _FEWEST_FILES or len(bare) >= len(rest):
        return set()
    shares = (codes.get(_GROUND, 0) / sum(codes.values()) for codes in rest)
    return bare if all(share >= _GROUND_SHARE for share in shares) else set()


def _count_surface(codes: Histogram) -> int:
    return sum(count for code, count in codes.items() if code not in _NO_SURFACE)


def _find_format(file: DeliveredFile) -> int:
    return file.header.point_format if file.header is not None else 0


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
