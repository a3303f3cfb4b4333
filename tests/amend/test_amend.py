"""A wrong value is struck through, never erased; what is no value of a record stays as it is."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from ledger.amend import amend_record
from ledger.cli.frame import swathbook
from ledger.errors import ContractError, SwathbookError, UsageError
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy
from ledger.righistory import read_rig_states
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.testing import BookBuilder
from ledger.testing.books import known

REASON = "typed from memory; the photo says drone"


@pytest.fixture
def job(tmp_path):
    """Return a job with a rig, a flight and a run whose mount mode is wrong."""
    book = BookBuilder(tmp_path / "job")
    book.write("raw/flight.bin", "bytes")
    book.register("raw/flight.bin", flight="F1")
    book.card("rig", "G1", {"rig.scanner_serial": known("SU-07")})
    book.card("flight", "F1", {"flight.mount_mode": known("hand", by=KnownBy.CARRIED)})
    book.write("out/tile.las", "points")
    book.run(
        "out/tile.las",
        inputs=[{"flight": "F1"}],
        values={"run.mount_mode": known("hand"), "run.version": known("4.1.0")},
    )
    book.close()
    return book.folder


def find_value(job, record, key):
    """Return a value of a record as the book answers it now."""
    with Book.open(job) as book:
        found = book.process(record) or book.card(record)
    assert found is not None
    return found.values.get(key)


@pytest.mark.parametrize("name", ["R1", "r1", "run:R1", "entry:4"])
def test_the_right_value_answers_and_the_old_one_stays(job, name):
    """Whatever the record is called, its value is the new one, and the entry holds both."""
    result = amend_record(job, name, ("mount_mode=drone",), REASON)
    assert result.id == "R1"
    assert find_value(job, "R1", "run.mount_mode").value == "drone"
    assert find_value(job, "R1", "run.version").value == "4.1.0"
    with Book.open(job) as book:
        entry = book.entry(result.entry)
        first = book.entry(4)
    assert entry is not None
    assert first is not None
    assert entry.values["struck"]["run.mount_mode"]["value"] == "hand"
    assert entry.values["reason"] == REASON
    assert first.values["values"]["run.mount_mode"]["value"] == "hand"


@pytest.mark.parametrize(
    ("record", "setting", "key"),
    [
        ("F1", "mount_mode=drone", "flight.mount_mode"),
        ("G1", "scanner_serial=SU-08", "rig.scanner_serial"),
        ("R1", "geoid_name=demo-geoid-A", "run.geoid_name"),
    ],
)
def test_cards_and_blanks_are_amended_too(job, record, setting, key):
    """A flight, a rig, and a field that was blank."""
    amend_record(job, record, (setting,), REASON)
    assert find_value(job, record, key).value == setting.partition("=")[2]


def test_the_same_value_confirms_what_was_carried(job):
    """Typing what the last job left is looking at it."""
    amend_record(job, "F1", ("mount_mode=hand",), "looked at the photo")
    assert find_value(job, "F1", "flight.mount_mode").can_prove


def test_the_latest_amendment_counts_and_a_rebuild_agrees(job):
    """Derived tables made anew from the journal give the same answer."""
    amend_record(job, "R1", ("mount_mode=drone",), REASON)
    amend_record(job, "R1", ("mount_mode=pole",), "the photo was of another day")
    with BookWriter.open(job) as writer:
        writer.rebuild()
    assert find_value(job, "R1", "run.mount_mode").value == "pole"


@pytest.mark.parametrize(
    ("record", "settings", "reason", "words"),
    [
        ("R1", ("mount_mode=drone",), "  ", "the reason is blank"),
        ("R1", (), REASON, "nothing to amend"),
        ("R9", ("mount_mode=drone",), REASON, "there is no such record"),
        ("tile.las", ("mount_mode=drone",), REASON, "there is no such record"),
        ("entry:99", ("mount_mode=drone",), REASON, "there is no such entry"),
        ("entry:x", ("mount_mode=drone",), REASON, "there is no such entry"),
        ("entry:1", ("mount_mode=drone",), REASON, "cannot be amended"),
        ("D1", ("verdict=fit to send",), REASON, "a past audit cannot be amended"),
        ("R1", ("mount_mode=hand",), REASON, "is that already"),
        ("R1", ("mount_mode=dron e",), REASON, "none of its choices"),
        ("R1", ("sha256=00",), REASON, "sha256"),
        ("R1", ("outputs=3",), REASON, "outputs"),
        ("R1", ("decision=rejected",), REASON, "record decision R1"),
        ("R1", ("geoid_file=absent.tif",), REASON, "absent.tif"),
    ],
)
def test_what_cannot_be_amended_is_one_line_and_no_entry(job, record, settings, reason, words):
    """Digests, counts, decisions and audits are no values of a record; nothing is entered."""
    with Book.open(job) as book:
        before = book.size
    with pytest.raises(SwathbookError, match=words) as caught:
        amend_record(job, record, settings, reason)
    assert "\n" not in str(caught.value)
    with Book.open(job) as book:
        assert book.size == before


def test_an_amendment_of_nothing_breaks_no_rebuild(job):
    """A record that is not there cannot be amended, whoever writes the entry."""
    values = {"record": "R9", "values": {}, "struck": {}, "reason": "x"}
    with BookWriter.open(job) as writer, pytest.raises(ContractError):
        writer.append(Draft(Kind.AMENDMENT, values))


def test_the_screen_shows_both_values(job):
    """What stands there now, what was struck through, and why."""
    arguments = ["--job", str(job), "amend", "R1", "--set", "mount_mode=drone", "--reason", REASON]
    shown = CliRunner().invoke(swathbook, arguments)
    assert shown.exit_code == 0, shown.output
    assert "drone" in shown.output
    assert "was: hand" in shown.output
    assert REASON in shown.output


def test_json_names_both_values(job):
    """A script reads what was struck and what replaced it."""
    arguments = ["amend", "R1", "--set", "geoid_name=A", "--reason", REASON, "--json"]
    shown = CliRunner().invoke(swathbook, ["--job", str(job), *arguments])
    (value,) = json.loads(shown.output)["values"]
    assert (value["field"], value["before"]) == ("run.geoid_name", None)
    assert (value["after"]["value"], value["after"]["known_by"]) == ("A", "typed")


def test_a_wrong_record_is_a_usage_error(job):
    """Exit 2 is for what was typed wrongly."""
    with pytest.raises(UsageError):
        amend_record(job, "X1", ("a=b",), REASON)


@pytest.mark.parametrize(
    ("record", "key"),
    [("F1", "flight.mount_mode"), ("G1", "rig.scanner_serial"), ("R1", "run.version")],
)
def test_a_value_is_amended_back_to_blank(job, record, key):
    """Struck through with its reason and nothing beside it: the field counts as not recorded."""
    before = find_value(job, record, key)
    result = amend_record(job, record, (), REASON, blanks=(key.partition(".")[2],))
    assert find_value(job, record, key) is None
    assert result.values[0].before == before
    assert result.values[0].after is None
    with Book.open(job) as book:
        entry = book.entry(result.entry)
        assert entry is not None
        assert entry.values["values"] == {key: None}
        assert entry.values["struck"][key]["value"] == before.value
        assert entry.values["reason"] == REASON
    with BookWriter.open(job) as writer:
        writer.rebuild()
    assert find_value(job, record, key) is None
    amend_record(job, record, (f"{key.partition('.')[2]}={before.value}",), "found the note")
    assert find_value(job, record, key).value == before.value


def test_the_state_of_a_rig_loses_a_value_that_was_struck_through(job):
    """What a flight is held against is the rig without it."""
    amend_record(job, "G1", (), REASON, blanks=("scanner_serial",))
    with Book.open(job) as book:
        (state,) = read_rig_states(book)["G1"]
    assert "rig.scanner_serial" not in state.values


def test_a_blank_is_told_by_command_and_trace(job):
    """The screen says blank beside what stood there; a trace says so of the run as well."""
    runner = CliRunner()
    words = ["--job", str(job), "amend", "R1", "--blank", "mount-mode", "--reason", "a guess"]
    result = runner.invoke(swathbook, words)
    assert result.exit_code == 0, result.output
    assert "mount mode: blank   was: hand (typed)" in result.output
    told = json.loads(runner.invoke(swathbook, ["--job", str(job), "trace", "R1", "--json"]).output)
    assert "run.mount_mode" in told["not_recorded"]
    shown = runner.invoke(swathbook, ["--job", str(job), "trace", "R1", "--all"]).output
    assert "mount mode was hand until entry" in " ".join(shown.split())


@pytest.mark.parametrize(
    ("settings", "blanks", "words"),
    [
        ((), ("orientation",), "is blank already"),
        (("version=5",), ("version",), "set and left blank at once"),
        ((), ("decision",), "is a decision"),
        ((), ("versoin",), "did you mean version"),
        ((), (), "or --blank key"),
    ],
)
def test_what_cannot_be_left_blank_enters_nothing(job, settings, blanks, words):
    """One line each, and the book stays as it is."""
    with Book.open(job) as book:
        size = book.size
    with pytest.raises(UsageError, match=words):
        amend_record(job, "R1", settings, REASON, blanks=blanks)
    with Book.open(job) as book:
        assert book.size == size
