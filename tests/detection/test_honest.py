"""No check cries out where nothing is wrong, and a small honest job can be sent."""

from __future__ import annotations

import pytest
from honest import Honest, make_job
from honest_surveys import SURVEYS
from job_bench import JobBench


@pytest.mark.parametrize("honest", SURVEYS, ids=lambda honest: honest.name)
def test_an_honest_survey_is_fit_to_send(bench: JobBench, honest: Honest) -> None:
    """No nonconformity above an observation, nothing required that could not be assessed."""
    make_job(bench, honest)
    told = bench.ask("audit", "out", status=None)
    against = [
        (each["check"], each["outcome"], each["grade"], each["sentence"])
        for each in told["findings"]
        if each["outcome"] == "errored" or each["grade"] in ("major", "minor")
    ]
    assert against == []
    assert told["verdict"] == "fit to send", told["missing"] if "missing" in told else told.keys()
