"""Small checks that count, and what the runner is given around them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from ledger.contract.check import Check, Plan, PointCheck
from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.runner import Runner
from ledger.errors import SwathbookError
from ledger.lasheader import read_las_header
from ledger.lattice import choose_common_lattice
from ledger.model.ask import NoProgress
from ledger.model.audit import Plugin
from ledger.model.finding import Finding
from ledger.model.specification import Specification

PLUGIN = Plugin("stranger", "4.2", "ab" * 32, "stranger")


class Counter:
    """A tally that counts points, and slices by their length."""

    def __init__(self) -> None:
        """Count from nothing."""
        self.points = 0
        self.longest = 0

    def chunk(self, points: Any) -> None:
        """Count them."""
        self.points += len(points)
        self.longest = max(self.longest, len(points))

    def merge(self, other: Counter) -> None:
        """Add what another has counted."""
        self.points += other.points
        self.longest = max(self.longest, other.longest)

    def close(self) -> tuple[int, int]:
        """Return the points, and the length of the longest slice."""
        return self.points, self.longest


class Points(PointCheck):
    """Counts the points of every file, and says nothing of those it did not see."""

    id = "points-counted"
    title = "Points are counted"

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        """Count from nothing."""
        return Counter()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Tell the counts of each file that was seen."""
        for path, (points, longest) in summaries.items():
            yield self.conforms(path, "Counted.", observed=f"{points} {longest}")


class Record(Check):
    """Answers from a function, for checks that read no points."""

    id = "record"
    title = "A record"

    def __init__(self, answer: Callable[[Check, Evidence], Any]) -> None:
        """Take the function."""
        self.answer = answer

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Answer what the function answers."""
        answered: Iterable[Finding] = self.answer(self, evidence)
        return answered


def enable(check: Check, **parts: Any) -> EnabledCheck:
    """Return a check as an audit enables it, with the defaults of its criteria."""
    return EnabledCheck(**{"check": check, "plugin": PLUGIN, "criteria": check.criteria(), **parts})


def describe(path: Path) -> DeliveredFile:
    """Return a file with its header, or with the reason why it has none."""
    content = path.read_bytes()
    file = DeliveredFile(path.name, hashlib.sha256(content).hexdigest(), len(content), "points")
    try:
        return replace(file, header=read_las_header(path))
    except SwathbookError as error:
        return replace(file, header_fault=str(error))


def make_evidence(paths: Iterable[Path] = (), **parts: Any) -> Evidence:
    """Return evidence about some files."""
    files = tuple(describe(path) for path in sorted(paths))
    lattice = choose_common_lattice(file.header for file in files if file.header)
    return Evidence(
        **{
            "folder": "out",
            "specification": Specification(),
            "files": files,
            "lattice": lattice,
            **parts,
        }
    )


def audit(
    checks: Iterable[EnabledCheck | Check], paths: Iterable[Path], **parts: Any
) -> tuple[tuple[Finding, ...], dict[str, Any]]:
    """Run checks over files as a full audit does; return findings and readings."""
    listed = list(paths)
    evidence = make_evidence(listed, **parts)
    runner = Runner([each if isinstance(each, EnabledCheck) else enable(each) for each in checks])
    runner.judge_records(evidence)
    readings = runner.read_points(evidence, {path.name: path for path in listed}, NoProgress())
    return runner.judge_all(evidence), readings


def judge(*checks: EnabledCheck | Check, **parts: Any) -> tuple[Finding, ...]:
    """Run checks that read no points."""
    runner = Runner([each if isinstance(each, EnabledCheck) else enable(each) for each in checks])
    return runner.judge_all(make_evidence(**parts))


def by_check(findings: Iterable[Finding], name: str) -> list[Finding]:
    """Return the findings of one check."""
    return [finding for finding in findings if finding.check == name]
