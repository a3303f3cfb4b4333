"""Plots of a report as SVG text that stands in the page itself: no file beside it, no script.

The same values give the same bytes. The only module that loads the plotting library, and never its
stateful part.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ledger.model.raster import NO_VALUE, Raster

_WIDE_IN = 7.0  # 178 mm: what an A4 page leaves
_TALLEST_IN = 5.5
_FLAT_IN = 2.8
_MOST_NAMES = 40  # of which each can be read below a plot
_SMALLEST_PT = 9
_ABSENT = "0.85"  # grey, where a cell has no value
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


def draw_map(raster: Raster, alt: str) -> str:
    """Return a map with its scale.

    Args:
        raster: the map.
        alt: what it shows, for those who cannot see it.
    """
    rows, columns = raster.values.shape
    x, y = raster.origin
    values = np.ma.masked_equal(raster.values, NO_VALUE) * raster.step
    low, high = _find_limits(values)
    height = min(_TALLEST_IN, max(1.8, (_WIDE_IN - 1.6) * rows / columns + 0.7))
    with rc_context({**_STYLE, "svg.hashsalt": f"{raster.check}/{raster.name}"}):
        figure = Figure(figsize=(_WIDE_IN, height), layout="constrained")
        axes = figure.subplots()
        axes.set_facecolor(_ABSENT)
        image = axes.imshow(
            values,
            origin="lower",
            extent=(x, x + columns * raster.cell, y, y + rows * raster.cell),
            cmap="RdBu" if _is_signed(values) else "cividis",
            interpolation="nearest",
            vmin=low,
            vmax=high,
        )
        axes.ticklabel_format(style="plain")
        axes.tick_params(axis="x", labelrotation=30)
        axes.locator_params(axis="x", nbins=5)
        axes.set_xlabel("X, as in the files")
        axes.set_ylabel("Y, as in the files")
        scale = figure.colorbar(image, ax=axes, shrink=0.9)
        scale.set_label(f"{raster.title}, {raster.unit}" if raster.unit else raster.title)
        return _write(figure, f"{raster.check}-{raster.name}", alt)


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
            axes.axhspan(*dots.limits, color=_ABSENT, linewidth=0)
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


def _is_signed(values: np.ma.MaskedArray) -> bool:
    return bool(values.count() and values.min() < 0 < values.max())


def _find_limits(values: np.ma.MaskedArray) -> tuple[float | None, float | None]:
    """Return limits that put zero in the middle where there are both signs."""
    if not _is_signed(values):
        return None, None
    most = float(np.abs(values).max())
    return -most, most


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
