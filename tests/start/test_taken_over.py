"""What a new job takes over from another one is carried, and proves nothing unconfirmed."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from ledger.errors import BookError, SpecificationError, UsageError
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.specfile.reading import read_specification
from ledger.start import start_job
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

PRECEDENT = """\
# remarks stay
[job]
reference = "OLD-1"   # the client's number
title = "Old"
client = "A client"

[folders]
raw = "raw"
out = "/elsewhere/out"

[coordinates]
horizontal = "EPSG:6346"   # from the contract
geoid = { name = "made-up", file = "geoid/g.tif" }

[delivery]
boundary = "site.geojson"

[criteria]
profile = "p"

[criteria.some-check]
limit_m = 0.05
"""


@pytest.fixture
def precedent(tmp_path: Path) -> Path:
    """Return a job that a new one can be like: specification, geoid grid, two rigs."""
    folder = tmp_path / "old"
    start_job(folder)
    (folder / "job.toml").write_text(PRECEDENT, encoding="utf-8")
    (folder / "geoid").mkdir()
    (folder / "geoid" / "g.tif").write_bytes(b"grid")
    arm = KnownValue(["0.1", "0", "0.2"], "m", KnownBy.MEASURED)
    serial = KnownValue("AC-03", known_by=KnownBy.ASSUMED)
    with BookWriter.open(folder) as writer:
        for name, values in (
            ("drone", {"rig.lever_arm_aircraft": arm, "rig.aircraft_serial": serial}),
            ("pole", {}),
        ):
            stored = {key: known.to_values() for key, known in values.items()}
            writer.append(Draft(Kind.RIG, {"name": name, "values": stored}), id_prefix="G")
    return folder


def test_specification_is_taken_over_as_carried(tmp_path: Path, precedent: Path) -> None:
    """Values and remarks come over; every key that needs confirming is named."""
    result = start_job(tmp_path / "new", "NEW-2", "New", like=precedent)
    text = result.specification.read_text(encoding="utf-8")
    read = read_specification(result.specification)
    assert result.carried == read.carried == (
        "job.client",
        "coordinates.horizontal",
        "coordinates.geoid",
        "delivery.boundary",
        "criteria.profile",
        "criteria.some-check",
    )  # fmt: skip
    assert (read.job.reference, read.job.title) == ("NEW-2", "New")
    assert read.coordinates.horizontal == "EPSG:6346"
    assert read.criteria["some-check"] == {"limit_m": 0.05}
    for remark in ("# remarks stay", "# the client's number", "# from the contract"):
        assert remark in text
    with Book.open(result.folder) as book:
        job = book.last(Kind.JOB)
        assert job is not None
        assert job.values["like"] == "OLD-1"


def test_files_of_the_other_job_are_still_found(tmp_path: Path, precedent: Path) -> None:
    """A file named relative to the other job is named from the new one; an absent one stays."""
    result = start_job(tmp_path / "deep" / "new", like=precedent)
    read = read_specification(result.specification)
    assert read.coordinates.geoid is not None
    assert read.coordinates.geoid.file == "../../old/geoid/g.tif"
    assert (result.folder / read.coordinates.geoid.file).read_bytes() == b"grid"
    assert read.delivery.boundary == "site.geojson"


def test_output_folder_of_the_other_job_is_not_taken_over(tmp_path: Path, precedent: Path) -> None:
    """Folders outside of the job would hold the other job's outputs."""
    result = start_job(tmp_path / "new", like=precedent)
    assert read_specification(result.specification).folders.out == "out"
    assert (result.folder / "out").is_dir()


def test_reference_of_the_other_job_is_not_taken_over(tmp_path: Path, precedent: Path) -> None:
    """Without a new reference there is none."""
    result = start_job(tmp_path / "new", like=precedent)
    job = read_specification(result.specification).job
    assert (job.reference, job.title, job.client) == (None, None, "A client")


def test_rigs_are_carried_and_not_confirmed(tmp_path: Path, precedent: Path) -> None:
    """Every rig comes over, carried and unconfirmed; what was assumed stays assumed."""
    result = start_job(tmp_path / "new", like=precedent / "swathbook.sqlite")
    assert result.rigs == ("G1", "G2")
    with Book.open(result.folder) as book:
        drone, pole = book.cards("rig")
    assert (drone.name, pole.name) == ("drone", "pole")
    arm = drone.values["rig.lever_arm_aircraft"]
    assert (arm.value, arm.unit) == (["0.1", "0", "0.2"], "m")
    assert (arm.known_by, arm.confirmed) == (KnownBy.CARRIED, False)
    assert drone.values["rig.aircraft_serial"].known_by is KnownBy.ASSUMED
    assert not any(known.can_prove for known in drone.values.values())


def test_third_job_carries_from_the_second(tmp_path: Path, precedent: Path) -> None:
    """Taking over again and again neither repeats remarks nor loses the list."""
    second = start_job(tmp_path / "2", like=precedent)
    third = start_job(tmp_path / "3", like=second.folder)
    assert third.carried == second.carried
    assert third.specification.read_bytes() == second.specification.read_bytes()


def test_template_of_a_new_job_can_be_taken_over(tmp_path: Path) -> None:
    """A job that was only begun can be the precedent of another, line endings kept."""
    first = start_job(tmp_path / "1", "A", "B")
    text = first.specification.read_text(encoding="utf-8")
    text = text.replace('# horizontal = "EPSG:6346"', 'horizontal = "EPSG:6346"')
    first.specification.write_bytes(text.replace("\n", "\r\n").encode())
    second = start_job(tmp_path / "2", like=first.folder)
    written = second.specification.read_bytes()
    assert read_specification(second.specification).carried == ("coordinates.horizontal",)
    assert written.count(b"\n") == written.count(b"\r\n")
    assert b"# carried = []" not in written


def test_job_without_a_book_can_be_taken_over(tmp_path: Path) -> None:
    """A job.toml alone is enough."""
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "job.toml").write_text(PRECEDENT, encoding="utf-8")
    result = start_job(tmp_path / "new", like=tmp_path / "old" / "job.toml")
    assert "coordinates.horizontal" in result.carried
    assert result.rigs == ()


def test_bad_precedent_leaves_nothing(tmp_path: Path, precedent: Path) -> None:
    """No job, a wrong job.toml or a broken book of the other job: one error, nothing made."""
    new = tmp_path / "new"
    with pytest.raises(UsageError, match="no job to take over from"):
        start_job(new, like=tmp_path / "nowhere")
    (precedent / "swathbook.sqlite").write_bytes(b"no book")
    with pytest.raises(BookError):
        start_job(new, like=precedent)
    (precedent / "job.toml").write_text("[job]\nrefrence = 'a'\n", encoding="utf-8")
    with pytest.raises(SpecificationError, match=r"job\.toml line 2"):
        start_job(new, like=precedent)
    assert not new.exists()


def test_carried_mark_is_plain_toml(tmp_path: Path, precedent: Path) -> None:
    """A person confirms by deleting a name from a list at the top of the file."""
    result = start_job(tmp_path / "new", like=precedent)
    values = tomllib.loads(result.specification.read_text(encoding="utf-8"))
    assert next(iter(values)) == "carried"


def test_the_settings_map_is_taken_over(tmp_path: Path, precedent: Path) -> None:
    """Which key means what was said once for a program, and need not be said again."""
    rows = [{"field": "run.mount_mode", "keys": ["device.mountType"], "unit": "", "words": {}}]
    with BookWriter.open(precedent) as writer:
        writer.append(Draft(Kind.SETTINGS_MAP, {"rows": rows}))
    result = start_job(tmp_path / "new", like=precedent)
    assert result.mapped == ("run.mount_mode",)
    with Book.open(result.folder) as book:
        entry = book.last(Kind.SETTINGS_MAP)
    assert entry is not None
    assert entry.values == {"rows": rows}
