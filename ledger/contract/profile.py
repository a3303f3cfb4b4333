"""Published criteria as data: what a customer means who only names a document."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Clause:
    """One published value.

    Args:
        value: the value, as it would stand in `job.toml`.
        clause: where the document states it.
    """

    value: Any
    clause: str


@dataclass(frozen=True)
class Profile:
    """The criteria of one edition of one document.

    Args:
        id: kebab case, with edition and level (the name that `criteria.profile` holds).
        title: title of the document.
        edition: its edition.
        criteria: by check id and field name. A check that is named here is required.
    """

    id: str
    title: str
    edition: str
    criteria: Mapping[str, Mapping[str, Clause]] = field(default_factory=dict)
