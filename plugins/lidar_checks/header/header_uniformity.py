"""Do all files of a delivery come from one mould: program, version, format, scale, CRS.

What most files have is taken as the rule, and the odd ones are named. Where two groups are equally
large, the one whose first file comes first by name is the rule; the sentence gives both sides.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import compare, compare_vertical
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import Crs, CrsDifference
from ledger.model.header import LasHeader
from ledger.model.phrases import agree, count_things
from ledger.model.typed import quote_path
from lidar_checks.header.file_check import COMMON_PRACTICE, find_crs, tell_no_point_file

_LONGEST = 120

_Placed = tuple[DeliveredFile, Crs]


@dataclass(frozen=True)
class _Trait:
    """One thing that should be alike in all headers.

    Args:
        words: its name, for a sentence.
        catalogue: id in the catalogue of failures.
        read: its value, as text.
    """

    words: str
    catalogue: str
    read: Callable[[LasHeader], str]


def _join(numbers: Sequence[float]) -> str:
    return " ".join(f"{number:.12g}" for number in numbers)


def _name_time(header: LasHeader) -> str:
    if not header.has_gps_time:
        return "none"
    return "adjusted standard" if header.has_adjusted_time else "seconds of the week"


_TRAITS = (
    _Trait("program", "PS-01", lambda header: header.generating_software or "none"),
    _Trait("LAS version", "FT-08", lambda header: header.version),
    _Trait("point format", "FT-08", lambda header: str(header.point_format)),
    _Trait("point record", "FT-08", lambda header: count_things(header.record_length, "byte")),
    _Trait("scale", "FT-08", lambda header: _join(header.scale)),
    _Trait("kind of file", "FT-08", lambda header: "LAZ" if header.compressed else "LAS"),
    _Trait("extra bytes", "FT-08", lambda header: ", ".join(header.extra_dimensions) or "none"),
    _Trait("GPS time", "FT-06", _name_time),
    _Trait("WKT flag", "FT-08", lambda header: "set" if header.has_wkt_flag else "not set"),
)


class HeaderUniformity(Check):
    """Headers of one delivery are alike."""

    id = "header-uniformity"
    title = "All headers of the delivery are alike"
    catalogue = ("FT-08", "PS-01", "FT-06")
    revision = 2

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Name the files that are not like the others."""
        del plan, summaries
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
            return
        files = [file for file in evidence.point_files if file.header is not None]
        found = [*self._compare_crs(files), *self._compare_traits(files, evidence.folder)]
        yield from found
        lost = len(evidence.point_files) - len(files)
        if lost:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                f"{lost} of {count_things(len(evidence.point_files), 'file')} "
                f"{agree(lost, 'has', 'have')} no readable header and "
                f"{agree(lost, 'was', 'were')} not compared.",
                ("header",),
            )
        elif not found:
            told = f"There are {count_things(len(files), 'header')}, all alike."
            alone = "There is one header only, so there is nothing to compare."
            yield self.conforms(WHOLE_DELIVERY, told if len(files) > 1 else alone)

    def _compare_crs(self, files: Sequence[DeliveredFile]) -> Iterator[Finding]:
        """Yield a finding for each file in another coordinate system than most."""
        stated = [(file, crs) for file in files if (crs := find_crs(file)) is not None]
        groups = _group_by_crs(stated)
        for group in groups[1:]:
            for file, crs in group:
                yield self._tell_other_crs(file, crs, groups[0])
        if len(groups) == 1:
            yield from self._compare_texts([file for file, _ in groups[0]])

    def _tell_other_crs(self, file: DeliveredFile, crs: Crs, rule: Sequence[_Placed]) -> Finding:
        differences = _find_differences(rule[0][1], crs)
        told = "; ".join(_describe_difference(d) for d in differences)
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            f"{file.path} is in another coordinate system than {_name_others(rule)}: {told}.",
            observed=crs.name,
            required=rule[0][1].name,
            criterion_source=COMMON_PRACTICE,
            remedy="Export all files of a delivery in one coordinate system.",
            catalogue=("FT-08", "CR-06"),
            where=Where(file.path),
        )

    def _compare_texts(self, files: Sequence[DeliveredFile]) -> Iterator[Finding]:
        """Yield a remark where one system is written in several ways."""
        texts = {f.path: f.crs.governing.text for f in files if f.crs is not None}
        if len(set(texts.values())) < 2:
            return
        ways = count_things(len(set(texts.values())), "way")
        rule = _find_rule(list(texts.values()))
        odd = [path for path, text in texts.items() if text != rule]
        yield self.nonconforming(
            Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"One coordinate system is written in {ways}: {odd[0]} "
            f"{f'and {len(odd) - 1} more differ' if len(odd) > 1 else 'differs'} from the rest.",
            criterion_source=COMMON_PRACTICE,
            remedy="Export all files with one program and one setting.",
            catalogue=("FT-08",),
        )

    def _compare_traits(self, files: Sequence[DeliveredFile], folder: str) -> Iterator[Finding]:
        """Yield one remark for each file and catalogue id in which it is the odd one."""
        odd: dict[tuple[str, str], list[str]] = {}
        for trait in _TRAITS:
            values = {f.path: trait.read(f.header) for f in files if f.header is not None}
            if len(set(values.values())) < 2:
                continue
            rule = _find_rule(list(values.values()))
            share = list(values.values()).count(rule)
            for path, value in values.items():
                if value != rule:
                    told = f"{trait.words} {value}, in {count_things(share, 'other file')} {rule}"
                    odd.setdefault((path, trait.catalogue), []).append(told)
        for (path, catalogue), remarks in sorted(odd.items()):
            yield self.nonconforming(
                Grade.OBSERVATION,
                path,
                f"{path} is not like the others: {'; '.join(remarks)}.",
                criterion_source=COMMON_PRACTICE,
                remedy="Make sure that it comes from the same run and export as the others "
                f"(swathbook trace {quote_path(f'{folder}/{path}')})",
                catalogue=(catalogue,),
                where=Where(path),
            )


def _group_by_crs(files: Sequence[_Placed]) -> list[list[_Placed]]:
    """Return groups of files in the same coordinate system, largest first."""
    groups: list[list[_Placed]] = []
    for placed in files:
        for group in groups:
            if not _find_differences(group[0][1], placed[1]):
                group.append(placed)
                break
        else:
            groups.append([placed])
    return sorted(groups, key=lambda group: (-len(group), group[0][0].path))


def _find_differences(a: Crs, b: Crs) -> tuple[CrsDifference, ...]:
    if a == b:
        return ()
    # A vertical part that only one side has is a difference too, which `compare` leaves out.
    differences = (*compare(a, b), *compare_vertical(a.vertical, b.vertical))
    return tuple(dict.fromkeys(differences))


def _describe_difference(difference: CrsDifference) -> str:
    """Return a part with both values; long lists of parameters are for the check of one file."""
    told = f"{difference.part} {difference.b} against {difference.a}"
    return told if len(told) <= _LONGEST else f"other parameters of the {difference.part}"


def _find_rule(values: Sequence[str]) -> str:
    """Return the most frequent value, the first one met of equally frequent ones."""
    return Counter(values).most_common(1)[0][0]


def _name_others(rule: Sequence[_Placed]) -> str:
    first = rule[0][0].path
    return first if len(rule) == 1 else f"{first} and {len(rule) - 1} more"
