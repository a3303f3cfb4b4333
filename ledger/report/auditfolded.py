"""What an audit could not say and what is blank, folded: which checks, or how many, wait for what.

In a fresh job most checks wait, and for the same few things. Their names fill screens and tell
nobody what to do next; the few things do. So each thing has a row, however many there are, and
names the checks that wait for it where these are few. All names stay in the long form.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.loading import load_part
from ledger.model.blanks import Blank
from ledger.model.finding import SPECIFICATION, Finding
from ledger.model.phrases import agree, count_things
from ledger.report.auditgaps import CHECK_COLUMNS, tell_gap
from ledger.report.screen import say, say_lines

_NAMED = 3
"""So many checks that wait for one thing are named; more are counted."""

_REASONS = 3
_OFTEN = 3
_KEYS = 6
_JOB_TOML = "job.toml"


def fold_gaps(findings: Sequence[Finding], blanks: Sequence[Blank]) -> Iterator[RenderableType]:
    """Yield one row for each thing that is missing: which checks wait, why, what to do.

    Args:
        findings: what was not assessed.
        blanks: what the list of blanks below tells; a check that only waits for that is counted.
    """
    told = {blank.field for blank in blanks}
    shown = [each for each in findings if not _waits_only(each, told)]
    groups: dict[str, list[Finding]] = {}
    for finding in shown:
        groups.setdefault(_find_need(finding), []).append(finding)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold", max_width=CHECK_COLUMNS)
    table.add_column(overflow="fold")
    for need, group in sorted(groups.items(), key=lambda each: -len(_list_checks(each[1]))):
        text = say(_tell_keys(group)) if need == _JOB_TOML else _tell_gaps(group)
        table.add_row(say(_name(group)), text)
    if groups:
        yield Padding(table, (0, 0, 0, 2))
    left = len({each.check for each in findings} - {each.check for each in shown})
    if left:
        waits = f"{count_things(left, 'check')} {agree(left, 'waits', 'wait')}"
        yield say_lines([f"{waits} only for what is blank, below."], indent=2)


def _waits_only(finding: Finding, told: Collection[str]) -> bool:
    """Say whether the list of blanks tells all that a check lacks."""
    needs = [_read_key(need) for need in finding.needs]
    return bool(needs) and not finding.remedy and all(need in told for need in needs)


def fold_blanks(blanks: Sequence[Blank]) -> Iterator[RenderableType]:
    """Yield what is blank in one line, each with the check that waits for it, or how many do."""
    told = [
        f"{each.field} ({each.checks[0] if len(each.checks) == 1 else len(each.checks)})"
        for each in blanks[:_KEYS]
    ]
    left = len(blanks) - _KEYS
    told += [f"and {left} more"] if left > 0 else []
    yield Padding(say(f"{', '.join(told)}."), (0, 0, 0, 2))


def _find_need(finding: Finding) -> str:
    """Return what a check lacks: one name for all keys of job.toml; for none, what to do."""
    if not finding.needs:
        return finding.remedy or finding.sentence
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
    return ", ".join(checks) if len(checks) <= _NAMED else count_things(len(checks), "check")


def _tell_keys(group: Sequence[Finding]) -> str:
    keys = list(dict.fromkeys(_read_key(need) for each in group for need in each.needs))
    left = len(keys) - _KEYS
    more = f" and {left} more" if left > 0 else ""
    return f"Blank in job.toml: {', '.join(keys[:_KEYS])}{more}."


def _tell_gaps(group: Sequence[Finding]) -> Text:
    """Return the reasons of checks that are named, or what most of them say; with what to do."""
    reasons = Counter(each.sentence.rstrip(".") for each in group)
    least = 1 if len(_list_checks(group)) <= _NAMED else _OFTEN
    (first, _), *others = reasons.most_common(_REASONS)
    told = ". ".join([first, *(reason for reason, number in others if number >= least)])
    return tell_gap(f"{told}.", next((each for each in group if each.remedy), group[0]))
