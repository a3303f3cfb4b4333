"""Every saved question is answered from the book of a real job, and from all jobs at once.

What has to be answered is what the made-up site is made with: its runs, geoid, checkpoints, the gap
in the log of fixes, and the numbers that its report states.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from ledger.find.questions import QUESTIONS, answer_everywhere, answer_question
from ledger.store.machine import HOME_VARIABLE

ANSWERS = {
    1: "geoid name demo-geoid-A (typed); geoid version 1 (typed); geoid file ",
    2: "demo-proc 4.1.0; 25 outputs, accepted",
    3: "As it was audited, by sizes and times",
    4: "grade C, accepted; settings: ",
    5: "output height type: ellipsoidal, then orthometric (geodetic, can move it by 31.9",
    6: "1 checkpoint is listed twice, as control too, but no run used it as control: C09",
    7: "11 raw files, none of them with 2 good copies on different volumes",
    8: "mount mode drone (typed); position source aircraft receiver (typed); lever arm 0.112",
    9: "base height 1.523 m (typed); base height kind vertical (typed); read again 1.524 m",
    10: "frame NAD83(2011) (typed); epoch 2010.0",
    11: "conforms: vertical-datum",
    12: "no fixed solution for up to 14 s",
    13: "Vertical RMSE 0.023 m at 14 independent checkpoints",
    14: "10 of 24 tiles hold no checkpoint",
    15: "conforms: point-balance",
    16: "nobody",
    17: "nobody",
    18: "SU-07: G1, F1",
    19: "conforms: custody-of-points",
    20: "none",
    21: "Missing: boundary: delivery.boundary is blank.",
    22: "by site engineer: line 6 fits lines 5 and 7",
    23: "Statement T1 (vertical RMSE 0.023 m of deliver, from 14 points) is what 14 independent",
    25: "The book is unbroken: ",
    24: "geoid name demo-geoid-A (typed); unit horizontal metre (typed)",
}


def test_no_question_is_left_out() -> None:
    """The table below knows all of them."""
    assert sorted(ANSWERS) == [each.number for each in QUESTIONS]


@pytest.mark.parametrize("number", ANSWERS)
def test_a_question_is_answered(
    walked: tuple[Path, subprocess.CompletedProcess[str]],
    number: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Alike for the one job and for all of them, of which this is the only one."""
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path))
    job = walked[0] / "QM-0412"
    lines = answer_question(job, number).lines
    assert any(ANSWERS[number] in f"{subject}: {sentence}" for subject, sentence in lines), lines
    _, ((name, folder, everywhere),) = answer_everywhere(number, job)
    assert (name, folder, everywhere) == ("QM-0412", str(job), lines)
