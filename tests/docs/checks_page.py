"""The page of checks with their permanent ids."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.checks import list_checks
from ledger.model.audit import CheckFacts, Criterion
from ledger.report.checks import write_criterion

_CHECKS_HEAD = """\
# Checks

This page is generated from the checks themselves by `python tests/docs/generate.py`.

The id of a check is permanent: it stands in `job.toml` and in every audit ever entered.
A criterion that is *blank* has no default: while nobody states it, the check is not assessed.
Words of the last column say where a default comes from.

## All checks

| id | what it holds | catalogue | points | may be left open |
| --- | --- | --- | --- | --- |
"""


def make_checks_page() -> str:
    """Return the page of checks: permanent ids, titles, catalogue ids, criteria and sources."""
    checks = list_checks().checks
    rows = "".join(_make_row(_list_cells(check)) for check in checks)
    sections = "".join(_describe(check) for check in checks)
    return f"{_CHECKS_HEAD}{rows}{sections}"


def _list_cells(check: CheckFacts) -> Iterable[str]:
    yield f"[`{check.id}`](#{check.id})"
    yield check.title
    yield ", ".join(check.catalogue)
    yield "read" if check.reads_points else ""
    yield "never" if check.required else "while nobody asks for it"


def _describe(check: CheckFacts) -> str:
    lines = [f"\n## {check.id}\n", f"{check.title}.", f"Revision {check.revision}."]
    for name, values in (
        ("Needs", check.needs),
        ("Record fields it reads", check.fields),
        ("Keys of `job.toml` it reads", check.specification_keys),
    ):
        if values:
            lines.append(f"{name}: {', '.join(f'`{value}`' for value in values)}.")
    if not check.criteria:
        return "\n".join([*lines, "It has no criterion of its own.", ""])
    head = "\n| criterion | default | source |\n| --- | --- | --- |\n"
    rows = "".join(_make_row(_list_criterion(criterion)) for criterion in check.criteria)
    return "\n".join([*lines, head + rows])


def _list_criterion(criterion: Criterion) -> Iterable[str]:
    yield f"`{criterion.field}`"
    yield write_criterion(criterion.value) or "*blank*"
    yield criterion.basis


def _make_row(cells: Iterable[str]) -> str:
    shown = (cell.replace("|", "\\|").replace("\n", " ") for cell in cells)
    return f"| {' | '.join(shown)} |\n"
