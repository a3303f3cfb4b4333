"""Writes docs/reference/detection.md anew: `python tests/docs/detection_page.py`.

It carries out every planted case and every honest survey, so that the numbers of the page can be
made again by anybody. With ids of checks (`… detection_page.py voids seams`) only the rows of their
planted errors are made anew, and the sentence below them, for which all errors are planted; no
honest survey is. That takes half a minute. A test holds that no case is missing from the
page; that each of them comes out as the page says is held by the tests in `tests/detection/`.
"""

from __future__ import annotations

import os
import sys
import tempfile
import textwrap
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
for _name in ("made", "detection"):
    sys.path.append(str(ROOT / "tests" / _name))

from detection import list_cases  # noqa: E402 - the folders above hold it
from honest import Honest, make_job  # noqa: E402
from honest_surveys import SURVEYS  # noqa: E402
from job_bench import JobBench  # noqa: E402
from planted import Planted  # noqa: E402

from ledger.contract.registry import build_registry  # noqa: E402

PAGE = ROOT / "docs" / "reference" / "detection.md"
_HEAD = """# What the checks find, and what they let pass

<!-- Written by tests/docs/detection_page.py; do not edit. -->

All of it is made: surveys of a few thousand points and records of a few lines, each with one error.
The table says what the checks do at their gates. It does not say how often such errors happen, nor
what else may be wrong with a real survey.

## Planted errors

Each error is planted twice: just beyond the gate, where the check has to speak, and just inside it
(or not at all, where a gate has no width), where it has to be silent.

"""
_HONEST_HEAD = """
## Honest surveys

Whole jobs in which nothing is wrong, from raw file to delivery, audited with every check.
A false alarm is a major or minor finding, or a check that broke.

"""


def count_case(case: Planted) -> tuple[frozenset[str], bool]:
    """Return the ids of the failures that are found, and whether the error inside passes."""
    with tempfile.TemporaryDirectory() as beyond, tempfile.TemporaryDirectory() as inside:
        return case.name_found(Path(beyond)), case.is_silent(Path(inside))


def count_alarms(honest: Honest) -> tuple[Counter[str], str]:
    """Return how many findings of each kind an honest survey has, and its verdict."""
    with tempfile.TemporaryDirectory() as folder:
        bench = JobBench(Path(folder))
        make_job(bench, honest)
        told = bench.ask("audit", "out", status=None)
    kinds = Counter(str(each["grade"] or each["outcome"]) for each in told["findings"])
    return kinds, str(told["verdict"])


def write_table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table of the page."""
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(str(cell) for cell in row)} |\n" for row in lines)


def write_cases(cases: Iterable[Planted]) -> str:
    """Return the table of planted errors."""
    rows = []
    told: set[str] = set()
    for case in cases:
        ids, silent = count_case(case)
        told |= ids
        gate, found = case.gate or "–", int(bool(ids))
        rows.append((f"`{case.check}`", case.fault, gate, 1, found, 1 - found, 1 - silent))
    totals = [sum(int(row[place]) for row in rows) for place in range(3, 7)]
    head = ("check", "error", "beyond against inside", "planted", "found", "missed", "false")
    return write_table(head, [*rows, ("all", "", "", *totals)]) + write_ids(told)


def write_ids(told: Collection[str]) -> str:
    """Return how many of the failures that the checks name were found among the planted ones."""
    checks = [each.check for each in build_registry().checks]
    named = {name for check in checks for name in check.catalogue}
    left = ", ".join(sorted(named - set(told))) or "none"
    text = (
        f"{len(checks)} checks have a planted error each, or several. Of the {len(named)} ids of "
        f"failures and rules that they name, {len(named & set(told))} stand beside a finding about "
        f"one of these errors. Without a planted error so far: {left}."
    )
    return "\n" + textwrap.fill(text, 100, break_on_hyphens=False) + "\n"


def write_surveys(surveys: Iterable[Honest]) -> str:
    """Return the table of honest surveys."""
    rows = []
    for honest in surveys:
        kinds, verdict = count_alarms(honest)
        false = kinds["major"] + kinds["minor"] + kinds["errored"]
        open_ = kinds["not assessed"] + kinds["inconclusive"]
        rows.append((honest.name, open_, kinds["observation"], false, verdict))
    head = ("survey", "left open", "observations", "false alarms", "verdict")
    return write_table(head, rows)


def write_rows_of(checks: Collection[str]) -> str:
    """Return the page with the rows of some checks made anew, the others as they stand."""
    cases = [case for case in list_cases() if case.check in checks]
    made = write_cases(cases).splitlines()
    head, _, rest = PAGE.read_text(encoding="utf-8").partition(f"{made[1]}\n")
    table, end, after = rest.partition("| all |")
    kept = [row for row in table.splitlines() if row.split("`")[1] not in checks]
    rows = sorted([*kept, *made[2 : 2 + len(cases)]], key=_find_place)
    found = [[int(cell) for cell in row.split("|")[4:8]] for row in rows]
    totals = " | ".join(str(sum(column)) for column in zip(*found, strict=True))
    told = {name for case in list_cases() for name in count_case(case)[0]}
    return (
        f"{head}{made[1]}\n"
        + "".join(f"{row}\n" for row in rows)
        + f"{end}  |  | {totals} |\n{write_ids(told)}"
        + after[after.index(_HONEST_HEAD) :]
    )


def _find_place(row: str) -> tuple[str, ...]:
    check, fault, gate = (cell.strip() for cell in row.split("|")[1:4])
    return check.strip("`"), fault, "" if gate == "–" else gate


def main() -> None:
    """Carry everything out and write the page, or the rows of the checks that were named."""
    if sys.argv[1:]:
        PAGE.write_text(write_rows_of(frozenset(sys.argv[1:])), encoding="utf-8", newline="\n")
        return
    with tempfile.TemporaryDirectory() as home:
        os.environ["SWATHBOOK_HOME"] = home
        text = _HEAD + write_cases(list_cases()) + _HONEST_HEAD + write_surveys(SURVEYS)
    PAGE.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
