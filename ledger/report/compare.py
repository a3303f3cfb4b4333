"""What `compare` shows of two runs: worst difference first, with how far it can move the result."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.compare import Difference, RunComparison, Weight, WrittenDifference
from ledger.model.fields import FIELDS
from ledger.model.phrases import agree, count_things
from ledger.report.jsonvalues import ValueJson, describe_known
from ledger.report.screen import DOUBT, QUIET, STRONG, say, say_lines, title
from ledger.report.values import label_field, write_value

_WRITTEN_SHOWN = 20
_TITLES = {
    Weight.GEODETIC: "Can move where the numbers are",
    Weight.GEOMETRIC: "Can change how the points were made",
    Weight.COSMETIC: "Changes no point",
}


class DifferenceJson(TypedDict):
    """One setting that differs."""

    field: Annotated[str, "name of the setting"]
    a: Annotated[ValueJson, "value of the first"]
    b: Annotated[ValueJson, "value of the second"]
    weight: Annotated[str, "geodetic, geometric or cosmetic"]
    effect_m: Annotated[float | None, "metres, second less first; null when it cannot be told"]
    effect: Annotated[str, "what moves, or why nothing can be said"]


class OneSidedJson(TypedDict):
    """A setting or input that only one of them has."""

    name: Annotated[str, "name of the setting, or the input"]
    only: Annotated[str, "id of the one that has it"]


class WrittenJson(TypedDict):
    """One setting of a program that differs and that no field asks for."""

    key: Annotated[str, "where it stands in the settings of the program"]
    a: Annotated[str | None, "its text for the first; null where that has no such key"]
    b: Annotated[str | None, "its text for the second"]


class CompareJson(TypedDict):
    """What `compare --json` prints."""

    schema: Annotated[int, "1"]
    a: Annotated[str, "id of the first run or step"]
    b: Annotated[str, "id of the second"]
    same: Annotated[str, "identical when nothing recorded differs, else different"]
    alike: Annotated[int, "settings with equal values"]
    differences: Annotated[list[DifferenceJson], "worst first"]
    one_sided: Annotated[list[OneSidedJson], "settings that only one of them has"]
    inputs: Annotated[list[OneSidedJson], "inputs that only one of them used"]
    written: Annotated[list[WrittenJson], "other settings of the programs that differ"]


def make_json(result: RunComparison) -> CompareJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "a": result.first,
        "b": result.second,
        "same": "identical" if result.is_same else "different",
        "alike": result.alike,
        "differences": [
            {
                "field": each.field,
                "a": describe_known(_find_key(each.field), each.before),
                "b": describe_known(_find_key(each.field), each.after),
                "weight": str(each.weight),
                "effect_m": None if each.effect.metres is None else float(each.effect.metres),
                "effect": each.effect.sentence,
            }
            for each in result.differences
        ],
        "one_sided": [{"name": name, "only": only} for name, only in result.one_sided],
        "inputs": [{"name": name, "only": only} for name, only in result.inputs],
        "written": [
            {"key": each.key, "a": each.before, "b": each.after} for each in result.written
        ],
    }


def _find_key(name: str) -> str:
    """Return the key of a setting: runs and steps share their names."""
    return next((key for key in (f"run.{name}", f"step.{name}") if key in FIELDS), name)


def make_screen(result: RunComparison) -> RenderableType:
    """Return what a person reads."""
    return Group(*_list_parts(result))


def _list_parts(result: RunComparison) -> list[RenderableType]:
    pair = f"{result.first} and {result.second}"
    if result.is_same:
        return [say(f"Nothing that was recorded differs between {pair}.", STRONG)]
    count = len(result.differences)
    differing = f"{count_things(count, 'setting')} {agree(count, 'differs', 'differ')}"
    alike = f"{result.alike} {agree(result.alike, 'is', 'are')} alike"
    parts: list[RenderableType] = [say(f"{pair}: {differing}, {alike}.", STRONG)]
    for weight, words in _TITLES.items():
        listed = [each for each in result.differences if each.weight is weight]
        if listed:
            parts.append(title(words))
            for each in listed:
                parts.extend(_say_difference(each))
    parts.extend(_say_written(result.written))
    for what, names in (("Recorded", result.one_sided), ("Used", result.inputs)):
        for run in (result.first, result.second):
            mine = [label_field(name) if what == "Recorded" else name
                    for name, only in names if only == run]  # fmt: skip
            if mine:
                parts.append(say(f"{what} for {run} alone: {', '.join(mine)}", QUIET))
    return parts


def _say_written(written: tuple[WrittenDifference, ...]) -> list[RenderableType]:
    if not written:
        return []
    shown = [
        f"{each.key}: {_write_text(each.before)} → {_write_text(each.after)}"
        for each in written[:_WRITTEN_SHOWN]
    ]
    rest = len(written) - len(shown)
    more = [f"and {rest} more: --json"] if rest else []
    said = "In the settings of the program; what these can move is not known here"
    return [title(said), say_lines([*shown, *more], indent=2)]


def _write_text(text: str | None) -> str:
    return "not there" if text is None else text or "empty"


def _say_difference(each: Difference) -> list[RenderableType]:
    line = f"{label_field(each.field)}: {write_value(each.before)} → {write_value(each.after)}"
    effect = each.effect
    if effect.metres is not None:
        told = say_lines([f"{effect.metres:+} m: {effect.sentence}"], DOUBT, indent=4)
    else:
        told = say_lines([effect.sentence], QUIET, indent=4)
    if each.weight is Weight.COSMETIC:
        return [say_lines([line], indent=2)]
    return [say_lines([line], indent=2), told]
