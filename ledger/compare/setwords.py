"""The answer of a comparison of two sets of files, in one sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from ledger.compare.setresult import Change, Grade, SetComparison
from ledger.model.phrases import agree, count_things

_Words = Callable[[SetComparison], str]
_NAMED = 3


def tell(found: SetComparison) -> SetComparison:
    """Return the comparison with its answer."""
    return replace(found, sentence=_SENTENCES[found.change](found))


def _tell_nothing(found: SetComparison) -> str:
    count = found.first.files
    if count == 1:
        return "The same bytes."
    return f"All {count_things(count, 'file')} are the same, byte for byte."


def _tell_names(found: SetComparison) -> str:
    return f"The same bytes under other names, {count_things(found.first.files, 'file')}."


def _tell_tiling(found: SetComparison) -> str:
    how = "in another order or packing"
    if found.first.files != found.second.files or found.first.files > 1:
        how = "in other tiles or another order"
    return f"The same {count_things(found.first.points or 0, 'point')}, {how}."


def _tell_header(found: SetComparison) -> str:
    names = [each.field for each in found.headers]
    return f"The points are the same; the headers differ: {_list_some(names)}."


def _tell_files(found: SetComparison) -> str:
    names = _list_some([other.name for other in found.others])
    if found.first.points is None and found.grade is Grade.DIFFERENT:
        return f"Files differ, which are compared by their bytes alone: {names}."
    return f"The points are the same; other files differ, by their bytes alone: {names}."


def _tell_classes(found: SetComparison) -> str:
    altered = found.points.altered if found.points else 0
    return (
        f"The points lie where they did; {altered:,} of {_count_before(found)} "
        f"{agree(altered, 'has', 'have')} another class, and nothing else differs."
    )


def _tell_fields(found: SetComparison) -> str:
    points = found.points
    altered, fields = (points.altered, points.fields) if points else (0, ())
    return (
        f"The points lie where they did; {altered:,} of {_count_before(found)} "
        f"{agree(altered, 'differs', 'differ')} in {_list_some(list(fields)) or 'their fields'}."
    )


def _tell_added(found: SetComparison) -> str:
    count = found.points.only_second if found.points else 0
    return f"{count_things(count, 'point')} {agree(count, 'was', 'were')} added{_tell_rest(found)}."


def _tell_removed(found: SetComparison) -> str:
    count = found.points.only_first if found.points else 0
    removed = f"{count_things(count, 'point')} {agree(count, 'is', 'are')} missing"
    return f"{removed}{_tell_rest(found)}."


def _tell_rest(found: SetComparison) -> str:
    altered = found.points.altered if found.points else 0
    if not altered:
        return "; all others are the same"
    return f"; of the others {altered:,} {agree(altered, 'has', 'have')} other fields"


def _tell_moved(found: SetComparison) -> str:
    points = found.points
    if points is None:
        return "The points are not the same."
    return (
        f"{points.only_first:,} of {_count_before(found)} have no partner at their place, and "
        f"{points.only_second:,} came anew."
    )


def _tell_processing(found: SetComparison) -> str:
    heights = found.points.heights if found.points else None
    if heights is None or heights.mean_m is None or heights.p95_m is None:
        return "Another processing, or another survey: most points have no partner at their place."
    said = "Equivalent, not the same" if found.grade is Grade.EQUIVALENT else "Not equivalent"
    return (
        f"{said}: most points have no partner at their place; heights on "
        f"{count_things(heights.cells, 'stable cell')} differ by {_write(heights.mean_m, '+z')} in "
        f"the mean, 95 % by at most {_write(heights.p95_m)}."
    )


def _write(metres: float, sign: str = "") -> str:
    """Return a length in the unit in which it is easily read."""
    if abs(metres) < 1:
        return f"{metres * 1000:{sign}.1f} mm"
    return f"{metres:{sign}.3f} m"


def _count_before(found: SetComparison) -> str:
    return count_things(found.first.points or 0, "point")


def _list_some(names: list[str]) -> str:
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[:_NAMED])} and {len(names) - _NAMED} more"


_SENTENCES: Mapping[Change, _Words] = {
    Change.NOTHING: _tell_nothing,
    Change.NAMES: _tell_names,
    Change.TILING: _tell_tiling,
    Change.HEADER: _tell_header,
    Change.CRS_TEXT: _tell_header,
    Change.CLASSES: _tell_classes,
    Change.FIELDS: _tell_fields,
    Change.ADDED: _tell_added,
    Change.REMOVED: _tell_removed,
    Change.MOVED: _tell_moved,
    Change.PROCESSING: _tell_processing,
    Change.FILES: _tell_files,
}
