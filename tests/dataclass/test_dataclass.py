"""Records that load fast are dataclasses: held against those that the standard library makes."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from dataclasses import FrozenInstanceError, field
from typing import Any, ClassVar

import pytest

from ledger.dataclass import dataclass


class Shape:
    """A body that is made a record twice: by us and by the library."""

    name: str
    size: int = 3
    notes: list[str] = field(default_factory=list, compare=False)
    key: tuple[int, ...] = field(default=(), repr=False, hash=False)
    kind: ClassVar[str] = "shape"


class Single:
    """One field, which need not be equal to itself."""

    value: float


class Empty:
    """No field."""


class Checked:  # noqa: PLW1641 - the hash is what is asked about
    """A body with equality and text of its own, and a check of what it is given."""

    size: int
    seen: list[int] = field(init=False, default_factory=list, compare=False)

    def __post_init__(self):
        """Keep what was given."""
        self.seen.append(self.size)

    def __eq__(self, other):
        return True

    def __repr__(self):
        return "checked"


BODIES = {Shape: ("a",), Single: (float("nan"),), Empty: (), Checked: (4,)}


def make_both(body, **wishes):
    """Return a class that we made and one that the library made, of one name."""
    made: list[Any] = []
    for make in (dataclass, dataclasses.dataclass):
        parts = {k: v for k, v in vars(body).items() if k not in ("__dict__", "__weakref__")}
        made.append(make(type(body.__name__, (), copy.copy(parts)), frozen=True, **wishes))
    return made


@pytest.mark.parametrize("body", BODIES)
def test_a_record_is_and_does_what_the_library_makes_it(body):
    """Fields, arguments, text, equality, hash, copies: all as the library has them."""
    ours, theirs = make_both(body)
    values = BODIES[body]
    a, b = ours(*values), theirs(*values)
    assert [f.name for f in dataclasses.fields(a)] == [f.name for f in dataclasses.fields(b)]
    assert list(inspect.signature(ours).parameters) == list(inspect.signature(theirs).parameters)
    assert ours.__init__.__annotations__.keys() == theirs.__init__.__annotations__.keys()
    assert ours.__match_args__ == theirs.__match_args__
    assert (vars(a), repr(a)) == (vars(b), repr(b))
    assert dataclasses.asdict(a) == dataclasses.asdict(b)
    assert (a == ours(*values), a == b) == (b == theirs(*values), b == a)
    assert a == copy.copy(a)
    assert hash(a) == hash(ours(*values))


def test_equality_and_hash_ask_the_fields_that_they_should():
    """What is not compared makes no difference; another class is another record."""
    for made in make_both(Shape):
        first = made("a", 3, ["x"], (1,))
        assert first == made("a", notes=["y"], key=(1,))
        assert first != made("a", key=(2,))
        assert hash(first) == hash(made("a", key=(2,)))
        assert first != type("Shape", (made,), {})("a", 3, ["x"], (1,))
        assert first.__eq__(3) is NotImplemented
        assert made("a").notes is not made("a").notes
        assert dataclasses.replace(first, size=4).size == 4
        with pytest.raises(TypeError):
            made()


def test_without_equality_records_differ_by_themselves():
    """`eq=False` leaves identity and its hash."""
    for made in make_both(Shape, eq=False):
        assert made("a") != made("a")
        assert made.__hash__ is object.__hash__


def test_a_record_refuses_every_change():
    """No field is set or removed, and nothing is added; a plain class below it may add its own."""
    for made in make_both(Shape):
        record = made("a")
        for name in ("name", "other"):
            with pytest.raises(FrozenInstanceError, match=f"cannot assign to field '{name}'"):
                setattr(record, name, "b")
            with pytest.raises(FrozenInstanceError, match=f"cannot delete field '{name}'"):
                delattr(record, name)
        below = type("Below", (made,), {})("a")
        below.other = 1
        with pytest.raises(FrozenInstanceError):
            below.name = "b"
        del below.other


def test_a_dataclass_below_a_record_has_to_be_frozen():
    """A stranger's record may stand on one of ours, made by either."""
    ours, _ = make_both(Shape)
    for make in (dataclass, dataclasses.dataclass):
        below: Any = make(
            type("Below", (ours,), {"__annotations__": {"more": "int"}, "more": 1}), frozen=True
        )
        assert below("a", more=2) == below("a", more=2) != below("a")
        assert repr(below("a")).endswith("more=1)")
        with pytest.raises(FrozenInstanceError):
            below("a").more = 3
    with pytest.raises(TypeError, match="non-frozen"):
        dataclasses.dataclass(type("Below", (ours,), {}))


@dataclass(frozen=True)
class Node:
    """A record of a module, which may hold itself."""

    of: list[Node] = field(default_factory=list)


def test_a_record_is_pickled_and_one_that_holds_itself_is_written():
    """What goes to another process comes back equal."""
    node = Node([Node()])
    assert pickle.loads(pickle.dumps(node)) == node  # noqa: S301 - our own
    node.of.append(node)
    assert repr(node) == "Node(of=[Node(of=[]), ...])"


@pytest.mark.parametrize("wishes", [{"order": True}, {"slots": True}], ids=str)
def test_what_asks_for_more_is_made_by_the_library(wishes):
    """Order and slots are the library's."""
    made: Any = dataclass(
        type("Pair", (), {"__annotations__": {"a": "int"}}), frozen=True, **wishes
    )
    assert made(1) == made(1)
    assert made.__eq__.__code__.co_filename == "<string>"
