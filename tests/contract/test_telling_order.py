"""In which order findings are told: the worst first, and a reason before what follows from it."""

from __future__ import annotations

from ledger.contract.ordering import sort_findings
from ledger.contract.registry import build_registry
from ledger.model.finding import Finding, Grade, Outcome

BAD, MILD = Grade.MAJOR, Grade.MINOR


def wrong(check: str, grade: Grade) -> Finding:
    """Return a finding against something."""
    return Finding(check, Outcome.NONCONFORMING, "delivery", "It is wrong.", grade=grade)


def test_a_reason_stands_before_what_follows_from_it() -> None:
    """By grade first; then the reason, then all others by name."""
    found = [wrong(name, grade) for grade in (MILD, BAD) for name in ("apart", "result", "why")]
    told = sort_findings(found, {"why": ("result",), "result": (), "apart": ()})
    names = [(each.grade, each.check) for each in told]
    assert names == [
        *((BAD, "why"), (BAD, "apart"), (BAD, "result")),
        *((MILD, "why"), (MILD, "apart"), (MILD, "result")),
    ]


def test_a_chain_of_reasons_stands_in_its_order() -> None:
    """The farthest back first; a circle does no harm."""
    chain = {"c": ("b",), "b": ("a",), "a": ()}
    told = sort_findings([wrong(name, BAD) for name in "abc"], chain)
    assert [each.check for each in told] == ["c", "b", "a"]
    circle = {"a": ("b",), "b": ("a",)}
    assert len(sort_findings([wrong("a", BAD), wrong("b", BAD)], circle)) == 2


def test_a_named_cause_stands_before_the_rmse_that_it_explains() -> None:
    """So it does among the checks that are installed, and every name there is that of a check."""
    explains = {each.check.id: each.check.explains for each in build_registry().checks}
    assert set().union(*explains.values()) <= explains.keys()
    names = ("checkpoint-outliers", "custody-of-points", "named-cause", "vertical-accuracy")
    told = sort_findings([wrong(name, BAD) for name in names], explains)
    assert [each.check for each in told] == [
        *("named-cause", "checkpoint-outliers", "custody-of-points", "vertical-accuracy"),
    ]
