"""A survey that somebody spoiled, audited by the real command, and what the audit tells of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder

REAL = Path(__file__).resolve().parents[1] / "real"
FOOT = 0.3048  # international foot, metres: definition of 1959
SURVEY_FOOT = 1200 / 3937  # US survey foot, metres: definition of 1893
ONE_TILE = Scene(columns=1)
PLAIN = Layout(compressed=False)
KEYED = Layout(compressed=False, version="1.2", point_format=1)
Build = Callable[[SurveyBuilder], object]


def audit_spoiled(
    bench: JobBench,
    build: Build,
    layout: Layout = PLAIN,
    scene: Scene = ONE_TILE,
    wishes: str = "",
) -> dict[str, Any]:
    """Return the JSON of an audit of a survey that `build` spoiled."""
    bench.write("job.toml", wishes.encode())
    build(SurveyBuilder(bench.job / "out", layout, scene))
    return bench.ask("audit", "out", status=None)


def tell(result: dict[str, Any], check: str) -> list[tuple[str, str | None, str]]:
    """Return outcome, grade and sentence of the findings of one check."""
    return [
        (finding["outcome"], finding["grade"], finding["sentence"])
        for finding in result["findings"]
        if finding["check"] == check
    ]


def tell_one(result: dict[str, Any], check: str) -> tuple[str, str | None, str]:
    """Return the only finding of a check."""
    (found,) = tell(result, check)
    return found


def read_mean(result: dict[str, Any]) -> float:
    """Return the mean density that the finding tells, points a square metre."""
    told = re.search(r"mean ([\d.]+)", tell_one(result, "point-density")[2])
    assert told is not None
    return float(told[1])


def conforms(result: dict[str, Any], check: str) -> bool:
    """Say whether a check found all in order."""
    return check in {row["check"] for row in result["conforming"]} and not tell(result, check)
