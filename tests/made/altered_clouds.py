"""Point files for comparisons: real ones altered with laspy, and made ones of level ground."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import laspy
import numpy as np

Edit = Callable[[Any], None]


def rewrite(
    source: Path, target: Path, chosen: Any = slice(None), edit: Edit | None = None
) -> Path:
    """Write some points of a file, in the order given, under the same header, altered."""
    with laspy.open(source) as reader:
        las = reader.read()
    header = las.header
    out = laspy.LasData(header, points=las.points[chosen])
    if edit is not None:
        edit(out)
    target.parent.mkdir(parents=True, exist_ok=True)
    with target.open("wb") as stream:
        out.write(stream, do_compress=target.suffix == ".laz", laz_backend=laspy.LazBackend.Lazrs)
    return target


def split(source: Path, folder: Path, parts: int, seed: int = 3) -> None:
    """Write the points of a file as several, cut across X, each in another order."""
    with laspy.open(source) as reader:
        x = np.array(reader.read().X)
    borders = np.quantile(x, np.linspace(0, 1, parts + 1)[1:-1])
    tile = np.searchsorted(borders, x, side="right")
    random = np.random.default_rng(seed)
    for number in range(parts):
        rewrite(
            source,
            folder / f"part_{number}{source.suffix}",
            random.permutation(np.flatnonzero(tile == number)),
        )


def count_places(path: Path) -> Counter[tuple[int, int, int]]:
    """Return how often each place occurs, read by laspy alone."""
    with laspy.open(path) as reader:
        las = reader.read()
    return Counter(zip(las.X.tolist(), las.Y.tolist(), las.Z.tolist(), strict=True))


def write_ground(
    path: Path,
    *,
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0),
    noise: float = 0.001,
    seed: int = 1,
    drop: int = 0,
    times: bool = True,
    scale: float = 0.001,
    side: int = 30,
) -> Path:
    """Write level ground, a square with 9 points a square metre, as one processing would give it.

    Args:
        path: where.
        shift: by how much every point is moved, metres.
        noise: standard deviation that this processing adds to each coordinate, metres.
        seed: of that noise.
        drop: points left out at the end.
        times: whether points carry GPS time.
        scale: of the coordinates.
        side: of the square, metres.
    """
    truth = np.random.default_rng(77)
    count = side * side * 9
    places = truth.uniform(0, side, (count, 2))
    heights = 100 + truth.normal(0, 0.01, count)
    random = np.random.default_rng(seed)
    header = laspy.LasHeader(version="1.4", point_format=6 if times else 0)
    header.offsets, header.scales = [552000, 4272000, 0], [scale] * 3
    las = laspy.LasData(header)
    las.x = 552000 + places[:, 0] + shift[0] + random.normal(0, noise, count)
    las.y = 4272000 + places[:, 1] + shift[1] + random.normal(0, noise, count)
    las.z = heights + shift[2] + random.normal(0, noise, count)
    if times:
        las.gps_time = 400_000_000 + np.arange(count) * 1e-4
    las.return_number = las.number_of_returns = np.ones(count, np.uint8)
    if drop:
        las.points = las.points[: count - drop]
    path.parent.mkdir(parents=True, exist_ok=True)
    las.write(path)
    return path
