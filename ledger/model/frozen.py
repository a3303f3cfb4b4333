"""Mappings and lists that nobody can alter, inside records that several readers share.

They are dicts and lists in every other way: they compare, print, pickle and encode alike.
"""

from __future__ import annotations

from operator import is_
from typing import Any, NoReturn


class FrozenDict(dict[Any, Any]):
    """A dict that refuses to be altered."""

    def _refuse(self, *_given: object, **_named: object) -> NoReturn:
        raise TypeError("evidence is shared and cannot be altered")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle and copy as what it holds."""
        return type(self), (dict(self),)


class FrozenList(list[Any]):
    """A list that refuses to be altered."""

    def _refuse(self, *_given: object, **_named: object) -> NoReturn:
        raise TypeError("evidence is shared and cannot be altered")

    __setitem__ = __delitem__ = __iadd__ = __imul__ = _refuse
    append = clear = extend = insert = pop = remove = reverse = sort = _refuse

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle and copy as what it holds."""
        return type(self), (list(self),)


_SETTLED = frozenset({str, bytes, int, float, bool, type(None), FrozenDict, FrozenList})


class Freezer:
    """Freezes records, each once: what was frozen before is known again."""

    def __init__(self) -> None:
        """Start with nothing frozen."""
        self._seen: dict[int, Any] = {}  # the objects too, so that no other gets one's number

    def freeze(self, value: Any) -> Any:  # noqa: ANN401 - any value of a record
        """Return a value whose dicts and lists refuse to be altered, however deep they lie.

        Dicts and lists are replaced by equal ones; records and models around them stay the same
        objects, with the replacements put in place.
        """
        kind = type(value)
        if kind in _SETTLED or id(value) in self._seen:
            return value
        if isinstance(value, dict):
            return FrozenDict({key: self.freeze(part) for key, part in value.items()})
        if isinstance(value, list):
            return FrozenList(self.freeze(part) for part in value)
        if kind is tuple:
            return self._freeze_tuple(value)
        if hasattr(kind, "__dataclass_fields__") or hasattr(kind, "__pydantic_fields__"):
            self._seen[id(value)] = value  # a run stands behind thousands of files
            self._freeze_parts(vars(value))
        return value

    def _freeze_tuple(self, value: tuple[Any, ...]) -> tuple[Any, ...]:
        if _SETTLED.issuperset(map(type, value)):
            return value
        parts = tuple(map(self.freeze, value))
        if not all(map(is_, parts, value)):
            return parts
        self._seen[id(value)] = value  # tiles of one export have one list of records
        return value

    def _freeze_parts(self, parts: dict[str, Any]) -> None:
        for name, part in tuple(parts.items()):
            kind = type(part)
            # Most parts are texts, numbers and tuples of them: no call for each of thousands.
            plain = kind in _SETTLED or (kind is tuple and _SETTLED.issuperset(map(type, part)))
            if not plain:
                frozen = self.freeze(part)
                if frozen is not part:
                    parts[name] = frozen
