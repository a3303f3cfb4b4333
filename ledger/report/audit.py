"""What `audit` shows: the verdict, then only what a person must act on, worst first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.model.audit import AuditResult, CheckFacts, InterimResult, Source
from ledger.model.blanks import Blank
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.nextstep import find_audit_step
from ledger.model.phrases import count_things, describe_bytes
from ledger.model.verdict import Verdict
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    STRONG,
    format_digest,
    next_step,
    say,
    say_lines,
    say_sentence,
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
    Grade.OBSERVATION: "Observations",
}
_GAP_TITLE = {
    Outcome.ERRORED: "Checks that broke",
    Outcome.INCONCLUSIVE: "Could not be told here",
    Outcome.NOT_ASSESSED: "Not assessed, because something is missing",
}
_SHOWN_ALIKE = 3
_NAMED = 6
# How the runner begins when a named input is missing; the title above says the first half.
_RUNNER_WORDS = "Not assessed, because of "
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
    parts: list[RenderableType] = [*_make_head(result)]
    graded = [f for f in result.open_findings if f.outcome is Outcome.NONCONFORMING]
    for grade in Grade:
        chosen = [f for f in graded if f.grade is grade]
        if chosen:
            parts += [
                title(_GRADE_TITLE[grade]),
                *_list_findings(chosen, result, everything=everything),
            ]
    required = {check.id for check in result.checks if check.required}
    for outcome in (Outcome.ERRORED, Outcome.INCONCLUSIVE, Outcome.NOT_ASSESSED):
        gaps = [f for f in result.open_findings if f.outcome is outcome]
        if gaps:
            parts += [
                title(_GAP_TITLE[outcome]),
                *_list_gaps(gaps, required, everything=everything),
            ]
    parts += [*_list_blanks(result.blanks), *list_unread(result.unread), *_list_silent(result)]
    parts += _list_defaults(result.checks)
    if everything:
        parts += _list_conforming(result)
    parts += [_count_conforming(result), *_make_foot(result)]
    return Group(*parts)


def _make_head(result: AuditResult) -> list[RenderableType]:
    verdict = str(result.verdict)
    read = (
        "records and headers only"
        if result.points is None
        else f"{count_things(result.points, 'point')} read"
    )
    lines: list[RenderableType] = [
        say(f"{verdict[:1].upper()}{verdict[1:]}: {result.folder}", VERDICT_STYLE[result.verdict]),
        say(
            f"{count_things(result.files, 'file')}, {describe_bytes(result.bytes)}, {read} in "
            f"{result.seconds:.1f} s, against job.toml {format_digest(result.specification)}"
            if result.specification
            else f"{count_things(result.files, 'file')}, {read} in {result.seconds:.1f} s, "
            "without a job.toml"
        ),
    ]
    if result.quick:
        known = result.known_digests
        lines.append(
            say(
                f"Quick: {count_things(known, 'digest')} taken from an earlier audit where size, "
                "time and file id are unchanged; the others computed."
            )
        )
    return lines


def _list_findings(
    findings: list[Finding], result: AuditResult, *, everything: bool
) -> Iterable[RenderableType]:
    for group in _group_findings(findings):
        shown = group if everything else group[: _count_shown(group)]
        for finding in shown:
            yield _show_finding(finding, result)
        if len(group) > len(shown):
            yield say_lines([_name_rest(group[len(shown) :])], indent=2)
        yield _say_remedy(group[0])


def _group_findings(findings: list[Finding]) -> list[list[Finding]]:
    """Return findings that one thing puts right, or the same thing done to each of their files."""
    as_one = Counter((f.check, f.catalogue, f.remedy) for f in findings)
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        key = finding.check, finding.catalogue, finding.remedy
        if as_one[key] == 1:
            key = *key[:2], finding.remedy.replace(finding.subject, "…")
        groups.setdefault(key, []).append(finding)
    return list(groups.values())


def _count_shown(group: list[Finding]) -> int:
    """Return how many of a group are shown: one stands for many that say the same."""
    if len(group) <= _SHOWN_ALIKE:
        return len(group)
    said = {finding.sentence.replace(finding.subject, "…") for finding in group}
    return 1 if len(said) == 1 else _SHOWN_ALIKE


def _name_rest(group: list[Finding]) -> str:
    names = ", ".join(finding.subject for finding in group[:_NAMED])
    more = ", …" if len(group) > _NAMED else ""
    return f"The same for {len(group):,} more: {names}{more} (--all shows each)"


def _show_finding(finding: Finding, result: AuditResult) -> RenderableType:
    accepted = result.accepted.get(finding.id)
    lines: list[RenderableType] = [say(finding.sentence)]
    if finding.observed and finding.required:
        unit = f" {finding.unit}" if finding.unit else ""
        lines.append(
            say(f"found {finding.observed}{unit}, required {finding.required}{unit}", QUIET)
        )
    lines.append(say(_name_place(finding), QUIET))
    if accepted is not None:
        lines.append(say(f"Accepted by {accepted.by}: {accepted.reason}", GOOD))
    return Padding(Group(*lines), (0, 0, 0, 2), expand=False)


def _name_place(finding: Finding) -> str:
    parts = [f"finding {finding.id}", finding.check]
    if finding.catalogue:
        parts.append(" ".join(finding.catalogue))
    if finding.where.xy:
        parts.append(f"at {finding.where.xy[0]:.1f}, {finding.where.xy[1]:.1f}")
    if finding.criterion_source:
        parts.append(f"criterion: {_shorten_source(finding.criterion_source)}")
    return " · ".join(parts)


def _shorten_source(source: str) -> str:
    """Return each document once; which criterion has which stands in the JSON."""
    named = (part.split("default: ")[-1].strip() for part in source.split(";"))
    return "; ".join(dict.fromkeys(named))


def _say_remedy(finding: Finding) -> RenderableType:
    if not finding.remedy:
        return Text("")
    line = Text.assemble(("Do this: ", STRONG), say_sentence(finding.remedy))
    return Padding(line, (0, 0, 1, 2), expand=False)


def _list_gaps(
    findings: list[Finding], required: set[str], *, everything: bool
) -> Iterable[RenderableType]:
    """Yield one row for each reason: what many checks lack is said once, with what to do."""
    by_check: dict[str, dict[str, str]] = {}
    for finding in findings:
        sentence = finding.sentence.replace(_RUNNER_WORDS, "missing: ").rstrip(".")
        by_check.setdefault(finding.check, {}).setdefault(sentence, finding.remedy)
    by_reason: dict[tuple[bool, str], list[str]] = {}
    remedies: dict[str, str] = {}
    for check, sentences in by_check.items():
        shown = list(sentences) if everything else list(sentences)[:1]
        more = len(sentences) - len(shown)
        text = "; ".join(shown) + (f"; and {more} more like it" if more else "")
        by_reason.setdefault((check not in required, text), []).append(check)
        remedies.setdefault(text, sentences[shown[0]])
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 2), show_header=False)
    table.add_column(overflow="fold", max_width=24)
    table.add_column(overflow="fold")
    for (optional, text), checks in sorted(by_reason.items()):
        words = say(text if optional else f"required: {text}")
        if remedies[text]:
            words = Text.assemble(words, "\n", ("Do this: ", STRONG), say_sentence(remedies[text]))
        table.add_row(say(", ".join(checks), "" if optional else STRONG), words)
    yield table


def _list_blanks(blanks: tuple[Blank, ...]) -> Iterable[RenderableType]:
    if not blanks:
        return
    yield title("What is blank, and what that costs")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 2), show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for blank in blanks:
        of = f" ({', '.join(blank.subjects)})" if blank.subjects else ""
        table.add_row(
            say(f"{blank.field}{of}"), say(f"not judged fully: {', '.join(blank.checks)}")
        )
    yield table


def _list_silent(result: AuditResult) -> Iterable[RenderableType]:
    if result.switched_off:
        by, entry = result.specification_by, result.specification_entry
        yield title(f"Switched off in job.toml, as the {by} entered it (entry {entry})")
        off = (f"{check.id}: {check.switched_off}" for check in result.switched_off)
        yield say_lines(off, DOUBT, indent=2)
    if result.plugin_faults:
        yield title("Plugins that could not be used")
        yield say_lines(
            (f"{f.plugin} {f.version}: {f.sentence}" for f in result.plugin_faults), BAD, indent=2
        )
    if result.not_traced:
        shown = ", ".join(result.not_traced[:6]) + (", …" if len(result.not_traced) > 6 else "")
        yield title("Documents, not traced to a run")
        yield say_lines([shown], indent=2)


def _list_defaults(checks: tuple[CheckFacts, ...]) -> list[RenderableType]:
    used = sum(
        criterion.source is Source.DEFAULT and criterion.value is not None
        for check in checks
        if not check.switched_off
        for criterion in check.criteria
    )
    if not used:
        return []
    return [say(f"Default criteria applied: {used}; `swathbook checks` lists them.", QUIET)]


def _list_conforming(result: AuditResult) -> list[RenderableType]:
    lines = [f"{f.check}: {f.sentence}" for f in result.findings if f.outcome is Outcome.CONFORMS]
    return [title("Conforms"), say_lines(lines, indent=2)]


def _count_conforming(result: AuditResult) -> RenderableType:
    counts = result.conforming
    return Padding(
        say(
            f"Conforms: {count_things(sum(counts.values()), 'result')} of "
            f"{count_things(len(counts), 'check')}.",
            GOOD,
        ),
        (1, 0, 0, 0),
    )


def _make_foot(result: AuditResult) -> list[RenderableType]:
    open_minor = next(
        (f for f in result.open_findings if f.grade is Grade.MINOR and f.id not in result.accepted),
        None,
    )
    verdict = str(result.verdict)
    parts: list[RenderableType] = [
        # Said again: on a long screen the first line is out of sight.
        say(f"{verdict[:1].upper()}{verdict[1:]}: {result.folder}", VERDICT_STYLE[result.verdict]),
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
