"""Cards of flights and rigs: filled in, added to, never overwritten."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from filled_cards import fill_card, list_notes
from scripted import Scripted

from ledger.amend import amend_record
from ledger.errors import UsageError
from ledger.model.ask import NobodyToAsk, Question
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.model.typed import quote_word
from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.store.reading import Book
from ledger.store.writing import BookWriter


def open_flights(job: Path, *names: str) -> None:
    """Enter empty flights, as registering raw files does."""
    with BookWriter.open(job) as writer:
        for name in names:
            writer.append(Draft(Kind.FLIGHT, {"id": name, "name": "", "values": {}}))


def test_rig_and_flight_get_their_ids(job: Path) -> None:
    """The first rig is G1, the first flight F1, the next ones count on."""
    assert fill_card(job, "rig", scanner_serial="SU-07").id == "G1"
    assert fill_card(job, "rig", scanner_serial="SU-08").id == "G2"
    flight = fill_card(job, "flight", rig="g2", base_height="1,523")
    assert flight.id == "F1"
    with Book.open(job) as book:
        card = book.card("F1")
    assert card is not None
    assert card.values == {
        "flight.rig": KnownValue("G2"),
        "flight.base_height": KnownValue("1.523", "m"),
    }


def test_empty_flight_is_filled(job: Path) -> None:
    """The flight that registering opened is the one that is meant."""
    open_flights(job, "F1")
    assert fill_card(job, "flight", mount_mode="drone").id == "F1"
    assert fill_card(job, "flight", mount_mode="pole").id == "F2"
    with Book.open(job) as book:
        assert [card.values["flight.mount_mode"].value for card in book.cards("flight")] == [
            "drone", "pole",
        ]  # fmt: skip


def test_several_empty_flights_are_asked_about(job: Path) -> None:
    """Without a terminal they are listed; with one the person chooses."""
    open_flights(job, "F1", "F2")
    with pytest.raises(UsageError, match="found F1, F2"):
        fill_card(job, "flight", mount_mode="drone")
    ask = Scripted({"flight": "F2"})
    assert fill_card(job, "flight", ask=ask, mount_mode="drone").id == "F2"
    assert ask.asked[0].required  # a blank would be a third flight


def test_named_card_is_added_to(job: Path) -> None:
    """A later entry replaces what it gives; everything else stays, and so does the old entry."""
    fill_card(job, "flight", mount_mode="drone", orientation="upright")
    result = fill_card(job, "flight", name="f1", orientation="inverted")
    assert result.id == "F1"
    assert result.values["flight.mount_mode"].value == "drone"
    assert "flight.mount_mode" not in result.not_recorded
    with Book.open(job) as book:
        (card,) = book.cards("flight")
        entries = list(book.entries(Kind.FLIGHT))
    assert card.values["flight.orientation"].value == "inverted"
    assert card.values["flight.mount_mode"].value == "drone"
    assert len(entries) == 2
    assert set(entries[1].values["values"]) == {"flight.orientation"}


def test_next_free_id_may_be_named(job: Path) -> None:
    """The id after the last makes a new card; any other unknown id is refused."""
    assert fill_card(job, "flight", name="F1", wind="light").id == "F1"
    with pytest.raises(UsageError, match="expected F1 or F2 for a new one"):
        fill_card(job, "flight", name="F7")


def test_rig_that_is_not_there_is_refused(job: Path) -> None:
    """A flight names a rig of the book."""
    with pytest.raises(UsageError, match="swathbook record rig"):
        fill_card(job, "flight", rig="G1")
    fill_card(job, "rig", bracket="B")
    with pytest.raises(UsageError, match="expected G1"):
        fill_card(job, "flight", rig="G2")


def test_a_card_that_says_nothing_is_not_entered(job: Path) -> None:
    """Nobody there and nothing given, or Enter all the way: the book gets no empty card."""
    for ask in (NobodyToAsk(), Scripted()):
        with pytest.raises(UsageError, match="nothing was said about the rig"):
            fill_card(job, "rig", ask=ask)
    with Book.open(job) as book:
        assert book.cards("rig") == ()


def test_faults_of_form_and_settings_are_told_together(job: Path) -> None:
    """Whoever mistyped in the form and on the command line reads both at once."""
    form = job / "rig.toml"
    form.write_text('[rig]\nserial = "SU-07"\nlever_arm_aircraft = "1 2"\n', encoding="utf-8")
    answers = Answers(
        form=form, settings=("bracke=B", "bracket=C"), values={"calibration_date": "x"}
    )
    with pytest.raises(UsageError) as caught:
        record_card(job, "rig", CardOptions(answers=answers), NobodyToAsk())
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "rig.toml line 2",
        "rig.toml line 3",
        "rig.calibration_date is not a date",
        "a rig has no field bracke; did you mean bracket?",
    ]


def test_settings_count_over_the_form(job: Path) -> None:
    """What is typed on the command line replaces what the form says."""
    form = job / "rig.toml"
    form.write_text('bracket = "A"\nbase_serial = "BR-2"\n', encoding="utf-8")
    answers = Answers(form=form, settings=("bracket=B",))
    values = record_card(job, "rig", CardOptions(answers=answers), NobodyToAsk()).values
    assert {key: known.value for key, known in values.items()} == {
        "rig.bracket": "B",
        "rig.base_serial": "BR-2",
    }


def test_blanks_of_a_card_are_listed(job: Path) -> None:
    """What was not answered is listed with its cost."""
    result = fill_card(job, "flight", mount_mode="drone")
    costs = {blank.field: blank.why for blank in result.blanks}
    assert costs["flight.base_height"] == "an antenna height that was left out is not seen"
    assert "flight.mount_mode" not in costs


def test_only_rig_is_offered(job: Path) -> None:
    """Enter confirms the only rig; without a rig nothing is asked about it."""
    ask = Scripted()
    assert "flight.rig" not in fill_card(job, "flight", ask=ask, wind="light").values
    assert ask.texts("flight.rig") == []
    fill_card(job, "rig", scanner_serial="SU-07")
    result = fill_card(job, "flight", ask=Scripted(), name="F2")
    assert result.values["flight.rig"].value == "G1"


def test_enter_over_own_values_leaves_them(job: Path) -> None:
    """Going through a card again makes nothing carried that was measured."""
    arm = KnownValue(["0.1", "0", "0.2"], "m", KnownBy.MEASURED)
    fill_card(job, "rig", lever_arm_aircraft=arm)
    result = fill_card(job, "rig", name="G1", ask=Scripted({"rig.scanner_serial": "SU-07"}))
    assert result.values["rig.lever_arm_aircraft"] == arm
    assert result.values["rig.scanner_serial"] == KnownValue("SU-07")


@pytest.mark.parametrize(
    ("takeoff", "typed", "landing"),
    [
        ("2026-05-14T09:00Z", "9:18Z", "2026-05-14T09:18:00Z"),
        ("2026-05-14T23:50Z", "00:08Z", "2026-05-15T00:08:00Z"),
        ("2026-05-14T23:50Z", "10:08+10:00", "2026-05-15T00:08:00Z"),
        ("2026-05-14T09:00Z", "2026-05-14 09:20Z", "2026-05-14T09:20:00Z"),
    ],
)
def test_the_time_of_a_landing_takes_the_day_of_the_take_off(
    job: Path, takeoff: str, typed: str, landing: str
) -> None:
    """The clock alone means the first such time after the take-off, in the offset that it says."""
    ask = Scripted({"flight.takeoff": takeoff, "flight.landing": typed})
    result = fill_card(job, "flight", ask=ask)
    assert result.values["flight.landing"].value == landing


@pytest.mark.parametrize("typed", ["9:18", "25:10Z"])
def test_a_landing_without_offset_or_day_is_asked_again(job: Path, typed: str) -> None:
    """A time that can be read in two ways, or is none, is refused in its own question."""
    refused = []

    class Once(Scripted):
        def answer(self, question: Question) -> str:
            if not question.help:
                return super().answer(question)
            refused.append(question.key)
            return ""

    ask = Once({"flight.takeoff": "2026-05-14T09:00Z", "flight.landing": typed})
    assert "flight.landing" not in fill_card(job, "flight", ask=ask).values
    assert refused == ["flight.landing"]


def test_a_landing_before_its_take_off_is_refused(job: Path) -> None:
    """One of the two is mistyped; nothing is entered, by a form or by amending."""
    with pytest.raises(UsageError, match=r"flight\.landing is before flight\.takeoff"):
        fill_card(job, "flight", takeoff="2026-05-14 09:12Z", landing="2026-05-14 08:30Z")
    fill_card(job, "flight", takeoff="2026-05-14 09:12Z", landing="2026-05-14 09:12Z")
    with pytest.raises(UsageError, match="is before"):
        amend_record(job, "F1", ("takeoff=2026-05-15 09:12Z",), "the day was wrong")
    both = ("takeoff=2026-05-15 09:12Z", "landing=2026-05-15 09:30Z")
    amend_record(job, "F1", both, "the day was wrong")


def test_a_day_that_has_not_come_yet_is_told(job: Path) -> None:
    """A slip of the year is told while somebody remembers; a clock may be wrong, so it is taken."""
    soon = dt.datetime.now(dt.UTC) + dt.timedelta(hours=12)
    assert list_notes(fill_card(job, "flight", takeoff=soon.isoformat())) == []
    ((is_doubt, told),) = list_notes(fill_card(job, "rig", calibration_date="2999-05-14"))
    assert is_doubt
    assert told.startswith("2999-05-14 has not come yet: by the clock of this computer it is ")
    assert told.endswith('swathbook amend G1 --set calibration_date=… --reason "…".')


@pytest.mark.parametrize(("arm", "is_told"), [("0.1 -3 0", False), ("0.1 -3.001 0", True)])
def test_a_lever_arm_of_metres_is_told(job: Path, arm: str, is_told: bool) -> None:
    """Millimetres typed as metres pass for an arm that no aircraft has.

    More than 3 m is unusual: common practice, no source.
    """
    told = [text for _, text in list_notes(fill_card(job, "rig", lever_arm_aircraft=arm))]
    assert any("3.001 m is unusual in a lever arm" in text for text in told) == is_told


def test_who_stops_reads_what_was_typed_in_the_command_to_go_on(job: Path) -> None:
    """What was given by `--set` is no answer that was kept: the command has to give it again."""
    typed = Answers(settings=("bracket=B 2",))
    with pytest.raises(KeyboardInterrupt) as caught:
        record_card(
            job, "rig", CardOptions(answers=typed, name="spare"), Scripted(at="rig.scanner_serial")
        )
    assert str(caught.value).endswith(
        f": swathbook record rig --set {quote_word('bracket=B 2')} --name spare"
    )


def test_a_negative_value_needs_a_statistic_that_has_a_sign(job: Path) -> None:
    """Without a statistic nobody can say that a negative accuracy is no slip."""
    alone = CardOptions(answers=Answers(settings=("value=-3 m",)))
    with pytest.raises(UsageError, match="negative, and no statistic with a sign is named"):
        record_card(job, "statement", alone, NobodyToAsk())
    signed = CardOptions(answers=Answers(settings=("value=-3 m", "statistic=mean")))
    assert record_card(job, "statement", signed, NobodyToAsk()).id == "T1"
