"""What several checks read cannot be altered by one of them."""

from __future__ import annotations

import copy
import json
import pickle
from dataclasses import dataclass, field
from typing import Any

import pytest
from pydantic import BaseModel

from ledger.model.frozen import Freezer


@dataclass(frozen=True)
class Row:
    """A record with everything in it."""

    values: Any = field(default_factory=dict)
    name: str = "a"


class Model(BaseModel):
    """A model with a mapping."""

    off: dict[str, Any] = {}


def freeze(value: Any) -> Any:
    """Freeze a value by itself."""
    return Freezer().freeze(value)


ALTER_DICT = [
    lambda d: d.update(a=2),
    lambda d: d.pop("a"),
    lambda d: d.popitem(),
    lambda d: d.clear(),
    lambda d: d.setdefault("b", 1),
    lambda d: d.__setitem__("a", 2),
    lambda d: d.__delitem__("a"),
    lambda d: d.__ior__({"b": 1}),
]
ALTER_LIST = [
    lambda x: x.append(1),
    lambda x: x.clear(),
    lambda x: x.extend([1]),
    lambda x: x.insert(0, 1),
    lambda x: x.pop(),
    lambda x: x.remove(1),
    lambda x: x.reverse(),
    lambda x: x.sort(),
    lambda x: x.__setitem__(0, 2),
    lambda x: x.__delitem__(0),
    lambda x: x.__iadd__([1]),
    lambda x: x.__imul__(2),
]


@pytest.mark.parametrize("alter", ALTER_DICT)
def test_no_way_to_alter_a_dict(alter: Any) -> None:
    """Every method of a dict that alters it refuses."""
    frozen = freeze({"a": 1})
    with pytest.raises(TypeError, match="cannot be altered"):
        alter(frozen)
    assert frozen == {"a": 1}


@pytest.mark.parametrize("alter", ALTER_LIST)
def test_no_way_to_alter_a_list(alter: Any) -> None:
    """Every method of a list that alters it refuses."""
    frozen = freeze([1])
    with pytest.raises(TypeError, match="cannot be altered"):
        alter(frozen)
    assert frozen == [1]


def test_deep_inside_records_and_models() -> None:
    """However deep it lies, and the records around it stay the same objects."""
    inner = Row({"list": [{"x": [1]}], "tuple": ({"y": 1},)})
    outer = Row((inner, Model(off={"a": "why"})))
    assert freeze(outer) is outer
    assert outer.values[0] is inner
    assert inner.values == {"list": [{"x": [1]}], "tuple": ({"y": 1},)}
    with pytest.raises(TypeError):
        inner.values["list"][0]["x"].append(2)
    with pytest.raises(TypeError):
        inner.values["tuple"][0].clear()
    with pytest.raises(TypeError):
        outer.values[1].off.clear()


def test_frozen_values_are_values_like_others() -> None:
    """They pickle, copy, print as JSON, and frozen once is frozen enough."""
    frozen = freeze({"a": [1, {"b": 2}]})
    assert pickle.loads(pickle.dumps(frozen)) == frozen  # noqa: S301 - made one line above
    assert copy.deepcopy(frozen) == frozen
    assert json.dumps(frozen) == '{"a": [1, {"b": 2}]}'
    assert freeze(frozen) is frozen
    assert isinstance(frozen, dict)
    assert isinstance(frozen["a"], list)


def test_records_that_know_each_other_end() -> None:
    """A circle of records is walked once."""
    first, second = Row(), Row()
    vars(first)["values"], vars(second)["values"] = second, first
    assert freeze(first) is first
