"""What an audit could not say and what is blank, folded: how many checks wait for what.

In a fresh job most checks wait, and for the same few things. Their names fill screens and tell
nobody what to do next; the few things do. All names stay in the long form.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.loading import load_part
from ledger.model.blanks import Blank
from ledger.model.finding import SPECIFICATION, Finding
from ledger.model.phrases import count_things
from ledger.report.auditgaps import tell_gap
from ledger.report.screen import say

FEWEST = 8
"""So many checks or blanks are folded; of fewer each is named."""

_REASONS = 2
_OFTEN = 3
_KEYS = 6
_JOB_TOML = "job.toml"


def is_many(findings: Sequence[Finding]) -> bool:
    """Say whether so many checks wait that they are counted and not named."""
    return len(_list_checks(findings)) >= FEWEST


def fold_gaps(findings: Sequence[Finding]) -> Iterator[RenderableType]:
    """Yield one row for each thing that is missing: how many checks wait, why, what to do."""
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        groups.setdefault(_find_need(finding), []).append(finding)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for need, group in sorted(groups.items(), key=lambda each: -len(_list_checks(each[1]))):
        told = say(_tell_keys(group)) if need == _JOB_TOML else _tell_gaps(group)
        table.add_row(say(_name(group)), told)
    yield Padding(table, (0, 0, 0, 2))


def fold_blanks(blanks: Sequence[Blank]) -> Iterator[RenderableType]:
    """Yield what is blank in one line, each with the number of checks that wait for it."""
    told = [f"{each.field} ({len(each.checks)})" for each in blanks[:_KEYS]]
    left = len(blanks) - _KEYS
    told += [f"and {left} more"] if left > 0 else []
    yield Padding(say(f"{', '.join(told)}."), (0, 0, 0, 2))


def _find_need(finding: Finding) -> str:
    """Return what a check lacks; one name for all keys of job.toml, and the sentence for none."""
    if not finding.needs:
        return finding.sentence
    needs = [_read_key(each) for each in finding.needs]
    # Whoever brings the other thing is asked for the key then.
    return next((each for each in needs if not _is_key(each)), _JOB_TOML)


def _read_key(need: str) -> str:
    return need.removeprefix(SPECIFICATION).split(":", 1)[0].strip()


def _is_key(need: str) -> bool:
    if "." not in need:
        return False
    sections: dict[str, object] = load_part(
        "ledger.model.specification", "Specification"
    ).model_fields
    return need.split(".", 1)[0] in sections


def _list_checks(group: Iterable[Finding]) -> list[str]:
    return list(dict.fromkeys(each.check for each in group))


def _name(group: Sequence[Finding]) -> str:
    checks = _list_checks(group)
    return ", ".join(checks) if len(checks) == 1 else count_things(len(checks), "check")


def _tell_keys(group: Sequence[Finding]) -> str:
    keys = list(dict.fromkeys(_read_key(need) for each in group for need in each.needs))
    left = len(keys) - _KEYS
    more = f" and {left} more" if left > 0 else ""
    return f"Blank in job.toml: {', '.join(keys[:_KEYS])}{more}."


def _tell_gaps(group: Sequence[Finding]) -> Text:
    """Return the reasons that most of the checks give, with what to do."""
    reasons = Counter(each.sentence.rstrip(".") for each in group)
    (first, _), *others = reasons.most_common(_REASONS)
    told = ". ".join([first, *(reason for reason, number in others if number >= _OFTEN)])
    return tell_gap(f"{told}.", next((each for each in group if each.remedy), group[0]))
