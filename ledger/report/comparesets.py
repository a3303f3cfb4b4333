"""What `compare` shows of two sets of files: the answer, and what it rests on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.compare.setresult import (
    CellDifference,
    Change,
    Grade,
    HeaderDifference,
    PointDifference,
    SetComparison,
    SideFacts,
)
from ledger.model.known import KnownValue
from ledger.model.phrases import count_things
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, make_table, say, say_lines, title
from ledger.report.values import write_value

_STYLES = {
    Grade.IDENTICAL: GOOD,
    Grade.SAME_POINTS: GOOD,
    Grade.EQUIVALENT: DOUBT,
    Grade.DIFFERENT: BAD,
}
_CELLS_SHOWN = 6
_OTHERS_SHOWN = 6
_LONGEST = 60
_ACROSS = 1.42  # sides of a square from corner to corner, rounded up


class HeaderDifferenceJson(TypedDict):
    """One thing that headers say differently."""

    field: Annotated[str, "its name: CRS text, scale, software …"]
    a: Annotated[str, "what the first say; none for nothing"]
    b: Annotated[str, "what the second say"]
    weight: Annotated[str, "geodetic, geometric or cosmetic"]
    effect_m: Annotated[float | None, "always null: headers alone move no number"]
    effect: Annotated[str, "what it means, where more can be said"]
    files: Annotated[int, "files of equal name that differ in it; 0 where none can be paired"]


class CellJson(TypedDict):
    """One cell in which points came, went or moved."""

    x: Annotated[float, "easting or longitude of its middle, in units of the files"]
    y: Annotated[float, "northing or latitude of its middle"]
    a: Annotated[int, "points of the first in it"]
    b: Annotated[int, "points of the second"]


class ClassJson(TypedDict):
    """A class whose number of points differs."""

    code: Annotated[int, "class code"]
    a: Annotated[int, "points of the first"]
    b: Annotated[int, "points of the second"]


class HeightsJson(TypedDict):
    """Height differences on stable cells, second less first."""

    cells: Annotated[int, "stable cells"]
    mean_m: Annotated[float | None, "mean, metres; null without cells"]
    p95_m: Annotated[float | None, "95th percentile of the absolute values, metres"]
    a: Annotated[int, "points of the first in them"]
    b: Annotated[int, "points of the second"]
    unit_stated: Annotated[bool, "the files say the unit of heights; else taken for metres"]


class PulsesJson(TypedDict):
    """How far the same pulses lie apart, second less first."""

    pairs: Annotated[int, "points paired by GPS time and return, in a sample"]
    east_m: Annotated[float | None, "mean along X, metres; null without pairs"]
    north_m: Annotated[float | None, "mean along Y, metres"]
    up_m: Annotated[float | None, "mean of heights, metres"]


class PointDifferenceJson(TypedDict):
    """How the points differ."""

    only_a: Annotated[int, "points of the first without a partner at the same place"]
    only_b: Annotated[int, "the same of the second"]
    altered: Annotated[int, "points with a partner at the same place that has other fields"]
    fields: Annotated[list[str], "fields that differ, where no place does"]
    classes: Annotated[list[ClassJson], "classes whose number of points differs"]
    cell_size: Annotated[float, "side of a cell, in units of the files"]
    cell_count: Annotated[int, "cells in which anything differs"]
    cells: Annotated[list[CellJson], "those in which most does"]
    heights: Annotated[HeightsJson | None, "on stable cells; null where no point moved"]
    pulses: Annotated[PulsesJson | None, "the same pulses; null where no point moved"]


class OtherFileJson(TypedDict):
    """A file without points that differs."""

    name: Annotated[str, "relative to its side"]
    state: Annotated[str, "other bytes, only first or only second"]


class SideJson(TypedDict):
    """One side."""

    label: Annotated[str, "as typed"]
    files: Annotated[int, "files"]
    points: Annotated[int | None, "points; null where they did not have to be counted"]


class SetsJson(TypedDict):
    """What `compare --json` prints of folders, files and deliverables."""

    schema: Annotated[int, "1"]
    a: Annotated[SideJson, "the first"]
    b: Annotated[SideJson, "the second"]
    same: Annotated[str, "identical, same points, equivalent or different"]
    change: Annotated[str, "what is not alike: nothing, tiling or order, header, CRS text …"]
    sentence: Annotated[str, "the answer"]
    differences: Annotated[list[HeaderDifferenceJson], "what headers say differently"]
    points: Annotated[PointDifferenceJson | None, "how points differ; null where they do not"]
    others: Annotated[list[OtherFileJson], "files without points that differ"]
    notes: Annotated[list[str], "what else has to be known"]
    points_read: Annotated[bool, "points were decoded for this answer"]


def make_json(result: SetComparison) -> SetsJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "a": _describe_side(result.first),
        "b": _describe_side(result.second),
        "same": str(result.grade),
        "change": str(result.change),
        "sentence": result.sentence,
        "differences": [
            {
                "field": each.field,
                "a": each.before,
                "b": each.after,
                "weight": str(each.weight),
                "effect_m": None,
                "effect": each.effect,
                "files": each.files,
            }
            for each in result.headers
        ],
        "points": None if result.points is None else _describe_points(result.points),
        "others": [{"name": each.name, "state": each.state} for each in result.others],
        "notes": list(result.notes),
        "points_read": result.points_read,
    }


def _describe_side(side: SideFacts) -> SideJson:
    return {"label": side.label, "files": side.files, "points": side.points}


def _describe_points(found: PointDifference) -> PointDifferenceJson:
    heights, pulses = found.heights, found.pulses
    return {
        "only_a": found.only_first,
        "only_b": found.only_second,
        "altered": found.altered,
        "fields": list(found.fields),
        "classes": [
            {"code": code, "a": before, "b": after}
            for code, (before, after) in found.classes.items()
        ],
        "cell_size": found.cell_size,
        "cell_count": found.cell_count,
        "cells": [
            {"x": cell.x, "y": cell.y, "a": cell.before, "b": cell.after} for cell in found.cells
        ],
        "heights": None
        if heights is None
        else {
            "cells": heights.cells,
            "mean_m": heights.mean_m,
            "p95_m": heights.p95_m,
            "a": heights.before,
            "b": heights.after,
            "unit_stated": heights.unit_stated,
        },
        "pulses": None
        if pulses is None
        else {
            "pairs": pulses.pairs,
            "east_m": pulses.east_m,
            "north_m": pulses.north_m,
            "up_m": pulses.up_m,
        },
    }


def make_screen(result: SetComparison) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = [say(str(result.grade).capitalize(), _STYLES[result.grade])]
    parts.append(say(result.sentence))
    parts += [say(note, DOUBT) for note in result.notes]
    if result.headers:
        parts += [title("Headers"), *(_say_header(each) for each in result.headers)]
    if result.points is not None:
        is_everywhere = result.change is Change.PROCESSING
        parts += list(_list_points(result.points, is_everywhere=is_everywhere))
    if result.others:
        shown = [f"{each.name}: {each.state}" for each in result.others[:_OTHERS_SHOWN]]
        rest = len(result.others) - len(shown)
        more = [f"and {rest} more: --json"] if rest else []
        parts += [title("Files without points"), say_lines([*shown, *more], indent=2)]
    how = "points read" if result.points_read else "points not read: digests and the book told it"
    sides = " against ".join(_count_side(side) for side in (result.first, result.second))
    parts.append(say(f"{sides}; {how}", QUIET))
    return Group(*parts)


def _count_side(side: SideFacts) -> str:
    points = "" if side.points is None else f", {count_things(side.points, 'point')}"
    return f"{side.label}: {count_things(side.files, 'file')}{points}"


def _say_header(each: HeaderDifference) -> RenderableType:
    where = f"  ({count_things(each.files, 'file')})" if each.files > 1 else ""
    line = f"{each.field}: {_shorten(each.before)} → {_shorten(each.after)}{where}"
    effect = [f"  {each.effect}"] if each.effect else []
    return say_lines([line, *effect], indent=2)


def _shorten(text: str) -> str:
    told = write_value(KnownValue(text))
    return told if len(told) <= _LONGEST else f"{told[:_LONGEST]}…"


def _tabulate_cells(found: PointDifference) -> RenderableType:
    table = make_table("x", "y", "first", "second", "", numbers=(0, 1, 2, 3))
    digits = 1 if found.cell_size >= 1 else 7
    for cell in found.cells[:_CELLS_SHOWN]:
        place = (f"{value:.{digits}f}" for value in (cell.x, cell.y))
        table.add_row(*place, f"{cell.before:,}", f"{cell.after:,}", _tell_within(cell, found))
    return table


def _tell_within(cell: CellDifference, found: PointDifference) -> str:
    """Return what differs in a cell of as many points on both sides, whose counts say nothing.

    How many moved is known of all cells together; how far, where all of it is in one square.
    """
    if cell.before != cell.after:
        return ""
    if not found.only_first:
        return "other fields"
    if found.cell_count > 1:
        return "as many, at other places"
    return f"{found.only_first:,} moved, at most {_ACROSS * found.cell_size:.3g} sideways"


def _list_points(found: PointDifference, *, is_everywhere: bool) -> Iterator[RenderableType]:
    if found.classes:
        yield title("Classes")
        yield say_lines(
            [f"class {code}: {a:,} → {b:,}" for code, (a, b) in found.classes.items()], indent=2
        )
    if not is_everywhere:
        where = count_things(found.cell_count, "cell")
        yield title(f"Where: {where} {found.cell_size:g} wide, in units of the files")
        yield _tabulate_cells(found)
    lines = list(_list_shifts(found))
    if lines:
        yield title("How far, second less first")
        yield say_lines(lines, indent=2)


def _list_shifts(found: PointDifference) -> Iterator[str]:
    heights, pulses = found.heights, found.pulses
    if heights is not None and heights.mean_m is not None and heights.p95_m is not None:
        yield (
            f"heights on {count_things(heights.cells, 'stable cell')}: {heights.mean_m:+z.4f} m in "
            f"the mean (limit 0.005 m), 95 % within {heights.p95_m:.4f} m (limit 0.02 m)"
        )
    elif heights is not None:
        yield "heights: no cell is stable on both sides"
    if pulses is not None and pulses.east_m is not None and pulses.north_m is not None:
        yield (
            f"the same {count_things(pulses.pairs, 'pulse')}: {pulses.east_m:+.3f} m east, "
            f"{pulses.north_m:+.3f} m north, {pulses.up_m or 0.0:+.3f} m up (limit 0.02 m sideways)"
        )
    if heights is not None and heights.mean_m is not None:
        yield "limits: common practice, no source"
