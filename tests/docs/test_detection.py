"""The page of what is found names every case there is, and nothing else."""

from __future__ import annotations

import re

from detection import list_cases
from detection_page import PAGE
from honest_surveys import SURVEYS

from ledger.contract.registry import build_registry

ROW = re.compile(
    r"^\| `([a-z0-9-]+)` \| ([^|]+) \| ([^|]+) \| 1 \| (\d) \| (\d) \| (\d) \|$", re.MULTILINE
)
SURVEY = re.compile(r"^\| ([^|`]+) \| \d+ \| \d+ \| (\d+) \| ([a-z ]+) \|$", re.MULTILINE)


def test_every_planted_case_is_on_the_page() -> None:
    """No case is missing, and none is missed or false."""
    rows = ROW.findall(PAGE.read_text(encoding="utf-8"))
    cases = [(case.check, case.fault, case.gate or "–") for case in list_cases()]
    assert [row[:3] for row in rows] == cases
    assert {row[3:] for row in rows} == {("1", "0", "0")}


def test_every_honest_survey_is_on_the_page() -> None:
    """No survey is missing, and none has a false alarm."""
    rows = SURVEY.findall(PAGE.read_text(encoding="utf-8"))
    assert [name for name, _, _ in rows] == [honest.name for honest in SURVEYS]
    assert {(false, verdict) for _, false, verdict in rows} == {("0", "fit to send")}


def test_the_sentence_below_the_table_counts_what_is_there() -> None:
    """Checks, and the ids that they name, are those of today."""
    checks = [each.check for each in build_registry().checks]
    named = {name for check in checks for name in check.catalogue}
    text = " ".join(PAGE.read_text(encoding="utf-8").split())
    assert f"{len(checks)} checks have a planted error each" in text
    assert f"Of the {len(named)} ids of failures and rules that they name" in text
