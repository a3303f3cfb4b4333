"""Two sets of files: the same bytes, the same points, the same surface, or different.

Invariants:

- The cheapest proof is looked for first: digests, then fingerprints that the book holds, then the
  points, once a side. Files with equal digests on both sides are never opened.
- What could not be read is never alike.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.compare.headers import CRS_KEYS, CRS_TEXT, compare_headers, find_stem
from ledger.compare.setresult import (
    OTHER_BYTES,
    Change,
    Grade,
    HeaderDifference,
    OtherFile,
    PointDifference,
    SetComparison,
    SideFacts,
)
from ledger.compare.setwords import tell
from ledger.compare.sides import Side, SideFile
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError, UnreadableFileError
from ledger.lasheader import read_las_header
from ledger.loading import load_part
from ledger.model.artefact import FingerprintValue
from ledger.model.ask import Progress
from ledger.model.header import LasHeader
from ledger.model.phrases import agree, count_things
from ledger.model.weight import Weight
from ledger.outputs import holds_points

if TYPE_CHECKING:  # reads points, which most comparisons need not
    from ledger.compare.pointset import PointSets

_Values = Mapping[str, FingerprintValue]

# Rerun against run; common practice, no source.
MEAN_LIMIT_M = 0.005
P95_LIMIT_M = 0.02
SHARE_LIMIT = 0.005
# Fewer cells say nothing of a 95th percentile, fewer pulses nothing of a mean.
FEWEST_CELLS = 30
FEWEST_PULSES = 30
MOST = 0.5


@dataclass(frozen=True)
class _Left:
    """Point files that have no file of equal bytes on the other side."""

    first: tuple[SideFile, ...]
    second: tuple[SideFile, ...]

    @property
    def all(self) -> tuple[SideFile, ...]:
        return self.first + self.second


@dataclass(frozen=True)
class _Seen:
    """What was found of the points."""

    first: Mapping[str, FingerprintValue]
    second: Mapping[str, FingerprintValue]
    equal: bool
    difference: PointDifference | None = None
    read: bool = False


def compare_sets(
    first: Side, second: Side, scratch: Path | None, progress: Progress
) -> SetComparison:
    """Hold two sets of files against each other.

    Args:
        first: the one.
        second: the other.
        scratch: folder for what is kept meanwhile; None for that of the system.
        progress: told the points read.

    Raises:
        FileError: a file whose points are needed cannot be read, or is no longer there.
    """
    blank = SetComparison(
        SideFacts(first.label, len(first.files)),
        SideFacts(second.label, len(second.files)),
        Grade.IDENTICAL,
        Change.NOTHING,
        "",
    )
    if _count_digests(first.files) == _count_digests(second.files):
        alike = sorted((file.name, file.sha256) for file in first.files) == sorted(
            (file.name, file.sha256) for file in second.files
        )
        alike = alike or len(first.files) == 1
        return tell(replace(blank, change=Change.NOTHING if alike else Change.NAMES))
    mine, theirs = (_sort(side.files) for side in (first, second))
    others = tuple(_compare_others(mine[1], theirs[1]))
    points = _leave_out_shared(mine[0], theirs[0])
    blank = replace(blank, others=others)
    if not points.all:
        has_points = bool(mine[0])
        grade = (
            Grade.SAME_POINTS if has_points and not _has_other_raster(others) else Grade.DIFFERENT
        )
        return tell(replace(blank, grade=grade, change=Change.FILES))
    return _compare_points(blank, (mine[0], theirs[0]), points, scratch, progress)


def _count_digests(files: Sequence[SideFile]) -> Counter[str]:
    return Counter(file.sha256 for file in files)


def _sort(files: Sequence[SideFile]) -> tuple[tuple[SideFile, ...], tuple[SideFile, ...]]:
    """Return the files with points, and the others; one that is gone counts by its name."""
    with_points = tuple(file for file in files if holds_points(file.place))
    return with_points, tuple(file for file in files if file not in with_points)


def _has_other_raster(others: Sequence[OtherFile]) -> bool:
    """Say whether a raster of both sides has other bytes; one that is absent is told, no more."""
    return any(other.is_raster and other.state == OTHER_BYTES for other in others)


def _compare_others(first: Sequence[SideFile], second: Sequence[SideFile]) -> Iterator[OtherFile]:
    """Yield files without points whose bytes are not on the other side."""
    mine, theirs = ({file.name: file for file in files} for files in (first, second))
    digests = {file.sha256 for file in first} & {file.sha256 for file in second}
    for name in sorted({*mine, *theirs}):
        one, two = mine.get(name), theirs.get(name)
        if one is not None and two is not None:
            if one.sha256 != two.sha256:
                yield OtherFile(name, OTHER_BYTES)
        elif one is not None and one.sha256 not in digests:
            yield OtherFile(name, "only first")
        elif two is not None and two.sha256 not in digests:
            yield OtherFile(name, "only second")


def _leave_out_shared(first: Sequence[SideFile], second: Sequence[SideFile]) -> _Left:
    """Return what is left when files of equal bytes are taken away in pairs."""
    shared = _count_digests(first) & _count_digests(second)
    return _Left(_drop(first, Counter(shared)), _drop(second, Counter(shared)))


def _drop(files: Sequence[SideFile], shared: Counter[str]) -> tuple[SideFile, ...]:
    kept = []
    for file in files:
        if shared[file.sha256]:
            shared[file.sha256] -= 1
        else:
            kept.append(file)
    return tuple(kept)


def _compare_points(
    blank: SetComparison,
    files: tuple[Sequence[SideFile], Sequence[SideFile]],
    left: _Left,
    scratch: Path | None,
    progress: Progress,
) -> SetComparison:
    headers = [_read_headers(side) for side in (left.first, left.second)]
    shared = _count_shared(files[0], left.first)
    seen = _look_up(left)
    gone = [file for file in left.all if not file.is_there]
    if seen is None and gone:
        _require_known(gone)
        seen = _look_up(_complete(left))
        _require_comparable(seen, gone)
    if seen is None or not seen.equal:
        if seen is not None and gone:
            return tell(_grade_unseen(blank, seen, gone, shared))
        seen = _read(left, headers, scratch, progress)
    told = compare_headers(*headers, same_points=seen.equal)
    facts = replace(
        blank,
        first=replace(blank.first, points=shared + _sum_points(seen.first)),
        second=replace(blank.second, points=shared + _sum_points(seen.second)),
        headers=told,
        points=seen.difference,
        notes=tuple(_list_notes(seen)),
        points_read=seen.read,
    )
    if not seen.equal:
        return tell(_grade_points(facts))
    if _has_other_raster(blank.others):
        return tell(replace(facts, grade=Grade.DIFFERENT, change=Change.FILES))
    return tell(replace(facts, grade=Grade.SAME_POINTS, change=_name_change(seen, told)))


def _read_headers(files: Sequence[SideFile]) -> dict[str, LasHeader]:
    """Return the headers of the files that are there; those of others are not known any more."""
    return {file.name: read_las_header(file.place) for file in files if file.is_there}


def _require_known(gone: Sequence[SideFile]) -> None:
    unknown = [file for file in gone if file.fingerprint is None or not file.fingerprint.full]
    if unknown:
        raise _refuse(unknown)


def _require_comparable(seen: _Seen | None, gone: Sequence[SideFile]) -> None:
    if seen is None:  # fingerprints on two lattices: degrees and lengths
        raise _refuse(gone)


def _refuse(gone: Sequence[SideFile]) -> UnreadableFileError:
    return UnreadableFileError(
        "the points cannot be compared: the file is no longer there as it was recorded",
        found=count_things(len(gone), "such file"),
        where=str(gone[0].place),
        remedy="put it back: swathbook recheck says where its bytes lie",
    )


def _complete(left: _Left) -> _Left:
    """Return the files with the fingerprints of those read that are there."""
    return _Left(*(tuple(_read_value(file) for file in side) for side in (left.first, left.second)))


def _read_value(file: SideFile) -> SideFile:
    if file.fingerprint is not None or not file.is_there:
        return file
    value = load_part("ledger.rereading", "read_fingerprint")(file.place)
    return replace(file, fingerprint=value)


def _look_up(left: _Left) -> _Seen | None:
    """Return what fingerprints of the book say; None where one is lacking."""
    values = [file.fingerprint for file in left.all]
    known = [value for value in values if value is not None and value.full]
    if len(known) < len(values) or len({value.version for value in known}) != 1:
        return None
    first, second = (
        {file.name: file.fingerprint for file in side if file.fingerprint is not None}
        for side in (left.first, left.second)
    )
    return _Seen(first, second, equal=_is_equal(first, second))


def _is_equal(first: _Values, second: _Values) -> bool:
    """Say whether all points of both sides together are the same."""
    combine = load_part("ledger.fingerprint", "combine")
    if not first or not second:
        return _sum_points(first) == _sum_points(second) == 0
    one, two = combine(first.values()), combine(second.values())
    return bool((one.count, one.full) == (two.count, two.full))


def _read(
    left: _Left,
    headers: Sequence[Mapping[str, LasHeader]],
    scratch: Path | None,
    progress: Progress,
) -> _Seen:
    make = load_part("ledger.compare.pointset", "PointFile")
    sides = [
        [make(file.name, file.place, known[file.name]) for file in side]
        for side, known in zip((left.first, left.second), headers, strict=True)
    ]
    read: PointSets = load_part("ledger.compare.pointset", "read_sets")(*sides, scratch, progress)
    return _Seen(read.first, read.second, read.difference is None, read.difference, read=True)


def _sum_points(values: Mapping[str, FingerprintValue]) -> int:
    return sum(value.count for value in values.values())


def _count_shared(files: Sequence[SideFile], left: Sequence[SideFile]) -> int:
    """Return the points of files that are alike on both sides, by their headers or the book."""
    count = 0
    for file in files:
        if file in left:
            continue
        if file.fingerprint is not None:
            count += file.fingerprint.count
        elif file.is_there:
            count += read_las_header(file.place).point_count
    return count


def _list_notes(seen: _Seen) -> Iterator[str]:
    values = (*seen.first.values(), *seen.second.values())
    if any(value.rounded for value in values):
        yield (
            "Coordinates were rounded to the lattice of the fingerprint (a tenth of a thousandth "
            "of a unit); moves finer than that are not seen."
        )
    heights = seen.difference.heights if seen.difference is not None else None
    if heights is not None and not heights.unit_stated:
        yield "The files do not say in which unit heights are; they are taken for metres here."


def _name_change(seen: _Seen, headers: Sequence[HeaderDifference]) -> Change:
    """Return what is not alike where all points are."""
    one, two = (
        {find_stem(name): value for name, value in side.items()}
        for side in (seen.first, seen.second)
    )
    is_cut_alike = one == two or len(one) == len(two) == 1
    if not is_cut_alike or not headers:
        return Change.TILING
    crs = all(each.field in (CRS_TEXT, CRS_KEYS, "flags", "records") for each in headers)
    is_named = any(each.field in (CRS_TEXT, CRS_KEYS) for each in headers)
    return Change.CRS_TEXT if crs and is_named else Change.HEADER


def _grade_unseen(
    blank: SetComparison, seen: _Seen, gone: Sequence[SideFile], shared: int
) -> SetComparison:
    """Return the answer where fingerprints differ and points are no longer there to be read."""
    count = len(gone)
    note = (
        f"By how much cannot be told: {count_things(count, 'file')} (such as {gone[0].name}) "
        f"{agree(count, 'is', 'are')} no longer there as recorded."
    )
    return replace(
        blank,
        first=replace(blank.first, points=shared + _sum_points(seen.first)),
        second=replace(blank.second, points=shared + _sum_points(seen.second)),
        grade=Grade.DIFFERENT,
        change=Change.MOVED,
        notes=(note,),
    )


def _grade_points(facts: SetComparison) -> SetComparison:
    """Return the answer where points differ."""
    found = facts.points
    if found is None:
        raise SwathbookError("points differ and nothing says how")
    one, two = found.only_first, found.only_second
    if not one and not two:
        change = Change.CLASSES if found.fields == ("classification",) else Change.FIELDS
    elif not one:
        change = Change.ADDED
    elif not two:
        change = Change.REMOVED
    elif one > MOST * (facts.first.points or 0) and two > MOST * (facts.second.points or 0):
        change = Change.PROCESSING
    else:
        change = Change.MOVED
    doubts = tuple(list_doubts(found, facts)) if change is Change.PROCESSING else ()
    is_equivalent = (
        change is Change.PROCESSING and not doubts and not _has_other_raster(facts.others)
    )
    grade = Grade.EQUIVALENT if is_equivalent else Grade.DIFFERENT
    return replace(facts, grade=grade, change=change, notes=facts.notes + doubts)


def list_doubts(found: PointDifference, facts: SetComparison) -> Iterator[str]:
    """Yield why another processing is not equivalent, one sentence each; nothing where it is."""
    heights, pulses = found.heights, found.pulses
    before, after = facts.first.points or 0, facts.second.points or 0
    if abs(after - before) > SHARE_LIMIT * before:
        yield f"The number of points differs by more than 0.5 %: {before:,} and {after:,}."
    if heights is None or heights.mean_m is None or heights.p95_m is None:
        yield "No cell is stable on both sides, so that heights cannot be held against each other."
        return
    if heights.cells < FEWEST_CELLS:
        stable = count_things(heights.cells, "stable cell")
        yield f"Too few cells are stable on both sides: {stable}, {FEWEST_CELLS} are needed."
    if abs(heights.mean_m) > MEAN_LIMIT_M:
        mean = f"{heights.mean_m:+.4f} m"
        yield f"Heights on stable cells differ by {mean} in the mean (limit 0.005 m)."
    if heights.p95_m > P95_LIMIT_M:
        yield f"95 % of the stable cells lie within {heights.p95_m:.4f} m (limit 0.02 m)."
    if abs(heights.after - heights.before) > SHARE_LIMIT * heights.before:
        yield (
            "The number of points on stable cells differs by more than 0.5 %: "
            f"{heights.before:,} and {heights.after:,}."
        )
    if pulses is None or pulses.pairs < FEWEST_PULSES:
        yield (
            "Too few pulses could be paired by GPS time, so that a shift sideways, which does not "
            "show on level ground, could not be seen."
        )
    elif max(abs(pulses.east_m or 0.0), abs(pulses.north_m or 0.0)) > P95_LIMIT_M:
        yield (
            f"The same pulses lie {pulses.east_m:+.3f} m east and {pulses.north_m:+.3f} m north of "
            "where they lay (limit 0.02 m)."
        )
    if any(each.weight is Weight.GEODETIC for each in facts.headers):
        yield "The headers do not name the same coordinate system."
