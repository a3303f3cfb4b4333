"""Values whose secret name stands beside them, not before them, are put below that name.

Programs write `{"name": "password", "type": "text", "value": "…"}`, `["password", "…"]`, or an XML
`<key>password</key>` followed by the value. Read as they stand, such a value has a harmless key.
(Which keys hold a name: common practice, no source. `key` and value in turn: property lists.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ledger.settings.flat import MOST_DEPTH, Nested, read_pair
from ledger.settings.secrets import is_secret_name

_HOLDS_A_NAME = frozenset(
    {"name", "key", "id", "property", "parameter", "param", "setting", "option", "field", "label"}
)
# A longer text is a sentence in which the word of a secret stands, and no name.
_LONGEST_NAME = 40


def name_secrets(nested: Nested, depth: int = 0) -> Nested:
    """Return the values with each that stands beside the name of a secret below that name.

    What is nested more deeply than settings may be is returned as it is: flattening refuses it.
    """
    if depth > MOST_DEPTH or nested is None or isinstance(nested, str):
        return nested
    if isinstance(nested, Mapping):
        named = {key: name_secrets(value, depth + 1) for key, value in nested.items()}
        return named if read_pair(nested) else _name_members(named)
    return _name_items([name_secrets(item, depth + 1) for item in nested])


def _name_members(members: Mapping[str, Nested]) -> Nested:
    for key, value in members.items():
        if key.lower().lstrip("@") in _HOLDS_A_NAME and _names_secret(value):
            rest = {other: beside for other, beside in members.items() if other != key}
            return {key: value, str(value): rest}
    return members


def _name_items(items: Sequence[Nested]) -> Nested:
    """Put an item below the one before it; each stays at its place."""
    before = [None, *items][: len(items)]
    return [
        {str(name): item} if _names_secret(name) else item
        for name, item in zip(before, items, strict=True)
    ]


def _names_secret(value: Nested) -> bool:
    return isinstance(value, str) and len(value) <= _LONGEST_NAME and is_secret_name(value)
