"""Points given by their stored bits, as chunks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from plain import EXTRA, Row

from ledger.fingerprint import Fingerprint
from ledger.model.artefact import FingerprintValue
from ledger.model.chunk import Lattice, PointChunk

LENGTHS = Lattice(10_000, 10_000)


def make_chunk(points: Sequence[Mapping[str, int]], table: Sequence[Row]) -> PointChunk:
    """Return points as a chunk, each field in the type that the page says it is stored in."""
    kinds = {row.field: row.kind for row in table} | {"scan_angle_rank": "i1"}
    names = list(points[0]) if points else ["x", "y", "z"]
    arrays: dict[str, np.ndarray] = {}
    for name in names:
        place = name.rsplit("/", 2) if name.startswith(EXTRA) else [name, kinds[name], ""]
        column = [point[name] for point in points]
        array = _read_bits(column, place[1])
        if place[0] in arrays:
            array = np.column_stack([arrays[place[0]], array])
        arrays[place[0]] = array
    x, y, z = (arrays.pop(name) for name in "xyz")
    return PointChunk(x, y, z, LENGTHS, arrays, is_complete=True)


def _read_bits(column: Sequence[int], kind: str) -> np.ndarray:
    width = int(kind[1])
    bits = [number % 2 ** (8 * width) for number in column]
    return np.array(bits, dtype=f"<u{width}").view(f"<{kind}")


def compute(*chunks: PointChunk) -> FingerprintValue:
    """Return the fingerprint of some chunks on one lattice."""
    fingerprint = Fingerprint(chunks[0].lattice)
    for chunk in chunks:
        fingerprint.add(chunk)
    return fingerprint.value()
