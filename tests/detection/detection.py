"""All planted cases: whatever a module `planted_…` beside this one calls CASES."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

from planted import Planted


def list_cases() -> tuple[Planted, ...]:
    """Return every case, sorted by check and fault."""
    names = sorted(path.stem for path in Path(__file__).parent.glob("planted_*.py"))
    cases = [case for name in names for case in import_module(name).CASES]
    return tuple(sorted(cases, key=lambda case: (case.check, case.fault, case.gate)))
