"""May two surveys be subtracted: yes, no, or not known, and why."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from pyproj import Transformer

from ledger.cli.frame import swathbook
from ledger.compare.jobresult import Agreement, Answer, JobComparison, Topic
from ledger.compare.jobs import compare_jobs
from ledger.model.artefact import Output
from ledger.model.known import KnownBy, KnownValue
from ledger.testing import BookBuilder
from ledger.testing.books import known

WHOLE = {
    "frame": known("NAD83(2011)"),
    "epoch": known("2010.0", "year"),
    "crs": known("EPSG:6346"),
    "output_height_type": known("orthometric"),
    "vertical_datum": known("NAVD88"),
    "geoid_name": known("demo-geoid-A"),
    "geoid_version": known("1"),
    "geoid_file": known("a" * 64),
    "unit_horizontal": known("metre"),
    "unit_vertical": known("metre"),
    "scale_basis": known("grid"),
    "software": known("demo-proc"),
    "version": known("4.1.0"),
}


def make_job(folder: Path, *runs: dict[str, KnownValue], decision: str = "accepted") -> Path:
    """Make a job with runs of these values."""
    with BookBuilder(folder) as book:
        for number, values in enumerate(runs):
            book.write(f"out/{number}.las", str(number))
            stored = {f"run.{name}": value for name, value in values.items()}
            book.run(f"out/{number}.las", values=stored, decision=decision)
    return folder


def compare(base: Path, second: dict[str, KnownValue], **parts: str) -> JobComparison:
    """Hold a job of whole records against another."""
    return compare_jobs(make_job(base / "june", WHOLE), make_job(base / "july", second, **parts))


def leave_out(*names: str) -> dict[str, KnownValue]:
    """Return whole records without some of them."""
    return {name: value for name, value in WHOLE.items() if name not in names}


def test_two_surveys_of_the_same_settings_may_be_subtracted(tmp_path):
    """Everything is recorded and alike."""
    found = compare(tmp_path, WHOLE)
    assert found.answer is Answer.YES
    assert {topic.state for topic in found.topics} == {Agreement.ALIKE}
    assert found.is_same


@pytest.mark.parametrize(
    ("name", "value", "topic"),
    [
        ("frame", known("ITRF2020"), "frame"),
        ("epoch", known("2026.3", "year"), "epoch"),
        ("crs", known("EPSG:6345"), "coordinate system"),
        ("output_height_type", known("ellipsoidal"), "heights"),
        ("geoid_name", known("demo-geoid-B"), "geoid"),
        ("geoid_version", known("2"), "geoid"),
        ("geoid_file", known("b" * 64), "geoid"),
        ("unit_horizontal", known("us-survey-foot"), "units"),
        ("unit_vertical", known("international-foot"), "units"),
        ("scale_basis", known("ground"), "scale basis"),
    ],
)
def test_one_thing_that_differs_forbids_it(tmp_path, name, value, topic):
    """Frame, epoch, zone, heights, geoid, units, scale: each alone is enough, and is named."""
    found = compare(tmp_path, {**WHOLE, name: value})
    assert found.answer is Answer.NO
    apart = [each for each in found.topics if each.state is Agreement.APART]
    assert [each.name for each in apart] == [topic]
    assert apart[0].why


@pytest.mark.parametrize(
    "name", [name for name in WHOLE if name != "frame" and not name.startswith("geoid")]
)
def test_what_is_not_recorded_is_not_known(tmp_path, name):
    """A blank is no agreement, and no difference either."""
    found = compare(tmp_path, leave_out(name))
    assert found.answer is Answer.NOT_KNOWN
    opened = [each for each in found.topics if each.state is Agreement.NOT_KNOWN]
    assert any("not recorded in july" in each.why for each in opened)


@pytest.mark.parametrize("name", ["geoid_name", "geoid_version"])
def test_the_same_grid_settles_the_geoid_and_a_name_alone_has_to_be_whole(tmp_path, name):
    """Equal bytes are equal whatever nobody wrote down; without the grid a blank leaves it open."""
    assert compare(tmp_path, leave_out(name)).answer is Answer.YES
    other = make_job(tmp_path / "august", leave_out(name, "geoid_file"))
    assert compare_jobs(tmp_path / "june", other).answer is Answer.NOT_KNOWN


def test_the_coordinate_system_names_the_frame(tmp_path):
    """EPSG:6346 is NAD83(2011) / UTM zone 17N (EPSG registry); written in both jobs or in one."""
    found = compare(tmp_path, leave_out("frame"))
    assert found.answer is Answer.YES


def test_ellipsoidal_heights_need_no_geoid(tmp_path):
    """Without a geoid there is none to differ."""
    bare = {
        **leave_out("geoid_name", "geoid_version", "geoid_file", "vertical_datum"),
        "output_height_type": known("ellipsoidal"),
    }
    jobs = make_job(tmp_path / "june", bare), make_job(tmp_path / "july", bare)
    assert compare_jobs(*jobs).answer is Answer.YES


@pytest.mark.parametrize("by", [KnownBy.ASSUMED, KnownBy.CARRIED])
def test_what_was_assumed_or_carried_over_cannot_prove(tmp_path, by):
    """The same value, and nobody confirmed it: not known. Another value still forbids it."""
    found = compare(tmp_path, {**WHOLE, "epoch": known("2010.0", "year", by)})
    assert found.answer is Answer.NOT_KNOWN
    other = make_job(tmp_path / "august", {**WHOLE, "epoch": known("2020.0", "year", by)})
    assert compare_jobs(tmp_path / "june", other).answer is Answer.NO


def test_another_version_leaves_it_open(tmp_path):
    """Nothing shows that two versions give the same heights."""
    found = compare(tmp_path, {**WHOLE, "version": known("4.2.0")})
    assert found.answer is Answer.NOT_KNOWN
    assert "process one capture with both" in found.topics[0].why


def test_runs_of_one_job_that_disagree_leave_it_open(tmp_path):
    """Two accepted runs with two epochs: which one was sent is not told here."""
    july = make_job(tmp_path / "july", WHOLE, {**WHOLE, "epoch": known("2020.0", "year")})
    found = compare_jobs(make_job(tmp_path / "june", WHOLE), july)
    assert found.answer is Answer.NOT_KNOWN
    assert "do not share one epoch" in found.topics[0].why


def test_runs_that_nobody_accepted_leave_it_open(tmp_path):
    """Undecided runs speak, and do not settle it; rejected ones do not speak."""
    found = compare(tmp_path, WHOLE, decision="undecided")
    assert found.answer is Answer.NOT_KNOWN
    assert found.second_runs == ("R1",)
    rejected = make_job(tmp_path / "august", WHOLE, decision="rejected")
    found = compare_jobs(tmp_path / "june", rejected)
    assert (found.answer, found.second_runs) == (Answer.NOT_KNOWN, ())


def test_screen_json_and_status(tmp_path):
    """The answer comes first; status 1 only where sameness was expected and is not shown."""
    june = make_job(tmp_path / "june", WHOLE)
    july = make_job(tmp_path / "july", {**WHOLE, "geoid_name": known("demo-geoid-B")})
    words = ["compare", str(june), str(july)]
    shown = CliRunner().invoke(swathbook, words)
    assert shown.exit_code == 0, shown.output
    assert shown.output.startswith("No: june and july must not be subtracted as they are.")
    assert "demo-geoid-A 1 → demo-geoid-B 1" in shown.output
    told = json.loads(CliRunner().invoke(swathbook, [*words, "--json"]).output)
    assert (told["may_be_subtracted"], told["same"]) == ("no", "different")
    assert [each["field"] for each in told["differences"]] == ["geoid"]
    assert CliRunner().invoke(swathbook, [*words, "--expect", "same"]).exit_code == 1
    alike = ["compare", str(june), str(june), "--expect", "same"]
    assert CliRunner().invoke(swathbook, alike).exit_code == 0


REAL = Path(__file__).parents[1] / "real"
ISLAND = (("828540", "2125807", "0"), ("828740", "2126007", "9"))


def make_island(folder: Path, grid: bytes, name: str, *, kept: bool = True) -> Path:
    """Make a job in Puerto Rico whose run used a grid of these bytes under some name."""
    with BookBuilder(folder) as book:
        book.write("out/0.las", "points")
        place = folder / "geoid" / f"{name}.tif"
        place.parent.mkdir()
        place.write_bytes(grid)
        used = KnownValue(book.see(f"geoid/{name}.tif").sha256, where=f"geoid/{name}.tif")
        low, high = ISLAND
        seen = book.see("out/0.las", minimum=list(low), maximum=list(high))
        named = {"crs": known("EPSG:6348"), "geoid_name": known(name), "geoid_file": used}
        values = {f"run.{key}": value for key, value in {**WHOLE, **named}.items()}
        book.run(Output(seen, points=3), values=values)
        if not kept:
            place.unlink()
    return folder


def compare_grids(base: Path, grid: bytes, name: str, **parts: bool) -> Topic:
    """Hold a job by GEOID18 against one by another grid, and return what is said of the geoid."""
    first = make_island(base / "june", (REAL / "us_noaa_g2018p0.tif").read_bytes(), "g2018p0")
    found = compare_jobs(first, make_island(base / "july", grid, name, **parts))
    (topic,) = (each for each in found.topics if each.name == "geoid")
    return topic


def test_a_grid_is_known_by_what_it_says_at_the_site(tmp_path):
    """GEOID18 of Puerto Rico under another name and with other bytes gives the same heights."""
    renamed = (REAL / "us_noaa_g2018p0.tif").read_bytes() + b"\0"
    assert compare_grids(tmp_path, renamed, "island").state is Agreement.ALIKE


def test_another_grid_is_told_with_how_far_it_is_off(tmp_path):
    """GEOID12B of Puerto Rico lies off GEOID18 there by what PROJ gives."""
    topic = compare_grids(tmp_path, (REAL / "us_noaa_g2012bp0.tif").read_bytes(), "g2012bp0")
    assert topic.state is Agreement.APART
    places = [(-65.87596, 19.19912), (-65.87403, 19.20089)]
    heights = [
        Transformer.from_pipeline(f"+proj=vgridshift +grids={REAL / name} +multiplier=1").transform(
            lon, lat, 0.0, radians=False
        )[2]
        for name in ("us_noaa_g2018p0.tif", "us_noaa_g2012bp0.tif")
        for lon, lat in places
    ]
    off = max(abs(one - two) for one, two in zip(heights[:2], heights[2:], strict=True))
    assert off > 0.005
    told = float(topic.why.split("by up to ")[1].split(" m")[0])
    assert told == pytest.approx(off, abs=0.002)


def test_a_grid_that_is_not_at_hand_counts_by_its_bytes(tmp_path):
    """Nobody can say what it says at the site, and why not is told."""
    other = (REAL / "us_noaa_g2018p0.tif").read_bytes() + b"\0"
    topic = compare_grids(tmp_path, other, "g2018p0", kept=False)
    assert topic.state is Agreement.APART
    assert "no file with the bytes of a grid is at hand" in topic.why
