"""What `demo` shows."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType
from rich.text import Text

from ledger.dataclass import dataclass
from ledger.model.filename import escape_for_screen
from ledger.report.screen import BAD, GOOD, QUIET, STRONG, say, title


@dataclass(frozen=True)
class WalkedStep:
    """One step of the demo as it went.

    Args:
        number: from 1.
        note: what happens.
        command: as typed; empty for work by hand.
        expected: exit status that belongs to it.
        status: exit status that came.
        output: what the command printed.
    """

    number: int
    note: str
    command: str
    expected: int
    status: int
    output: str

    @property
    def is_right(self) -> bool:
        """Say whether the step ended as it should."""
        return self.status == self.expected


@dataclass(frozen=True)
class DemoResult:
    """The whole walk.

    Args:
        folder: where it can be looked at.
        job: the job folder in it.
        steps: every step.
        seconds: time taken.
    """

    folder: Path
    job: Path
    steps: tuple[WalkedStep, ...]
    seconds: float

    @property
    def is_right(self) -> bool:
        """Say whether every step ended as it should."""
        return all(step.is_right for step in self.steps)


class StepJson(TypedDict):
    """One command of the walk."""

    command: Annotated[str, "as typed; empty for work by hand"]
    exit: Annotated[int, "exit status that came"]
    expected: Annotated[int, "exit status that belongs to it"]
    sentence: Annotated[str, "first line of what it printed"]


class DemoJson(TypedDict):
    """What `demo --json` prints."""

    schema: Annotated[int, "1"]
    folder: Annotated[str, "where everything can be looked at"]
    steps: Annotated[list[StepJson], "every step, in order"]


def make_json(result: DemoResult) -> DemoJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "folder": str(result.folder),
        "steps": [
            {
                "command": step.command,
                "exit": step.status,
                "expected": step.expected,
                "sentence": next(iter(step.output.splitlines()), step.note).strip(),
            }
            for step in result.steps
        ],
    }


def make_step(step: WalkedStep) -> RenderableType:
    """Return one step: what happens, what is typed, what it prints."""
    parts: list[RenderableType] = [title(f"{step.number}. {step.note}")]
    if step.command:
        parts.append(Text.assemble(("$ ", QUIET), (escape_for_screen(step.command), STRONG)))
        parts.append(Text(step.output.rstrip("\n")))
        if step.is_right:
            parts.append(say(f"exit {step.status}, as it should be", QUIET))
        else:
            parts.append(say(f"exit {step.status}, but {step.expected} belongs here", BAD))
    return Group(*parts)


def make_end(result: DemoResult) -> RenderableType:
    """Return the last words."""
    wrong = [step.number for step in result.steps if not step.is_right]
    if wrong:
        head = say(f"Steps that did not end as they should: {wrong}.", BAD)
    else:
        head = say(f"All steps ended as they should, in {result.seconds:.0f} s.", GOOD)
    return Group(
        title("The end"),
        head,
        say(f"Everything lies in {result.folder}. It is invented and may be deleted."),
        say(f"Look around: cd {result.job}, then swathbook."),
    )
