"""What of an audit is drawn for its report: figures, maps and heights, each with its caption."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from markupsafe import Markup

from ledger.dataclass import dataclass
from ledger.loading import load_part
from ledger.model.figure import Figure
from ledger.model.phrases import count_things
from ledger.model.raster import NO_VALUE, Raster

_FEWEST_PLOTTED = 2  # one number is no plot
_FEWEST_COUNTED = 8  # nor do a few make a histogram


@dataclass(frozen=True)
class Plot:
    """A plot or map with what stands below it, and the topic of the figures that it shows."""

    svg: Markup
    caption: str
    topic: str = ""


def list_plots(figures: Iterable[Figure]) -> Iterator[Plot]:
    """Yield plots of the figures that tell a number of each of several things."""
    for figure in figures:
        if len(figure.values) < _FEWEST_PLOTTED or figure.step:
            continue
        values = tuple(float(value) for value in figure.values)
        unit = f", {figure.unit}" if figure.unit else ""
        is_mean = bool(figure.low)
        dots = load_part("ledger.report.plots", "Dots")(
            f"{figure.check}-{figure.name}",
            f"{'cloud less survey' if is_mean else 'median difference'}{unit}",
            figure.listed,
            values,
            float(figure.value) if is_mean else None,
            (float(figure.low), float(figure.high)) if is_mean else None,
        )
        caption = f"{figure.sentence} Each dot is one of {count_things(len(values), 'value')}"
        if is_mean:
            caption += (
                f"; broken line: their mean; grey: {float(figure.low):+.3f} to "
                f"{float(figure.high):+.3f} {figure.unit}, where the true mean lies in 95 of 100 "
                "such surveys, if the points are independent"
            )
        draw_dots = load_part("ledger.report.plots", "draw_dots")
        yield _keep(draw_dots(dots, f"{caption}."), f"{caption}.", figure.topic)
        if is_mean and len(values) >= _FEWEST_COUNTED:
            told = (
                "How often each difference in height of cloud less survey occurs, of "
                f"{count_things(len(values), 'point')}."
            )
            draw_histogram = load_part("ledger.report.plots", "draw_histogram")
            yield _keep(draw_histogram(dots, told), told, figure.topic)


def list_heights(figures: Iterable[Figure]) -> Iterator[Plot]:
    """Yield a histogram of every figure that counts how many lie in equal steps."""
    for figure in figures:
        if not figure.step:
            continue
        unit = f", {figure.unit}" if figure.unit else ""
        steps = load_part("ledger.report.plots", "Steps")(
            f"{figure.check}-{figure.name}",
            f"height{unit}",
            float(figure.value),
            float(figure.step),
            tuple(float(each) for each in figure.values),
        )
        few = ""
        if any(0 < each < max(steps.counts) / 1000 for each in steps.counts):
            few = " The scale is logarithmic, so that few points are seen beside many."
        caption = f"Heights as in the files: {figure.sentence}{few}"
        yield _keep(load_part("ledger.report.plots", "draw_steps")(steps, caption), caption)


def list_maps(rasters: Iterable[Raster]) -> Iterator[Plot]:
    """Yield every map that an audit kept."""
    for raster in rasters:
        caption = _describe(raster)
        yield _keep(load_part("ledger.report.plots", "draw_map")(raster, caption), caption)


def _describe(raster: Raster) -> str:
    """Return what stands below a map: what it shows, from where to where, and what it does not."""
    unit = f" {raster.unit}" if raster.unit else ""
    known = int((raster.values != NO_VALUE).sum())
    extremes = raster.extremes
    if extremes is None:
        return f"{raster.title}: no cell has a value."
    side = f"{raster.cell:g} {raster.cell_unit}" if raster.cell_unit else f"{raster.cell:g}"
    told = f"{extremes[0]:g} to {extremes[1]:g}{unit} in {count_things(known, 'cell')} of {side}"
    if not raster.cell_unit:
        told += " in units of the files"
    scale = load_part("ledger.report.plots", "find_scale")(raster)
    beyond = ""
    if scale.beyond:
        lie = "lies" if scale.beyond == 1 else "lie"
        beyond = (
            f" {count_things(scale.beyond, 'cell')} {lie} beyond the ends of the scale, "
            f"{scale.low:g} to {scale.high:g}{unit}."
        )
    grey = ""
    if scale.is_signed:
        grey = " Red is below zero, blue above; in black and white only the distance is seen."
    if scale.linear is not None:
        grey += f" Colours go by tenfold steps beyond {scale.linear:.2g}{unit}."
    return f"{raster.title}: {told}; grey and hatched: no value. Grid north is up.{beyond}{grey}"


def _keep(svg: str, caption: str, topic: str = "") -> Plot:
    return Plot(Markup(svg), caption, topic)  # noqa: S704 - drawn by us; all text in it is escaped there
