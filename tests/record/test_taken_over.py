"""What a card takes over: from the flight before, and from the job that this one is begun like."""

from __future__ import annotations

from pathlib import Path

from filled_cards import fill_card
from scripted import Scripted

from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.start import start_job
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.takenover import find_last_flight


def test_next_flight_offers_the_last_but_not_its_readings(job: Path) -> None:
    """Mount mode is offered from the last flight, the antenna height is not."""
    fill_card(job, "flight", mount_mode="drone", base_height="1.5", takeoff="2026-05-14T09:00Z")
    ask = Scripted()
    result = fill_card(job, "flight", ask=ask)
    assert result.values["flight.mount_mode"].known_by is KnownBy.CARRIED
    assert "flight.base_height" not in result.values
    assert "flight.takeoff" not in result.values


def test_rig_taken_over_is_the_one_to_confirm(job: Path, tmp_path: Path) -> None:
    """In a job begun like another, Enter turns the carried rig into a confirmed one."""
    fill_card(job, "rig", scanner_serial="SU-07")
    new = start_job(tmp_path / "new", like=job).folder
    with Book.open(new) as book:
        (card,) = book.cards("rig")
    assert not card.values["rig.scanner_serial"].can_prove
    result = fill_card(new, "rig", ask=Scripted())
    assert result.id == "G1"
    with Book.open(new) as book:
        (card,) = book.cards("rig")
    assert card.values["rig.scanner_serial"].can_prove
    assert card.values["rig.scanner_serial"].known_by is KnownBy.CARRIED
    assert fill_card(new, "rig", scanner_serial="SU-08").id == "G2"


def test_settings_of_a_flight_are_taken_over_by_a_job_like_it(job: Path, tmp_path: Path) -> None:
    """The first flight is asked with what the other job's latest flight had, shown as from there.

    Taken over they prove nothing; times, heights and counts of the other flight stay behind; what
    was assumed stays assumed.
    """
    assumed = KnownValue("own base", known_by=KnownBy.ASSUMED)
    fill_card(
        job, "flight", mount_mode="drone", base_mark="QM1", base_height="1.5", base_kind=assumed,
        takeoff="2026-04-14T09:00Z", capture_parts="3",
    )  # fmt: skip
    new = start_job(tmp_path / "new", like=job)
    assert set(new.flight) == {"flight.mount_mode", "flight.base_mark", "flight.base_kind"}
    with Book.open(new.folder) as book:
        assert book.cards("flight") == ()
        entry = book.last(Kind.JOB)
    assert entry is not None
    over = {key: KnownValue.from_values(each) for key, each in entry.values["flight"].items()}
    assert not any(known.can_prove for known in over.values())
    ask = Scripted()
    result = fill_card(new.folder, "flight", ask=ask)
    assert ask.asked[0].text.startswith("As in the job before, QM-1. Which of these are not right")
    assert result.values["flight.mount_mode"] == KnownValue("drone", known_by=KnownBy.CARRIED)
    assert not result.values["flight.base_kind"].can_prove
    assert "flight.base_height" not in result.values
    again = Scripted()
    fill_card(new.folder, "flight", ask=again)
    assert again.asked[0].text.startswith("As last time.")


def test_settings_that_were_never_flown_are_handed_on(job: Path, tmp_path: Path) -> None:
    """A job that was started and not flown hands on what it took over itself."""
    fill_card(job, "flight", mount_mode="drone")
    second = start_job(tmp_path / "second", like=job)
    third = start_job(tmp_path / "third", like=second.folder)
    assert third.flight == ("flight.mount_mode",)


def test_without_a_terminal_nothing_taken_over_is_recorded(job: Path, tmp_path: Path) -> None:
    """A script records what it says, and no setting of another job."""
    fill_card(job, "flight", mount_mode="drone")
    new = start_job(tmp_path / "new", like=job).folder
    assert set(fill_card(new, "flight", wind="calm").values) == {"flight.wind"}


def test_a_rig_that_the_job_lacks_is_not_taken_over(job: Path, tmp_path: Path) -> None:
    """The id of a rig means something only where that rig is."""
    fill_card(job, "rig", scanner_serial="SU-07")
    fill_card(job, "flight", rig="G1", mount_mode="drone")
    with Book.open(job) as book:
        last = find_last_flight(book)
    bare = start_job(tmp_path / "bare").folder
    with BookWriter.open(bare) as writer:
        values = {key: known.to_values() for key, known in last.items()}
        writer.append(Draft(Kind.FLIGHT, {"id": "F1", "name": "", "values": values}))
    assert "flight.rig" not in fill_card(bare, "flight", ask=Scripted()).values
