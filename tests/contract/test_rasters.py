"""Small maps: bounded, the same in any order, kept in the book and named in the result."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from job_bench import JobBench

from ledger.contract.check import Check, Finding, Plan
from ledger.contract.evidence import Evidence
from ledger.contract.rasters import MAX_SIDE, NO_VALUE, Raster, Sheet, require_raster
from ledger.errors import ContractError
from ledger.model.finding import Outcome
from ledger.store.reading import Book
from ledger.testing import Layout, SurveyBuilder, run_check
from ledger.testing.chunks import METRES

_WHOLE = np.iinfo(np.int32)


def draw(cells: list[tuple[int, int, int]], keep: Any, portions: int = 1) -> Raster:
    """Return the map of some cells: column, row, value."""
    columns, rows, values = (np.array(part, dtype=np.int64) for part in zip(*cells, strict=True))
    extent = (int(columns.min()), int(rows.min()), int(columns.max()), int(rows.max()))
    sheet = Sheet(METRES.steps_xy, METRES, extent, keep)
    for start in range(portions):
        part = slice(start, None, portions)
        sheet.add(columns[part], rows[part], values[part])
    return sheet.draw("heights", "Heights", step=0.5, unit="m")


cells = st.lists(
    st.tuples(st.integers(-3000, 3000), st.integers(-700, 700), st.integers(-50, 50)),
    min_size=1,
    max_size=60,
)


@given(cells, st.permutations(range(60)), st.sampled_from(["mean", "largest"]), st.integers(1, 4))
def test_a_map_does_not_depend_on_order_or_portions(
    given_cells: list[tuple[int, int, int]], order: list[int], keep: str, portions: int
) -> None:
    """The same cells give the same bytes, in whatever order they come."""
    shuffled = [given_cells[i] for i in order if i < len(given_cells)]
    first, second = draw(given_cells, keep), draw(shuffled, keep, portions)
    assert (first.content, first.origin, first.cell) == (second.content, second.origin, second.cell)


@given(cells, st.sampled_from(["mean", "largest"]))
def test_a_map_is_bounded_and_holds_what_was_given(
    given_cells: list[tuple[int, int, int]], keep: str
) -> None:
    """Every cell lies in the map, at its place, within the least and greatest value."""
    drawn = draw(given_cells, keep)
    assert max(drawn.values.shape) <= MAX_SIDE
    for column, row, _ in given_cells:
        place = (
            int((row - drawn.origin[1]) // drawn.cell),
            int((column - drawn.origin[0]) // drawn.cell),
        )
        assert drawn.values[place] != NO_VALUE
    values = [value for *_, value in given_cells]
    assert drawn.extremes is not None
    assert min(values) * 0.5 <= drawn.extremes[0] <= drawn.extremes[1] <= max(values) * 0.5


def test_a_joined_cell_shows_the_mean_or_the_farthest_from_zero() -> None:
    """Two cells a kilometre apart join neighbours; both ways of joining, by hand."""
    listed = [(0, 0, 1), (1, 0, 2), (1, 1, -4), (1100, 0, 7)]
    assert draw(listed, "mean").values[0, 0] == 0  # (1 + 2 − 4) / 3, rounded half up
    assert draw(listed, "largest").values[0, 0] == -4
    assert draw(listed, "mean").values[0, -1] == 7
    assert draw([(0, 0, 5), (0, 0, -5)], "largest").values[0, 0] == 5


def test_a_map_without_values_has_no_extremes() -> None:
    """Nothing was taken in, so nothing is claimed."""
    empty = Sheet(1, METRES, (0, 0, 1, 1)).draw("nothing", "Nothing", step=1)
    assert empty.extremes is None
    assert (empty.values == NO_VALUE).all()


GOOD = draw([(0, 0, 1)], "mean")


@pytest.mark.parametrize(
    ("part", "wrong"),
    [
        ("name", {"name": "Not kebab"}),
        ("title", {"title": " "}),
        ("size", {"values": np.zeros((1, MAX_SIDE + 1), dtype=np.int32)}),
        ("kind of numbers", {"values": np.zeros((1, 1))}),
        ("place", {"cell": 0.0}),
        ("place", {"origin": (0.0, float("nan"))}),
    ],
)
def test_a_map_that_cannot_be_kept_is_refused(part: str, wrong: dict[str, Any]) -> None:
    """What is wrong is named."""
    with pytest.raises(ContractError, match=f"its {part} is wrong"):
        require_raster("any", replace(GOOD, **wrong))


class _Draws(Check):
    """Draws some maps and says that all is well."""

    id = "draws"
    title = "A map"

    def __init__(self, *rasters: Raster) -> None:
        self.rasters = rasters

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Raster]:
        yield self.conforms("delivery", "Drawn.")
        yield from self.rasters


@pytest.mark.parametrize("count", [2, 9])
def test_two_maps_of_one_name_or_too_many_drop_the_check(tmp_path: Path, count: int) -> None:
    """The book keeps a few maps, each under a name of its own."""
    survey = SurveyBuilder(tmp_path / "out", Layout())
    maps = [GOOD] * count if count == 2 else [replace(GOOD, name=f"m{i}") for i in range(count)]
    (found,) = run_check(_Draws(*maps), survey)
    assert found.outcome is Outcome.ERRORED
    (found,) = run_check(_Draws(GOOD), survey)
    assert found.outcome is Outcome.CONFORMS


def test_an_audit_keeps_its_maps_in_the_book(bench: JobBench) -> None:
    """The map of the density is named in the JSON, and its bytes are in the book."""
    bench.write("job.toml", b"[criteria.point-density]\nmin_pts_per_m2 = 1.0\n")
    SurveyBuilder(bench.job / "out", Layout())
    told = bench.ask("audit", "out", status=None)
    (row,) = [row for row in told["rasters"] if row["check"] == "point-density"]
    with Book.open(bench.job) as book:
        stored = book.entry(told["entry"]).values["rasters"]
        content = book.blob(row["sha256"])
    assert json.dumps(stored).count(row["sha256"]) == 1
    values = np.frombuffer(content, "<i4").reshape(row["rows"], row["columns"])
    known = values[values != NO_VALUE] * row["step"]
    assert (known.min(), known.max()) == (row["least"], row["greatest"])
    assert known.min() > 0
