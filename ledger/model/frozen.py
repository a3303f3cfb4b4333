"""Mappings and lists that nobody can alter, inside records that several readers share.

They are dicts and lists in every other way: they compare, print, pickle and encode alike.
"""

from __future__ import annotations

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


def freeze(value: Any) -> Any:  # noqa: ANN401 - any value of a record
    """Return a value whose dicts and lists refuse to be altered, however deep they lie.

    Dicts and lists are replaced by equal ones; records and models around them stay the same
    objects, with the replacements put in place.
    """
    return _freeze(value, set())


def _freeze(value: Any, seen: set[int]) -> Any:  # noqa: ANN401 - any value of a record
    kind = type(value)
    if kind in _SETTLED or id(value) in seen:
        return value
    if isinstance(value, dict):
        return FrozenDict({key: _freeze(part, seen) for key, part in value.items()})
    if isinstance(value, list):
        return FrozenList(_freeze(part, seen) for part in value)
    if kind is tuple:
        parts = [_freeze(part, seen) for part in value]
        same = all(new is old for new, old in zip(parts, value, strict=True))
        return value if same else tuple(parts)
    if hasattr(kind, "__dataclass_fields__") or hasattr(kind, "__pydantic_fields__"):
        seen.add(id(value))  # a run stands behind thousands of files
        _freeze_parts(vars(value), seen)
    return value


def _freeze_parts(parts: dict[str, Any], seen: set[int]) -> None:
    for name, part in tuple(parts.items()):
        if type(part) not in _SETTLED:
            frozen = _freeze(part, seen)
            if frozen is not part:
                parts[name] = frozen
