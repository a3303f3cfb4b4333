"""Write `docs/reference/mutation.md` from the figures of score.py.

    python tests/mutation/mutation_page.py figures.jsonl

Of a subject that stands there more than once, the last figures count. A survivor that changes
nothing anybody could see is listed with its reason in `unseen.tsv`: module, operator, code, reason.
All others matter: a test for them is missing. Where somebody tried the survivors again after tests
were added, a `note` in the figures says so.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from score import ROOT, SUBJECTS, Score, Survivor

PAGE = ROOT / "docs" / "reference" / "mutation.md"
UNSEEN = Path(__file__).with_name("unseen.tsv")
_HEAD = """<!-- Written by tests/mutation/mutation_page.py; do not edit. -->

# Small changes that the tests notice

One place of a module is changed: a number, a comparison, an operator, a branch. Then the tests of
its subject run, and a change with which none of them fails has survived. The share that is noticed
says how far the tests hold what the code does, which the count of lines they run does not.

`python tests/mutation/score.py --figures figures.jsonl` tries the changes, of each subject as many
as its `--sample` says, chosen by a seed; `python tests/mutation/mutation_page.py figures.jsonl`
writes this page.
The interval is that of 95 % after Wilson for a sample of all the changes that could be made.
"""


def read_figures(file: Path) -> dict[str, dict[str, Any]]:
    """Return the last figures of each subject."""
    rows = [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]
    return {row["subject"]: row for row in rows}


def read_unseen() -> dict[tuple[str, str, str], str]:
    """Return why a change cannot be seen, by module, operator and code."""
    rows = [line.split("\t") for line in UNSEEN.read_text(encoding="utf-8").splitlines()]
    return {(module, operator, code): reason for module, operator, code, reason in rows}


def read_score(row: dict[str, Any]) -> Score:
    """Return a score from its figures."""
    survivors = tuple(Survivor(**each) for each in row["survivors"])
    return Score(row["made"], row["noticed"], survivors)


def write_page(figures: dict[str, dict[str, Any]]) -> str:
    """Return the page."""
    unseen = read_unseen()
    lines = ["| subject | noticed | of changes | interval | survivors that matter |"]
    lines.append("| --- | --- | --- | --- | --- |")
    parts = []
    for name in [each for each in SUBJECTS if each in figures]:
        row = figures[name]
        score = read_score(row)
        least, most = score.find_interval()
        reasons = {
            each: unseen.get((each.module, each.operator, each.code), "")
            for each in score.survivors
        }
        matter = [each for each, reason in reasons.items() if not reason]
        lines.append(
            f"| {name} | {score.noticed} of {score.tried} ({score.noticed / score.tried:.0%}) "
            f"| {score.made} | {least:.0%} to {most:.0%} | {len(matter)} |"
        )
        parts += ["", f"## {name.capitalize()}", "", *_tell_subject(name, row)]
        parts += _tell_survivors(reasons)
    return "\n".join([_HEAD, *lines, *parts]) + "\n"


def _tell_subject(name: str, row: dict[str, Any]) -> list[str]:
    modules = ", ".join(f"`{each}`" for each in SUBJECTS[name].modules)
    tests = ", ".join(f"`{each}`" for each in SUBJECTS[name].tests)
    told = f"`{row['command']}` ({row['day']}). {row.get('note', '')}"
    return [f"{modules}; held by {tests}.", told.rstrip()]


def _tell_survivors(reasons: dict[Survivor, str]) -> list[str]:
    if not reasons:
        return ["", "None survived."]
    rows = ["", "| survived | in | why it matters not |", "| --- | --- | --- |"]
    for each, reason in sorted(reasons.items()):
        code = each.code.replace("|", "\\|")
        rows.append(f"| {each.operator} | `{each.module}`: `{code}` | {reason or 'it matters'} |")
    return rows


def main() -> None:
    """Write the page."""
    PAGE.write_text(write_page(read_figures(Path(sys.argv[1]))), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
