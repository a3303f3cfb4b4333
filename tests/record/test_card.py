"""Cards of flights and rigs: filled in, added to, never overwritten."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.errors import UsageError
from ledger.model.ask import NobodyToAsk
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.record.result import RecordResult
from ledger.start import start_job
from ledger.store.reading import Book
from ledger.store.writing import BookWriter


def record(
    job: Path, kind: str, *, name: str = "", ask: object = None, **answers: str | KnownValue
) -> RecordResult:
    """Record a card."""
    options = CardOptions(id=name, answers=Answers(values=answers))
    return record_card(job, kind, options, ask or NobodyToAsk())  # type: ignore[arg-type]


def open_flights(job: Path, *names: str) -> None:
    """Enter empty flights, as registering raw files does."""
    with BookWriter.open(job) as writer:
        for name in names:
            writer.append(Draft(Kind.FLIGHT, {"id": name, "name": "", "values": {}}))


def test_rig_and_flight_get_their_ids(job: Path) -> None:
    """The first rig is G1, the first flight F1, the next ones count on."""
    assert record(job, "rig", scanner_serial="SU-07").id == "G1"
    assert record(job, "rig", scanner_serial="SU-08").id == "G2"
    flight = record(job, "flight", rig="g2", base_height="1,523")
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
    assert record(job, "flight", mount_mode="drone").id == "F1"
    assert record(job, "flight", mount_mode="pole").id == "F2"
    with Book.open(job) as book:
        assert [card.values["flight.mount_mode"].value for card in book.cards("flight")] == [
            "drone", "pole",
        ]  # fmt: skip


def test_several_empty_flights_are_asked_about(job: Path, person: type) -> None:
    """Without a terminal they are listed; with one the person chooses."""
    open_flights(job, "F1", "F2")
    with pytest.raises(UsageError, match="found F1, F2"):
        record(job, "flight", mount_mode="drone")
    ask = person({"flight": "F2"})
    assert record(job, "flight", ask=ask, mount_mode="drone").id == "F2"
    assert ask.asked[0].required  # a blank would be a third flight


def test_named_card_is_added_to(job: Path) -> None:
    """A later entry replaces what it gives; everything else stays, and so does the old entry."""
    record(job, "flight", mount_mode="drone", orientation="upright")
    result = record(job, "flight", name="f1", orientation="inverted")
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
    assert record(job, "flight", name="F1", wind="light").id == "F1"
    with pytest.raises(UsageError, match="expected F1 or F2 for a new one"):
        record(job, "flight", name="F7")


def test_rig_that_is_not_there_is_refused(job: Path) -> None:
    """A flight names a rig of the book."""
    with pytest.raises(UsageError, match="swathbook record rig"):
        record(job, "flight", rig="G1")
    record(job, "rig", bracket="B")
    with pytest.raises(UsageError, match="expected G1"):
        record(job, "flight", rig="G2")


def test_a_card_that_says_nothing_is_not_entered(job: Path, person: type) -> None:
    """Nobody there and nothing given, or Enter all the way: the book gets no empty card."""
    for ask in (NobodyToAsk(), person()):
        with pytest.raises(UsageError, match="nothing was said about the rig"):
            record(job, "rig", ask=ask)
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
    result = record(job, "flight", mount_mode="drone")
    costs = {blank.field: blank.why for blank in result.blanks}
    assert costs["flight.base_height"] == "an antenna height that was left out is not seen"
    assert "flight.mount_mode" not in costs


def test_only_rig_is_offered(job: Path, person: type) -> None:
    """Enter confirms the only rig; without a rig nothing is asked about it."""
    ask = person()
    assert "flight.rig" not in record(job, "flight", ask=ask, wind="light").values
    assert ask.texts("flight.rig") == []
    record(job, "rig", scanner_serial="SU-07")
    result = record(job, "flight", ask=person(), name="F2")
    assert result.values["flight.rig"].value == "G1"


def test_enter_over_own_values_leaves_them(job: Path, person: type) -> None:
    """Going through a card again makes nothing carried that was measured."""
    arm = KnownValue(["0.1", "0", "0.2"], "m", KnownBy.MEASURED)
    record(job, "rig", lever_arm_aircraft=arm)
    result = record(job, "rig", name="G1", ask=person({"rig.scanner_serial": "SU-07"}))
    assert result.values["rig.lever_arm_aircraft"] == arm
    assert result.values["rig.scanner_serial"] == KnownValue("SU-07")


def test_next_flight_offers_the_last_but_not_its_readings(job: Path, person: type) -> None:
    """Mount mode is offered from the last flight, the antenna height is not."""
    record(job, "flight", mount_mode="drone", base_height="1.5", takeoff="2026-05-14T09:00Z")
    ask = person()
    result = record(job, "flight", ask=ask)
    assert result.values["flight.mount_mode"].known_by is KnownBy.CARRIED
    assert "flight.base_height" not in result.values
    assert "flight.takeoff" not in result.values


def test_rig_taken_over_is_the_one_to_confirm(job: Path, tmp_path: Path, person: type) -> None:
    """In a job begun like another, Enter turns the carried rig into a confirmed one."""
    record(job, "rig", scanner_serial="SU-07")
    new = start_job(tmp_path / "new", like=job).folder
    with Book.open(new) as book:
        (card,) = book.cards("rig")
    assert not card.values["rig.scanner_serial"].can_prove
    result = record(new, "rig", ask=person())
    assert result.id == "G1"
    with Book.open(new) as book:
        (card,) = book.cards("rig")
    assert card.values["rig.scanner_serial"].can_prove
    assert card.values["rig.scanner_serial"].known_by is KnownBy.CARRIED
    assert record(new, "rig", scanner_serial="SU-08").id == "G2"


def notes(result: RecordResult) -> list[tuple[bool, str]]:
    """Return what a record says by itself, doubts marked."""
    return [(note.is_doubt, note.sentence) for note in result.notes]


def test_two_readings_that_differ_are_told_at_once(job: Path) -> None:
    """While the antenna still stands; 3 mm is the limit (common practice, no source)."""
    far = record(job, "flight", base_height="1.523", base_height_again="1,531")
    ((is_doubt, sentence),) = notes(far)
    assert is_doubt
    assert "1.523 m and 1.531 m, are 8 mm apart" in sentence
    assert "within 3 mm (common practice, no source)" in sentence
    assert "swathbook amend F1" in sentence
    assert notes(record(job, "flight", base_height="1.523", base_height_again="1.526")) == []


def test_a_slant_height_is_reduced_where_radius_and_offset_are_given(job: Path) -> None:
    """5-12-13: a slant of 1.300 m with a radius of 0.500 m is 1.200 m, less 0.050 m."""
    slant = {"base_height": "1.300", "base_height_kind": "slant"}
    antenna = {"base_antenna_radius": "0.5", "base_antenna_offset": "-0.05"}
    told = notes(record(job, "flight", **slant, **antenna))
    assert told == [
        (
            False,
            "Base antenna: 1.3 m slant is 1.1500 m vertical, mark to antenna reference point.",
        )
    ]
    blank = record(job, "flight", **slant)
    assert notes(blank) == []
    costs = {each.field: each.why for each in blank.blanks}
    assert (
        costs["flight.base_antenna_radius"] == "a slant height cannot be reduced to a vertical one"
    )
    ((is_doubt, sentence),) = notes(
        record(job, "flight", **slant, base_antenna_radius="1.3", base_antenna_offset="0")
    )
    assert is_doubt
    assert "not longer than its radius" in sentence


def test_a_service_asks_for_its_frame_and_for_no_antenna(job: Path) -> None:
    """What a network corrected has no base of one's own; where nobody said, both stay open."""
    network = {blank.field for blank in record(job, "flight", base_kind="network").blanks}
    assert "flight.service_frame" in network
    assert not {"flight.base_height", "flight.base_mark"} & network
    own = {blank.field for blank in record(job, "flight", base_kind="own base").blanks}
    assert "flight.service_frame" not in own
    assert {"flight.base_height", "flight.base_mark"} <= own
    unsaid = {blank.field for blank in record(job, "flight", platform="drone").blanks}
    assert {"flight.base_kind", "flight.base_height"} <= unsaid


ARM = {
    "lever_arm_aircraft": "0.112 0.004 0.231",
    "lever_arm_convention": "forward-right-down",
    "lever_arm_measured": "2026-04-02",
}


@pytest.mark.parametrize(
    ("again", "is_told"),
    [
        ({"bracket": "B-2"}, True),
        ({"bracket": "B-2", "lever_arm_aircraft": "0.112 0.004 0.2310"}, True),
        ({"bracket": "B-2", "lever_arm_aircraft": "0.112 0.004 0.301"}, False),
        ({"bracket": "B-2", "lever_arm_measured": "2026-05-02"}, False),
        ({"bracket": "B-1"}, False),
        ({"base_serial": "BR-2"}, False),
    ],
)
@pytest.mark.parametrize("is_new", [False, True])
def test_a_new_bracket_with_the_old_arm_is_told_at_once(
    job: Path, again: dict[str, str], is_told: bool, is_new: bool
) -> None:
    """Whether the rig is recorded again, or the same units under a new id."""
    record(job, "rig", scanner_serial="SU-07", aircraft_serial="AC-3", bracket="B-1", **ARM)
    if is_new:
        given = {"scanner_serial": "SU-07", "aircraft_serial": "AC-3", **ARM, **again}
        told = notes(record(job, "rig", **given))
    else:
        told = notes(record(job, "rig", name="G1", **again))
    if is_new and "bracket" not in again:
        return
    assert [is_doubt for is_doubt, _ in told] == [True] * is_told
    for _, sentence in told:
        assert "The bracket was B-1 and is B-2" in sentence
        assert f"record rig {'G2' if is_new else 'G1'} --set lever_arm_measured=DATE" in sentence


def test_another_scanner_is_no_changed_bracket(job: Path) -> None:
    """A second rig has a bracket of its own, and its arm may well be the same."""
    record(job, "rig", scanner_serial="SU-07", bracket="B-1", **ARM)
    assert notes(record(job, "rig", scanner_serial="SU-08", bracket="B-2", **ARM)) == []


def test_a_calibration_of_another_scanner_is_told_at_once(job: Path) -> None:
    """The serial that the calibration states is not that of the rig."""
    given = {"scanner_serial": "SU-07", "calibration_date": "2026-01-15"}
    assert notes(record(job, "rig", **given, calibration_serial="SU-07")) == []
    told = notes(record(job, "rig", **given, calibration_serial="SU-09"))
    assert told == [(True, "The calibration is of scanner SU-09, the rig has scanner SU-07.")]
