"""What `repeat` shows: can the run be done again, with which settings, and what came of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.typed import quote_path
from ledger.repeat.result import MEANINGS, ItemState, Readiness, RepeatResult, Sheet
from ledger.report.comparesets import SetsJson
from ledger.report.comparesets import make_json as describe_comparison
from ledger.report.comparesets import make_screen as show_comparison
from ledger.report.jsonvalues import ValueJson, describe_known
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    STRONG,
    next_step,
    say,
    say_lines,
    title,
)
from ledger.report.values import tell_how, write_value

_STYLES = {Readiness.A: GOOD, Readiness.B: DOUBT, Readiness.C: DOUBT, Readiness.D: BAD}
_WRITTEN_SHOWN = 12


class ItemJson(TypedDict):
    """One thing that the run needs."""

    item: Annotated[str, "raw data, base log, settings, geoid, calibration or installer"]
    state: Annotated[str, "there, record only, missing or not needed"]
    sentence: Annotated[str, "what there is, or what is missing"]
    remedy: Annotated[str, "what to do about it; empty where nothing is missing"]


class WrittenKeyJson(TypedDict):
    """One setting as the program wrote it."""

    key: Annotated[str, "where it stands, in flat form"]
    text: Annotated[str, "its text"]


class WrittenSettingsJson(TypedDict):
    """The settings of one file that the program left."""

    path: Annotated[str, "where it was read"]
    sha256: Annotated[str, "digest of the file"]
    settings: Annotated[list[WrittenKeyJson], "as it says"]
    taken_out: Annotated[list[str], "keys whose value was a secret and was not kept"]


class UsedInputJson(TypedDict):
    """One file that the run used."""

    path: Annotated[str, "where it lies, or was last seen"]
    sha256: Annotated[str, "its digest"]
    role: Annotated[str, "what it was used as"]
    there: Annotated[bool, "it lies there with the size and time of when it was seen"]


class SheetJson(TypedDict):
    """What to set and to give to the program."""

    values: Annotated[dict[str, ValueJson], "recorded settings by field key, in form order"]
    files: Annotated[list[WrittenSettingsJson], "settings in files of the program"]
    inputs: Annotated[list[UsedInputJson], "files that it used"]
    not_recorded: Annotated[list[str], "questions that nobody answered"]
    command: Annotated[str, "the command that was run, without secrets; empty for none"]
    folder: Annotated[str, "the folder it was run in"]


class RepeatJson(TypedDict):
    """What `repeat --json` prints."""

    schema: Annotated[int, "1"]
    run: Annotated[str, "id of the run or step"]
    readiness: Annotated[str, "A, B, C or D"]
    missing: Annotated[list[str], "what is not there by its bytes, one sentence each"]
    items: Annotated[list[ItemJson], "what it needs, one by one"]
    sheet: Annotated[SheetJson, "what to set"]
    outcome: Annotated[str, "identical, same points, equivalent, different, failed; or empty"]
    comparison: Annotated[SetsJson | None, "new outputs against the first; null for none"]
    entry: Annotated[int | None, "entry that holds the outcome; null for none"]
    folder: Annotated[str, "where the new outputs lie; empty for none"]
    exit_status: Annotated[int | None, "of the command that was run; null for none"]
    unrecorded: Annotated[list[str], "files the command named that are no recorded input"]


def make_json(result: RepeatResult) -> RepeatJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "run": result.run,
        "readiness": str(result.readiness),
        "missing": [f"{item.name}: {item.told}" for item in result.missing],
        "items": [
            {
                "item": item.name,
                "state": str(item.state),
                "sentence": item.told,
                "remedy": item.remedy,
            }
            for item in result.items
        ],
        "sheet": _describe_sheet(result.sheet),
        "outcome": result.outcome,
        "comparison": None if result.comparison is None else describe_comparison(result.comparison),
        "entry": result.entry or None,
        "folder": result.folder,
        "exit_status": result.exit_status,
        "unrecorded": list(result.unrecorded),
    }


def _describe_sheet(sheet: Sheet) -> SheetJson:
    return {
        "values": {each.key: describe_known(each.key, each.value) for each in sheet.settings},
        "files": [
            {
                "path": file.path,
                "sha256": file.sha256,
                "settings": [{"key": key, "text": text} for key, text in file.rows],
                "taken_out": list(file.taken_out),
            }
            for file in sheet.written
        ],
        "inputs": [
            {"path": used.path, "sha256": used.sha256, "role": used.role, "there": used.is_there}
            for used in sheet.inputs
        ],
        "not_recorded": list(sheet.not_recorded),
        "command": sheet.command,
        "folder": sheet.folder,
    }


def make_screen(result: RepeatResult) -> RenderableType:
    """Return what a person reads: the outcome where there is one, else what to do."""
    return Group(*(_list_outcome(result) if result.outcome else _list_plan(result)))


def _list_outcome(result: RepeatResult) -> Iterator[RenderableType]:
    if result.comparison is None:
        ended = f"the command ended with exit status {result.exit_status}"
        yield say(f"Failed: {ended}, and nothing could be graded.", BAD)
    else:
        yield say(f"{result.run} done again:", STRONG)
        yield show_comparison(result.comparison)
    if result.unrecorded:
        names = ", ".join(result.unrecorded)
        yield say(f"Used besides, and not recorded as inputs: {names}", DOUBT)
    yield say(f"Entry {result.entry}; the new outputs lie in {result.folder}", QUIET)


def _list_plan(result: RepeatResult) -> Iterator[RenderableType]:
    grade = result.readiness
    yield say(f"Doing {result.run} again: grade {grade}, {MEANINGS[grade]}.", _STYLES[grade])
    for item in result.items:
        style = "" if item.state in (ItemState.THERE, ItemState.NOT_NEEDED) else DOUBT
        yield say_lines([f"{item.name}: {item.state}; {item.told}"], style, indent=2)
        if item.remedy:
            yield say_lines([item.remedy], QUIET, indent=4)
    yield say("Files are told by size and time, and not read again; grades: common practice", QUIET)
    yield from _list_sheet(result.sheet)
    if result.sheet.command:
        yield next_step(f"swathbook repeat {result.run} --run", "runs the command again")
    else:
        yield next_step(
            f"swathbook repeat {result.run} --with FOLDER", "grades what came of doing it by hand"
        )


def _list_sheet(sheet: Sheet) -> Iterator[RenderableType]:
    if sheet.command:
        yield title("Command")
        yield say_lines([sheet.command, f"in folder {quote_path(sheet.folder or '.')}"], indent=2)
    if sheet.settings:
        yield title("Set")
        yield say_lines(
            [
                f"{each.question}: {write_value(each.value)}   ({tell_how(each.value)})"
                for each in sheet.settings
            ],
            indent=2,
        )
    for file in sheet.written:
        yield title(f"As {file.path} says")
        shown = [f"{key}: {text}" for key, text in file.rows[:_WRITTEN_SHOWN]]
        rest = len(file.rows) - len(shown)
        more = [f"and {rest} more: --page or --json"] if rest > 0 else []
        secret = [f"{key}: a secret, not kept" for key in file.taken_out]
        yield say_lines([*shown, *more, *secret], indent=2)
    if sheet.inputs:
        yield title("Give to it")
        lines = (
            f"{used.path}  {used.role}{'' if used.is_there else ', not there any more'}"
            for used in sheet.inputs
        )
        yield say_lines(lines, indent=2)
    if sheet.not_recorded:
        yield title("Not recorded: set these by what you know, and write down what you set")
        yield say_lines(sheet.not_recorded, indent=2)
