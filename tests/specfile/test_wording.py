"""Criteria of checks get the same sentences as the rest of the file."""

from __future__ import annotations

import json

import pytest
from pydantic import Field, ValidationError, field_validator

from ledger.errors import Fault
from ledger.model.specification import Strict
from ledger.specfile.faults import FaultList
from ledger.specfile.wording import explain_validation

TEXT = """\
[criteria.some-check]
limit_m = "0.05"
shares = [0.5, 2.0]
counted = "al"
lmit_m = 1
odd = 2
"""


class Limits(Strict):
    """Criteria as a check would state them."""

    limit_m: float
    depth_m: float
    shares: tuple[float, ...] = ()
    counted: str = "all"
    cell_m: float = Field(default=1.0, gt=0)
    odd: int = 1

    @field_validator("odd")
    @classmethod
    def require_odd(cls, value: int) -> int:
        """Refuse even numbers with a sentence of the check's own."""
        if value % 2 == 0:
            raise ValueError("it has to be odd")
        return value


def explain(section: dict[str, object], *, named: bool) -> tuple[Fault, ...]:
    """Return the faults of a section of criteria."""
    with pytest.raises(ValidationError) as caught:
        Limits.model_validate_json(json.dumps(section))
    prefix = ("criteria", "some-check")
    faults = FaultList(TEXT, "job.toml")
    explain_validation(caught.value, faults, prefix, Limits if named else None)
    return faults.listed()


def test_faults_of_criteria_have_full_names_and_lines() -> None:
    """A fault names the key as written in the file, with its line, and the nearest name."""
    section = {"limit_m": "0.05", "depth_m": 1, "lmit_m": 1, "odd": 2}
    faults = explain(section, named=True)
    assert [(fault.line, fault.what.split(" ")[0]) for fault in faults] == [
        (2, "criteria.some-check.limit_m"),
        (5, "criteria.some-check.lmit_m"),
        (6, "criteria.some-check.odd"),
    ]
    assert faults[1].remedy == "did you mean limit_m?"


def test_sentence_of_a_check_is_kept() -> None:
    """What a check's own rule says is passed on without the library's preface."""
    (fault,) = explain({"limit_m": 1, "depth_m": 1, "odd": 2}, named=True)
    assert fault.what == "criteria.some-check.odd cannot be used: it has to be odd"


def test_absent_criterion_points_at_its_section() -> None:
    """A required criterion that is absent is told with the line of the heading."""
    (fault,) = explain({"limit_m": 1}, named=True)
    assert fault.what == "criteria.some-check.depth_m is missing"
    assert fault.line == 1


def test_unknown_criterion_without_a_model_is_still_told() -> None:
    """Where the model is not given, the fault has no nearest name but all the rest."""
    (fault,) = explain({"limit_m": 1, "depth_m": 1, "lmit_m": 1}, named=False)
    assert fault.line == 5
    assert "not a known name" in fault.what


def test_limit_is_told_in_words() -> None:
    """A limit of the model is said as a person would say it."""
    (fault,) = explain({"limit_m": 1, "depth_m": 1, "cell_m": 0}, named=True)
    assert fault.expected == "more than 0"
