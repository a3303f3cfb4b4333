"""Checks that find what a test of audits wants."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade


def fails(grade: Grade, subject: str = WHOLE_DELIVERY, **parts: Any) -> Any:
    """Return an answer that finds a nonconformity."""

    def answer(check: Any, _: Any) -> Iterable[Finding]:
        yield check.nonconforming(grade, subject, "It is off.", remedy="Mend it.", **parts)

    return answer
