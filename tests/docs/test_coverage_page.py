"""Every failure of the catalogue is found by something, or the page says why it is not."""

from __future__ import annotations

import re

import pytest
from coverage_page import Failure, find_checks, list_failures, make_coverage_page, name_finders

from ledger.cli.table import COMMANDS

FAILURES = 140
# Beside failures, a check names rules of its own: consistency rules of settings, clauses of LAS.
_GROUPS = frozenset(
    ("CL", "CP", "CR", "DN", "FT", "GN", "MB", "PS", "RC", "RH", "SL", "SW", "UN", "VD")
)


def test_the_list_is_whole() -> None:
    """As many failures as the catalogue has, each once, with harm and frequency of 1 to 5."""
    failures = list_failures()
    assert len({each.id for each in failures}) == len(failures) == FAILURES
    assert {each.id[:2] for each in failures} == _GROUPS
    assert all(1 <= number <= 5 for each in failures for number in (each.harm, each.frequency))


@pytest.mark.parametrize("failure", list_failures(), ids=lambda failure: failure.id)
def test_every_failure_is_accounted_for(failure: Failure) -> None:
    """A check, a command, or words that say that and why there is none."""
    assert name_finders(failure, find_checks().get(failure.id, ()))


def test_checks_name_failures_that_exist() -> None:
    """An id of a failure in a check's catalogue stands in the list."""
    known = {each.id for each in list_failures()}
    named = {each for each in find_checks() if each[:2] in _GROUPS and each[2:3] == "-"}
    assert named - known == set()


def test_commands_that_are_named_exist() -> None:
    """A command that is said to find a failure is one of ours."""
    told = [each.otherwise for each in list_failures() if not each.is_excuse]
    named = {name for text in told for name in re.findall(r"`([a-z]+)`", text)}
    assert named <= set(COMMANDS)


def test_an_excuse_gives_way_to_a_check() -> None:
    """Once a check finds a failure, the reason why none did is not printed; a command is."""
    excused = Failure("XX-01", "thing", 1, 1, "not covered, because it is new")
    assert name_finders(excused, ()) == "not covered, because it is new"
    assert name_finders(excused, ("seams",)) == "[`seams`](checks.md#seams)"
    by_command = Failure("XX-01", "thing", 1, 1, "`recheck` finds it")
    assert name_finders(by_command, ("seams",)) == "[`seams`](checks.md#seams); `recheck` finds it"
    assert make_coverage_page().count("\n| ") == FAILURES + 2
