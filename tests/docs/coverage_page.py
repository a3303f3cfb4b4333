"""The page of failures: what finds each of them, or why nothing does."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from ledger.checks import list_checks

_FAILURES = Path(__file__).with_name("failures.tsv")

_HEAD = """\
# Which failures are found

This page is generated from the checks themselves by `python tests/docs/generate.py`.

Each row is a failure that is met in practice, worst first. Harm and frequency run from 1 to 5 and
are judged by common practice, no source. A check that is named finds the failure in the form that
records, headers or points can show; what it needs for that, and what it asks, stands under its id
in [Checks](checks.md). Where a reason stands instead, nothing here speaks for that failure: a
folder that is fit to send may have it.

"""

_TABLE = "| id | failure | harm × frequency | found by |\n| --- | --- | --- | --- |\n"


@dataclass(frozen=True)
class Failure:
    """One failure of the catalogue.

    Args:
        id: its permanent id.
        name: what went wrong.
        harm: 1 to 5.
        frequency: 1 to 5.
        otherwise: what finds it beside checks, or why no check does.
    """

    id: str
    name: str
    harm: int
    frequency: int
    otherwise: str

    @property
    def score(self) -> int:
        """Return harm times frequency."""
        return self.harm * self.frequency

    @property
    def is_excuse(self) -> bool:
        """Say whether `otherwise` only tells why nothing finds it."""
        return self.otherwise.startswith(("not covered, because ", "recorded only"))


def list_failures() -> tuple[Failure, ...]:
    """Return every failure of the catalogue, worst first."""
    with _FAILURES.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)
        read = [
            Failure(
                row["id"], row["name"], int(row["harm"]), int(row["frequency"]), row["otherwise"]
            )
            for row in rows
        ]
    return tuple(sorted(read, key=lambda each: (-each.score, -each.harm, each.id)))


def find_checks() -> dict[str, tuple[str, ...]]:
    """Return the ids of the checks that find each failure, by the id of the failure."""
    found: defaultdict[str, list[str]] = defaultdict(list)
    for check in list_checks().checks:
        for failure in check.catalogue:
            found[failure].append(check.id)
    return {failure: tuple(sorted(set(checks))) for failure, checks in found.items()}


def name_finders(failure: Failure, checks: tuple[str, ...]) -> str:
    """Return what finds a failure; empty where neither a check nor a reason is known."""
    named = ", ".join(f"[`{check}`](checks.md#{check})" for check in checks)
    if not checks or (failure.otherwise and not failure.is_excuse):
        return "; ".join(text for text in (named, failure.otherwise) if text)
    return named


def make_coverage_page() -> str:
    """Return the page of failures."""
    checks, failures = find_checks(), list_failures()
    rows, by_check, otherwise = [], 0, 0
    for each in failures:
        finders = checks.get(each.id, ())
        by_check += bool(finders)
        otherwise += not finders and not each.is_excuse
        score = f"{each.harm} × {each.frequency} = {each.score}"
        rows.append(f"| {each.id} | {each.name} | {score} | {name_finders(each, finders)} |\n")
    rest = len(failures) - by_check - otherwise
    told = (
        f"Of {len(failures)} failures {by_check} are found by a check, {otherwise} by a command "
        f"or the auditor\nitself, and {rest} are recorded only or not covered.\n\n"
    )
    return f"{_HEAD}{told}{_TABLE}{''.join(rows)}"
