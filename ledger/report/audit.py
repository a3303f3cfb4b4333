"""What `audit` shows: the verdict, then only what a person must act on, worst first.

The verdict stands at both ends: on a long screen the first line is out of sight. Checks that may
not be left open and could not be made stand before minor findings, since they decide more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from ledger.model.audit import AUDIT_ITSELF, AuditResult, CheckFacts, InterimResult, Source
from ledger.model.blanks import Blank
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.nextstep import find_audit_step
from ledger.model.phrases import agree, count_things, describe_bytes
from ledger.model.verdict import Verdict
from ledger.report.auditfigures import list_figures
from ledger.report.auditfindings import list_findings, list_names
from ledger.report.auditfolded import fold_blanks, fold_gaps
from ledger.report.auditgaps import list_blanks, list_gaps
from ledger.report.auditwork import list_work
from ledger.report.profile import remind, show_profile
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    format_digest,
    next_step,
    say,
    say_lines,
    title,
)
from ledger.report.unread import list_unread

VERDICT_STYLE = {
    Verdict.DO_NOT_SEND: BAD,
    Verdict.INCOMPLETE: DOUBT,
    Verdict.ACCEPTANCE_NEEDED: DOUBT,
    Verdict.FIT_TO_SEND: GOOD,
}
_GRADE_TITLE = {
    Grade.MAJOR: "Major: must not be sent like this",
    Grade.MINOR: "Minor: put it right, or let somebody accept it with a reason",
    Grade.OBSERVATION: "Observations: worth knowing, no obstacle",
}
_REQUIRED_TITLE = "Required, and could not be told: without these nothing is fit to send"
_GAP_TITLE = {
    Outcome.ERRORED: "Checks that broke",
    Outcome.INCONCLUSIVE: "Could not be told here",
    Outcome.NOT_ASSESSED: "Not assessed, because something is missing",
}
_CAUTION = (
    "These are tests, not a certificate. Who may state positions, heights, volumes or boundaries "
    "is a matter of local law and licence."
)


def make_interim_line(interim: InterimResult) -> RenderableType:
    """Return the line that a full audit prints before it reads points."""
    return say(
        f"Records and headers of {count_things(interim.files, 'file')} in {interim.seconds:.1f} s: "
        f"{interim.verdict} so far. Reading points …",
        QUIET,
    )


def make_screen(result: AuditResult, *, everything: bool = False) -> RenderableType:
    """Return what a person reads.

    Args:
        result: the audit.
        everything: show every finding, also those that are alike and those that conform.
    """
    required = {AUDIT_ITSELF, *(check.id for check in result.checks if check.required)}
    gaps = [f for f in result.open_findings if f.grade is None]
    parts: list[RenderableType] = [*_make_head(result, required)]
    parts += _list_grade(result, Grade.MAJOR, everything=everything)
    parts += _list_required([f for f in gaps if f.check in required], everything=everything)
    parts += _list_grade(result, Grade.MINOR, everything=everything)
    parts += _list_grade(result, Grade.OBSERVATION, everything=everything)
    for outcome, heading in _GAP_TITLE.items():
        chosen = [f for f in gaps if f.outcome is outcome and f.check not in required]
        if chosen:
            folds = outcome is Outcome.NOT_ASSESSED and not everything
            parts += [title(f"{heading}: --all names each check" if folds else heading)]
            parts += (
                fold_gaps(chosen, result.blanks)
                if folds
                else list_gaps(chosen, everything=everything)
            )
    parts += _list_blank(result.blanks, everything=everything)
    parts += show_profile(result.profile)
    parts += [*list_unread(result.unread), *_list_silent(result, everything=everything)]
    if everything:
        parts += _list_conforming(result)
    parts += [Text(""), *_count_rest(result, everything=everything)]
    told = [*list_figures(result.figures), *list_work(result)]
    parts += [*told, *([Text("")] if told else ()), *_make_foot(result)]
    return Group(*parts)


def _make_head(result: AuditResult, required: set[str]) -> Iterator[RenderableType]:
    yield _say_verdict(result)
    yield say(_count_open(result, required))
    read = "records and headers only"
    if result.points is not None:
        read = f"{count_things(result.points, 'point')} read"
    wishes = "without a job.toml"
    if result.specification:
        wishes = f"against job.toml {format_digest(result.specification)}"
    yield say(
        f"{count_things(result.files, 'file')}, {describe_bytes(result.bytes)}, {read} in "
        f"{result.seconds:.1f} s, {wishes}",
        QUIET,
    )
    if result.quick:
        known = result.known_digests
        yield say(
            f"Quick: {count_things(known, 'digest')} taken from an earlier audit where size, "
            "time and file id are unchanged; the others computed."
        )


def _say_verdict(result: AuditResult) -> Text:
    verdict = str(result.verdict)
    style = VERDICT_STYLE[result.verdict]
    return say(f"{verdict[:1].upper()}{verdict[1:]}: {result.folder}", style)


def _count_open(result: AuditResult, required: set[str]) -> str:
    """Return how many findings of each grade there are, and how many required checks are open."""
    told = []
    for grade in Grade:
        number = sum(f.grade is grade for f in result.open_findings)
        taken = sum(f.grade is grade and f.id in result.accepted for f in result.open_findings)
        plural = "observations" if grade is Grade.OBSERVATION and number > 1 else str(grade)
        if number:
            told.append(f"{number:,} {plural}" + (f" ({taken:,} accepted)" if taken else ""))
    left = len({f.check for f in result.open_findings if f.grade is None and f.check in required})
    if left:
        told.append(f"{count_things(left, 'required check')} open")
    conforms = count_things(sum(result.conforming.values()), "result")
    verb = agree(sum(result.conforming.values()), "conforms", "conform")
    return f"{', '.join(told) or 'No finding'}; {conforms} {verb}."


def _list_grade(result: AuditResult, grade: Grade, *, everything: bool) -> Iterator[RenderableType]:
    chosen = [f for f in result.open_findings if f.grade is grade]
    if chosen:
        yield title(_GRADE_TITLE[grade])
        yield from list_findings(chosen, result.accepted, everything=everything)


def _list_required(gaps: Sequence[Finding], *, everything: bool) -> Iterator[RenderableType]:
    if gaps:
        yield title(_REQUIRED_TITLE)
        yield from list_gaps(gaps, everything=everything)


def _list_blank(blanks: Sequence[Blank], *, everything: bool) -> Iterator[RenderableType]:
    if not blanks:
        return
    if everything:
        yield title("What is blank, and the checks that wait for it")
        yield from list_blanks(blanks)
    else:
        yield title("What is blank, and what waits for it: --all names each check")
        yield from fold_blanks(blanks)


def _list_silent(result: AuditResult, *, everything: bool) -> Iterator[RenderableType]:
    if result.switched_off:
        by, entry = result.specification_by, result.specification_entry
        yield title(f"Switched off in job.toml, as the {by} entered it (entry {entry})")
        off = (f"{check.id}: {check.switched_off}" for check in result.switched_off)
        yield say_lines(off, DOUBT, indent=2)
    if result.plugin_faults:
        yield title("Plugins that could not be used")
        yield say_lines((str(fault) for fault in result.plugin_faults), BAD, indent=2)
    if result.not_traced:
        yield title("Documents, not traced to a run")
        yield list_names(result.not_traced, everything=everything)


def _list_conforming(result: AuditResult) -> list[RenderableType]:
    lines = [f"{f.check}: {f.sentence}" for f in result.findings if f.outcome is Outcome.CONFORMS]
    return [title("Conforms"), say_lines(lines, indent=2)]


def _count_rest(result: AuditResult, *, everything: bool) -> Iterator[RenderableType]:
    """Yield in a line each what conforms and which criteria nobody chose, and how to see them."""
    counts = result.conforming
    told = f"{count_things(sum(counts.values()), 'result')} of {count_things(len(counts), 'check')}"
    yield say(f"Conforms: {told}{'' if everything or not counts else ': --all'}.", GOOD)
    if result.rasters:
        names = ", ".join(dict.fromkeys(raster.name for raster in result.rasters))
        yield say(f"Maps kept in the book: {names}.", QUIET)
    used = _count_defaults(result.checks)
    if used:
        word = agree(used, "criterion", "criteria")
        yield say(f"Default {word} applied: {used}; `swathbook checks` lists them.", QUIET)


def _count_defaults(checks: Iterable[CheckFacts]) -> int:
    return sum(
        criterion.source is Source.DEFAULT and criterion.value is not None
        for check in checks
        if not check.switched_off
        for criterion in check.criteria
    )


def _make_foot(result: AuditResult) -> list[RenderableType]:
    open_minor = next(
        (f for f in result.open_findings if f.grade is Grade.MINOR and f.id not in result.accepted),
        None,
    )
    parts: list[RenderableType] = [
        _say_verdict(result),
        *remind(result.profile),
        say(
            f"Entered as {result.id}, entry {result.entry}; "
            f"manifest {format_digest(result.manifest_sha256)}."
        ),
    ]
    step = find_audit_step(
        result.verdict, result.folder, open_minor.id if open_minor else "", quick=result.quick
    )
    if step.command:
        parts.append(next_step(step.command, step.when))
    parts.append(Padding(say(_CAUTION, QUIET), (1, 0, 0, 0), expand=False))
    return parts
