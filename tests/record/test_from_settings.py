"""A run's settings are read from what the program left; what a key means is asked once."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from scripted import Scripted
from settings_job import ROWS, SETTINGS, record_settings, start_with_settings, write_settings

from ledger.canonical import decode
from ledger.cli.frame import swathbook
from ledger.errors import MalformedFileError, UnreadableFileError, UsageError
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.model.known import KnownBy
from ledger.record.process import ProcessOptions
from ledger.record.run import record_run
from ledger.start import start_job
from ledger.store.reading import Book
from ledger.testing import Layout, Scene, SurveyBuilder


@pytest.fixture
def job(tmp_path):
    """Return a job with one output and a settings file."""
    return start_with_settings(tmp_path / "job")


def test_named_keys_are_read_with_their_place(job):
    """Values are known by reading, with file and key; a decimal comma is read."""
    result = record_settings(job, rows=ROWS)
    height, arm = result.values["run.output_height_type"], result.values["run.lever_arm"]
    assert (height.value, height.known_by) == ("ellipsoidal", KnownBy.READ)
    assert height.where == "config/R1.json: heightsOut"
    assert arm.value == ["0.112", "0.004", "0.231"]
    assert arm.where == "config/R1.json: arm.x, arm.y, arm.z"


def test_the_map_is_kept_and_used_without_being_said_again(job):
    """The second run of the same program needs no word."""
    record_settings(job, rows=ROWS)
    SurveyBuilder(job / "out" / "R2", Layout(compressed=False), Scene(columns=1, seed=5))
    write_settings(job, {**SETTINGS, "heightsOut": "orthometric"})
    again = record_settings(job, paths=(job / "out" / "R2",))
    assert again.values["run.output_height_type"].value == "orthometric"


def test_nothing_is_guessed_from_a_name(job):
    """A key that looks like a field is not taken for it."""
    assert "run.output_height_type" not in record_settings(job).values


def test_a_person_is_asked_once_which_key_is_which(job):
    """Key, then the program's word for an answer; the next run asks neither."""
    person = Scripted(picks={"map.mount_mode": "device.mountType", "run.mount_mode": "drone"})
    first = record_settings(job, person)
    assert first.values["run.mount_mode"].value == "drone"
    assert first.values["run.mount_mode"].known_by is KnownBy.READ
    SurveyBuilder(job / "out" / "R2", Layout(compressed=False), Scene(columns=1, seed=5))
    second = Scripted()
    again = record_settings(job, second, paths=(job / "out" / "R2",))
    assert again.values["run.mount_mode"].value == "drone"
    assert second.find("map.mount_mode") == []
    assert second.find("run.mount_mode") == []


def test_a_word_that_nobody_explains_is_left_blank_and_told(job):
    """Without a terminal, UAV is no mount mode of ours."""
    result = record_settings(job, rows=("mount_mode=device.mountType",))
    assert "run.mount_mode" not in result.values
    (told,) = result.not_understood
    assert "device.mountType" in told
    assert "UAV" in told


def test_what_was_typed_counts_over_what_was_read(job):
    """A person at the command line corrects the file."""
    words = ["--job", str(job), "record", str(job / "out" / "R1")]
    settings = ["--settings", str(job / "config" / "R1.json"), "--map", ROWS[0]]
    shown = CliRunner().invoke(
        swathbook, [*words, *settings, "--set", "output_height_type=orthometric", "--json"]
    )
    assert shown.exit_code == 0, shown.output
    with Book.open(job) as book:
        run = book.process("R1")
    assert run is not None
    assert run.values["run.output_height_type"].value == "orthometric"
    assert run.values["run.output_height_type"].known_by is KnownBy.TYPED


def test_no_secret_reaches_the_book(job):
    """Neither the journal nor a blob, nor the file of the database, holds it."""
    result = record_settings(job, rows=ROWS)
    assert set(result.taken_out) == {
        "config/R1.json: caster.url",
        "config/R1.json: caster.password",
    }
    with Book.open(job) as book:
        bodies = b"".join(book.bodies())
        entry = book.entry(result.entry)
        assert entry is not None
        (stored,) = entry.values["settings"]
        flat = book.blob(stored["settings"])
    for content in (bodies, flat, (job / "swathbook.sqlite").read_bytes()):
        assert b"Zx9-kw" not in content
    assert ["caster.password", "[taken out]"] in decode(flat)


def test_the_file_is_an_input_by_its_digest(job):
    """What was read can be told from what lies there later."""
    record_settings(job, rows=ROWS)
    with Book.open(job) as book:
        run = book.process("R1")
    assert run is not None
    assert [(used.path, used.role, used.assumed) for used in run.inputs] == [
        ("config/R1.json", "config", False)
    ]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (("mount_mode",), "names no key"),
        (("mount_mode=",), "names no key"),
        (("mountmode=device.mountType",), "mountmode"),
    ],
)
def test_a_wrong_map_is_one_line(job, rows, words):
    """With the nearest field, where there is one."""
    with pytest.raises(UsageError, match=words):
        record_settings(job, rows=rows)


def test_a_map_without_a_file_is_one_line(job):
    """A key of nothing means nothing."""
    with pytest.raises(UsageError, match="--settings"):
        record_settings(job, rows=ROWS, settings=())


def test_a_file_that_cannot_be_read_enters_nothing(job):
    """Absent or damaged: one line, and the book is as it was."""
    with Book.open(job) as book:
        before = book.size
    with pytest.raises(UnreadableFileError):
        record_settings(job, settings=(job / "config" / "absent.json",))
    (job / "config" / "R1.json").write_text("{", encoding="utf-8")
    with pytest.raises(MalformedFileError):
        record_settings(job)
    with Book.open(job) as book:
        assert book.size == before


def test_the_screen_says_what_was_left_blank_and_what_was_not_kept(job):
    """Read by the person who has to type the rest."""
    words = ["--job", str(job), "record", str(job / "out" / "R1")]
    settings = [
        "--settings",
        str(job / "config" / "R1.json"),
        "--map",
        "mount_mode=device.mountType",
    ]
    shown = " ".join(CliRunner().invoke(swathbook, [*words, *settings]).output.split())
    assert "in words of its own" in shown
    assert "Secrets were not kept" in shown


def test_what_is_no_field_is_asked_once(job):
    """Who says that no key is the mount mode is not asked again about the same keys."""
    first = Scripted()
    record_settings(job, first)
    assert first.find("map.mount_mode")
    SurveyBuilder(job / "out" / "R2", Layout(compressed=False), Scene(columns=1, seed=5))
    second = Scripted()
    record_settings(job, second, paths=(job / "out" / "R2",))
    assert not [each for each in second.asked if each.key.startswith("map.")]


def test_a_new_key_is_asked_about_even_so(job):
    """Another version of the program, with other names, is another question."""
    record_settings(job, Scripted())
    SurveyBuilder(job / "out" / "R2", Layout(compressed=False), Scene(columns=1, seed=5))
    write_settings(job, {**SETTINGS, "mountMode": "drone"})
    person = Scripted(picks={"map.mount_mode": "mountMode"})
    assert (
        record_settings(job, person, paths=(job / "out" / "R2",)).values["run.mount_mode"].value
        == "drone"
    )


def test_an_arm_in_three_keys_is_one_choice(job):
    """The three are read as one lever arm, with the place of each."""
    write_settings(job, {**SETTINGS, "leverArm": SETTINGS["arm"]})
    arm = record_settings(job, Scripted(picks={"map.lever_arm": "leverArm.x, leverArm.y"})).values[
        "run.lever_arm"
    ]
    assert arm.value == ["0.112", "0.004", "0.231"]
    assert arm.where == "config/R1.json: leverArm.x, leverArm.y, leverArm.z"


def test_what_a_file_says_is_told_before_the_form_asks_the_rest(job):
    """One line with every answer, so that a wrong file is seen at once."""
    person = Scripted()
    record_settings(job, person, rows=ROWS)
    assert (
        "config/R1.json says: lever arm 0.112 0.004 0.231 m; output height type ellipsoidal"
        in person.told
    )


def test_a_settings_file_that_tells_nothing_is_said_without_a_terminal(tmp_path):
    """Kept with the run it would look as if it had been read: the record and its JSON say not."""
    job = start_job(tmp_path / "job").folder
    (job / "out" / "dtm.tif").write_bytes(b"II*\x00 a surface")
    (job / "R1.json").write_text('{"mode": "UAV"}', encoding="utf-8")
    options = ProcessOptions(settings=(job / "R1.json",))
    result = record_run(job, options, NobodyToAsk(), NoProgress())
    (note,) = result.notes
    assert note.is_doubt
    assert note.sentence.startswith("Nothing was read from R1.json")
    (job / "out" / "2").mkdir()
    (job / "out" / "2" / "dtm.tif").write_bytes(b"II*\x00 a second one")
    mapped = ProcessOptions(settings=(job / "R1.json",), map_rows=("software=mode",))
    assert record_run(job, mapped, NobodyToAsk(), NoProgress()).notes == ()
