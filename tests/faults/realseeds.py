"""What fuzzing begins with of real files: whole ones, and the coordinate systems that they name."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

import fuzzseeds
import numpy as np

from ledger.crs import read_crs
from ledger.errors import SwathbookError
from ledger.lasheader import read_las_header

REAL = Path(__file__).resolve().parents[1] / "real"
ROOT = Path(__file__).resolve().parents[2]
_LARGEST_SEED = 40_000


def list_real(*patterns: str) -> Callable[[], Iterator[bytes]]:
    """Return what gives the small real files of some patterns."""

    def list_seeds() -> Iterator[bytes]:
        for pattern in patterns:
            for path in sorted(REAL.glob(pattern)):
                content = path.read_bytes()
                yield content[:_LARGEST_SEED]

    return list_seeds


def list_geo_keys() -> Iterator[bytes]:
    """Yield the GeoTIFF keys of real files, and of a system that somebody defined."""
    for path in sorted(REAL.glob("*.las")):
        with contextlib.suppress(SwathbookError):
            keys = read_las_header(path).geo_keys
            if keys:
                yield _pack_keys(keys)
    yield _pack_keys({1024: 1, 3072: 32617, 4096: 5703, 3076: 9002})
    own = {1024: 1, 3072: 32767, 3074: 32767, 3075: 1, 2048: 4269, 3080: -90.0, 3081: 30.0}
    yield _pack_keys({**own, 3082: 1640416.67, 3083: 0.0, 3092: 0.9996, 1026: "own|"})


def _pack_keys(keys: dict[int, int | float | str]) -> bytes:
    rows, numbers, texts = b"", b"", b""
    for key, value in keys.items():
        if isinstance(value, int):
            place = (0, 1, value)
        elif isinstance(value, float):
            place = (34736, 1, len(numbers) // 8)
            numbers += np.float64(value).tobytes()
        else:
            place = (34737, len(value) + 1, len(texts))
            texts += f"{value}|".encode()
        rows += np.array([key, *place], "<u2").tobytes()
    directory = np.array([1, 1, 0, len(keys)], "<u2").tobytes() + rows
    lengths = [len(part).to_bytes(2, "little") for part in (directory, numbers)]
    return lengths[0] + directory + lengths[1] + numbers + texts


def list_wkt() -> Iterator[bytes]:
    """Yield coordinate systems as real files have them written."""
    yield (ROOT / "ledger" / "demo" / "crs.wkt").read_bytes()
    yield b"EPSG:6346+5703"
    for path in sorted(REAL.glob("*.la[sz]")):
        with contextlib.suppress(SwathbookError):
            header = read_las_header(path)
            for text in {header.wkt, read_crs(header).governing.crs and _get_wkt(header)}:
                if text:
                    yield text.encode()


def _get_wkt(header: object) -> str:
    crs = read_crs(header).governing.crs  # type: ignore[arg-type]
    return "" if crs is None else crs.wkt


def list_specifications() -> Iterator[bytes]:
    """Yield templates and profiles of the program, and a specification filled in."""
    yield from (path.read_bytes() for path in (ROOT / "ledger").rglob("*.toml"))
    yield from (path.read_bytes() for path in sorted((ROOT / "plugins").rglob("*.toml"))[:4])
    yield fuzzseeds.make_specification()
