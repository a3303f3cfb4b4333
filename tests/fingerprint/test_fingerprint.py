"""What a fingerprint does not depend on, and what it never misses."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from bits import LENGTHS, compute, make_chunk
from hypothesis import given, settings
from hypothesis import strategies as st
from plain import Row, read_table

from ledger.errors import ContractError
from ledger.fingerprint import BLOCK_POINTS, Fingerprint, combine
from ledger.model.artefact import FingerprintValue
from ledger.model.chunk import Lattice, PointChunk
from ledger.testing import cut, join, restrict, shuffle, take

TABLE = read_table()
LEVELS = ("geometry", "pulse", "full")
NOTHING = "0" * 32
FLAGS = {"synthetic", "key_point", "withheld", "overlap", "scan_direction_flag"}
FLAGS |= {"edge_of_flight_line"}


def make_cloud(count: int = 500, seed: int = 3) -> PointChunk:
    """Return points with every field filled at random."""
    random = np.random.default_rng(seed)
    points = []
    for _ in range(count):
        point = {}
        for row in TABLE:
            top = 2 if row.field in FLAGS else 2 ** min(8 * int(row.kind[1]), 40)
            point[row.field] = int(random.integers(0, top))
        point["extra:Deviation/u2/0"] = int(random.integers(1, 2**16))
        points.append(point)
    return make_chunk(points, TABLE)


CLOUD = make_cloud()


def edit(chunk: PointChunk, name: str, index: int, value: object) -> PointChunk:
    """Return the chunk with one value of one field, or coordinate, replaced."""
    arrays: dict[str, Any] = {"x": chunk.x, "y": chunk.y, "z": chunk.z}
    arrays |= {field: chunk[field] for field in chunk.names}
    arrays[name] = arrays[name].copy()
    arrays[name][index] = value
    x, y, z = (arrays.pop(axis) for axis in "xyz")
    return PointChunk(x, y, z, chunk.lattice, arrays, is_complete=chunk.is_complete)


def read(chunk: PointChunk, name: str) -> np.ndarray:
    """Return a field or a coordinate."""
    return getattr(chunk, name) if name in {"x", "y", "z"} else chunk[name]


def find_changed(a: FingerprintValue, b: FingerprintValue) -> list[str]:
    """Return the levels in which two values differ."""
    return [level for level in LEVELS if getattr(a, level) != getattr(b, level)]


# What makes no difference.


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 600))
def test_order_and_slices_make_no_difference(seed: int, size: int) -> None:
    """Any order and any slices give the value of all points at once."""
    assert compute(*cut(shuffle(CLOUD, seed), size)) == compute(CLOUD)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, len(CLOUD)), max_size=6), st.integers(0, 2**32))
def test_tiles_add_up(cuts: list[int], seed: int) -> None:
    """Any parts add up to the whole, as values and as fingerprints merged in any order."""
    edges = [0, *sorted(cuts), len(CLOUD)]
    whole = shuffle(CLOUD, seed)
    parts = [whole.slice(start, stop) for start, stop in pairwise(edges)]
    assert combine(compute(part) for part in parts) == compute(CLOUD)
    merged = Fingerprint(LENGTHS)
    for part in reversed(parts):
        other = Fingerprint(LENGTHS)
        other.add(part)
        merged.merge(other)
    assert merged.value() == compute(CLOUD)


def test_blocks_make_no_difference() -> None:
    """Points that fill several blocks and a part of one give the sum of their parts."""
    count = 2 * BLOCK_POINTS + 17
    cloud = take(CLOUD, np.arange(count) % len(CLOUD))
    sevenths = [take(cloud, np.arange(start, count, 7)) for start in range(7)]
    assert combine(compute(part) for part in sevenths) == compute(cloud)
    assert compute(cloud).count == count


def test_absent_field_is_a_field_of_zeros() -> None:
    """A field of zeros and no such field are the same, for every field but the coordinates."""
    bare = PointChunk(CLOUD.x, CLOUD.y, CLOUD.z, LENGTHS, {}, is_complete=True)
    zeros = {name: np.zeros_like(CLOUD[name]) for name in CLOUD.names}
    filled = PointChunk(CLOUD.x, CLOUD.y, CLOUD.z, LENGTHS, zeros, is_complete=True)
    assert compute(bare) == compute(filled)


def test_no_points() -> None:
    """No point gives zero everywhere, and adds nothing to others."""
    nothing = compute(CLOUD.slice(0, 0))
    assert (nothing.count, nothing.geometry, nothing.pulse, nothing.full) == (0, *[NOTHING] * 3)
    assert combine([nothing, compute(CLOUD)]) == compute(CLOUD)


def test_byte_order_and_width_in_memory_make_no_difference() -> None:
    """Big-endian and wider arrays of the same fields give the same value."""
    fields = {name: CLOUD[name] for name in CLOUD.names}
    fields["intensity"] = fields["intensity"].astype(np.int64)
    fields["gps_time"] = fields["gps_time"].astype(">f8")
    fields["extra:Deviation"] = fields["extra:Deviation"].astype(">u2")
    other = PointChunk(CLOUD.x, CLOUD.y, CLOUD.z, LENGTHS, fields, is_complete=True)
    assert compute(other) == compute(CLOUD)


# What is never missed.


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.field)
def test_one_step_of_one_field_is_seen_in_its_level(row: Row) -> None:
    """One field of one point, changed by one step or bit, changes its level and those above it.

    No level that does not hold the field changes.
    """
    before = compute(CLOUD)
    expected = list(LEVELS[LEVELS.index(row.level) :])
    column = read(CLOUD, row.field)
    bits = column.view(f"<u{column.dtype.itemsize}")
    for index in range(0, len(CLOUD), 29):
        value = (bits[index : index + 1] ^ np.array([1], dtype=bits.dtype)).view(column.dtype)[0]
        after = compute(edit(CLOUD, row.field, index, value))
        assert find_changed(before, after) == expected, (row.field, index)


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, len(CLOUD) - 1),
    st.tuples(*[st.integers(-(2**38), 2**38)] * 3).filter(any),
)
def test_any_move_of_one_point_is_seen(index: int, move: tuple[int, int, int]) -> None:
    """One point moved by any whole steps changes every level."""
    moved = CLOUD
    for axis, step in zip("xyz", move, strict=True):
        moved = edit(moved, axis, index, read(moved, axis)[index] + step)
    assert find_changed(compute(CLOUD), compute(moved)) == list(LEVELS)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([row.field for row in TABLE] + ["extra:Deviation"]),
    st.tuples(st.integers(0, len(CLOUD) - 1), st.integers(0, len(CLOUD) - 1)),
)
def test_swapped_values_are_seen(name: str, pair: tuple[int, int]) -> None:
    """Two points that swap the values of one field, heights included, change its level."""
    first, second = pair
    column = read(CLOUD, name)
    swapped = edit(edit(CLOUD, name, first, column[second]), name, second, column[first])
    level = next((row.level for row in TABLE if row.field == name), "full")
    same = column[first].tobytes() == column[second].tobytes()
    expected = [] if same else list(LEVELS[LEVELS.index(level) :])
    assert find_changed(compute(CLOUD), compute(swapped)) == expected


def test_opposite_moves_do_not_cancel() -> None:
    """One point up by a step and another down by one is seen, as a plain sum would not."""
    moved = edit(edit(CLOUD, "z", 4, CLOUD.z[4] + 1), "z", 9, CLOUD.z[9] - 1)
    assert find_changed(compute(CLOUD), compute(moved)) == list(LEVELS)


def test_lost_and_doubled_points_are_seen() -> None:
    """One point lost, and one point twice, changes count and every level."""
    before = compute(CLOUD)
    for chosen in (np.arange(1, len(CLOUD)), np.append(np.arange(len(CLOUD)), 7)):
        after = compute(take(CLOUD, chosen))
        assert after.count != before.count
        assert find_changed(before, after) == list(LEVELS)


def test_one_point_in_place_of_another_is_seen() -> None:
    """A point lost and another doubled, which leaves the count, changes every level."""
    chosen = np.arange(len(CLOUD))
    chosen[3] = 4
    after = compute(take(CLOUD, chosen))
    assert after.count == len(CLOUD)
    assert find_changed(compute(CLOUD), after) == list(LEVELS)


def test_times_are_compared_as_bits() -> None:
    """Minus zero is not zero, and two NaN with other bits are not the same; equal bits are."""
    minus_zero = edit(edit(CLOUD, "gps_time", 0, -0.0), "gps_time", 1, np.nan)
    plus_zero = edit(edit(CLOUD, "gps_time", 0, 0.0), "gps_time", 1, np.nan)
    assert find_changed(compute(minus_zero), compute(plus_zero)) == ["pulse", "full"]
    other_nan = np.array([0x7FF8_0000_0000_0BAD], dtype=np.uint64).view(np.float64)[0]
    one, other = edit(CLOUD, "gps_time", 1, np.nan), edit(CLOUD, "gps_time", 1, other_nan)
    assert find_changed(compute(one), compute(other)) == ["pulse", "full"]
    assert compute(one) == compute(shuffle(one))


def test_extra_bytes_count_by_name_type_and_place() -> None:
    """The same bits under another name, in another type or place change the full level alone."""

    def with_extra(name: str, values: np.ndarray) -> FingerprintValue:
        fields = {name: values}
        return compute(PointChunk(CLOUD.x, CLOUD.y, CLOUD.z, LENGTHS, fields, is_complete=True))

    values = np.arange(1, len(CLOUD) + 1, dtype=np.int16)
    pair = np.column_stack([values, values * 2])
    seen = [
        with_extra("extra:Lift", values),
        with_extra("extra:lift", values),
        with_extra("extra:Lift", values.view(np.uint16)),
        with_extra("extra:Lift", values.astype(np.int32)),
        with_extra("extra:Lift", pair),
        with_extra("extra:Lift", pair[:, ::-1]),
    ]
    assert len({value.full for value in seen}) == len(seen)
    assert len({value.pulse for value in seen}) == 1


def test_each_bit_of_a_lane_turns_with_even_chance() -> None:
    """One step of Z turns each of the 128 bits every second time, within 5 standard errors."""
    count = 3000
    one = CLOUD.slice(0, 1)
    values = [int(compute(edit(one, "z", 0, step)).geometry, 16) for step in range(count + 1)]
    turned = np.zeros(128)
    for before, after in pairwise(values):
        turned += [(before ^ after) >> bit & 1 for bit in range(128)]
    assert np.abs(turned / count - 0.5).max() < 5 * 0.5 / count**0.5


# What is said beside.


def test_levels_are_empty_without_every_field() -> None:
    """Points of which some fields were not decoded have a geometry and no other level."""
    part = compute(restrict(CLOUD, {"gps_time", "return_number"}))
    assert part.geometry == compute(CLOUD).geometry
    assert (part.pulse, part.full) == ("", "")
    mixed = compute(CLOUD, restrict(CLOUD, set()))
    assert mixed.geometry == combine([compute(CLOUD)] * 2).geometry
    assert (mixed.pulse, mixed.full) == ("", "")
    assert combine([compute(CLOUD), part]) == mixed
    merged, other = Fingerprint(LENGTHS), Fingerprint(LENGTHS)
    merged.add(CLOUD)
    other.add(restrict(CLOUD, set()))
    merged.merge(other)
    assert merged.value() == mixed


def test_slice_without_points_leaves_every_level() -> None:
    """No points of which fields were left out take nothing from the points that have them all."""
    nothing = restrict(CLOUD.slice(0, 0), set())
    assert compute(nothing, CLOUD) == compute(CLOUD)


def test_rounding_is_told() -> None:
    """A value says whether any of its points was rounded, also when parts are put together."""
    rounded = PointChunk(CLOUD.x, CLOUD.y, CLOUD.z, LENGTHS, {}, rounded=True, is_complete=True)
    assert not compute(CLOUD).rounded
    assert compute(CLOUD, rounded).rounded
    assert combine([compute(CLOUD), compute(rounded)]).rounded
    merged, other = Fingerprint(LENGTHS), Fingerprint(LENGTHS)
    other.add(rounded)
    merged.merge(other)
    assert merged.value().rounded


def test_lattices_do_not_mix() -> None:
    """Points, fingerprints and values of two lattices are not added, and the version tells them."""
    degrees = Lattice(10**9, 10**4)
    assert Fingerprint(degrees).value().version == "1/1000000000/10000"
    assert Fingerprint(LENGTHS).value().version == "1/10000/10000"
    with pytest.raises(ContractError, match="lattice"):
        Fingerprint(degrees).add(CLOUD)
    with pytest.raises(ContractError, match="lattices"):
        Fingerprint(degrees).merge(Fingerprint(LENGTHS))
    with pytest.raises(ContractError, match="1/10000/10000, 1/1000000000/10000"):
        combine([Fingerprint(degrees).value(), Fingerprint(LENGTHS).value()])
    with pytest.raises(ContractError, match="none"):
        combine([])


def test_points_are_left_as_they_were() -> None:
    """Taking a fingerprint alters no array, and taking it again gives the same."""
    before = join([CLOUD])
    assert compute(CLOUD) == compute(CLOUD)
    assert all(before[name].tobytes() == CLOUD[name].tobytes() for name in CLOUD.names)
