"""Plots of a report as SVG text that stands in the page itself: no file beside it, no script.

The same values give the same bytes. The only module that loads the plotting library, and never its
stateful part.
"""

from __future__ import annotations

import io
import math
import re
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import Normalize, SymLogNorm
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, StrMethodFormatter
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.model.raster import NO_VALUE, Raster

_WIDE_IN = 7.0  # 178 mm: what an A4 page leaves
_TALLEST_IN = 4.3  # two on a page
_FLAT_IN = 2.8
_MOST_NAMES = 40  # of which each can be read below a plot
_SMALLEST_PT = 9
_BAND = "0.85"  # grey, of an interval
_INNER = (0.01, 0.99)  # of the cells, from whose values a scale is judged
_USUAL = 0.75  # of the cells of a map of differences
_TENFOLD = 20  # times what is usual: beyond it differences go by tenfold steps
_WIDEST = 10_000  # from where these begin to the end of the scale
_FAR = 1.0  # spans of those: what lies farther out stands apart
_EXTEND = {
    (False, False): "neither",
    (True, False): "min",
    (False, True): "max",
    (True, True): "both",
}
_STYLE: Any = {  # the library names its parameters one by one in a type of its own
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Arial"],
    "font.size": _SMALLEST_PT,
    "svg.fonttype": "none",  # text stays text: it can be searched, read aloud and scaled
    "axes.formatter.useoffset": False,
    "axes.linewidth": 0.6,
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
}
_ID = re.compile(r'\bid="|url\(#|href="#')
_OPENING = re.compile(r"<svg\b[^>]*>")


@dataclass(frozen=True)
class Scale:
    """From which value to which the colours of a map go.

    Args:
        low: value of the first colour; None where no cell has a value.
        high: value of the last one.
        is_signed: there are values on both sides of zero, which then is the middle, white.
        beyond: cells that lie outside of it.
        linear: up to which distance from zero the colours go evenly, by tenfold steps beyond; None
            where they go evenly throughout.
    """

    low: float | None
    high: float | None
    is_signed: bool = False
    beyond: int = 0
    linear: float | None = None


def find_scale(raster: Raster) -> Scale:
    """Return the scale of a map.

    Some cells that lie far from all others, as where one tile is metres off, must not make the rest
    look alike. Differences then go by tenfold steps, so that centimetres are seen beside metres;
    of other values the scale ends where 98 of 100 cells do, and says how many lie beyond.
    """
    known = raster.values[raster.values != NO_VALUE].astype(np.float64) * raster.step
    if not known.size:
        return Scale(None, None)
    low, high = float(known.min()), float(known.max())
    if low < 0 < high:
        most = max(-low, high)
        usual = max(float(np.quantile(np.abs(known), _USUAL)), raster.step)
        linear = max(usual, most / _WIDEST) if most > _TENFOLD * usual else None
        return Scale(-most, most, is_signed=True, linear=linear)
    if low == high:  # one colour for all: from zero, or the scale would reach where nothing can
        return Scale(min(low, 0.0), max(high, 0.0) or 1.0)
    inner_low = float(np.quantile(known, _INNER[0], method="higher"))
    inner_high = float(np.quantile(known, _INNER[1], method="lower"))
    span = (inner_high - inner_low) or 1.0
    if low < inner_low - _FAR * span:
        low = inner_low
    if high > inner_high + _FAR * span:
        high = inner_high
    return Scale(low, high, beyond=int(((known < low) | (known > high)).sum()))


def draw_map(raster: Raster, alt: str) -> str:
    """Return a map with its scale of colours, a bar of a round length, and where north is.

    Only where cells have a value is drawn, with a margin of one cell. Colours of both scales are
    told apart by people who see fewer colours. In black and white the one keeps its order, of the
    other only the distance from zero is seen.

    Args:
        raster: the map.
        alt: what it shows, for those who cannot see it.
    """
    part, (x, y) = _crop(raster)
    rows, columns = part.shape
    scale = find_scale(raster)
    height = min(_TALLEST_IN, max(1.8, (_WIDE_IN - 1.6) * rows / columns + 1.0))
    with rc_context({**_STYLE, "svg.hashsalt": f"{raster.check}/{raster.name}"}):
        figure = Figure(figsize=(_WIDE_IN, height), layout="constrained")
        axes = figure.subplots()
        axes.patch.set(facecolor="0.9", hatch="////", edgecolor="0.65", linewidth=0)
        image = axes.imshow(
            np.ma.masked_equal(part, NO_VALUE) * raster.step,
            origin="lower",
            extent=(x, x + columns * raster.cell, y, y + rows * raster.cell),
            cmap="RdBu" if scale.is_signed else "viridis",
            interpolation="nearest",
            norm=_make_norm(scale),
        )
        unit = f", {raster.cell_unit}" if raster.cell_unit else ", as in the files"
        axes.ticklabel_format(style="plain")
        axes.tick_params(axis="x", labelrotation=30)
        axes.locator_params(axis="both", nbins=5)
        axes.set_xlabel(f"X{unit}")
        axes.set_ylabel(f"Y{unit}")
        axes.set_title(
            "\N{BLACK UP-POINTING TRIANGLE} grid north", fontsize=_SMALLEST_PT, loc="left"
        )
        _draw_bar(axes, x, columns * raster.cell, raster.cell_unit)
        extend = _EXTEND[_is_below(raster, scale), _is_above(raster, scale)]
        bar = figure.colorbar(
            image, ax=axes, shrink=0.9, extend=extend, format=StrMethodFormatter("{x:g}")
        )
        bar.set_label(f"{raster.title}, {raster.unit}" if raster.unit else raster.title)
        return _write(figure, f"{raster.check}-{raster.name}", alt)


def _make_norm(scale: Scale) -> Normalize:
    if scale.linear is None:
        return Normalize(scale.low, scale.high)
    return SymLogNorm(scale.linear, vmin=scale.low, vmax=scale.high)


def _crop(raster: Raster) -> tuple[NDArray[np.int32], tuple[float, float]]:
    """Return the cells from the first to the last that has a value, and their lower left corner."""
    known = raster.values != NO_VALUE
    if not known.any():
        return raster.values, raster.origin
    part, corner = np.pad(raster.values, 1, constant_values=NO_VALUE), []
    known = np.pad(known, 1)
    for axis in (0, 1):
        where = np.flatnonzero(known.any(axis=1 - axis))
        first, last = int(where[0]) - 1, int(where[-1]) + 2
        part = part.take(range(first, last), axis=axis)
        corner.append(first - 1)
    x, y = raster.origin
    return part, (x + corner[1] * raster.cell, y + corner[0] * raster.cell)


def _draw_bar(axes: Axes, left: float, width: float, unit: str) -> None:
    """Draw a bar of a round length above a map, about a fifth of it, and what it is long."""
    power = 10.0 ** math.floor(math.log10(width / 5))
    length = max(step * power for step in (1, 2, 5) if step * power <= width / 5)
    right = left + width
    above = axes.get_xaxis_transform()
    axes.plot(
        [right - length, right],
        [1.02, 1.02],
        transform=above,
        clip_on=False,
        color="black",
        linewidth=3,
        solid_capstyle="butt",
        scalex=False,
        scaley=False,
    )
    text = f"{length:g} {unit}".rstrip()
    axes.text(right, 1.04, text, transform=above, ha="right", va="bottom")


def _is_below(raster: Raster, scale: Scale) -> bool:
    return scale.low is not None and raster.extremes is not None and raster.extremes[0] < scale.low


def _is_above(raster: Raster, scale: Scale) -> bool:
    high = scale.high
    return high is not None and raster.extremes is not None and raster.extremes[1] > high


@dataclass(frozen=True)
class Dots:
    """Numbers to be plotted, one for each of some things.

    Args:
        name: name of the plot, its own on the page.
        title: what a number is, with its unit.
        names: of the things.
        values: their numbers.
        middle: line through them, their mean; None for none.
        limits: limits of its interval; None for none.
    """

    name: str
    title: str
    names: tuple[str, ...]
    values: tuple[float, ...]
    middle: float | None = None
    limits: tuple[float, float] | None = None


def draw_dots(dots: Dots, alt: str) -> str:
    """Return a plot of each number above the name of its thing, with the line through them."""
    with rc_context({**_STYLE, "svg.hashsalt": dots.name}):
        figure = Figure(figsize=(_WIDE_IN, _FLAT_IN), layout="constrained")
        axes = figure.subplots()
        places = np.arange(len(dots.values))
        axes.axhline(0, color="black", linewidth=0.8)
        if dots.limits is not None:
            axes.axhspan(*dots.limits, color=_BAND, linewidth=0)
        if dots.middle is not None:
            axes.axhline(dots.middle, color="black", linewidth=0.8, linestyle="--")
        axes.plot(places, dots.values, "ko", markersize=4)
        step = -(-len(places) // _MOST_NAMES)
        axes.set_xticks(places[::step], dots.names[::step], rotation=60, ha="right")
        axes.set_ylabel(dots.title)
        return _write(figure, dots.name, alt)


def draw_histogram(dots: Dots, alt: str) -> str:
    """Return how many of the numbers lie in each of equal steps."""
    with rc_context({**_STYLE, "svg.hashsalt": f"{dots.name}-histogram"}):
        figure = Figure(figsize=(_WIDE_IN, _FLAT_IN), layout="constrained")
        axes = figure.subplots()
        axes.hist(dots.values, bins="sturges", color="0.6", edgecolor="black", linewidth=0.6)
        axes.axvline(0, color="black", linewidth=0.8)
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
        axes.set_xlabel(dots.title)
        axes.set_ylabel("how many")
        return _write(figure, f"{dots.name}-histogram", alt)


@dataclass(frozen=True)
class Steps:
    """How many lie in each of equal steps.

    Args:
        name: name of the plot, its own on the page.
        title: what is counted in steps, with its unit.
        start: lower end of the first step.
        width: size of a step.
        counts: how many lie in it.
    """

    name: str
    title: str
    start: float
    width: float
    counts: tuple[float, ...]


def draw_steps(steps: Steps, alt: str) -> str:
    """Return a histogram of what was counted; few beside many are seen on a logarithmic scale."""
    with rc_context({**_STYLE, "svg.hashsalt": steps.name}):
        figure = Figure(figsize=(_WIDE_IN, _FLAT_IN), layout="constrained")
        axes = figure.subplots()
        axes.bar(
            [steps.start + number * steps.width for number in range(len(steps.counts))],
            steps.counts,
            steps.width,
            align="edge",
            color="0.6",
            edgecolor="black",
            linewidth=0.4,
        )
        if any(0 < each < max(steps.counts) / 1000 for each in steps.counts):
            axes.set_yscale("log")
            axes.set_ylim(bottom=0.5)
        axes.yaxis.set_major_formatter(StrMethodFormatter("{x:,g}"))
        axes.set_xlabel(steps.title)
        axes.set_ylabel("points")
        return _write(figure, steps.name, alt)


def _write(figure: Figure, name: str, alt: str) -> str:
    """Return the figure as an `svg` element that says what it shows.

    The library numbers the parts of each figure from 1: with the name before it, a part's id is
    its own in a page of several figures.
    """
    target = io.StringIO()
    figure.savefig(target, format="svg", metadata={"Date": None, "Creator": None})
    text = target.getvalue()
    opening = _OPENING.search(text)
    if opening is None:
        return ""
    label = alt.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
    named = f'{opening[0][:-1]} role="img" aria-label="{label}">'
    return named + _ID.sub(rf"\g<0>{name}-", text[opening.end() :])
