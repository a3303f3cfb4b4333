"""Every real file is read as general libraries read it.

Held against: `facts.json`, which other software wrote (laspy 2.7.0, lazrs 0.8.2 and a plain reading
of the header bytes), and laspy itself, field by field.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pytest
from origins import list_strangers

from ledger.errors import MalformedFileError, ShortFileError
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.model.header import LasHeader
from ledger.points import ALL_DIMENSIONS, EXTRA_PREFIX, read_points

HERE = Path(__file__).parent

# Where our reading is meant to differ from the one in the facts, and why.
KNOWN = {
    # The stated third record would lie in point data; the other reader made one up.
    ("bad_vlr_count.las", "vlr_count"): 2,
    # Two records describe extra bytes; the other reader takes the first and names the rest itself.
    ("append-bug.laz", "extra_dimensions"): ["Deviation", "confidence"],
    # No record describes these bytes; the name is the other reader's own.
    ("unregistered_extra_bytes.las", "extra_dimensions"): [],
}


def describe_header(header: LasHeader) -> dict[str, Any]:
    """Return the facts of a header under the names that the facts file uses."""
    keys = header.geo_keys
    return {
        "version": header.version,
        "pdrf": header.point_format,
        "compressed": header.compressed,
        "record_length": header.record_length,
        "header_size": header.header_size,
        "offset_to_points": header.offset_to_points,
        "legacy_point_count": header.legacy_count,
        "legacy_by_return": list(header.legacy_by_return),
        "point_count_1_4": header.point_count if header.version >= "1.4" else None,
        "scale": list(header.scale),
        "header_bbox": [*header.minimum, *header.maximum],
        "creation_doy_year": [header.creation_day, header.creation_year],
        "global_encoding": header.global_encoding,
        "gps_time_adjusted_flag": header.has_adjusted_time,
        "wkt_flag": header.has_wkt_flag,
        "vlr_count": sum(not vlr.extended for vlr in header.vlrs),
        "evlrs": [[vlr.user_id, vlr.record_id] for vlr in header.vlrs if vlr.extended],
        "extra_dimensions": list(header.extra_dimensions),
        "geotiff_keys": None if keys is None else {str(key): keys[key] for key in keys},
        "wkt": header.wkt,
    }


def expect_header(name: str, facts: dict[str, Any]) -> dict[str, Any]:
    """Return the facts of a header as they should be read here."""
    expected = {key: facts[key] for key in facts if (name, key) not in KNOWN}
    expected |= {key: value for (file, key), value in KNOWN.items() if file == name}
    if expected["geotiff_keys"] is not None:
        # A key 0 is no key; we leave it out with a note.
        expected["geotiff_keys"] = {k: v for k, v in expected["geotiff_keys"].items() if k != "0"}
    if expected["wkt"] is not None:
        # The facts were written from Latin-1; LAS 1.4 asks for UTF-8.
        expected["wkt"] = expected["wkt"].encode("latin-1").decode("utf-8")
    if expected["extra_dimensions"] is None:
        expected["extra_dimensions"] = []
    return expected


def list_differences(path: Path, facts: dict[str, Any]) -> Iterator[str]:
    """Yield a sentence for each fact of a header that is read otherwise."""
    expected = expect_header(path.name, facts)
    for key, found in describe_header(read_las_header(path)).items():
        if found != expected[key]:
            yield f"{path.name} {key}: {found!r} against {expected[key]!r}"


def count_points(path: Path) -> tuple[dict[str, Any], str]:
    """Return counted points, classes, returns and box, and the name of the error at the end."""
    header = read_las_header(path)
    lattice = choose_lattice(header)
    steps = np.array([lattice.steps_xy, lattice.steps_xy, lattice.steps_z])
    classes: Counter[int] = Counter()
    returns: Counter[int] = Counter()
    corners: list[np.ndarray[Any, Any]] = []
    error = ""
    try:
        for chunk in read_points(
            path, header, lattice, frozenset({"classification", "return_number"})
        ):
            classes.update(chunk["classification"].tolist())
            returns.update(chunk["return_number"].tolist())
            corners += [
                np.array([chunk.x.min(), chunk.y.min(), chunk.z.min()]) / steps,
                np.array([chunk.x.max(), chunk.y.max(), chunk.z.max()]) / steps,
            ]
    except MalformedFileError as raised:
        error = type(raised).__name__
    box = [*np.min(corners, axis=0), *np.max(corners, axis=0)] if corners else None
    counted = {
        "points": sum(classes.values()),
        "classes": {str(code): count for code, count in sorted(classes.items())},
        "returns": {str(number): count for number, count in sorted(returns.items())},
        "box": box,
        "tolerance": 0.5 / steps.min(),
    }
    return counted, error


def list_point_differences(path: Path, facts: dict[str, Any]) -> Iterator[str]:
    """Yield a sentence for each fact about points that is counted otherwise."""
    counted, error = count_points(path)
    stated = facts["point_count_1_4"] or facts["legacy_point_count"]
    if counted["points"] != (facts["points_counted"] or 0):
        yield f"{path.name}: {counted['points']} points against {facts['points_counted']}"
    if bool(error) != (counted["points"] != stated):
        yield f"{path.name}: {counted['points']} of {stated} points, error {error!r}"
    if counted["points"]:
        for ours, theirs in (("classes", "classes"), ("returns", "return_numbers")):
            if counted[ours] != dict(sorted(facts[theirs].items())):
                yield f"{path.name}: {ours} {counted[ours]} against {facts[theirs]}"
        distance = np.abs(np.array(counted["box"]) - np.array(facts["counted_bbox"])).max()
        if distance > counted["tolerance"] * 1.0001:
            yield f"{path.name}: box {counted['box']} against {facts['counted_bbox']}"


def list_field_differences(path: Path) -> Iterator[str]:
    """Yield the name of each field that laspy decodes otherwise."""
    header = read_las_header(path)
    chunks = list(read_points(path, header, choose_lattice(header), ALL_DIMENSIONS))
    reference = laspy.read(path)
    for name in chunks[0].names if chunks else ():
        found = np.concatenate([chunk[name] for chunk in chunks])
        plain = name.removeprefix(EXTRA_PREFIX)
        expected = reference.points.array[plain] if plain != name else np.array(reference[name])
        if not np.array_equal(found, expected, equal_nan=found.dtype.kind == "f"):
            yield f"{path.name}: {name}"


OWN_FACTS = json.loads((HERE / "facts.json").read_text(encoding="utf-8"))
UNREADABLE = (
    "1.2-with-color-clipped.las",
    "broken_coder.laz",
    "broken_size.laz",
    "broken_type.laz",
)


def test_real_files_are_those_of_the_origin_table() -> None:
    """Each real file is byte for byte the one that the table of origins names, with its licence."""
    assert list_strangers(HERE) == []


@pytest.mark.parametrize("name", sorted(OWN_FACTS))
def test_header_of_a_real_file_is_read_as_others_read_it(name: str) -> None:
    """Header, records, GeoTIFF keys and WKT of each real file equal what other software read."""
    assert list(list_differences(HERE / name, OWN_FACTS[name])) == []


@pytest.mark.parametrize("name", sorted(OWN_FACTS))
def test_points_of_a_real_file_are_counted_as_others_count_them(name: str) -> None:
    """Points, classes, returns and box of each real file equal what other software counted."""
    assert list(list_point_differences(HERE / name, OWN_FACTS[name])) == []


@pytest.mark.parametrize("name", sorted(set(OWN_FACTS) - set(UNREADABLE)))
def test_fields_of_a_real_file_are_decoded_as_laspy_decodes_them(name: str) -> None:
    """Every field of each real file, extra bytes included, equals laspy's own."""
    assert list(list_field_differences(HERE / name)) == []


def read_collection(shared_data: Path) -> dict[str, Any]:
    """Return what other software read from the point files of the whole collection."""
    facts: dict[str, Any] = json.loads((shared_data / "las" / "facts.json").read_text("utf-8"))
    assert len(facts) == 37
    return facts


def test_every_open_file_is_read_as_others_read_it(shared_data: Path) -> None:
    """All open point files give the header facts that other software read from them."""
    facts = read_collection(shared_data)
    found = [d for name in facts for d in list_differences(shared_data / name, facts[name])]
    assert found == []


def test_every_open_file_is_counted_as_others_count_it(shared_data: Path) -> None:
    """All open point files, damaged ones too, give the points that other software counted."""
    facts = read_collection(shared_data)
    found = [d for name in facts for d in list_point_differences(shared_data / name, facts[name])]
    assert found == []


def test_every_open_file_is_decoded_as_laspy_decodes_it(shared_data: Path) -> None:
    """All fields of all readable open point files equal laspy's own."""
    files = sorted((shared_data / "las").glob("*.la[sz]"))
    assert len(files) == 30
    assert [d for path in files for d in list_field_differences(path)] == []


def test_damaged_open_files_end_in_one_error_each() -> None:
    """A cut file is short, an undecodable one malformed; what is only odd is read to its end."""
    expected = {
        "1.2-with-color-clipped.las": ShortFileError,
        "broken_coder.laz": MalformedFileError,
        "broken_size.laz": MalformedFileError,
        "broken_type.laz": MalformedFileError,
    }
    found = {}
    for path in sorted(HERE.glob("*.la[sz]")):
        header = read_las_header(path)
        try:
            for _ in read_points(path, header, choose_lattice(header)):
                pass
        except MalformedFileError as error:
            found[path.name] = error
    assert {name: type(error) for name, error in found.items()} == expected
    assert [str(error) for error in found.values() if "\n" in str(error)] == []
