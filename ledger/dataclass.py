"""Frozen dataclasses that load fast: what all of them share is written once.

The library writes and compiles six methods for every frozen dataclass each time its module is
loaded, and a command loads a hundred to four hundred of them: a third of its time. Here `__init__`
alone is compiled; equality, hash, text and the refusal of changes are functions that all share.
Everything else is the library's, and so is every dataclass that asks for more: one that is not
frozen, or has order or slots.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

_PLAIN = {"frozen", "eq"}
_MISSING = dataclasses.MISSING
_COMPARED, _HASHED = "_compared_values", "_hashed_values"

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass  # noqa: PLC0414 - handed on
else:

    def dataclass(cls: type | None = None, /, **wishes: bool) -> object:
        """Make a class a dataclass; see the library's, whose words and behaviour these are."""
        if cls is None:
            return lambda given: dataclass(given, **wishes)
        if not wishes.get("frozen") or not wishes.keys() <= _PLAIN:
            return dataclasses.dataclass(**wishes)(cls)
        return _make_frozen(cls, eq=wishes.get("eq", True))


def _make_frozen(cls: type, *, eq: bool) -> type:
    stated = dict(vars(cls))
    # One below another dataclass has to say that it is frozen, and the library writes its refusals.
    is_below = any(map(dataclasses.is_dataclass, cls.__mro__[1:]))
    dataclasses.dataclass(init=False, repr=False, eq=False, frozen=is_below)(cls)
    vars(cls)["__dataclass_params__"].frozen = True  # so that nothing below it is less
    parts = dataclasses.fields(cls)
    methods: dict[str, Any] = {"__repr__": _write}
    if eq:
        methods |= {"__eq__": _equals, "__hash__": _hash}
    methods["__init__"] = _make_init(cls, parts)
    for name, method in methods.items():
        # A class with its own equality and no hash has None for one, and is given ours.
        if stated.get(name) is None:
            setattr(cls, name, method)
    setattr(cls, _COMPARED, _make_getter(part.name for part in parts if part.compare))
    hashed = (part.name for part in parts if (part.compare if part.hash is None else part.hash))
    setattr(cls, _HASHED, _make_getter(hashed))
    if not is_below:
        cls.__setattr__ = _refuse_change  # type: ignore[assignment, method-assign]
        cls.__delattr__ = _refuse_removal  # type: ignore[assignment, method-assign]
    return cls


def _make_getter(names: Iterable[str]) -> staticmethod[[Any], tuple[Any, ...]]:
    """Return what gives the values of some fields, as a tuple whatever their number."""
    wanted = tuple(names)
    if len(wanted) > 1:
        return staticmethod(attrgetter(*wanted))
    return staticmethod(lambda record: tuple(getattr(record, name) for name in wanted))


def _make_init(cls: type, parts: tuple[dataclasses.Field[Any], ...]) -> Callable[..., None]:
    """Compile the `__init__` of a class; it sets fields as the library's does."""
    known: dict[str, Any] = {"_set": object.__setattr__, "_MISSING": _MISSING}
    words = [f"def __init__({', '.join(['self', *_list_parameters(parts, known)])}) -> None:"]
    for part in parts:
        value = part.name
        if part.default_factory is not _MISSING:
            known[f"_make_{value}"] = part.default_factory
            made = f"_make_{value}()"
            value = f"{made} if {value} is _MISSING else {value}" if part.init else made
        elif not part.init:
            continue
        words.append(f"  _set(self, {part.name!r}, {value})")
    if hasattr(cls, "__post_init__"):
        words.append("  self.__post_init__()")
    exec("\n".join([*words, "  return"]), known)  # noqa: S102 - names of fields, as the library does
    init: Callable[..., None] = known["__init__"]
    init.__qualname__ = f"{cls.__qualname__}.__init__"
    init.__module__ = cls.__module__
    init.__annotations__ = {part.name: part.type for part in parts if part.init} | {"return": None}
    return init


def _list_parameters(
    parts: tuple[dataclasses.Field[Any], ...], known: dict[str, Any]
) -> Iterator[str]:
    """Yield the parameters of an `__init__`; what their defaults are called is added to `known`."""
    for part in parts:
        if not part.init:
            continue
        if part.default is not _MISSING:
            known[f"_default_{part.name}"] = part.default
            yield f"{part.name}=_default_{part.name}"
        elif part.default_factory is not _MISSING:
            yield f"{part.name}=_MISSING"
        else:
            yield part.name


def _equals(self: Any, other: Any) -> Any:  # noqa: ANN401 - of any class made here
    if other.__class__ is not self.__class__:
        return NotImplemented
    return self._compared_values(self) == self._compared_values(other)


def _hash(self: Any) -> int:  # noqa: ANN401 - as above
    return hash(self._hashed_values(self))


@recursive_repr()
def _write(self: Any) -> str:  # noqa: ANN401 - as above
    told = (f"{f.name}={getattr(self, f.name)!r}" for f in dataclasses.fields(self) if f.repr)
    return f"{self.__class__.__qualname__}({', '.join(told)})"


def _refuse_change(self: Any, name: str, value: object) -> None:  # noqa: ANN401 - as above
    _require_no_field(self, name, "assign to")
    object.__setattr__(self, name, value)


def _refuse_removal(self: Any, name: str) -> None:  # noqa: ANN401 - as above
    _require_no_field(self, name, "delete")
    object.__delattr__(self, name)


def _require_no_field(record: Any, name: str, work: str) -> None:  # noqa: ANN401 - as above
    """Refuse a field, and anything else on an object of a dataclass itself."""
    if "__dataclass_fields__" in vars(type(record)) or name in type(record).__dataclass_fields__:
        raise dataclasses.FrozenInstanceError(f"cannot {work} field {name!r}")
