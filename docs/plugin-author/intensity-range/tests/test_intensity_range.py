"""The check finds what is planted just outside of its limit, and nothing just inside."""

from __future__ import annotations

import numpy as np
import pytest
from intensity_range import IntensityRange

from ledger.contract.check import Grade, Outcome
from ledger.testing import SurveyBuilder, check_tally_laws, run_check

LIMIT = "[criteria.intensity-range]\nmax_clipped_share = 0.1\n"


@pytest.fixture
def survey(tmp_path):
    """Return two tiles whose intensities are those of a scanner."""
    return SurveyBuilder(tmp_path / "out")


def clip(survey, share):
    """Clip a share of the intensities of the first tile, to the nearest point."""
    count = len(survey.chunk(0))
    values = np.full(count, 1000, dtype=np.uint16)
    values[: round(count * share)] = 65_535
    survey.set_field(0, "intensity", values)


def outcomes(survey, specification=""):
    """Return outcome and grade of each tile."""
    return [
        (each.outcome, each.grade) for each in run_check(IntensityRange(), survey, specification)
    ]


def test_a_clean_survey_conforms(survey):
    """Nothing is found where nothing is wrong."""
    assert outcomes(survey) == [(Outcome.CONFORMS, None)] * 2


def test_just_outside_and_just_inside_the_limit(survey):
    """The limit is the one of the specification."""
    clip(survey, 0.11)
    assert outcomes(survey, LIMIT)[0] == (Outcome.NONCONFORMING, Grade.MINOR)
    clip(survey, 0.09)
    assert outcomes(survey, LIMIT) == [(Outcome.CONFORMS, None)] * 2


def test_an_export_without_intensity_is_seen(survey):
    """All zero is no picture."""
    survey.set_field(0, "intensity", 0)
    assert outcomes(survey)[0] == (Outcome.NONCONFORMING, Grade.OBSERVATION)


def test_a_quick_audit_says_that_points_were_not_read(survey):
    """A missing input is never a pass."""
    (finding,) = run_check(IntensityRange(), survey, quick=True)
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert "points" in finding.needs[0]


def test_the_tally_keeps_its_laws(survey):
    """Points may be cut among chunks, processes and machines in any way."""
    check_tally_laws(IntensityRange(), [survey.chunk(0)])
