"""What the headers of two sets of point files say differently."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from ledger.compare.setresult import HeaderDifference
from ledger.crs import compare, compare_vertical, read_crs
from ledger.model.artefact import POINT_SUFFIXES
from ledger.model.georeferencing import CrsReading
from ledger.model.header import LasHeader
from ledger.model.phrases import count_things
from ledger.model.weight import Weight

Headers = Mapping[str, LasHeader]
Pair = tuple[LasHeader, LasHeader]
_Fields = Mapping[str, tuple[Callable[[LasHeader], str], Weight]]

CRS_TEXT = "CRS text"
CRS_KEYS = "CRS keys"
_NONE = "none"
_COMPRESSION = "laszip encoded"  # comes and goes with the compression, which is told by itself


def _write_triple(values: tuple[float, ...]) -> str:
    return " ".join(repr(value) for value in values)


def _write_keys(header: LasHeader) -> str:
    keys = header.geo_keys
    return _NONE if keys is None else ", ".join(f"{key} {keys[key]}" for key in sorted(keys))


def _write_day(header: LasHeader) -> str:
    year, day = header.creation_year, header.creation_day
    return f"{year:04d}-{day:03d}" if year else _NONE


def _write_records(header: LasHeader) -> str:
    named = (
        f"{record.user_id} {record.record_id}"
        for record in header.vlrs
        if record.user_id != _COMPRESSION
    )
    return ", ".join(sorted(named)) or _NONE


# What is said of a file however its points are cut into tiles, with what it can do to the result.
_FIELDS: _Fields = {
    CRS_TEXT: (lambda h: _NONE if h.wkt is None else h.wkt, Weight.GEODETIC),
    CRS_KEYS: (_write_keys, Weight.GEODETIC),
    "scale": (lambda h: _write_triple(h.scale), Weight.GEOMETRIC),
    "flags": (lambda h: f"{h.global_encoding:#06x}", Weight.COSMETIC),
    "version": (lambda h: h.version, Weight.COSMETIC),
    "point format": (lambda h: str(h.point_format), Weight.COSMETIC),
    "compression": (lambda h: "LAZ" if h.compressed else "LAS", Weight.COSMETIC),
    "extra dimensions": (lambda h: ", ".join(h.extra_dimensions) or _NONE, Weight.COSMETIC),
    "software": (lambda h: h.generating_software or _NONE, Weight.COSMETIC),
    "system": (lambda h: h.system_identifier or _NONE, Weight.COSMETIC),
    "file source": (lambda h: str(h.file_source_id), Weight.COSMETIC),
    "created": (_write_day, Weight.COSMETIC),
    "records": (_write_records, Weight.COSMETIC),
}
# What is said of one tile, and cannot be alike where points are cut otherwise.
_OF_A_TILE: _Fields = {
    "offset": (lambda h: _write_triple(h.offset), Weight.COSMETIC),
    "minimum": (lambda h: _write_triple(h.minimum), Weight.COSMETIC),
    "maximum": (lambda h: _write_triple(h.maximum), Weight.COSMETIC),
    "points": (lambda h: str(h.point_count), Weight.COSMETIC),
    "points by return": (lambda h: _write_triple(h.by_return), Weight.COSMETIC),
}


def compare_headers(
    first: Headers, second: Headers, *, same_points: bool
) -> tuple[HeaderDifference, ...]:
    """Return what differs, what can move points first.

    Files are paired by name, or as the only one of each side; else the values of all files are held
    against each other.

    Args:
        first: headers of the first side by name of file.
        second: those of the second.
        same_points: the points are the same, so that box and counts should be, too.
    """
    pairs = _pair(first, second)
    if pairs is None:
        found = list(_compare_unpaired(tuple(first.values()), tuple(second.values())))
    else:
        fields = {**_FIELDS, **_OF_A_TILE} if same_points else _FIELDS
        found = list(_compare_pairs(pairs, fields))
    order = list(Weight)
    return tuple(sorted(found, key=lambda each: order.index(each.weight)))


def find_stem(name: str) -> str:
    """Return the name of a point file without its suffix: packed or not, it is the same tile."""
    stem, dot, suffix = name.rpartition(".")
    return stem if f"{dot}{suffix}".lower() in POINT_SUFFIXES else name


def _pair(first: Headers, second: Headers) -> list[Pair] | None:
    one, two = ({find_stem(name): each for name, each in side.items()} for side in (first, second))
    if one.keys() == two.keys():
        return [(one[name], two[name]) for name in one]
    if len(first) == len(second) == 1:
        return [(next(iter(first.values())), next(iter(second.values())))]
    return None


def _compare_pairs(pairs: list[Pair], fields: _Fields) -> Iterator[HeaderDifference]:
    for name, (read, weight) in fields.items():
        differing = [pair for pair in pairs if read(pair[0]) != read(pair[1])]
        if differing:
            before, after = (_join(read(pair[side]) for pair in differing) for side in (0, 1))
            told, effect = _judge(name, weight, differing)
            yield HeaderDifference(name, before, after, told, len(differing), effect)


def _compare_unpaired(
    first: tuple[LasHeader, ...], second: tuple[LasHeader, ...]
) -> Iterator[HeaderDifference]:
    for name, (read, weight) in _FIELDS.items():
        one = {read(header): header for header in first}
        two = {read(header): header for header in second}
        if one.keys() != two.keys() and one and two:
            pairs = [(a, b) for text, a in one.items() for other, b in two.items() if text != other]
            told, effect = _judge(name, weight, pairs)
            yield HeaderDifference(name, _join(one), _join(two), told, effect=effect)


def _join(texts: Iterable[str]) -> str:
    distinct = list(dict.fromkeys(texts))
    if len(distinct) > 1:
        return f"{distinct[0]} and {count_things(len(distinct) - 1, 'other')}"
    return "".join(distinct)


def _judge(name: str, weight: Weight, pairs: Iterable[Pair]) -> tuple[Weight, str]:
    """Return the weight and effect of a difference: other words may name the same system."""
    if name not in (CRS_TEXT, CRS_KEYS):
        return weight, ""
    told = [_compare_systems(read_crs(before), read_crs(after)) for before, after in pairs]
    return next((each for each in told if each[0] is Weight.GEODETIC), told[0])


def _compare_systems(before: CrsReading, after: CrsReading) -> tuple[Weight, str]:
    one, two = before.governing.crs, after.governing.crs
    if one is None or two is None:
        if one is two:
            return Weight.GEODETIC, "neither names a system that can be read"
        return Weight.GEODETIC, "only one of them names a system that can be read"
    parts = [*compare(one, two)]
    if (one.vertical is None) != (two.vertical is None):
        parts += compare_vertical(one.vertical, two.vertical)
    if not parts:
        return Weight.COSMETIC, "the same system in other words"
    told = "; ".join(f"{part.part}: {part.a} → {part.b}" for part in parts)
    return Weight.GEODETIC, f"another system: {told}"
