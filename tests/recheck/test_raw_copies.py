"""Copies on drives at a recheck: found again, renewed, counted no longer; and the card retired.

Folders stand in for drives. The rules are the project's own (a copy counts when it was read back,
two on different volumes, the card never).
"""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime

import pytest
from drive_bench import CARD, NAMES, PIECE, DriveBench, make_drive_bench

from ledger.recheck import FileState, recheck
from ledger.store.reading import Book
from ledger.store.writing import BookWriter


@pytest.fixture
def bench(tmp_path, monkeypatch) -> DriveBench:
    """Return a bench whose drives the program believes in."""
    return make_drive_bench(tmp_path, monkeypatch)


def test_copies_are_read_and_the_answer_is_one_line(bench, capsys):
    """Three files on card, job and stick: all are read, and two copies are good."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    result = recheck(bench.job)
    assert result.state_ok
    assert result.counts == {FileState.AS_RECORDED: 9}
    assert result.copies is not None
    assert (result.copies.needed, result.copies.good, result.copies.read) == (2, 2, 2)
    assert result.copies.sentence == (
        f"Every raw file has 2 good copies: the job's own drive (read now), {stick} (read now)."
    )
    assert bench.run("recheck") == 0
    assert "Every raw file has 2 good copies: " in " ".join(capsys.readouterr().out.split())
    bench.run("recheck", "--json")
    stored = json.loads(capsys.readouterr().out)["copies"]
    assert stored == {
        "enough": True,
        "needed": 2,
        "good": 2,
        "read": 2,
        "sentence": result.copies.sentence,
        "care": [],
    }


def test_a_drive_under_another_letter_is_found_and_seen_there(bench):
    """The place moves with the drive: read, renewed, and still one copy."""
    stick = bench.plug("E", "stick")
    bench.register(bench.job, stick)
    moved = bench.plug("G", "stick")
    bench.plug("E", "other")  # somebody else's drive has the letter now
    result = recheck(bench.job)
    assert result.counts == {FileState.AS_RECORDED: 9}
    assert f"{moved} (read now)" in result.copies.sentence
    places = [place for place in bench.copies().places if place.drive == "label:stick"]
    assert {place.root for place in places} == {str(moved)}
    assert len(places) == 3
    assert all(place.verified for place in places)
    with Book.open(bench.job) as book:
        size = book.size
    recheck(bench.job)
    with Book.open(bench.job) as book:
        assert book.size == size + 1  # where it lies is entered once


def test_a_named_drive_is_read_under_its_new_letter(bench):
    """Whoever names the letter of today gets what lies there, and nothing else."""
    bench.register(bench.job, bench.plug("E", "stick"))
    moved = bench.plug("G", "stick")
    result = recheck(bench.job, [moved])
    assert result.counts == {FileState.AS_RECORDED: 3}
    assert {file.now_at for file in result.files} == {
        bench.find(moved, name).as_posix() for name in NAMES
    }


def test_an_unplugged_drive_is_not_missing_and_its_copies_count(bench, capsys):
    """Not connected: told, with when it was last read; nothing is lost, and the lamp stays."""
    stick = bench.plug("E", "stick")
    bench.register(bench.job, stick)
    bench.pull(stick)
    result = recheck(bench.job)
    assert result.counts == {FileState.AS_RECORDED: 6, FileState.NOT_CONNECTED: 3}
    assert result.state_ok
    assert (result.copies.good, result.copies.read) == (2, 1)
    assert f"{stick} (not connected, last read " in result.copies.sentence
    assert bench.run("recheck") == 0
    assert "drive that is not connected" in capsys.readouterr().out
    assert bench.copies().good == 2


def test_what_lies_on_unplugged_drives_alone_ends_with_3(bench):
    """Both drives away and the card cleared: nothing is wrong, and nothing could be read."""
    one, two = bench.plug("E"), bench.plug("F")
    bench.register(one, two)
    for drive in (one, two):
        bench.pull(drive)
    shutil.rmtree(bench.card)
    result = recheck(bench.job)
    assert result.counts == {FileState.CARD_CLEARED: 3, FileState.NOT_CONNECTED: 6}
    assert result.is_incomplete
    assert bench.run("recheck") == 3
    bench.plug("F", "F")
    assert bench.run("recheck") == 0


@pytest.mark.parametrize("is_gone", [False, True])
def test_a_copy_that_is_changed_or_gone_counts_no_longer(bench, is_gone, capsys):
    """The answer names it, the status is 1, the bare command alarms; a good copy settles it."""
    stick = bench.plug("E", "stick")
    bench.register(bench.job, stick)
    victim = bench.find(stick)
    victim.unlink()
    if not is_gone:
        victim.write_bytes(b"?" * PIECE)
    result = recheck(bench.job)
    wanted = FileState.MISSING if is_gone else FileState.CHANGED
    assert result.counts == {FileState.AS_RECORDED: 8, wanted: 1}
    assert not result.state_ok
    assert result.copies.sentence == (
        "1 of 3 raw files has fewer than 2 good copies: "
        f"the job's own drive (read now), {stick} 2 of 3 (read now, 1 found wrong)."
    )
    assert bench.run("recheck") == 1
    assert not bench.copies().card_may_be_cleared
    capsys.readouterr()
    bench.run()
    assert "alarm" in capsys.readouterr().out
    # Under another letter, and copied there again: the place is seen anew.
    victim.unlink(missing_ok=True)
    moved = bench.plug("G", "stick")
    assert bench.register(moved).copies.card_may_be_cleared
    bench.run()
    assert "alarm" not in capsys.readouterr().out
    assert bench.run("recheck") == 0


def test_a_copy_that_is_gone_and_not_needed_is_no_loss(bench):
    """Three copies, two asked for: whoever frees a drive is not told of a loss for ever."""
    one, two = bench.plug("E"), bench.plug("F")
    bench.register(bench.job, one, two)
    shutil.rmtree(two / bench.job.name)
    result = recheck(bench.job)
    assert result.counts == {FileState.AS_RECORDED: 9, FileState.MISSING: 3}
    assert result.state_ok
    assert result.copies.good == 2
    assert bench.run("recheck") == 0


def test_raw_files_lost_from_the_job_are_a_loss_though_a_copy_is_left(bench):
    """The job's own folder was one of the two copies; one is too few."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    shutil.rmtree(bench.job / "raw" / "F1")
    shutil.rmtree(bench.card)
    assert bench.run("recheck") == 1


def test_two_drives_that_had_one_letter_are_two_copies(bench):
    """One after the other under E: each is known by itself, found again and rechecked alone."""
    first = bench.plug("E", "one")
    bench.register(first)
    bench.pull(first)
    second = bench.plug("E", "two")
    result = bench.register(second)
    assert result.copies.card_may_be_cleared
    found = recheck(bench.job)
    assert found.counts == {FileState.AS_RECORDED: 6, FileState.NOT_CONNECTED: 3}
    bench.find(second).write_bytes(b"?" * PIECE)
    recheck(bench.job, [second])
    wrong = {place.drive: place.wrong for place in bench.copies().places if place.wrong}
    assert wrong == {"label:two": "changed"}
    bench.pull(second)
    bench.plug("E", "one")
    found = recheck(bench.job, [bench.base / "E"])
    assert {(file.drive, file.state) for file in found.files} == {
        ("label:one", FileState.AS_RECORDED)
    }


def test_a_recheck_renews_a_copy(bench, monkeypatch):
    """Last seen is when it was last read, not when it was made, and not when it was away."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)

    def last_seen() -> str:
        return max(place.last_seen for place in bench.copies().places if place.drive == "label:E")

    real, now = BookWriter.open, [datetime(2031, 1, 1, tzinfo=UTC)]
    monkeypatch.setattr(BookWriter, "open", lambda path: real(path, clock=lambda: now[0]))
    made = last_seen()
    recheck(bench.job)
    assert made < last_seen() == "2031-01-01T00:00:00Z"
    bench.pull(stick)
    now[0] = datetime(2032, 1, 1, tzinfo=UTC)
    recheck(bench.job)
    assert last_seen() == "2031-01-01T00:00:00Z"


@pytest.mark.parametrize("how", ["pulled", "emptied", "written over"])
def test_a_card_that_is_cleared_retires(bench, how, capsys):
    """Pulled for good, emptied, or used for the next flight: no loss, told once, never again."""
    bench.register(bench.job, bench.plug("E"))
    for name in NAMES:
        if how == "written over":
            (bench.card / name).write_bytes(b"the next flight")
        else:
            (bench.card / name).unlink()
    if how == "pulled":
        shutil.rmtree(bench.card)
    assert f"{bench.card.anchor} (the card)" in bench.copies().sightings
    result = recheck(bench.job)
    assert result.counts == {FileState.AS_RECORDED: 6, FileState.CARD_CLEARED: 3}
    assert result.state_ok
    assert result.listed == ()
    assert bench.run("recheck") == 0
    shown = capsys.readouterr().out
    assert "Everything is as recorded." in shown
    assert "3 card cleared" in shown
    assert "not connected" not in shown
    bench.run()
    assert "The card was cleared or put away: every file was read back from 2 volumes." in " ".join(
        capsys.readouterr().out.split()
    )
    assert "the card" not in bench.copies().sightings
    bench.run("--json")
    places = json.loads(capsys.readouterr().out)["copies"]
    assert [place["card"] for place in places].count(True) == 3
    assert all(place["cleared"] == place["card"] for place in places)
    bench.run("trace", str(bench.find(bench.job)), "--json")
    told = json.loads(capsys.readouterr().out)["copies"]
    assert told
    assert not any(str(bench.card) in place["path"] for place in told)


def test_a_card_without_an_id_retires_as_well(bench, monkeypatch):
    """Where the system tells nothing lasting of the card, its path has to do."""
    monkeypatch.setattr("ledger.register.drafts.find_id", lambda _: "")
    bench.register(bench.job, bench.plug("E"))
    shutil.rmtree(bench.card)
    assert recheck(bench.job).counts == {FileState.AS_RECORDED: 6, FileState.CARD_CLEARED: 3}


@pytest.mark.parametrize("how", ["pulled", "another card"])
def test_a_card_without_an_id_that_was_pulled_early_is_not_connected(
    bench, monkeypatch, capsys, how
):
    """One copy alone, and the card is out, or another one is in its place: nothing is missing."""
    monkeypatch.setattr("ledger.register.drafts.find_id", lambda _: "")
    bench.register(bench.plug("E"))
    kept = bench.card.rename(bench.base / "in a pocket")
    if how == "another card":
        bench.card.mkdir()
        (bench.card / "other.bin").write_bytes(b"of another job")
    result = recheck(bench.job)
    assert result.counts == {FileState.AS_RECORDED: 3, FileState.NOT_CONNECTED: 3}
    assert bench.run("recheck") == 0  # each file was read from its one copy
    assert "missing" not in capsys.readouterr().out
    shutil.rmtree(bench.card, ignore_errors=True)
    kept.rename(bench.card)
    (bench.card / NAMES[0]).unlink()  # in again, as its other files tell, and one file is gone
    assert recheck(bench.job).counts == {FileState.AS_RECORDED: 5, FileState.MISSING: 1}


def test_a_card_is_not_cleared_while_a_file_lacks_a_copy(bench):
    """One copy alone: what is gone from the card is missing, on a card that is away not."""
    bench.register(bench.plug("E"))
    (bench.card / "cap_p1.bin").unlink()
    result = recheck(bench.job)
    assert result.counts == {FileState.AS_RECORDED: 5, FileState.MISSING: 1}
    assert bench.run("recheck") == 1
    shutil.rmtree(bench.card)
    assert recheck(bench.job).counts == {FileState.AS_RECORDED: 3, FileState.NOT_CONNECTED: 3}


def test_a_card_is_asked_for_again_when_a_copy_goes_bad(bench):
    """It was not needed, and is now: perhaps it still lies in the drawer."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    kept = bench.card.rename(bench.base / "drawer card")
    assert recheck(bench.job).counts[FileState.CARD_CLEARED] == 3
    bench.find(stick).write_bytes(b"?" * PIECE)
    result = recheck(bench.job)
    assert result.counts[FileState.NOT_CONNECTED] == 1
    assert result.counts[FileState.CARD_CLEARED] == 2
    kept.rename(bench.card)
    assert recheck(bench.job).counts == {FileState.AS_RECORDED: 8, FileState.CHANGED: 1}
    cards = [place for place in bench.copies().places if place.drive == CARD]
    assert [place.is_cleared for place in cards] == [False, False, False]


def test_files_registered_without_copies_make_no_card(bench):
    """Nothing was copied from there: gone is missing, whatever copies are made from elsewhere."""
    bench.register()
    shutil.rmtree(bench.card)
    result = recheck(bench.job)
    assert result.counts == {FileState.NOT_CONNECTED: 3}
    assert result.copies.sentence == (
        "No copy of the raw files was read back from its drive, 2 copies asked for."
    )
    assert bench.run("recheck") == 3


def test_a_cleared_card_is_not_missing_when_a_copy_goes_bad(bench, capsys):
    """It was emptied and is connected: nothing is on it, and nobody looks for it there."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    for name in NAMES:
        (bench.card / name).unlink()
    recheck(bench.job)
    bench.find(stick).write_bytes(b"?" * PIECE)
    for _ in range(2):
        found = recheck(bench.job).counts
        assert found == {
            FileState.AS_RECORDED: 5,
            FileState.CHANGED: 1,
            FileState.CARD_CLEARED: 3,
        }
    bench.run()
    shown = " ".join(capsys.readouterr().out.split())
    assert (
        "The card was cleared or put away: 1 file with fewer than 2 copies read back from a drive."
        in shown
    )
    bench.run("recheck")
    assert "Next: swathbook register PATH --copy-to DRIVE" in capsys.readouterr().out


def test_drives_that_are_away_are_told_by_where_they_were(bench, capsys):
    """Two that had one letter are told apart by their ids."""
    for name in ("one", "two"):
        letter = bench.plug("E", name)
        bench.register(letter)
        bench.pull(letter)
    bench.run("recheck")
    shown = " ".join(capsys.readouterr().out.split())
    assert f"{bench.base / 'E'} (label:one): 3 files" in shown
    assert f"{bench.base / 'E'} (label:two): 3 files" in shown
