"""Two runs held against each other: what differs, worst first, and how far that can move."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner

from ledger.cli.frame import swathbook
from ledger.compare import Weight, compare_runs
from ledger.errors import UsageError
from ledger.model.artefact import Output
from ledger.model.known import KnownValue
from ledger.testing import BookBuilder
from ledger.testing.books import known

ARM = ["0.112", "0.004", "0.231"]


def write_geoid(path: Path, height: float) -> None:
    """Write a GeoTIFF of one constant geoid height around 80.4 W, 38.6 N (OGC 19-008r4 keys)."""
    path.parent.mkdir(parents=True, exist_ok=True)
    keys = (1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 2, 2048, 0, 1, 6318)
    tifffile.imwrite(
        path,
        np.full((20, 20), height, "f4"),
        extratags=[
            (33550, "d", 3, (0.05, 0.05, 0.0), True),
            (33922, "d", 6, (0.0, 0.0, 0.0, -81.0, 39.0, 0.0), True),
            (34735, "H", len(keys), keys, True),
        ],
    )


class Runs:
    """A job with two runs, made value by value."""

    def __init__(self, folder: Path) -> None:
        """Make the job."""
        self.book = BookBuilder(folder)

    def add(self, **values: KnownValue) -> str:
        """Enter a run with one tile at the place of the demo."""
        number = len(self.book.writer.processes()) + 1
        self.book.write(f"out/R{number}/tile.las", str(number))
        facts: dict[str, Any] = {
            "minimum": ["552000", "4272000", "200"],
            "maximum": ["552480", "4272320", "220"],
        }
        record = self.book.see(f"out/R{number}/tile.las", **facts)
        stored = {f"run.{name}": value for name, value in values.items()}
        return self.book.run(Output(record, points=3), values=stored)

    def geoid(self, name: str, height: float) -> KnownValue:
        """Register a grid of one height; return the value of the field that names it."""
        write_geoid(self.book.folder / "geoid" / name, height)
        self.book.register(f"geoid/{name}", role="geoid")
        record = self.book.see(f"geoid/{name}")
        return KnownValue(record.sha256, where=record.path)

    def compare(self, first: str = "R1", second: str = "R2"):
        """Hold two runs against each other."""
        return compare_runs(self.book.folder, first, second)


@pytest.fixture
def runs(tmp_path):
    """Return an empty job."""
    made = Runs(tmp_path / "job")
    yield made
    made.book.close()


def test_one_setting_that_differs_is_the_only_difference(runs):
    """Equal values are counted, and 90.0 m is 90 m."""
    runs.add(range_max=known("90", "m"), lever_arm=known(ARM, "m"), mount_mode=known("drone"))
    runs.add(range_max=known("90.0", "m"), lever_arm=known(ARM, "m"), mount_mode=known("hand"))
    found = runs.compare()
    assert [(each.field, each.weight) for each in found.differences] == [
        ("mount_mode", Weight.GEOMETRIC)
    ]
    assert found.alike == 2
    assert not found.is_same


def test_ellipsoidal_against_orthometric_is_the_geoid_height(runs):
    """Since h = H + N, going from h to H moves heights by -N: +31.915 m."""
    grid = runs.geoid("a.tif", -31.915)
    runs.add(output_height_type=known("ellipsoidal"), crs=known("EPSG:6346"))
    runs.add(output_height_type=known("orthometric"), crs=known("EPSG:6346"), geoid_file=grid)
    (difference,) = runs.compare().differences
    assert difference.effect.metres == Decimal("31.915")
    (back,) = runs.compare("R2", "R1").differences
    assert back.effect.metres == Decimal("-31.915")


def test_another_geoid_moves_heights_by_the_difference_of_the_grids(runs):
    """H = h - N: a grid that is 0.382 m higher gives heights that are 0.382 m lower."""
    grids = [runs.geoid("a.tif", -31.912), runs.geoid("b.tif", -31.530)]
    for grid in grids:
        runs.add(output_height_type=known("orthometric"), crs=known("EPSG:6346"), geoid_file=grid)
    (difference,) = runs.compare().differences
    assert difference.field == "geoid_file"
    assert difference.effect.metres == pytest.approx(Decimal("-0.382"), abs=Decimal("0.001"))


def test_a_geoid_applied_twice_is_one_geoid_height_too_much(runs):
    """Each application subtracts N once more."""
    grid = runs.geoid("a.tif", -31.912)
    for count in (1, 2):
        runs.add(
            output_height_type=known("orthometric"),
            crs=known("EPSG:6346"),
            geoid_file=grid,
            geoid_applications=known(count),
        )
    (difference,) = runs.compare().differences
    assert difference.effect.metres == Decimal("31.912")


@pytest.mark.parametrize("change", ["gone", "changed", "outside", "no place"])
def test_nothing_is_predicted_from_a_grid_that_is_not_that_of_the_run(runs, change):
    """A grid that is gone, has other bytes, or does not reach here gives no number."""
    grid = runs.geoid("a.tif", -31.915)
    crs = known("EPSG:6346" if change != "outside" else "EPSG:32733")
    path = runs.book.folder / "geoid" / "a.tif"
    if change == "gone":
        path.unlink()
    elif change == "changed":
        write_geoid(path, -20.0)
    values = {} if change == "no place" else {"crs": crs}
    runs.add(output_height_type=known("ellipsoidal"), **values)
    runs.add(output_height_type=known("orthometric"), geoid_file=grid, **values)
    (difference,) = runs.compare().differences
    assert difference.effect.metres is None
    assert "no registered grid" in difference.effect.sentence


def test_a_lever_arm_moves_by_the_length_of_its_difference(runs):
    """3-4-12 gives 13: the worked right-angled box of every textbook."""
    axes = known("forward-right-down")
    runs.add(lever_arm=known(["0", "0", "0"], "m"), lever_arm_convention=axes)
    runs.add(lever_arm=known(["0.03", "0.04", "0.12"], "m"), lever_arm_convention=axes)
    (difference,) = runs.compare().differences
    assert difference.effect.metres == Decimal("0.130")


def test_arms_along_different_axes_are_not_subtracted(runs):
    """Three numbers along other axes are another vector."""
    runs.add(lever_arm=known(ARM, "m"), lever_arm_convention=known("forward-right-down"))
    runs.add(lever_arm=known(["1", "0", "0"], "m"), lever_arm_convention=known("forward-left-up"))
    arm = next(each for each in runs.compare().differences if each.field == "lever_arm")
    assert arm.effect.metres is None


def test_the_two_feet_differ_by_2_ppm_of_the_northing(runs):
    """1200/3937 m against 0.3048 m (NIST SP 811, B.6): some 2.6 m on a northing of 4 272 160."""
    runs.add(unit_horizontal=known("us-survey-foot"))
    runs.add(unit_horizontal=known("international-foot"))
    (difference,) = runs.compare().differences
    expected = Decimal(4272160) * (Decimal(1200) / Decimal(3937) - Decimal("0.3048"))
    assert difference.effect.metres == expected.quantize(Decimal("0.001"))


def test_the_worst_difference_comes_first(runs):
    """What moves the numbers, then how the points were made, then what changes nothing."""
    runs.add(purpose=known("first try"), mount_mode=known("hand"), frame=known("ITRF2020"))
    runs.add(purpose=known("second"), mount_mode=known("drone"), frame=known("NAD83(2011)"))
    assert [each.field for each in runs.compare().differences] == ["frame", "mount_mode", "purpose"]


def test_what_only_one_of_them_has_stands_apart(runs):
    """A blank is no difference, and no agreement either."""
    runs.add(mount_mode=known("drone"), range_max=known("90", "m"))
    runs.add(mount_mode=known("drone"), geoid_name=known("demo-geoid-A"))
    found = runs.compare()
    assert found.differences == ()
    assert found.one_sided == (("range_max", "R1"), ("geoid_name", "R2"))
    assert not found.is_same


def test_inputs_are_held_against_each_other_too(runs):
    """The same settings on another flight make another cloud."""
    runs.book.write("raw/a.bin", "a")
    runs.book.register("raw/a.bin", flight="F1")
    runs.book.card("flight", "F1")
    runs.add(mount_mode=known("drone"))
    runs.book.write("out/b.las", "b")
    runs.book.run("out/b.las", inputs=[{"flight": "F1"}], values={"run.mount_mode": known("drone")})
    assert runs.compare().inputs == (("F1", "R2"),)


def record_settings(folder: Path, run: str, settings: str) -> None:
    """Record a run with what its program wrote, as the command does."""
    for path, text in ((f"out/{run}/dtm.tif", run), (f"cfg/{run}.json", settings)):
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, encoding="utf-8")
    command = ["--job", str(folder), "record", str(folder / "out" / run), "--set", "version=1"]
    command += ["--settings", str(folder / "cfg" / f"{run}.json"), "--map", "mount_mode=mount"]
    done = CliRunner().invoke(swathbook, command)
    assert done.exit_code == 0, done.output


def test_settings_that_no_field_asks_for_are_compared_by_their_keys(tmp_path):
    """A gate under a name of the program's own is told; what a field read is told once, there."""
    assert CliRunner().invoke(swathbook, ["start", str(tmp_path / "job")]).exit_code == 0
    job = tmp_path / "job"
    record_settings(
        job, "R1", '{"mount": "drone", "gate": 90, "step": "0.5", "old": 1, "pwd": "a"}'
    )
    record_settings(
        job, "R2", '{"mount": "hand", "gate": 80, "step": "0.50", "new": 2, "pwd": "b"}'
    )
    found = compare_runs(job, "R1", "R2")
    assert [each.field for each in found.differences] == ["mount_mode"]
    told = [(each.key, each.before, each.after) for each in found.written]
    assert told == [("gate", "90", "80"), ("old", "1", None), ("new", None, "2")]
    shown = CliRunner().invoke(swathbook, ["--job", str(job), "compare", "R1", "R2"]).output
    assert "gate: 90 → 80" in shown
    assert "new: not there → 2" in shown


def test_runs_whose_settings_alone_differ_are_not_the_same(tmp_path):
    """One file name, another gate: a person who expects sameness is told."""
    assert CliRunner().invoke(swathbook, ["start", str(tmp_path / "job")]).exit_code == 0
    job = tmp_path / "job"
    record_settings(job, "R1", '{"mount": "drone", "gate": 90}')
    record_settings(job, "R2", '{"mount": "drone", "gate": 80}')
    assert replace(compare_runs(job, "R1", "R2"), inputs=()).is_same is False


@pytest.mark.parametrize("name", ["R9", "F1", "tile.las"])
def test_what_is_no_run_is_one_line(runs, name):
    """The runs that there are stand beside it."""
    runs.add(mount_mode=known("drone"))
    with pytest.raises(UsageError, match="no such run or step"):
        runs.compare("R1", name)


def test_screen_json_and_exit_status(runs):
    """The sentence, the metres as a number, and status 1 where sameness was expected."""
    grid = runs.geoid("a.tif", -31.915)
    runs.add(output_height_type=known("ellipsoidal"), crs=known("EPSG:6346"))
    runs.add(output_height_type=known("orthometric"), crs=known("EPSG:6346"), geoid_file=grid)
    command = ["--job", str(runs.book.folder), "compare", "r1", "R2"]
    shown = CliRunner().invoke(swathbook, command)
    assert shown.exit_code == 0, shown.output
    assert "ellipsoidal → orthometric" in shown.output
    assert "+31.915 m" in shown.output
    stored = json.loads(CliRunner().invoke(swathbook, [*command, "--json"]).output)
    assert stored["same"] == "different"
    assert stored["differences"][0]["effect_m"] == 31.915
    assert CliRunner().invoke(swathbook, [*command, "--expect", "same"]).exit_code == 1
    alike = ["--job", str(runs.book.folder), "compare", "R1", "R1", "--expect", "same"]
    assert CliRunner().invoke(swathbook, alike).exit_code == 0


def test_without_names_the_last_two_runs_are_compared(tmp_path: Path) -> None:
    """Who asks what changed means the last run and the one before."""
    runs = Runs(tmp_path / "job")
    runs.add(mount_mode=known("hand"))
    runs.add(mount_mode=known("pole"))
    runs.add(mount_mode=known("drone"))
    compared = runs.compare("", "")
    assert (compared.first, compared.second) == ("R2", "R3")


def test_one_run_alone_is_compared_with_nothing(tmp_path: Path) -> None:
    """One run in the job, or one named: one line that says what to type."""
    runs = Runs(tmp_path / "job")
    runs.add(mount_mode=known("hand"))
    with pytest.raises(UsageError, match="no two runs to compare: found 1 run"):
        runs.compare("", "")
    with pytest.raises(UsageError, match="takes two to compare"):
        runs.compare("R1", "")
