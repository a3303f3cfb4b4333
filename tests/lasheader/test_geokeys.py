"""GeoTIFF keys are read one by one; one that points nowhere costs only itself."""

from __future__ import annotations

import struct

from ledger.geokeys import read_geo_keys


def write_directory(*entries: tuple[int, int, int, int], stated: int | None = None) -> bytes:
    """Return a key directory as OGC GeoTIFF 1.1, clause 7.1, lays it out."""
    numbers = [1, 1, 0, len(entries) if stated is None else stated]
    return struct.pack(f"<{4 + 4 * len(entries)}H", *numbers, *(n for e in entries for n in e))


def test_codes_doubles_and_texts_are_found_in_their_records() -> None:
    """A key is a whole number in the directory, a double or a text where it points to."""
    keys, notes = read_geo_keys(
        write_directory((3072, 0, 1, 32617), (3082, 34736, 1, 1), (1026, 34737, 4, 2)),
        struct.pack("<2d", 1.5, 500_000.0),
        b"x|abc|rest",
    )
    assert keys == {3072: 32617, 3082: 500_000.0, 1026: "abc"}
    assert notes == ()


def test_a_key_that_points_nowhere_is_left_out_with_a_note() -> None:
    """Keys beyond their record, or without one, are noted and the others kept."""
    keys, notes = read_geo_keys(
        write_directory((3072, 0, 1, 32617), (3082, 34736, 1, 9), (1026, 34737, 4, 2)), b"", None
    )
    assert keys == {3072: 32617}
    assert notes == ("2 GeoTIFF keys point outside their records, left out: 3082, 1026",)


def test_one_key_that_points_nowhere_is_named() -> None:
    """A single loss names its key."""
    _, notes = read_geo_keys(write_directory((3082, 34736, 1, 9)), b"", None)
    assert notes == ("GeoTIFF key 3082 lies outside its record, left out",)


def test_a_directory_of_rubbish_gives_two_notes() -> None:
    """Thousands of lost keys are told in one sentence of each kind, not in thousands."""
    zeros, lost = [(0, 0, 0, 0)] * 4000, [(3072 + n, 34736, 1, 9) for n in range(1000)]
    keys, notes = read_geo_keys(write_directory(*zeros, *lost), b"", None)
    assert keys == {}
    assert notes == (
        "the GeoTIFF key directory holds 4,000 entries without a key, left out",
        "1000 GeoTIFF keys point outside their records, left out: 3072, 3073, 3074, 3075, 3076, …",
    )


def test_a_directory_shorter_than_it_states_gives_what_it_has() -> None:
    """The count of keys is held against the room."""
    keys, notes = read_geo_keys(write_directory((1024, 0, 1, 1), stated=900), None, None)
    assert keys == {1024: 1}
    assert notes == ("the GeoTIFF key directory states 900 keys and holds 1",)


def test_an_empty_directory_is_present_and_empty() -> None:
    """An empty record is not the same as none."""
    assert read_geo_keys(b"", None, None) == ({}, ("the GeoTIFF key directory is empty",))
