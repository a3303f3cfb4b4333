"""What audit and comparison say of the run that was left with ellipsoidal heights."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from ledger.cli.frame import main


def _ask(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, Any]]:
    status = main([*words, "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_the_audit_names_the_geoid_height_first(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Mean -31.908 m, geoid height -31.912 m, gate 0.092 m, and an RMSE of 0.024 m without it.

    No accuracy may be stated, and no interval stands beside such a bias.
    """
    job = walked[0] / "QM-0412"
    status, audit = _ask(capsys, "audit", str(job / "out" / "R1"), "--job", str(job))
    assert (status, audit["verdict"]) == (1, "do not send")
    cause = audit["findings"][0]
    assert (cause["check"], cause["grade"], cause["catalogue"]) == (
        *("named-cause", "major"),
        ["VD-01"],
    )
    numbers = re.findall(r"[+-]?\d+\.\d+", cause["sentence"])
    expected = ["-31.908", "-31.912", "+0.004", "0.092", "+0.004", "0.024"]
    assert [float(each) for each in numbers] == pytest.approx(
        [float(each) for each in expected], abs=0.0011
    )
    figures = {each["name"]: each for each in audit["figures"]}
    assert figures["sentence"]["sentence"].startswith("No accuracy may be stated")
    assert "You may state" not in json.dumps(audit)
    assert "no interval" in figures["vertical-rmse"]["sentence"]


def test_the_comparison_tells_one_difference_and_what_it_does(
    walked: tuple[Path, subprocess.CompletedProcess[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Ellipsoidal against orthometric output: heights move by the geoid height, +31.91 m."""
    job = walked[0] / "QM-0412"
    _, told = _ask(capsys, "compare", "R1", "R2", "--job", str(job))
    moving = [each for each in told["differences"] if each["effect_m"] is not None]
    assert [each["field"] for each in moving] == ["output_height_type"]
    assert float(moving[0]["effect_m"]) == pytest.approx(31.912, abs=0.006)
