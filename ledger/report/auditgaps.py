"""What an audit could not say: each check with the reason, and with what would change that."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.model.blanks import Blank
from ledger.model.finding import SPECIFICATION, Finding
from ledger.report.screen import QUIET, STRONG, say, say_sentence

_CHECK_COLUMNS = 24  # the longest id of a check and a comma


def list_gaps(findings: Iterable[Finding], *, everything: bool) -> Iterator[RenderableType]:
    """Yield one row for each reason: what many checks lack is said once, with what to do.

    Args:
        findings: findings of one kind of gap.
        everything: show each reason of a check, also those that are alike.
    """
    by_check: dict[str, dict[str, Finding]] = {}
    for finding in findings:
        sentence = finding.sentence.rstrip(".")
        by_check.setdefault(finding.check, {}).setdefault(sentence, finding)
    rows: dict[str, tuple[list[str], Finding]] = {}
    for check, sentences in by_check.items():
        shown = list(sentences) if everything else list(sentences)[:1]
        more = len(sentences) - len(shown)
        text = ". ".join(shown) + (f"; and {more} more like it: --all" if more else "")
        checks, _ = rows.setdefault(text, ([], sentences[shown[0]]))
        checks.append(check)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold", max_width=_CHECK_COLUMNS)
    table.add_column(overflow="fold")
    for text, (checks, finding) in rows.items():
        table.add_row(say(", ".join(checks)), _tell(text, finding))
    yield Padding(table, (0, 0, 0, 2))


def _tell(text: str, finding: Finding) -> Text:
    """Return the reason, then what to do, or else which input is missing."""
    told = say(f"{text}.")  # it may begin with the name of a file, which keeps its letters
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
