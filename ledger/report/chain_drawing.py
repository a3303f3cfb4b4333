"""The chain of custody as boxes and arrows: where they stand; the page draws them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue, show_value
from ledger.model.phrases import count_things
from ledger.trace.nodes import ChainNode

# Pixels: three boxes are 182 mm wide, an A4 page with its margins, and letters of 12 are 9 pt.
_WIDTH, _LINE, _PAD = 218, 15, 8
_GAP_X, _GAP_Y = 14, 30
_A_ROW = 3
_LETTERS = 29  # that fit a line
_NAMED = 3
_TITLES = {"audit": "Audit", "run": "Run", "step": "Step", "flight": "Flight", "rig": "Rig"}
_TOLD = ("software", "version", "mount_mode", "crs", "output_height_type", "geoid_name")


@dataclass(frozen=True)
class Box:
    """One box.

    Args:
        x, y, height: upper left corner and height, pixels; every box is equally wide.
        title: its first line.
        lines: the others, each with its own y.
    """

    x: int
    y: int
    height: int
    title: str
    lines: tuple[tuple[int, str], ...]


@dataclass(frozen=True)
class Drawing:
    """Boxes and arrows.

    Args:
        width, height: size, pixels.
        box_width: width of each box.
        boxes: the boxes.
        arrows: from what was used to what was made: x and y of both ends.
        alt: the same in words.
    """

    width: int
    height: int
    box_width: int
    boxes: tuple[Box, ...]
    arrows: tuple[tuple[int, int, int, int], ...]
    alt: str


@dataclass(frozen=True)
class _Part:
    """What becomes a box: its id, title, lines, and what it comes from."""

    id: str
    title: str
    lines: tuple[str, ...]
    sources: tuple[str, ...]


def draw_chain(nodes: Sequence[ChainNode]) -> Drawing:
    """Return the drawing of a chain, what was audited at the top, the raw data at the bottom.

    Args:
        nodes: the chain of a deliverable; files that only one thing uses are joined in one box.
    """
    parts = _list_parts(nodes)
    boxes = _place(parts, _find_levels(parts))
    arrows = tuple(
        _join(boxes[source], boxes[part.id])
        for part in parts
        for source in part.sources
        if source in boxes
    )
    return Drawing(
        width=2 * _PAD + _A_ROW * _WIDTH + (_A_ROW - 1) * _GAP_X,
        height=max((box.y + box.height for box in boxes.values()), default=0) + _PAD,
        box_width=_WIDTH,
        boxes=tuple(boxes.values()),
        arrows=arrows,
        alt=_tell(parts),
    )


def _place(parts: Sequence[_Part], levels: Mapping[str, int]) -> dict[str, Box]:
    """Return a box for each part, level below level, as many rows a level as it needs."""
    boxes: dict[str, Box] = {}
    y = _PAD
    for level in range(max(levels.values(), default=0) + 1):
        mine = [part for part in parts if levels[part.id] == level]
        for start in range(0, len(mine), _A_ROW):
            row = [
                _make_box(part, _PAD + place * (_WIDTH + _GAP_X), y)
                for place, part in enumerate(mine[start : start + _A_ROW])
            ]
            boxes |= {part.id: box for part, box in zip(mine[start:], row, strict=False)}
            y += max(box.height for box in row) + _GAP_Y
    return boxes


def _list_parts(nodes: Sequence[ChainNode]) -> tuple[_Part, ...]:
    files = {node.id: node for node in nodes if node.kind == "file" and not node.sources}
    parts = []
    for node in nodes:
        if node.id in files:
            continue
        mine = [files[source] for source in node.sources if source in files]
        joined = f"files of {node.id}"
        own = tuple(source for source in node.sources if source not in files)
        sources = (*own, joined) if mine else own
        title = f"{_TITLES.get(node.kind, node.kind.capitalize())} {node.id}"
        parts.append(_Part(node.id, title, tuple(_list_lines(node)), sources))
        if mine:
            names = tuple(_get_name(file) for file in mine[:_NAMED])
            more = (f"and {len(mine) - _NAMED} more",) if len(mine) > _NAMED else ()
            parts.append(_Part(joined, count_things(len(mine), "file"), (*names, *more), ()))
    return tuple(parts)


def _list_lines(node: ChainNode) -> Iterable[str]:
    if node.name:
        yield node.name
    values: Mapping[str, KnownValue] = node.values
    for key in _TOLD:
        known = values.get(f"{node.kind}.{key}")
        if known is not None:
            yield f"{key.replace('_', ' ')}: {show_value(known)}"


def _get_name(node: ChainNode) -> str:
    return node.name.rpartition("/")[2] or node.id


def _find_levels(parts: Sequence[_Part]) -> dict[str, int]:
    """Return how many steps each part lies behind the last one; a circle ends the walk."""
    levels = {part.id: 0 for part in parts}
    for _ in parts:
        moved = False
        for part in parts:
            for source in part.sources:
                if source in levels and levels[source] <= levels[part.id] < len(parts):
                    levels[source] = levels[part.id] + 1
                    moved = True
        if not moved:
            break
    return levels


def _make_box(part: _Part, x: int, y: int) -> Box:
    lines = tuple(
        (y + _PAD + (place + 2) * _LINE, _cut(line)) for place, line in enumerate(part.lines)
    )
    return Box(x, y, 2 * _PAD + (len(lines) + 1) * _LINE + 4, _cut(part.title), lines)


def _cut(text: str) -> str:
    return text if len(text) <= _LETTERS else f"{text[: _LETTERS - 1]}…"


def _join(source: Box, made: Box) -> tuple[int, int, int, int]:
    """Return an arrow from the top of what was used to the bottom of what was made."""
    half = _WIDTH // 2
    return source.x + half, source.y, made.x + half, made.y + made.height


def _tell(parts: Sequence[_Part]) -> str:
    titles = {part.id: part.title for part in parts}
    told = (
        f"{part.title} from {', '.join(titles[s] for s in part.sources if s in titles)}"
        for part in parts
        if part.sources
    )
    return f"Chain of custody: {'; '.join(told)}."
