"""Every planted error is found beyond the gate of its check, and let pass inside it."""

from __future__ import annotations

from pathlib import Path

import pytest
from detection import list_cases
from planted import Planted

from ledger.contract.registry import build_registry

CASES = [pytest.param(case, id=f"{case.check}: {case.fault}") for case in list_cases()]


@pytest.mark.parametrize("case", CASES)
def test_a_planted_error_is_found(case: Planted, tmp_path: Path) -> None:
    """Beyond the gate the check speaks."""
    assert case.is_found(tmp_path)


@pytest.mark.parametrize("case", CASES)
def test_what_is_inside_the_gate_is_let_pass(case: Planted, tmp_path: Path) -> None:
    """Inside the gate the check is silent."""
    assert case.is_silent(tmp_path)


def test_every_check_has_a_planted_error() -> None:
    """A check that nobody planted an error for was never seen to find one."""
    planted = {case.check for case in list_cases()}
    assert planted == {each.check.id for each in build_registry().checks}


def test_no_two_cases_are_called_the_same() -> None:
    """Each row of the page is one case."""
    names = [(case.check, case.fault) for case in list_cases()]
    assert len(set(names)) == len(names)
