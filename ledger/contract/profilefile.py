"""Profiles as files that a person can read, copy and change: TOML, one an edition.

A document with several levels of quality has them in one file; each level is a profile of its own
that takes the file's common part and adds to it.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from pydantic import Field, ValidationError

from ledger.contract.profile import Clause, Profile
from ledger.model.document import Known, NotTested, find_unit
from ledger.model.phrases import find_nearest
from ledger.model.specification import Strict
from ledger.specfile.faults import NAME, FaultList
from ledger.specfile.text import parse_toml
from ledger.specfile.wording import explain_validation


class _Value(Strict):
    value: Any
    unit: str = ""
    clause: str = Field(min_length=1)
    known: Known


class _Asked(Strict):
    asks: str = Field(min_length=1)
    clause: str = Field(min_length=1)
    known: Known


class _Part(Strict):
    criteria: dict[str, dict[str, _Value]] = Field(default_factory=dict)
    not_tested: tuple[_Asked, ...] = ()


class _File(_Part):
    id: str
    title: str = Field(min_length=1)
    edition: str = Field(min_length=1)
    levels: dict[str, _Part] = Field(default_factory=dict)


def read_profiles(
    content: bytes, where: str, names: Mapping[str, Collection[str]] | None = None
) -> tuple[Profile, ...]:
    """Return the profiles of a file: one for each level, or the one it is.

    Args:
        content: the bytes of the file.
        where: its name, for messages.
        names: the criteria of each check that is installed, by id, which the file is held to; None
            to take every name.

    Raises:
        SpecificationError: it is no profile file, with every fault and its line.
    """
    text, values = parse_toml(content, where)
    faults = FaultList(text, where)
    file = _understand(values, faults)
    if file is not None:
        _add_unknown_names(file, names or {}, faults)
        for path, stated, expected in _find_bad_units(file, names or {}):
            faults.add(
                path,
                "is not the unit in the criterion's name",
                found=stated or "none",
                expected=expected or "none",
                remedy="write the value in that unit",
            )
    faults.require_none()
    return tuple(_list_profiles(file, content)) if file is not None else ()


def _understand(values: Mapping[str, Any], faults: FaultList) -> _File | None:
    try:
        return _File.model_validate_json(json.dumps(values, default=str))
    except ValidationError as error:
        explain_validation(error, faults, (), _File)
        return None


def _add_unknown_names(
    file: _File, names: Mapping[str, Collection[str]], faults: FaultList
) -> None:
    """Add a fault for each name that is no criterion of its check, once for all levels."""
    unknown = {
        (check, name): path
        for path, check, name, _ in reversed(tuple(_list_values(file)))
        if not _may_be(check, name, names)
    }
    for (check, name), path in reversed(unknown.items()):
        nearest = find_nearest(name, names[check])
        faults.add(
            path,
            f"is no criterion of check {check}",
            remedy=f"did you mean {nearest}?" if nearest else "swathbook checks lists them",
            about=NAME,
        )


def _find_bad_units(
    file: _File, names: Mapping[str, Collection[str]]
) -> Iterator[tuple[tuple[str, ...], str, str]]:
    """Yield each unit that is not the one in which the check reads the value.

    What a misspelt name would be in is not asked.
    """
    for path, check, name, stated in _list_values(file):
        expected = find_unit(name)
        if _may_be(check, name, names) and stated.unit != expected:
            yield (*path, "unit"), stated.unit, expected


def _may_be(check: str, name: str, names: Mapping[str, Collection[str]]) -> bool:
    """Say whether a check has a criterion of a name, as far as the check is known."""
    return check not in names or name in names[check]


def _list_values(file: _File) -> Iterator[tuple[tuple[str, ...], str, str, _Value]]:
    """Yield path, check, name and value of every criterion, the common part first."""
    parts: list[tuple[tuple[str, ...], _Part]] = [((), file)]
    parts += [(("levels", name), part) for name, part in file.levels.items()]
    for path, part in parts:
        for check, fields in part.criteria.items():
            for name, stated in fields.items():
                yield (*path, "criteria", check, name), check, name, stated


def _list_profiles(file: _File, content: bytes) -> Iterator[Profile]:
    if not file.levels:
        yield _make(file, file.id, file.edition, (file,), content)
    for level, part in file.levels.items():
        edition = f"{file.edition}, {level.upper()}"
        yield _make(file, f"{file.id}-{level}", edition, (file, part), content)


def _make(
    file: _File, name: str, edition: str, parts: tuple[_Part, ...], content: bytes
) -> Profile:
    criteria: dict[str, dict[str, Clause]] = {}
    for part in parts:
        for check, fields in part.criteria.items():
            found = criteria.setdefault(check, {})
            for field, each in fields.items():
                found[field] = Clause(each.value, each.clause, each.known)
    asked = tuple(
        NotTested(each.asks, each.clause, str(each.known))
        for part in parts
        for each in part.not_tested
    )
    return Profile(name, file.title, edition, criteria, asked, content)
