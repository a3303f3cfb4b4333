"""The page, the code and a reimplementation from the page alone say the same."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Any

import numpy as np
import pytest
from bits import compute, make_chunk
from hypothesis import given, settings
from hypothesis import strategies as st
from plain import (
    MODULUS,
    Example,
    compute_constant,
    compute_value,
    finish,
    read_examples,
    read_page,
    read_rows,
    read_table,
    round_to_lattice,
)

from ledger.fingerprint import make_constant
from ledger.latticepoints import to_lattice

TABLE = read_table()
EXAMPLES = read_examples()
LIMITS = {
    "x": (-(2**44), 2**44),
    "y": (-(2**44), 2**44),
    "z": (-(2**40), 2**40),
    **dict.fromkeys(("synthetic", "key_point", "withheld", "overlap"), (0, 1)),
    **dict.fromkeys(("scan_direction_flag", "edge_of_flight_line"), (0, 1)),
    "scanner_channel": (0, 3),
    "return_number": (0, 15),
    "number_of_returns": (0, 15),
    "scan_angle": (-30_000, 30_000),
}


def test_page_has_what_it_promises() -> None:
    """Every field of every point format stands in the table, and there are worked examples."""
    assert len(TABLE) == len({row.field for row in TABLE}) == 29
    assert len(EXAMPLES) == 6


def test_words_do_not_overlap() -> None:
    """No two fields of a word share a bit, and none passes bit 63; flags are single bits."""
    single = {"synthetic", "key_point", "withheld", "overlap"} | {
        "scan_direction_flag",
        "edge_of_flight_line",
    }
    taken: dict[str, int] = {}
    for row in TABLE:
        width = 1 if row.field in single else 8 * int(row.kind[1])
        bits = (2**width - 1) << row.bit
        assert bits < MODULUS
        assert not taken.get(row.word, 0) & bits
        taken[row.word] = taken.get(row.word, 0) | bits


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.title)
def test_example_follows_from_the_page(example: Example) -> None:
    """The printed value is what whole numbers of Python give by the page's own steps."""
    printed = {level: example.value[level] for level in ("geometry", "pulse", "full")}
    assert compute_value(example.points, TABLE) == printed
    assert example.value["count"] == str(len(example.points))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.title)
def test_example_is_what_the_code_gives(example: Example) -> None:
    """The printed value is what the code gives, version and count included."""
    value = compute(make_chunk(example.points, TABLE))
    assert example.value == {
        "version": value.version,
        "count": str(value.count),
        "geometry": value.geometry,
        "pulse": value.pulse,
        "full": value.full,
    }


def test_constants_follow_from_their_recipe() -> None:
    """The printed constants, the recipe and the code agree, for every word of the table."""
    rows = read_rows("word | lane 0 | lane 1")
    assert {word for word, *_ in rows} == {"start"} | {row.word for row in TABLE}
    for word, *lanes in rows:
        for lane, printed in enumerate(lanes):
            assert f"{compute_constant(word, lane):016x}" == printed
            assert make_constant(word, lane) == int(printed, 16)
            assert int(printed, 16) % 2 == 1


def test_lattice_examples() -> None:
    """The printed lattice steps follow from exact decimals, and the code gives the same."""
    rows = read_rows("stored | scale | offset | steps | lattice")
    assert len(rows) == 8
    for stored, scale, offset, steps, printed in rows:
        exact = round_to_lattice(int(stored), float(scale), float(offset), int(steps))
        assert exact == int(printed)
        column = np.array([int(stored)], dtype=np.int32)
        found, _ = to_lattice(column, float(scale), float(offset), int(steps))
        assert found.tolist() == [exact]


def make_points() -> st.SearchStrategy[list[dict[str, int]]]:
    """Return points with any bits in any fields, one of the two angles, and extra bytes."""
    fields = {}
    for row in TABLE:
        low, high = LIMITS.get(row.field, (0, 2 ** (8 * int(row.kind[1])) - 1))
        fields[row.field] = st.integers(low, high)
    ranked = {**fields, "scan_angle_rank": st.integers(-90, 90)}
    del ranked["scan_angle"]
    extra = {
        **fields,
        "extra:Größe/u2/i2/0": st.integers(0, 2**16 - 1),
        "extra:Lift/f8/0": st.integers(0, 2**64 - 1),
    }
    kinds = [st.fixed_dictionaries(each) for each in (fields, ranked, extra)]
    return st.one_of([st.lists(kind, min_size=1, max_size=4) for kind in kinds])


@settings(max_examples=60, deadline=None)
@given(make_points())
def test_any_points_agree_with_the_plain_way(points: list[dict[str, int]]) -> None:
    """For any points the code gives what the page's steps give in whole numbers of Python."""
    value = compute(make_chunk(points, TABLE))
    assert compute_value(points, TABLE) == {
        "geometry": value.geometry,
        "pulse": value.pulse,
        "full": value.full,
    }


def test_finish_can_be_undone() -> None:
    """No two numbers finish alike: each step of the finish has an inverse."""

    def fold_back(number: int, shift: int) -> int:
        whole = number
        for _ in range(64 // shift + 1):
            whole = number ^ (whole >> shift)
        return whole

    for number in (0, 1, 2**63, 0x0123456789ABCDEF, MODULUS - 1, *range(7, 10**6, 99_991)):
        undone = fold_back(finish(number), 31)
        undone = fold_back(undone * pow(0x94D049BB133111EB, -1, MODULUS) % MODULUS, 27)
        undone = fold_back(undone * pow(0xBF58476D1CE4E5B9, -1, MODULUS) % MODULUS, 30)
        assert undone == number


def test_degrees_meet_the_nearest_step() -> None:
    """The conversion of whole degrees is the nearest step of 0.006 degrees, never a tie."""
    for degrees in range(-128, 128):
        step = (1000 * degrees + 3) // 6
        others = [abs(other * 6 - degrees * 1000) for other in (step - 1, step, step + 1)]
        assert min(others) == others[1] < others[0]
        assert others[1] < others[2]


def test_shortest_move_that_goes_unseen() -> None:
    """The printed move is the shortest of one point that leaves both lanes alike, by far."""
    short = find_shortest_unseen_move()
    printed = read_page().partition("shortest move that would not is (")[2].partition(")")[0]
    assert sorted(abs(part) for part in short) == sorted(int(p) for p in printed.split(","))
    assert max(abs(part) for part in short) > 1.87e12


def find_shortest_unseen_move() -> tuple[int, ...]:
    """Return the move whose multiplied sum is zero in both lanes and whose longest axis is least.

    Such moves are a lattice in three dimensions. A basis is reduced in pairs, and then every
    combination is tried that could be as short: the coefficient of a basis vector in a move is at
    most the length of the move times the length of its dual vector.
    """
    basis = [np.array(vector, dtype=object) for vector in make_unseen_moves()]
    is_reduced = False
    while not is_reduced:
        is_reduced = True
        for i, j in product(range(3), repeat=2):
            if i == j:
                continue
            times = round(basis[i] @ basis[j] / (basis[j] @ basis[j]))
            if times and (shorter := basis[i] - times * basis[j]) @ shorter < basis[i] @ basis[i]:
                basis[i], is_reduced = shorter, False
    limit = min(max(abs(vector)) for vector in basis)
    volume = abs(basis[0] @ np.cross(basis[1], basis[2]))
    # Not 2^128: all constants are odd, so the lowest bits of both sums go together.
    assert volume == MODULUS**2 // 2
    reach = []
    for i in range(3):
        dual = np.cross(basis[(i + 1) % 3], basis[(i + 2) % 3])
        reach.append(int(3**0.5 * limit * float(dual @ dual) ** 0.5 / volume) + 1)
    assert max(reach) < 20
    moves: Iterator[Any] = (
        sum((times * vector for times, vector in zip(combination, basis, strict=True)), start=0)
        for combination in product(*(range(-most, most + 1) for most in reach))
        if any(combination)
    )
    return tuple(min(moves, key=lambda move: max(abs(part) for part in move)))


def make_unseen_moves() -> list[list[int]]:
    """Return a basis of the whole moves of x, y, z whose multiplied sums are 0 modulo 2^64."""
    first, second = ([compute_constant(axis, lane) for axis in "xyz"] for lane in range(2))
    inverse = pow(first[0], -1, MODULUS)
    basis = [[MODULUS, 0, 0]]
    basis += [
        [-factor * inverse % MODULUS, *unit]
        for factor, unit in zip(first[1:], ([1, 0], [0, 1]), strict=True)
    ]
    rest = [sum(a * b for a, b in zip(v, second, strict=True)) % MODULUS for v in basis]
    # The one whose rest has the fewest twos clears the others.
    pivot = min(range(3), key=lambda i: rest[i] & -rest[i] or MODULUS)
    twos = rest[pivot] & -rest[pivot]
    odd = pow(rest[pivot] // twos, -1, MODULUS)
    cleared = []
    for index, vector in enumerate(basis):
        if index == pivot:
            cleared.append([part * (MODULUS // twos) for part in vector])
        else:
            times = rest[index] // twos * odd % MODULUS
            cleared.append([a - times * b for a, b in zip(vector, basis[pivot], strict=True)])
    for vector, lane in product(cleared, (first, second)):
        assert sum(a * b for a, b in zip(vector, lane, strict=True)) % MODULUS == 0
    return cleared
