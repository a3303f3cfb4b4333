"""Criteria as applied: each value with where it comes from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from enum import Enum
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ledger.contract.check import Criteria
from ledger.contract.profile import Clause, Profile
from ledger.model.audit import Criterion, Source

NO_SOURCE = "no source stated"


def apply_criteria(
    model: type[Criteria],
    criteria: Criteria | None,
    own: Mapping[str, Any],
    clauses: Mapping[str, Clause],
    profile: Profile | None,
) -> tuple[Criterion, ...]:
    """Return every criterion of a check with its value and its source, in the model's order.

    Args:
        model: the check's model.
        criteria: the values as validated; None while one that has no default is blank.
        own: what `job.toml` states.
        clauses: what the profile states.
        profile: the profile; None for none.
    """
    stated = clauses if profile is not None else {}
    return tuple(
        _make(name, criteria, stated[name], profile)
        if profile is not None and name in stated and name not in own
        else _apply(name, field, criteria, own)
        for name, field in model.model_fields.items()
    )


def _make(name: str, criteria: Criteria | None, clause: Clause, profile: Profile) -> Criterion:
    """Return a criterion of a profile."""
    return Criterion(
        name,
        make_plain(clause.value if criteria is None else getattr(criteria, name)),
        Source.PROFILE,
        f"{profile.document}, {clause.place}",
        document=profile.document,
        clause=clause.clause,
        known=str(clause.known),
    )


def _apply(
    name: str, field: FieldInfo, criteria: Criteria | None, own: Mapping[str, Any]
) -> Criterion:
    value = None if criteria is None else make_plain(getattr(criteria, name))
    if name in own:
        return Criterion(name, value, Source.OWN)
    if field.is_required():
        return Criterion(name, None, Source.BLANK, field.description or "")
    if criteria is None:  # another criterion of the check is blank, so none was validated
        value = make_plain(field.get_default(call_default_factory=True, validated_data={}))
    return Criterion(name, value, Source.DEFAULT, field.description or NO_SOURCE)


def make_plain(value: Any) -> Any:  # noqa: ANN401 - any value of a criteria model
    """Return a value of a criteria model as text, number, truth value, list or mapping of those."""
    if isinstance(value, Enum):
        return make_plain(value.value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, BaseModel):
        return {name: make_plain(getattr(value, name)) for name in type(value).model_fields}
    if isinstance(value, Mapping):
        return {str(key): make_plain(part) for key, part in value.items()}
    return _make_list(value) if isinstance(value, _MANY) else value


_MANY = (list, tuple, set, frozenset)


def _make_list(values: Any) -> list[Any]:  # noqa: ANN401
    parts = [make_plain(part) for part in values]
    return sorted(parts, key=str) if isinstance(values, set | frozenset) else parts
