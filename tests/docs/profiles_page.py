"""The page of profiles: every value with its unit, document, clause and how it is known."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby

from ledger.contract.profile import Profile
from ledger.contract.registry import build_registry
from ledger.model.document import MEANINGS, find_unit
from ledger.report.checks import write_criterion

_HEAD = """\
# Profiles

This page is generated from the profile files by `python tests/docs/generate.py`.

A profile holds the criteria of one edition of a published document.
Name one in `job.toml`, and it fills what the file leaves out:

```toml
[criteria]
profile = "usgs-lbs-2025a-ql2"
```

What `job.toml` states itself counts before the profile, and that before the default of a check.
A check for which the profile has a value may not be left open.
What the document asks for and no check tests is printed with every audit, as not tested here.
It never counts as a pass, and it keeps no audit incomplete.

## A profile of your own

Copy a file from the folder `lidar_checks/profiles` of the installed package into the job folder,
change the copy, and name it.
Where a file has levels, one of them follows the sign `#`:

```toml
[criteria]
profile = "ours.toml#ql2"
```

Write `known = "agreed"` beside a value that you change, and say in `clause` where it was agreed.
Each audit keeps the file and its SHA-256.

## How a value is known

| `known` | what it means |
| --- | --- |
"""


def make_profiles_page() -> str:
    """Return the page."""
    profiles = [each.profile for each in build_registry().profiles]
    meanings = "".join(f"| `{known}` | {meaning} |\n" for known, meaning in MEANINGS.items())
    by_file = sorted(profiles, key=lambda each: (each.title, _sort_key(each.edition), each.sha256))
    sections = "".join(
        _describe(list(group)) for _, group in groupby(by_file, lambda each: each.sha256)
    )
    return f"{_HEAD}{meanings}{sections}"


def _sort_key(edition: str) -> list[tuple[int, str]]:
    """Return a key that puts 2.5 before 10."""
    parts = re.findall(r"\d+|\D+", edition)
    return [(int(part), "") if part.isdigit() else (0, part) for part in parts]


def _describe(group: list[Profile]) -> str:
    first = group[0]
    edition = first.edition.rpartition(", ")[0] if len(group) > 1 else first.edition
    names = ", ".join(f"`{each.id}`" for each in group)
    rows = "".join(_list_rows(group))
    head = "\n| profile | criterion | value | clause | known |\n| --- | --- | --- | --- | --- |\n"
    asked = "".join(_list_asked(group))
    return (
        f"\n## {first.title}, {edition}\n\n{names}\n"
        f"{head + rows if rows else ''}\nIt also asks for, and nothing here tests:\n\n{asked}"
    )


def _list_rows(group: list[Profile]) -> Iterator[str]:
    seen: dict[tuple[str, str, str, str], list[str]] = {}
    for profile in group:
        for check, fields in profile.criteria.items():
            for name, clause in fields.items():
                value = write_criterion(clause.value)
                unit = find_unit(name)
                told = f"{value} {unit}".rstrip()
                key = (f"`{check}.{name}`", told, clause.clause, f"`{clause.known}`")
                seen.setdefault(key, []).append(profile.id)
    for key, ids in seen.items():
        yield f"| {' | '.join((_name(ids, group), *key))} |\n"


def _list_asked(group: list[Profile]) -> Iterator[str]:
    seen: dict[str, list[str]] = {}
    for profile in group:
        for each in profile.not_tested:
            told = f"{each.asks} ({each.clause}; `{each.known}`)"
            seen.setdefault(told, []).append(profile.id)
    for told, ids in seen.items():
        name = _name(ids, group)
        yield f"- {told}\n" if name == "all" else f"- {name}: {told}\n"


def _name(ids: Iterable[str], group: list[Profile]) -> str:
    listed = list(ids)
    if len(listed) == len(group):
        return "all"
    return ", ".join(f"`{each}`" for each in listed)
