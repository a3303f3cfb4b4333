"""Findings of an audit, worst first: each with what was found, what is required, and what to do.

Findings that one thing puts right stand together; what they share is said once, below them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ledger.model.acceptance import Acceptance
from ledger.model.finding import Finding
from ledger.report.screen import GOOD, QUIET, STRONG, say, say_lines, say_sentence

_BOTH = 2
_SHOWN_ALIKE = 3
_NAMED = 6
_LABEL_COLUMNS = 9
_INDENT = 2
_REMEDY = "do this"
_ANY_FILE = "FILE"
# Units that count things, where there is one of them.
_ONE = {"points": "point", "files": "file", "tiles": "tile", "swaths": "swath"}


def list_findings(
    findings: Sequence[Finding], accepted: Mapping[str, Acceptance], *, everything: bool
) -> Iterator[RenderableType]:
    """Yield one block for each group of findings, with a free line between.

    Args:
        findings: findings of one grade, in order.
        accepted: acceptances that stand, by id of the finding.
        everything: show each finding of a group, however many there are.
    """
    for place, group in enumerate(group_findings(findings)):
        if place:
            yield Text("")
        if len(group) == 1:
            yield _show_one(group[0], accepted.get(group[0].id))
        else:
            yield _show_group(group, accepted, everything=everything)


def group_findings(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Return findings that one thing puts right, or the same thing done to each of their files."""
    as_one = Counter((f.check, f.catalogue, f.remedy) for f in findings)
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        key: tuple[object, ...] = finding.check, finding.catalogue, finding.remedy
        if as_one[finding.check, finding.catalogue, finding.remedy] == 1:
            key = *key[:2], finding.remedy.replace(finding.subject, "…")
        groups.setdefault(key, []).append(finding)
    return list(groups.values())


def _show_one(finding: Finding, acceptance: Acceptance | None) -> RenderableType:
    rows = {
        "found": _measure(finding.observed, finding.unit),
        "required": _measure(finding.required, finding.unit),
        "where": _name_place(finding),
        "criterion": _shorten_source(finding.criterion_source),
        _REMEDY: _say_remedy(finding.remedy),
        "accepted": _say_acceptance(acceptance),
        "finding": f"{finding.id}, {_name_check(finding)}",
    }
    return _indent(say(finding.sentence), _tabulate(rows))


def _show_group(
    group: Sequence[Finding], accepted: Mapping[str, Acceptance], *, everything: bool
) -> RenderableType:
    """Return some findings of a group, and below them once what all of them share."""
    shared = find_shared(group)
    shown = group if everything else group[: _count_shown(group)]
    parts: list[RenderableType] = []
    for finding in shown:
        rows = {name: text for name, text in list_rows(finding).items() if name not in shared}
        rows["accepted"] = _say_acceptance(accepted.get(finding.id))
        rows["finding"] = finding.id
        parts += [say(finding.sentence), _tabulate(rows)]
    left = group[len(shown) :]
    if left:
        names = ", ".join(finding.subject for finding in left[:_NAMED])
        more = ", …" if len(left) > _NAMED else ""
        parts.append(say(f"The same for {len(left):,} more: {names}{more}: --all"))
    parts.append(say(f"All {len(group):,} of these:" if len(group) > 2 else "Both of these:"))
    ordered = {name: shared[name] for name in list_rows(group[0]) if name in shared}
    parts.append(_tabulate({**ordered, "check": _name_check(group[0])}))
    return _indent(*parts)


def find_shared(group: Sequence[Finding]) -> dict[str, str]:
    """Return the rows that are the same for every finding of a group, but for its own name."""
    first, *others = [list_rows(finding) for finding in group]
    shared = {
        name: text
        for name, text in first.items()
        if text and all(other[name] == text for other in others)
    }
    remedy = find_remedy(group)
    if _REMEDY not in shared and remedy:
        shared[_REMEDY] = remedy
    return shared


def find_remedy(group: Sequence[Finding]) -> str:
    """Return the one thing to do about a group, its own names left open; empty for several."""
    alike = {finding.remedy for finding in group}
    if len(alike) > 1:
        alike = {finding.remedy.replace(finding.subject, _ANY_FILE) for finding in group}
    return _say_remedy(alike.pop()) if len(alike) == 1 else ""


def list_rows(finding: Finding) -> dict[str, str]:
    """Return what stands below a finding, by label."""
    return {
        "found": _measure(finding.observed, finding.unit),
        "required": _measure(finding.required, finding.unit),
        "where": _name_place(finding),
        "criterion": _shorten_source(finding.criterion_source),
        _REMEDY: _say_remedy(finding.remedy),
    }


def _count_shown(group: Sequence[Finding]) -> int:
    """Return how many of a group are shown: one stands for many that say the same."""
    said = {finding.sentence.replace(finding.subject, "…") for finding in group}
    if len(said) == 1 and len(group) > _BOTH:
        return 1
    return len(group) if len(group) <= _SHOWN_ALIKE + 1 else _SHOWN_ALIKE


def _tabulate(rows: Mapping[str, str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(style=QUIET, min_width=_LABEL_COLUMNS)
    table.add_column(overflow="fold")
    styles = {_REMEDY: STRONG, "accepted": GOOD}
    for label, text in rows.items():
        if text:
            table.add_row(say(label), say(text, styles.get(label, "")))
    return table


def _indent(*parts: RenderableType) -> RenderableType:
    """Return sentences indented, and the rows below them a little more."""
    return Group(
        *(
            Padding(part, (0, 0, 0, 2 * _INDENT if isinstance(part, Table) else _INDENT))
            for part in parts
        )
    )


def _measure(text: str, unit: str) -> str:
    counted = _ONE.get(unit, unit) if text.rsplit(" ", maxsplit=1)[-1] == "1" else unit
    return f"{text} {counted}".strip() if text else ""


def _name_place(finding: Finding) -> str:
    """Return file, cell, strips, time and place, as far as the sentence does not name them."""
    where, said = finding.where, finding.sentence.lower()
    named = (where.file, where.cell, *where.strips)
    told = [text for text in dict.fromkeys(named) if text and text.lower() not in said]
    if where.xy:
        told.append(f"{where.xy[0]:.1f}, {where.xy[1]:.1f}")
    if where.xy and where.lonlat:
        told.append(_name_degrees(*where.lonlat))
    if where.time_span:
        told.append(f"{where.time_span[0]} to {where.time_span[1]}")
    return ", ".join(told)


def _name_degrees(lon: float, lat: float) -> str:
    """Return a place as maps and telephones take it, to about a metre."""
    return f"{abs(lat):.5f}° {'S' if lat < 0 else 'N'} {abs(lon):.5f}° {'W' if lon < 0 else 'E'}"


def _name_check(finding: Finding) -> str:
    return ", ".join((finding.check, *finding.catalogue))


def _shorten_source(source: str) -> str:
    """Return each document once; which criterion has which stands in the JSON."""
    named = (part.split("default: ")[-1].strip() for part in source.split(";"))
    return "; ".join(dict.fromkeys(named))


def _say_remedy(remedy: str) -> str:
    return say_sentence(remedy).plain if remedy else ""


def _say_acceptance(acceptance: Acceptance | None) -> str:
    return f"by the {acceptance.by}: {acceptance.reason}" if acceptance is not None else ""


def list_names(names: Iterable[str], *, everything: bool) -> RenderableType:
    """Return names in one line; how many were left out is said."""
    listed = list(names)
    shown = listed if everything or len(listed) <= _NAMED + 1 else listed[:_NAMED]
    left = f" and {len(listed) - len(shown)} more: --all" if len(shown) < len(listed) else ""
    return say_lines([f"{', '.join(shown)}{left}"], indent=_INDENT)
