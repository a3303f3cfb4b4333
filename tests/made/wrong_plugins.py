"""Plugins that are wrong in every way that the page for authors names.

All of them are installed at once, as strangers' distributions are, beside one that is sound. Each
is named on the screen, in the JSON and in the entry; none is a pass; none costs another a thing.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from plugin_site import find_beside, lay_out, run_module

from ledger.testing import Layout, Scene, SurveyBuilder

HEAD = """
import os
import sys
from ledger.contract.check import Check, Criteria, Grade, Outcome, Plan, PointCheck, Where
from ledger.contract.hookspecs import hookimpl
"""


# A check of points with a place in each phase for something to go wrong.
PHASES = """
class Count:
    def __init__(self):
        self.points = 0
    def chunk(self, points):
        {chunk}
        self.points += len(points)
    def merge(self, other):
        {merge}
        self.points += other.points
    def close(self):
        {close}
        return self.points

class Odd(PointCheck):
    id = "{id}"
    title = "An odd one"
    {claims}
    def prepare(self, evidence, criteria):
        {prepare}
        return super().prepare(evidence, criteria)
    def start(self, plan, file):
        {start}
        return Count()
    def finish(self, plan, summaries, evidence):
        {finish}
        for path in summaries:
            yield self.conforms(path, "It is fine.")

@hookimpl
def register_checks():
    {hook}
    return [Odd()]
"""


@dataclass(frozen=True)
class Wrong:
    """One way to be wrong, and what has to be said of it.

    Args:
        name: of the distribution, and of its check.
        source: its module.
        said: part of the sentence about it.
        outcome: of its check; None where it is a fault of the plugin as a whole.
    """

    name: str
    source: str
    said: str
    outcome: str | None = "errored"


PARTS = ("chunk", "merge", "close", "claims", "prepare", "start", "finish", "hook")


def break_in(name: str, said: str, outcome: str | None = "errored", **parts: str) -> Wrong:
    """Return a plugin that does something in some phase."""
    before = parts.pop("before", "")
    filled = {part: parts.get(part, "pass") for part in PARTS}
    return Wrong(name, HEAD + before + PHASES.format(id=name, **filled), said, outcome)


SOUND = break_in("sound", "It is fine", "conforms")


@dataclass
class Told:
    """What the command said of one folder.

    Attributes:
        environment: of a process that finds the plugins.
        job: the job folder.
        screen: of `audit`.
        told: what `audit --json` printed.
        listed: what `checks --json` printed.
        statuses: of the three.
        stderr: of the three together.
    """

    environment: dict[str, str]
    job: Path
    screen: str = ""
    told: dict[str, Any] = field(default_factory=dict)
    listed: dict[str, Any] = field(default_factory=dict)
    statuses: tuple[int, ...] = ()
    stderr: str = ""


def make_job(folder: Path, environment: dict[str, str], site: str = "") -> Path:
    """Return a job with two tiles in `out`."""
    job = folder / f"job{site}"
    assert run_module(environment, folder, "ledger.cli", "start", str(job)).returncode == 0
    SurveyBuilder(job / "out", Layout(compressed=False), Scene(density=0.5))
    return job


def audit(folder: Path, *wrong: Wrong) -> Told:
    """Install plugins and audit a small job beside them."""
    site, home = folder / "site", folder / "home"
    site.mkdir()
    for each in wrong:
        lay_out(site, each.name, each.source)
    told = Told(find_beside(site, home), make_job(folder, find_beside(folder, home)))
    done = [
        run_module(told.environment, told.job, "ledger.cli", *words)
        for words in (("audit", "out", "--json"), ("audit", "out", "--all"), ("checks", "--json"))
    ]
    told.statuses = tuple(each.returncode for each in done)
    told.stderr = "".join(each.stderr for each in done)
    told.told, told.listed = json.loads(done[0].stdout), json.loads(done[2].stdout)
    told.screen = done[1].stdout
    return told
