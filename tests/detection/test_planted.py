"""Every planted error is found beyond the gate of its check, and let pass inside it."""

from __future__ import annotations

from pathlib import Path

import pytest
from detection import list_cases
from planted import Planted

CASES = [pytest.param(case, id=f"{case.check}: {case.fault}") for case in list_cases()]


@pytest.mark.parametrize("case", CASES)
def test_a_planted_error_is_found(case: Planted, tmp_path: Path) -> None:
    """Beyond the gate the check speaks."""
    assert case.is_found(tmp_path)


@pytest.mark.parametrize("case", CASES)
def test_what_is_inside_the_gate_is_let_pass(case: Planted, tmp_path: Path) -> None:
    """Inside the gate the check is silent."""
    assert case.is_silent(tmp_path)
