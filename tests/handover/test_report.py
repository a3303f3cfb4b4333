"""The papers as pages: what they hold, and whether everybody can read them.

Sources: WCAG 2.2, success criteria 1.1.1 (text alternatives), 1.3.1 (headings, table headers),
1.4.3 (contrast of 4.5 to 1) with its definition of relative luminance, 2.4.1 (a way past
what repeats).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from browser import count_printed_pages
from jinja2 import Environment, PackageLoader
from job_bench import JobBench
from matplotlib import colormaps
from matplotlib.colors import to_hex

from ledger.auditmaps import read_maps
from ledger.model.entry import Kind
from ledger.model.figure import Figure
from ledger.model.raster import NO_VALUE, Raster
from ledger.report.delivery_plots import list_heights, list_maps, list_plots
from ledger.report.plots import Dots, Scale, draw_dots, draw_histogram, draw_map, find_scale
from ledger.report.sheet_page import clip
from ledger.store.reading import Book
from ledger.testing import Layout, Scene, SurveyBuilder

LEAST_PT = 9
LEAST_CONTRAST = 4.5
LANDMARKS = {"header", "nav", "main", "footer"}


class Page(HTMLParser):
    """What of a page matters to whoever reads it."""

    def __init__(self, text: str) -> None:
        """Read it."""
        super().__init__()
        self.text = text
        self.headings: list[int] = []
        self.tags: list[str] = []
        self.tables: list[set[str]] = []
        self.images: list[dict[str, str | None]] = []
        self.ids: list[str] = []
        self.anchors: list[str] = []
        self.language: str | None = None
        self._depth = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        named = dict(attrs)
        self.tags.append(tag)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "html":
            self.language = named.get("lang")
        if tag == "table":
            self.tables.append(set())
        if tag == "th" and named.get("scope"):
            self.tables[-1].add(str(named["scope"]))
        if tag in ("svg", "img"):
            self.images.append(named)
        if named.get("id"):
            self.ids.append(str(named["id"]))
        if tag == "a" and str(named.get("href", "")).startswith("#"):
            self.anchors.append(str(named["href"])[1:])


@pytest.fixture(scope="module")
def papers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the papers of a delivery with findings and maps, handed over despite them."""
    bench = JobBench(tmp_path_factory.mktemp("papers"))
    SurveyBuilder(bench.job / "out", Layout(), Scene(columns=2, density=4.0))
    (bench.job / "job.toml").write_text(
        '[job]\nreference = "QM-0412"\n[coordinates]\nhorizontal = "EPSG:6346"\n'
        '[coordinates.unit]\nhorizontal = "metre"\nvertical = "metre"\n'
        "[criteria.point-density]\nmin_pts_per_m2 = 2.0\n",
        encoding="utf-8",
    )
    assert bench.run("record", "out", "--set", "software=demo-proc <4>").status == 0
    assert bench.run("audit", "out").status in (1, 3)
    words = ["--to", "client engineer", "--use", "tests", "--despite", "asked for as it is"]
    ran = bench.run("handover", "out", *words)
    assert ran.status == 0, ran.err
    return bench.job / "handover" / "1"


@pytest.fixture(scope="module", params=["report.html", "custody-sheet.html"])
def page(request: pytest.FixtureRequest, papers: Path) -> Page:
    """Return each page in turn."""
    return Page((papers / request.param).read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def report(papers: Path) -> Page:
    """Return the report."""
    return Page((papers / "report.html").read_text(encoding="utf-8"))


def test_headings_go_down_one_level_at_a_time(page: Page) -> None:
    """One first heading, and none below it is left out."""
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(page.headings, page.headings[1:], strict=False))


def test_landmarks_and_language(report: Page) -> None:
    """A screen reader finds the parts, can skip to the report, and knows the language."""
    assert set(report.tags) >= LANDMARKS
    assert report.tags.count("main") == 1
    assert report.language == "en"
    assert report.anchors
    assert set(report.anchors) <= set(report.ids)
    assert len(report.ids) == len(set(report.ids))


def test_every_table_has_headers_and_every_picture_words(page: Page) -> None:
    """Each table says what its columns or rows are, each drawing what it shows."""
    assert page.tables
    assert all(page.tables)
    for image in page.images:
        assert image.get("role") == "img"
        assert len(str(image.get("aria-label") or "")) > 20


def test_nothing_is_too_small_to_read(page: Page) -> None:
    """No letter under 9 points, in the page or in a drawing."""
    sizes = [float(size) for size in re.findall(r"\b([\d.]+)pt[/;\" ]", page.text)]
    drawn = [float(s) for s in re.findall(r"font(?:-size)?: ?(?:[a-z]+ )?([\d.]+)px", page.text)]
    assert min(size for size in sizes if size < 100) >= LEAST_PT
    assert all(size >= LEAST_PT for size in drawn)


def compute_luminance(color: str) -> float:
    """Return the relative luminance of `#rgb` or `#rrggbb`, as WCAG 2.2 defines it."""
    digits = color[1:] if len(color) == 7 else "".join(2 * digit for digit in color[1:])
    parts = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_contrast_is_computed_as_published() -> None:
    """Black on white is 21 to 1; #767676 on white the lightest grey of 4.5 (WCAG examples)."""
    assert (1 + 0.05) / (compute_luminance("#000") + 0.05) == pytest.approx(21)
    assert (1 + 0.05) / (compute_luminance("#767676") + 0.05) == pytest.approx(4.54, abs=0.01)


def test_every_colour_of_letters_stands_out(page: Page) -> None:
    """Each against the white of the page; 4.5 to 1 at least."""
    style = page.text.partition("<style>")[2].partition("</style>")[0]
    colors = re.findall(r"(?<![-\w])color: (#[0-9a-f]{3,6})", style)
    assert colors
    for color in colors:
        assert 1.05 / (compute_luminance(color) + 0.05) >= LEAST_CONTRAST, color


def test_nothing_is_fetched_and_nothing_runs(page: Page) -> None:
    """No address of another file, no script, no style that imports."""
    assert "script" not in page.tags
    assert not re.findall(r"(?:src|href)=\"(?!#|data:image/png;base64)[^\"]*\"", page.text)
    assert "@import" not in page.text
    assert not re.findall(r"url\((?!#)[^)]*\)", page.text)


def test_what_records_say_is_text(page: Page) -> None:
    """Signs of HTML in a value are shown as they are."""
    assert "demo-proc &lt;4&gt;" in page.text
    assert "<4>" not in page.text


def test_the_report_holds_all_parts(report: Page) -> None:
    """Verdict, findings with their ids and places, maps, chain, criteria with sources, files."""
    for words in (
        "asked for as it is",
        "tile_0_0",
        "Source",
        "Density of",
        "Chain of custody: Audit D1 from",
        "min_pts_per_m2",
        "not verified against ground",
        "does not certify",
    ):
        assert words in report.text, words
    assert len(report.images) >= 2


def test_maps_are_read_back_as_they_were_drawn(papers: Path) -> None:
    """Values, corner and cell of every map."""
    with Book.open(papers.parents[1]) as book:
        entry = book.last(Kind.AUDIT)
        assert entry is not None
        maps = read_maps(book, entry)
    assert [raster.name for raster in maps] == [row["name"] for row in entry.values["rasters"]]
    for raster, row in zip(maps, entry.values["rasters"], strict=True):
        assert raster.values.shape == (row["rows"], row["columns"])
        assert raster.extremes is not None


def list_rasters() -> Iterator[Raster]:
    """Yield a map of one sign, of two, without values, and of one cell."""
    for values in ([[1, 2], [3, NO_VALUE]], [[-5, 2], [0, 1]], [[NO_VALUE]], [[7]]):
        array = np.array(values, np.int32)
        yield Raster("m", "Steps & <more>", "m", 0.01, (552000.0, 4272000.0), 1.0, array, "c")


@pytest.mark.parametrize(
    "raster", list(list_rasters()), ids=["one sign", "two", "none", "one cell"]
)
def test_the_same_map_gives_the_same_bytes(raster: Raster) -> None:
    """Whatever a map holds it is drawn, and drawn alike."""
    drawn = draw_map(raster, 'a "map" & <more>')
    assert drawn == draw_map(raster, 'a "map" & <more>')
    assert drawn.startswith("<svg")
    assert "&quot;map&quot; &amp; &lt;more>" in drawn
    assert "Steps &amp; &lt;more&gt;" in drawn


def test_one_cell_that_is_far_off_does_not_hide_the_others() -> None:
    """The scale ends where nearly all cells do; how many lie beyond stands below the map."""
    values = np.full((20, 20), NO_VALUE, np.int32)
    values[5:15, 5:15] = np.arange(100).reshape(10, 10)
    near = Raster("m", "Spread", "m", 0.001, (0.0, 0.0), 2.0, values, "c", "ftUS")
    assert find_scale(near) == Scale(0.0, 0.099)
    far = values.copy()
    far[5, 5] = 31_900
    scale = find_scale(replace(near, values=far))
    assert scale.high == pytest.approx(0.099)
    assert scale.beyond == 1
    (told,) = list_maps([replace(near, values=far)])
    assert "0.001 to 31.9 m in 100 cells of 2 ftUS; grey and hatched: no value" in told.caption
    assert "1 cell lies beyond the ends of the scale" in told.caption


def test_centimetres_are_seen_beside_metres() -> None:
    """A map of differences, of which some are metres, goes by tenfold steps, and says so."""
    values = np.full((10, 10), 2, np.int32)
    values[:2] = -400
    near = Raster("m", "Steps", "m", 0.001, (0.0, 0.0), 2.0, values, "c", "m")
    values = values.copy()
    values[0] = -31_900
    scale = find_scale(replace(near, values=values))
    assert scale.low == pytest.approx(-31.9)
    assert scale.high == pytest.approx(31.9)
    assert scale.linear == pytest.approx(0.00319)
    (told,) = list_maps([replace(near, values=values)])
    assert "Colours go by tenfold steps beyond 0.0032 m" in told.caption
    assert "Red is below zero, blue above" in told.caption


def test_what_is_alike_everywhere_has_a_scale_from_zero() -> None:
    """All cells 100 %: a scale round it would reach 110."""
    values = np.full((3, 3), 100, np.int32)
    assert find_scale(Raster("m", "Share", "%", 1.0, (0.0, 0.0), 1.0, values)) == Scale(0.0, 100.0)


def test_a_map_shows_its_cells_north_and_a_round_length() -> None:
    """Nothing but cells with a value is drawn: without that a site lies in an empty frame."""
    values = np.full((100, 100), NO_VALUE, np.int32)
    values[40:60, 40:60] = 7
    drawn = draw_map(Raster("m", "Steps", "m", 1.0, (0.0, 0.0), 1.0, values, "c", "m"), "a map")
    texts = re.findall(r">([^<>]+)</text>", drawn)
    assert "X, m" in texts
    assert any("grid north" in text for text in texts)
    assert "2 m" in texts  # a bar of a fifth of 22 cells, at most
    numbers = {float(text) for text in texts if re.fullmatch(r"\d+", text)}
    assert numbers >= {40, 60}
    assert not numbers & {80, 100}


def test_colours_of_a_map_keep_their_order_in_black_and_white() -> None:
    """Each of one sign is lighter than the one before."""
    colors = [to_hex(colormaps["viridis"](place)) for place in np.linspace(0, 1, 16)]
    light = [compute_luminance(color) for color in colors]
    assert light == sorted(light)


def test_few_points_are_seen_beside_many() -> None:
    """A histogram of heights with a lone step far off draws it, and says how it is scaled."""
    names = tuple(f"{number} m" for number in range(20))
    values = ("0", "90000", "80000", *("0" for _ in range(16)), "3")
    figure = Figure("heights", "Heights", "Points.", "0", listed=names, values=values, step="1")
    (plot,) = list_heights([figure])
    assert "logarithmic" in plot.caption
    assert list(list_plots([figure])) == []


def test_each_plot_stands_under_the_topic_of_its_numbers() -> None:
    """Checkpoints that were plotted below the words on swaths would be read as of swaths."""
    pages = Environment(loader=PackageLoader("ledger.report", "pages"), autoescape=True)
    topics = ("At checkpoints", "Where swaths overlap")
    figures = [
        Figure("figure", topic, "Told.", "0", listed=("1", "2"), values=("0", "1"))
        for topic in topics
    ]
    page = pages.get_template("report.html").render(
        figures=[(topic, ["Told."]) for topic in topics], plots=list(list_plots(figures)), chain={}
    )
    parts = re.findall(r"<h3>(.*?)</h3>|(<figure>)", page)
    told = [words or "plot" for words, _ in parts]
    assert told[:4] == [topics[0], "plot", topics[1], "plot"]


@pytest.mark.parametrize("draw", [draw_dots, draw_histogram])
@pytest.mark.parametrize("count", [1, 14, 300])
def test_the_same_numbers_give_the_same_plot(draw: Callable[[Dots, str], str], count: int) -> None:
    """Names that look like formulas or mark-up are drawn as they are, and say what they show."""
    names = tuple(f"$P_{{{number}$ <b>" for number in range(count))
    values = tuple(0.01 * (number % 7 - 3) for number in range(count))
    dots = Dots("ground-mean", "cloud less survey, m", names, values, 0.0, (-0.01, 0.01))
    drawn = draw(dots, 'a "plot"')
    assert drawn == draw(dots, 'a "plot"')
    assert "&quot;plot&quot;" in drawn
    assert "<b>" not in drawn
    if draw is draw_dots:
        assert drawn.count("$P_{0$ &lt;b&gt;") >= 1


@pytest.mark.parametrize("name", ["report.html", "custody-sheet.html"])
def test_swaths_that_agree_prove_nothing_of_the_ground(papers: Path, name: str) -> None:
    """Without a checkpoint it is said that nothing was verified, whatever else is told."""
    text = (papers / name).read_text(encoding="utf-8")
    assert "not verified against ground" in text
    assert "cloud less survey" not in text
    assert ("of swaths: " in text) == (name == "report.html")


def test_a_browser_opens_and_prints_it(papers: Path, tmp_path: Path) -> None:
    """It is printed without a network, on pages of A4."""
    assert count_printed_pages(papers / "report.html", tmp_path) > 1


def test_a_long_text_is_cut_on_the_sheet_and_says_so() -> None:
    """What fits stays as it is."""
    assert clip("a" * 140) == "a" * 140
    assert clip("a" * 141) == "a" * 140 + " … (report)"
