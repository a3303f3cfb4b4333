"""What is left to do, at the end of an audit with many findings: each thing once, in order.

Findings stand worst first, those of one cause together; whoever has scrolled past them all sees
here what to do, without going back.
"""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table

from ledger.model.audit import AuditResult
from ledger.model.finding import Finding, Grade
from ledger.report.auditfindings import find_remedy, group_findings
from ledger.report.screen import QUIET, say, title

# Fewer findings than this are on the screen together with the last line.
_FEWEST = 4
_ABOUT_COLUMNS = 24
_GRADES = (Grade.MAJOR, Grade.MINOR)


def list_work(result: AuditResult) -> Iterator[RenderableType]:
    """Yield what to do about each finding that keeps the delivery back; nothing for a few."""
    rows: dict[str, list[str]] = {}
    groups = [
        group
        for grade in _GRADES
        for group in group_findings([f for f in result.open_findings if _is_left(result, f, grade)])
    ]
    if len(groups) < _FEWEST:
        return
    for group in groups:
        told = rows.setdefault(_name_group(group), [])
        remedy = find_remedy(group) or group[0].sentence
        told += [remedy] if remedy not in told else []
    yield title("What to do, in this order")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(style=QUIET, max_width=_ABOUT_COLUMNS, overflow="fold")
    table.add_column(overflow="fold")
    for about, remedies in rows.items():
        for place, remedy in enumerate(remedies):
            table.add_row(say("" if place else about), say(remedy))
    yield Padding(table, (0, 0, 0, 2))


def _is_left(result: AuditResult, finding: Finding, grade: Grade) -> bool:
    return finding.grade is grade and finding.id not in result.accepted


def _name_group(group: list[Finding]) -> str:
    """Return what a group is about: the file that the place is in where that is no other name."""
    first = group[0]
    about = first.where.file or first.subject
    more = len(group) - 1
    return f"{about} and {more:,} more" if more else about
