"""Each rule of the LAS specification, broken by one header and kept by another."""

from __future__ import annotations

from typing import Any

from made_headers import deliver
from made_las_faults import FAULTS
from planted import Planted, record

from ledger.contract.evidence import Evidence
from ledger.crs import describe
from ledger.testing import make_evidence
from lidar_checks.header.las_conformance import LasConformance


def _state(parts: dict[str, Any]) -> Evidence:
    """Return a file with these fields in its header; `crs` is what its CRS records say."""
    changes = {key: value for key, value in parts.items() if key != "crs"}
    given = {"crs": parts["crs"]} if "crs" in parts else {}
    return make_evidence(deliver(describe("EPSG:6346+5703"), header=changes, **given))


def _break(rule: str, wrong: dict[str, Any], right: dict[str, Any], number: int) -> Planted:
    fields = ", ".join(sorted(wrong))
    again = f" ({number})" if number > 1 else ""
    return record(
        f"{rule}{again}: {fields}",
        LasConformance(),
        lambda: _state(wrong),
        lambda: _state(right),
        ids=(rule,),
    )


def _list_cases() -> tuple[Planted, ...]:
    names = [rule for rule, _, _ in FAULTS]
    return tuple(
        _break(*fault, number=names[: place + 1].count(fault[0]))
        for place, fault in enumerate(FAULTS)
    )


CASES = _list_cases()
