"""What each point adds to a fingerprint: their sum is the fingerprint, and equal ones are equal.

The finish is held against the same steps in whole numbers; its constants are those of the module,
which the page of the fingerprint gives.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bits import compute, make_chunk
from hypothesis import given, settings
from hypothesis import strategies as st
from plain import read_table

from ledger import fingerprint
from ledger.errors import ContractError
from ledger.fingerprint import BLOCK_POINTS, hash_points, mix
from ledger.model.chunk import PointChunk
from ledger.pointwords import list_fields
from ledger.testing import METRES, restrict, shuffle, take
from ledger.testing import make_chunk as make_numbers

TABLE = read_table()
LEVELS = ("geometry", "pulse", "full")
MASK = 2**64 - 1


def make_cloud(count: int, seed: int = 5) -> PointChunk:
    """Return points with every field of the table filled at random, 0 or 1."""
    random = np.random.default_rng(seed)
    return make_chunk(
        [{row.field: int(random.integers(0, 2)) for row in TABLE} for _ in range(count)], TABLE
    )


def sum_up(hashes: np.ndarray) -> int:
    """Return the sum modulo 2^64, in whole numbers."""
    return sum(int(each) for each in hashes) & MASK


@pytest.mark.parametrize("count", [1, 7, 300])
def test_the_sum_of_what_points_add_is_the_first_lane(count: int) -> None:
    """At each level: the first sixteen digits of the value."""
    cloud = make_cloud(count)
    value, hashes = compute(cloud), hash_points(cloud)
    assert set(hashes) == set(LEVELS)
    for level in LEVELS:
        assert f"{sum_up(hashes[level]):016x}" == getattr(value, level)[:16]


def test_points_beyond_one_block_are_added_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """In blocks of any length each point adds the same."""
    cloud = make_cloud(50)
    wanted = hash_points(cloud)
    assert len(cloud) < BLOCK_POINTS
    for size in (1, 7, 49, 50):
        monkeypatch.setattr(fingerprint, "BLOCK_POINTS", size)
        found = hash_points(cloud)
        assert all(np.array_equal(found[level], wanted[level]) for level in LEVELS)


@given(st.integers(0, 2**32))
@settings(max_examples=10, deadline=None)
def test_a_point_adds_the_same_wherever_it_stands(seed: int) -> None:
    """Equal points are equal, in any order, and repeated."""
    cloud = make_cloud(20)
    wanted = hash_points(cloud)
    mixed = hash_points(shuffle(cloud, seed))
    twice = hash_points(take(cloud, np.repeat(np.arange(20), 2)))
    for level in LEVELS:
        assert sorted(mixed[level].tolist()) == sorted(wanted[level].tolist())
        assert np.array_equal(twice[level], np.repeat(wanted[level], 2))


def test_without_all_fields_only_the_geometry_is_given() -> None:
    """As the fingerprint itself does."""
    cloud = make_cloud(5)
    bare = restrict(cloud, ())
    assert set(hash_points(bare)) == {"geometry"}
    assert np.array_equal(hash_points(bare)["geometry"], hash_points(cloud)["geometry"])
    assert hash_points(take(cloud, np.arange(0)))["geometry"].size == 0


@given(st.lists(st.integers(0, MASK), min_size=1, max_size=20))
@settings(max_examples=50, deadline=None)
def test_the_finish_is_that_of_whole_numbers(values: list[int]) -> None:
    """Shift, multiply and shift again modulo 2^64; what is given stays as it is."""
    given_numbers = np.array(values, dtype=np.uint64)
    wanted = []
    for value in values:
        number = value
        for shift, multiplier in fingerprint._FINISH:
            number ^= number >> int(shift)
            number = number * int(multiplier) & MASK
        wanted.append(number ^ number >> int(fingerprint._LAST_SHIFT))
    assert mix(given_numbers).tolist() == wanted
    assert given_numbers.tolist() == values


def test_the_finish_gives_different_numbers_to_different_ones() -> None:
    """It is a bijection: no two of many numbers fall together, and neither do neighbours."""
    least = np.arange(50_000, dtype=np.uint64)
    assert len(np.unique(mix(np.concatenate([least, ~least])))) == 100_000


def test_parts_on_lattices_that_are_equal_are_added() -> None:
    """A part that came back from another process has a lattice of its own, equal to this one."""
    cloud = make_cloud(20)
    first, second = (fingerprint.Fingerprint(replace(cloud.lattice)) for _ in range(2))
    for each, start in ((first, 0), (second, 10)):
        each.add(cloud.slice(start, start + 10))
    first.merge(second)
    assert first.value() == compute(cloud)
    other = fingerprint.Fingerprint(replace(cloud.lattice, steps_z=cloud.lattice.steps_z + 1))
    with pytest.raises(ContractError, match="different lattices"):
        first.merge(other)


def test_fields_are_listed_by_their_bits() -> None:
    """Every field of a point once, unsigned, a real number by its bits (IEEE 754)."""
    points = {"x": [0.0, 1.0], "y": [0.0, 0.0], "z": [0.0, 0.0]}
    chunk = make_numbers(
        {**points, "gps_time": np.array([1.0, -1.0]), "classification": np.array([2, 6], np.uint8)},
        METRES,
    )
    found = dict(list_fields(chunk))
    assert set(found) == {"gps_time", "classification"}
    assert found["gps_time"].tolist() == [0x3FF0_0000_0000_0000, 0xBFF0_0000_0000_0000]
    assert found["classification"].tolist() == [2, 6]
    assert all(values.dtype.kind == "u" for values in found.values())
