"""Settings files that nobody named are found and offered."""

from __future__ import annotations

import os

import pytest
from scripted import Scripted
from settings_job import ROWS, SETTINGS, record_settings, start_with_settings, write_settings

from ledger.model.known import KnownBy
from ledger.testing import Layout, Scene, SurveyBuilder


@pytest.fixture
def job(tmp_path):
    """Return a job with one output and a settings file."""
    return start_with_settings(tmp_path / "job")


def choose(job, wanted, **parts):
    """Record with nothing named; the person chooses the file that begins so."""
    person = Scripted(picks={"settings": wanted} if wanted else {})
    result = record_settings(job, person, settings=(), **parts)
    return person, result


def test_settings_beside_the_outputs_and_in_config_are_offered_newest_first(job):
    """Small files with the names of settings, not the specification, not what is hidden."""
    places = {
        "config/old.ini": 1,
        "out/R1/new.XML": 3,
        "out/R1/run.log": 2,
        "out/R1/.hidden.json": 4,
        "out/R1/readme.md": 4,
        "elsewhere/other.json": 4,
        "config/job.toml": 4,
        "config/empty.json": 4,
        "config/large.json": 4,
    }
    for name, age in places.items():
        path = job / name
        path.parent.mkdir(exist_ok=True)
        content = {"empty": "", "large": "x" * ((1 << 20) + 1)}.get(path.stem, "a = 1")
        path.write_text(content, encoding="utf-8")
        os.utime(path, (1_778_760_000 + age, 1_778_760_000 + age))
    os.utime(job / "config" / "R1.json", (1_778_760_000, 1_778_760_000))
    person, _ = choose(job, "")
    (question,) = person.find("settings")
    names = [choice.partition(" (")[0] for choice in question.choices]
    assert names == [
        "none of these", "out/R1/new.XML", "out/R1/run.log", "config/old.ini", "config/R1.json",
    ]  # fmt: skip
    assert question.default == "none of these"
    assert question.required


def test_the_chosen_file_is_read_and_the_map_made_once_serves_the_next_run(job):
    """The second run names its file and is asked for no key; the older says what it was for."""
    person, first = choose(job, "config/R1.json", rows=ROWS)
    assert first.values["run.output_height_type"].known_by is KnownBy.READ
    assert [used.path for used in first.beside] == ["config/R1.json"]
    SurveyBuilder(job / "out" / "R2", Layout(compressed=False), Scene(columns=1, seed=5))
    write_settings(job, {**SETTINGS, "heightsOut": "orthometric"}, "R2.json")
    person, again = choose(job, "config/R2.json", paths=(job / "out" / "R2",))
    assert again.values["run.output_height_type"].value == "orthometric"
    (question,) = person.find("settings")
    told = {choice.partition(" ")[0]: choice for choice in question.choices}
    assert told["config/R1.json"].endswith(", read for R1)")
    assert "read for" not in told["config/R2.json"]


def test_none_of_them_reads_none(job):
    """Enter takes no file: which one belongs to this run is known to nobody but the person."""
    _, result = choose(job, "")
    assert result.beside == ()
    assert not [known for known in result.values.values() if "R1.json" in known.where]


def test_a_damaged_file_is_said_and_the_form_goes_on(job):
    """Whoever chose it loses no answer."""
    (job / "config" / "R1.json").write_text("{", encoding="utf-8")
    person, result = choose(job, "config/R1.json")
    assert result.beside == ()
    assert any("R1.json" in line and "goes on without it" in line for line in person.told)


def test_without_a_terminal_nothing_is_offered(job):
    """A script names what it means."""
    assert record_settings(job, settings=()).beside == ()


def test_many_files_are_not_a_long_list(job):
    """The six newest are offered, and how many are not shown is said."""
    for number in range(9):
        write_settings(job, SETTINGS, f"S{number}.json")
    person, _ = choose(job, "")
    (question,) = person.find("settings")
    assert len(question.choices) == 7
    assert "4 older files not shown" in question.hint
