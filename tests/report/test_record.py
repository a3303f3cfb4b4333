"""The screen of a record: short, the worst blank first."""

from __future__ import annotations

import io

from ledger.model.blanks import Blank
from ledger.model.fields import FIELDS
from ledger.model.known import KnownValue
from ledger.record.result import RecordResult, price_blanks
from ledger.report.record import make_screen
from ledger.report.screen import make_console


def _show(kind: str, blanks: tuple[Blank, ...], values: dict[str, KnownValue]) -> list[str]:
    stream = io.StringIO()
    result = RecordResult(7, f"{kind[0].upper()}1", kind, values=values, blanks=blanks)
    make_console(stream, 80).print(make_screen(result))
    return [line.rstrip() for line in stream.getvalue().splitlines()]


def _list_costs(lines: list[str]) -> list[str]:
    first = lines.index("Not recorded, and what that costs") + 1
    return lines[first : lines.index("", first)]


def test_blanks_are_told_worst_first_and_briefly() -> None:
    """Of a run that says nothing, five costs are told, inputs and heights before the rest."""
    why = "nobody can say which raw files the outputs came from"
    blanks = (*price_blanks("run", "R1", {}), Blank("inputs", (), ("R1",), why))
    told = _list_costs(_show("run", blanks, {}))
    assert [line.split(":")[0].strip() for line in told[:6]] == [
        "inputs",
        "input height type",
        "output height type",
        "geoid name",
        "mount mode",
        "also blank",
    ]
    assert len(told) <= 8
    names = " ".join(told[5:])
    assert all(
        f"{FIELDS[blank.field].name.replace('_', ' ')}" in names
        for blank in price_blanks("run", "R1", {})
        if FIELDS[blank.field].weight < 3
    )


def test_blanks_that_cost_the_same_are_told_once() -> None:
    """Two blanks with one consequence are one line."""
    values = {key: KnownValue("x") for key in FIELDS if key.startswith("run.")}
    for key in ("run.position_source", "run.lever_arm_from"):
        del values[key]
    told = _list_costs(_show("run", price_blanks("run", "R1", values), values))
    assert " ".join(" ".join(told).split()) == (
        "position source, lever arm from: the lever arm of the wrong antenna is not seen"
    )


def test_a_blank_without_a_cost_is_one_line() -> None:
    """Where nothing is lost, nothing is said of costs."""
    lines = _show("flight", (Blank("flight.epoch", (), ("F1",)),), {})
    assert "Blank: epoch" in lines
    assert "Not recorded, and what that costs" not in lines


def test_how_to_put_a_value_right_is_told() -> None:
    """A card is filled in again, a run is amended; the command stands there."""
    told = "Fill in or put right: swathbook "
    assert f"{told}record flight F1" in _show("flight", (), {})
    assert f'{told}amend R1 --set key=value --reason "…"' in _show("run", (), {})
    assert not any(told in line for line in _show("decision", (), {}))


def test_a_decision_that_stands_is_said() -> None:
    """What the book says already is not told as if it had been entered."""
    stream = io.StringIO()
    result = RecordResult(7, "R1", "decision", decision="rejected", reason="drift", is_new=False)
    make_console(stream, 80).print(make_screen(result))
    assert "R1 is rejected already: entry 7, “drift”. Nothing was entered." in stream.getvalue()


def test_values_are_echoed_in_asking_order() -> None:
    """What was read, given and asked stands in the order of the form."""
    values = {"run.frame": KnownValue("A"), "run.software": KnownValue("p")}
    lines = _show("run", (), values)
    assert lines.index("software  p  typed") < lines.index("frame     A  typed")
