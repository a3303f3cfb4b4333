"""A job whose base height, geoid and lever arm nobody wrote down.

The audit finishes, those checks are *not assessed* and name the fields that are missing, and the
verdict is *incomplete*: a blank is never a pass.
"""

from __future__ import annotations

import honest
import pytest
from honest import Honest, make_job
from job_bench import JobBench

BLANKS = {
    "FLIGHT": ("base_height", "base_height_again", "base_height_kind"),
    "RUN": (
        "geoid_name", "geoid_version", "geoid_applications",
        "lever_arm", "lever_arm_from", "lever_arm_convention",
    ),
    "RIG": ("lever_arm_aircraft", "lever_arm_convention", "lever_arm_measured"),
}  # fmt: skip


@pytest.fixture
def blank_job(bench: JobBench, monkeypatch: pytest.MonkeyPatch) -> JobBench:
    """Return a job that would be fit to send, without these values in its records."""
    for form, names in BLANKS.items():
        values = getattr(honest, form)
        monkeypatch.setattr(honest, form, {k: v for k, v in values.items() if k not in names})
    kept = [line for line in honest.SPECIFICATION.splitlines() if not line.startswith("geoid")]
    monkeypatch.setattr(honest, "SPECIFICATION", "\n".join(kept))
    make_job(bench, Honest("blanks"))
    return bench


# Check, and the fields that it waits for.
WAITING = {
    "base-height": {"flight.base_height"},
    "height-chain": {"run.geoid_name"},
    "vertical-datum": {"run.geoid_name", "coordinates.geoid"},
    "lever-arm-chain": {"run.lever_arm", "rig.lever_arm_aircraft"},
}


def test_blanks_leave_their_checks_not_assessed_and_the_audit_incomplete(
    blank_job: JobBench,
) -> None:
    """The audit ends with 3; each check that needs a blank names its field, and none passes."""
    told = blank_job.ask("audit", "out", status=3)
    assert told["verdict"] == "incomplete"
    conforming = {each["check"] for each in told["conforming"]}
    waiting = {each["field"].partition(" ")[0]: set(each["checks"]) for each in told["blanks"]}
    for check, fields in WAITING.items():
        found = [each for each in told["findings"] if each["check"] == check]
        assert found, check
        assert {each["outcome"] for each in found} == {"not assessed"}, check
        # The chains have rules of their own for what is on record, such as the scanner's serial.
        assert check not in conforming or check.endswith("-chain")
        for field in fields:
            assert check in waiting[field], (check, field)
        said = " ".join(str(each) for each in found)
        assert any(field in said for field in fields), (check, said)


def test_an_audit_with_blanks_never_says_that_it_may_be_sent(blank_job: JobBench) -> None:
    """Neither the screen nor the bare command afterwards says fit to send."""
    ran = blank_job.run("audit", "out")
    assert ran.status == 3
    assert "Incomplete: out" in ran.out
    assert "Fit to send" not in ran.out
    for field in ("flight.base_height", "run.geoid_name", "run.lever_arm"):
        assert field in ran.out
    state = blank_job.run()
    assert "incomplete" in state.out.lower()
    assert "Fit to send" not in state.out
