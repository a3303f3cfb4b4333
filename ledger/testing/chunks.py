"""Chunks made by hand, and the ways to cut, join and shuffle them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.model.chunk import Lattice, PointChunk

METRES = Lattice(steps_xy=10_000, steps_z=10_000)


def make_chunk(
    points: Mapping[str, NDArray[np.generic] | Sequence[float]],
    lattice: Lattice = METRES,
    *,
    is_complete: bool = False,
) -> PointChunk:
    """Return a chunk of points given as numbers.

    Args:
        points: `x`, `y`, `z` in units of the CRS, and LAS fields by name, each (n,).
        lattice: the lattice; coordinates are rounded to it.
        is_complete: whether these are all the fields that the points have.
    """
    axes = [
        np.rint(np.asarray(points[name], dtype=np.float64) * steps).astype(np.int64)
        for name, steps in (
            ("x", lattice.steps_xy),
            ("y", lattice.steps_xy),
            ("z", lattice.steps_z),
        )
    ]
    fields = {
        name: np.array(array) for name, array in points.items() if name not in {"x", "y", "z"}
    }
    return PointChunk(axes[0], axes[1], axes[2], lattice, fields, is_complete=is_complete)


def take(chunk: PointChunk, chosen: NDArray[np.integer] | NDArray[np.bool_]) -> PointChunk:
    """Return the points that `chosen` names, as a mask or by index, in that order."""
    fields = {name: chunk[name][chosen] for name in chunk.names}
    return PointChunk(
        chunk.x[chosen],
        chunk.y[chosen],
        chunk.z[chosen],
        chunk.lattice,
        fields,
        rounded=chunk.rounded,
        is_complete=chunk.is_complete,
    )


def restrict(chunk: PointChunk, names: Collection[str]) -> PointChunk:
    """Return the chunk with only some of its fields, as a pass that decodes no others."""
    fields = {name: chunk[name].copy() for name in chunk.names if name in names}
    return PointChunk(
        chunk.x.copy(),
        chunk.y.copy(),
        chunk.z.copy(),
        chunk.lattice,
        fields,
        rounded=chunk.rounded,
    )


def join(chunks: Sequence[PointChunk]) -> PointChunk:
    """Return all points of several chunks of one file as one chunk."""
    first = chunks[0]
    fields = {name: np.concatenate([one[name] for one in chunks]) for name in first.names}
    return PointChunk(
        np.concatenate([one.x for one in chunks]),
        np.concatenate([one.y for one in chunks]),
        np.concatenate([one.z for one in chunks]),
        first.lattice,
        fields,
        rounded=any(one.rounded for one in chunks),
        is_complete=all(one.is_complete for one in chunks),
    )


def cut(chunk: PointChunk, size: int) -> list[PointChunk]:
    """Return the chunk in slices of `size` points, the last one shorter."""
    return [chunk.slice(start, start + size) for start in range(0, len(chunk), size)]


def shuffle(chunk: PointChunk, seed: int = 0) -> PointChunk:
    """Return the same points in another order."""
    return take(chunk, np.random.default_rng(seed).permutation(len(chunk)))
