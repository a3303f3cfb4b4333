"""What an audit could not say: each check with the reason, and with what would change that."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.dataclass import dataclass
from ledger.model.blanks import Blank
from ledger.model.finding import SPECIFICATION, Finding
from ledger.report.screen import QUIET, STRONG, say, say_sentence

CHECK_COLUMNS = 24  # the longest id of a check and a comma


@dataclass(frozen=True)
class _Row:
    """One row of the table.

    Args:
        checks: ids of the checks that cannot say more.
        texts: why, each reason once.
        finding: a finding that says so.
    """

    checks: tuple[str, ...]
    texts: tuple[str, ...]
    finding: Finding


def list_gaps(findings: Iterable[Finding], *, everything: bool) -> Iterator[RenderableType]:
    """Yield one row for each reason: what many checks lack is said once, with what to do.

    Args:
        findings: findings of one kind of gap, at least one.
        everything: show each reason of each check, also those that are alike.
    """
    rows = _join_reasons(findings, everything=everything)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold", max_width=CHECK_COLUMNS)
    table.add_column(overflow="fold")
    for row in rows if everything else _join_remedies(rows):
        table.add_row(say(", ".join(row.checks)), tell_gap(" ".join(row.texts), row.finding))
    yield Padding(table, (0, 0, 0, 2))


def _join_reasons(findings: Iterable[Finding], *, everything: bool) -> list[_Row]:
    by_check: dict[str, dict[str, Finding]] = {}
    for finding in findings:
        sentence = finding.sentence.rstrip(".")
        by_check.setdefault(finding.check, {}).setdefault(sentence, finding)
    rows: dict[str, tuple[list[str], Finding]] = {}
    for check, sentences in by_check.items():
        shown = list(sentences) if everything else list(sentences)[:1]
        more = len(sentences) - len(shown)
        text = ". ".join(shown) + (f"; and {more} more like it: --all" if more else "")
        checks, _ = rows.setdefault(f"{text}.", ([], sentences[shown[0]]))
        checks.append(check)
    return [_Row(tuple(checks), (text,), finding) for text, (checks, finding) in rows.items()]


def _join_remedies(rows: Iterable[_Row]) -> Iterable[_Row]:
    """Return rows of which no two have the same remedy."""
    joined: dict[str, _Row] = {}
    for row in rows:
        key = row.finding.remedy or row.texts[0]
        joined[key] = _join(joined[key], row) if key in joined else row
    return joined.values()


def _join(first: _Row, other: _Row) -> _Row:
    return replace(first, checks=first.checks + other.checks, texts=first.texts + other.texts)


def tell_gap(text: str, finding: Finding) -> Text:
    """Return the reason, then what to do, or else which input is missing."""
    told = say(text)  # it may begin with the name of a file, which keeps its letters
    if finding.remedy:
        told.append("\n")
        told.append_text(say("do this   ", QUIET))
        told.append_text(say_sentence(finding.remedy, STRONG))
        return told
    # Keys of job.toml stand on the screen as they are written there.
    needs = [need.removeprefix(SPECIFICATION) for need in finding.needs]
    if needs and not any(need in finding.sentence for need in needs):
        told.append("\n")
        told.append_text(say("missing   ", QUIET))
        told.append_text(say(" or ".join(needs)))
    return told


def list_blanks(blanks: Sequence[Blank]) -> Iterator[RenderableType]:
    """Yield a row for each blank: which checks wait for it."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold", ratio=2)
    table.add_column(overflow="fold", ratio=3)
    for blank in blanks:
        of = f" ({', '.join(blank.subjects)})" if blank.subjects else ""
        table.add_row(say(f"{blank.field}{of}"), say(", ".join(blank.checks)))
    yield Padding(table, (0, 0, 0, 2))
