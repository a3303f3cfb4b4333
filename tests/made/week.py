"""The week of docs/guide/a-week.md, walked on a made-up job: commands, answers, times.

Whoever walks says how a command without questions is run; questions are answered at a terminal.
"""

from __future__ import annotations

import re
import shlex
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import laspy
import numpy as np
from generate import ROOT
from terminal import DOWN, ENTER, UP, Terminal

from ledger.demo.clouds import ACCEPTED, REJECTED, write_export
from ledger.demo.forms import REPORT_DRAFT, write_forms, write_specification
from ledger.demo.geoids import write_geoids
from ledger.demo.logs import (
    write_base_log,
    write_capture,
    write_nmea,
    write_photos,
    write_track,
)
from ledger.demo.tables import write_points, write_settings
from ledger.model.ask import NoProgress

PAGE = ROOT / "docs" / "guide" / "a-week.md"
LAST, NOW = "quillmarsh-2", "quillmarsh-3"

# What may be taken, in seconds; None for what runs alone.
ALLOWED_S: dict[str, int | None] = {
    "Monday morning: the job": 40,
    "Monday afternoon: the rig": 60,
    "Tuesday, in the field: the card": 30,
    "Tuesday evening: two copies": None,
    "Wednesday: the first run": 90,
    "Wednesday afternoon: the second run": 30,
    "Thursday: cleaning": 60,
    "Thursday: what the report states": 90,
    "Thursday afternoon: the audit": None,
    "Friday: what is sent": 120,
    "Friday afternoon: is everything there": None,
    "Weeks later: the telephone": 120,
    "Any day: a run again, nothing changed": 30,
    "Before all this: the card of the very first flight": 30,
}

_SECTION = re.compile(r"^## (.+)$", re.MULTILINE)
_CARRIED = re.compile(r"^carried = \[.*?\][^\n]*\n", re.MULTILINE | re.DOTALL)
_ACCURACY = re.compile(r"\[criteria\.(?:vertical-accuracy|checkpoint-count)\]\n(?:[^\[\n].*\n)*\n")
_BLOCK = re.compile(r"```sh\n(.*?)```", re.DOTALL)
_STALE = "tile_14.laz"
_CLEANED = "tile_05.laz"
_NOISE = 7
_MAP = (
    "mount_mode=mount",
    "position_source=position_source",
    "lever_arm=lever_arm_m.0,lever_arm_m.1,lever_arm_m.2",
    "control_used=control",
    "output_height_type=output_height",
)
# By a part of the question: what is typed, before Enter. Every other question is left with Enter.
_FIRST_CARD = {
    "What carried": DOWN,
    "Mount mode set on": DOWN,
    "How the scanner was mounted": DOWN * 2,
    "Receiver that gave": DOWN,
    "own antenna": DOWN * 2,
    "Heights in the flight log": DOWN,
    "Reference frame of the positions": "NAD83(2011)",
    "positions were corrected by": DOWN,
    "Mark under": "QM1",
    "Height of the base antenna": "1,523",
    "antenna was read": DOWN,
    "Take-off": "2026-04-14 09:30Z",
    "Landing": "09:47Z",
}
_CARD = {
    "Height of the base antenna": "1,523",
    "Take-off": "2026-05-12 14:00Z",
    "Landing": "14:18Z",
}
_RUN = {
    "read which file": DOWN,
    "Scanner orientation": DOWN * 2,
    "Where the lever arm": DOWN,
    "Reference frame": "NAD83(2011)",
    "Heights that went in": DOWN,
    "Geoid model applied": UP * 2,
    "Keep this run": DOWN * 2,
    "Reason": "heights left ellipsoidal",
}
_AGAIN = {
    "read which file": DOWN,
    'says "orthometric': DOWN,
    "Geoid model applied": DOWN,
    "Keep this run": DOWN,
    "Reason": "fits the checkpoints",
}
_SAME = {"read which file": DOWN, "Keep this run": DOWN, "Reason": "smoother"}
_STEP = {
    "What was done": DOWN,
    "Program that did it": "demo-clean",
    "Version of that": "2.0",
    "Settings that matter": "low noise cut at 1 m",
    "Keep this step": DOWN,
    "Reason": "low noise only",
}
_STATEMENT = {
    "that it is about": "R2",
    "Which accuracy": DOWN,
    "Which statistic": DOWN,
    "The number": "0,023",
    "Number of points": "14",
    "Which of the points": DOWN,
    "Table of the checkpoints": "control/checks.csv",
    "Report that": "deliver/report.md",
}


@dataclass(frozen=True)
class Done:
    """One command that was carried out.

    Args:
        line: as it stands on the page.
        status: exit status.
        text: what was shown.
        seconds: time that the machine took, without whoever typed.
        questions: questions answered.
        keys: keys pressed, those of the command among them.
    """

    line: str
    status: int
    text: str
    seconds: float
    questions: int
    keys: int


@dataclass
class Part:
    """One heading of the page with its commands."""

    title: str
    lines: list[str] = field(default_factory=list)


Run = Callable[[list[str], Path], tuple[int, str]]

FIRST_CARD = "Before all this: the card of the very first flight"
REPEAT = Part("Any day: a run again, nothing changed", ["swathbook record"])


def read_parts() -> list[Part]:
    """Return the headings of the page that have commands, in order."""
    text = PAGE.read_text(encoding="utf-8")
    parts = []
    found = list(_SECTION.finditer(text))
    ends = [match.start() for match in found[1:]] + [len(text)]
    for match, end in zip(found, ends, strict=True):
        blocks = _BLOCK.findall(text[match.end() : end])
        lines = [line for block in blocks for line in block.splitlines() if line]
        if lines:
            parts.append(Part(match[1], lines))
    return parts


def _ask_no_accuracy(wishes: Path) -> None:
    """Leave out what is asked of checkpoints: thirty of them; this week has fourteen."""
    text = _ACCURACY.sub("", wishes.read_text("utf-8"))
    wishes.write_text(text, encoding="utf-8", newline="\n")


class Week:
    """Walks the page in a folder."""

    def __init__(self, base: Path, run: Run) -> None:
        """Make last month's job, the card and the stick.

        Args:
            base: an empty folder.
            run: runs words behind `swathbook` in a folder; returns exit status and what was shown.
        """
        self.base = base
        self.job = base / NOW
        self.place = base
        self._run = run
        self._audits = 0
        self._told = ""
        self._make_last_month()
        (base / "stick").mkdir()
        card = base / "card"
        write_capture(card)
        write_base_log(card / "base" / "QM1_0412.26o")
        write_track(card / "flight" / "track_0412.csv")
        write_nmea(card / "flight" / "nmea_0412.txt")
        write_photos(card / "photos")

    def _make_last_month(self) -> None:
        last = self.base / LAST
        self._require(["start", LAST], self.base)
        write_specification(last / "job.toml")
        _ask_no_accuracy(last / "job.toml")
        write_geoids(last / "geoid")
        write_forms(last / "forms")
        write_settings(last / "config")
        (last / "out" / "R1").mkdir()
        (last / "out" / "R1" / "dtm.tif").write_bytes(b"II*\x00 a surface")
        self._require(["record", "rig", "--from", "forms/rig.toml"], last)
        self.place = last
        words = ["record", "flight"]
        self.first_card = self._answer("swathbook record flight", words, _FIRST_CARD)
        if self.first_card.status:
            raise RuntimeError(self.first_card.text)
        # What the keys of the program mean was asked then.
        rows = [word for row in _MAP for word in ("--map", row)]
        words = ["record", "out/R1", "--settings", "config/R1.json", *rows]
        done = self._answer(f"swathbook {shlex.join(words)}", words, {})
        if done.status:
            raise RuntimeError(done.text)
        self.place = self.base

    def _require(self, words: list[str], folder: Path) -> None:
        status, text = self._run(words, folder)
        if status:
            raise RuntimeError(f"{words}: {text}")

    def do_part(self, part: Part) -> Iterator[Done]:
        """Carry out the commands under one heading."""
        for line in part.lines:
            words = shlex.split(line, comments=True)
            if words[0] == "cd":
                self.place /= words[1]
                self._begin_job()
                continue
            answers = self._prepare(words[1:])
            if answers is None:
                if words[1:2] == ["accept"]:
                    words[2] = _read_finding(self._told)
                begun = time.monotonic()
                status, text = self._run(words[1:], self.place)
                seconds, self._told = time.monotonic() - begun, text
                yield Done(line, status, text, seconds, 0, len(line) + 1)
            else:
                yield self._answer(line, words[1:], answers)

    def _begin_job(self) -> None:
        """Do what a person does with the editor on Monday, and what the client sends."""
        path = self.job / "job.toml"
        text = path.read_text(encoding="utf-8")
        path.write_text(_CARRIED.sub("", text), encoding="utf-8")
        write_geoids(self.job / "geoid")
        write_points(self.job / "control")

    def _prepare(self, words: list[str]) -> dict[str, str] | None:
        """Put there what a person has by this time; return the answers of what asks."""
        match words:
            case ["record", "rig" | "points", *_]:
                return {}
            case ["record", "flight", *rest] if "--card" not in rest:
                return _CARD
            case ["record"]:
                return self._process()
            case ["record", "step", *_]:
                self._clean()
                return _STEP
            case ["record", "statement"]:
                self._deliver()
                return _STATEMENT
            case ["audit", *_]:
                self._put_right()
        return None

    def _process(self) -> dict[str, str]:
        made = len(list((self.job / "out").glob("R*")))
        third = replace(ACCEPTED, run="R3", seed=3)
        export, answers = ((REJECTED, _RUN), (ACCEPTED, _AGAIN), (third, _SAME))[made]
        write_export(self.job / "out" / export.run, export, NoProgress())
        write_settings(self.base / "program")
        (self.job / "config").mkdir(exist_ok=True)
        settings = "R1" if export is REJECTED else "R2"
        left = self.job / "config" / f"{export.run}.json"
        shutil.copyfile(self.base / "program" / f"{settings}.json", left)
        return answers

    def _clean(self) -> None:
        """Take the noise out of one tile, as the cleaning program does."""
        folder = self.job / "out" / "S1"
        folder.mkdir()
        cloud = laspy.read(self.job / "out" / "R2" / _CLEANED)
        cloud.points = cloud.points[np.asarray(cloud.classification) != _NOISE]
        cloud.write(folder / _CLEANED)

    def _deliver(self) -> None:
        """Put the delivery together, with one tile out of the wrong folder."""
        deliver, out = self.job / "deliver", self.job / "out"
        shutil.copytree(out / "R2", deliver)
        shutil.copyfile(out / "R1" / _STALE, deliver / _STALE)
        shutil.copyfile(out / "S1" / _CLEANED, deliver / _CLEANED)
        shutil.copyfile(self.job / "control" / "checks.csv", deliver / "checks.csv")
        report = REPORT_DRAFT.replace("0.019 m, n = 15", "0.023 m, n = 14")
        (deliver / "report.md").write_text(report, encoding="ascii", newline="\n")

    def _put_right(self) -> None:
        self._audits += 1
        if self._audits > 1:
            shutil.copyfile(self.job / "out" / "R2" / _STALE, self.job / "deliver" / _STALE)

    def _answer(self, line: str, words: list[str], answers: dict[str, str]) -> Done:
        """Type the answers; time is taken from a key to the question that follows it."""
        terminal = Terminal(self.place, *words)
        seconds, questions, told = 0.0, 0, []
        while True:
            begun = time.monotonic()
            asked = terminal.wait_for_question()
            seconds += time.monotonic() - begun
            told.append(terminal.text)
            if not asked:
                break
            questions += 1
            terminal.type(*_choose(terminal.text, answers))
        status = terminal.end()
        return Done(line, status, "\n".join(told), seconds, questions, terminal.keys)


def _read_finding(text: str) -> str:
    """Return the id of the first finding that can be accepted, as a person reads it off."""
    found = re.search(r"swathbook accept ([0-9a-f]{4})[0-9a-f]* ", text)
    return found[1] if found else "none"


def _choose(text: str, answers: dict[str, str]) -> tuple[str, ...]:
    """Return the keys for the last question on the screen."""
    question = text.rpartition("? ")[2]
    if "not right for this" in question:  # all of it is right
        return (ENTER,)
    if "which of these is it?" in question:  # whatever it is, not this
        return (ENTER,)
    keys = next((keys for part, keys in answers.items() if part in question), "")
    return (keys, ENTER)


# What a key and a question cost a person who knows the form; both from memory, no source.
KEY_S, QUESTION_S = 0.28, 1.35


def write_table(walked: list[tuple[str, list[Done]]]) -> str:
    """Return what each part took, as a table of the page."""
    lines = [
        "| when | machine | questions | keys | a person, estimated | allowed |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for title, done in walked:
        machine = sum(each.seconds for each in done)
        questions, keys = sum(each.questions for each in done), sum(each.keys for each in done)
        person = keys * KEY_S + questions * QUESTION_S
        allowed = ALLOWED_S[title]
        told = "runs alone" if allowed is None else f"{allowed} s"
        lines.append(
            f"| {title} | {machine:.1f} s | {questions} | {keys} | {person:.0f} s | {told} |"
        )
    return "\n".join(lines) + "\n"
