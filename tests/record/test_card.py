"""Cards of flights and rigs: filled in, added to, never overwritten."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.errors import UsageError
from ledger.model.ask import NobodyToAsk, Question
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.record.result import RecordResult
from ledger.start import start_job
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.takenover import find_last_flight


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
    assert notes(blank) == [
        (
            True,
            (
                "The height of the base antenna was read slant and cannot be made vertical without "
                "radius and offset of the antenna, from its data sheet: swathbook record flight F2 "
                "--set base_antenna_radius=… --set base_antenna_offset=…."
            ),
        )
    ]
    half = record(job, "flight", **slant, base_antenna_radius="0.5")
    ((_, told_half),) = notes(half)
    assert "without offset of the antenna" in told_half
    assert "base_antenna_radius=" not in told_half
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


def test_settings_of_a_flight_are_taken_over_by_a_job_like_it(
    job: Path, tmp_path: Path, person: type
) -> None:
    """The first flight is asked with what the other job's latest flight had, shown as from there.

    Taken over they prove nothing; times, heights and counts of the other flight stay behind; what
    was assumed stays assumed.
    """
    assumed = KnownValue("own base", known_by=KnownBy.ASSUMED)
    record(
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
    ask = person()
    result = record(new.folder, "flight", ask=ask)
    assert ask.asked[0].text.startswith("As in the job before, QM-1. Which of these are not right")
    assert result.values["flight.mount_mode"] == KnownValue("drone", known_by=KnownBy.CARRIED)
    assert not result.values["flight.base_kind"].can_prove
    assert "flight.base_height" not in result.values
    again = person()
    record(new.folder, "flight", ask=again)
    assert again.asked[0].text.startswith("As last time.")


def test_settings_that_were_never_flown_are_handed_on(job: Path, tmp_path: Path) -> None:
    """A job that was started and not flown hands on what it took over itself."""
    record(job, "flight", mount_mode="drone")
    second = start_job(tmp_path / "second", like=job)
    third = start_job(tmp_path / "third", like=second.folder)
    assert third.flight == ("flight.mount_mode",)


def test_without_a_terminal_nothing_taken_over_is_recorded(job: Path, tmp_path: Path) -> None:
    """A script records what it says, and no setting of another job."""
    record(job, "flight", mount_mode="drone")
    new = start_job(tmp_path / "new", like=job).folder
    assert set(record(new, "flight", wind="calm").values) == {"flight.wind"}


def test_a_rig_that_the_job_lacks_is_not_taken_over(
    job: Path, tmp_path: Path, person: type
) -> None:
    """The id of a rig means something only where that rig is."""
    record(job, "rig", scanner_serial="SU-07")
    record(job, "flight", rig="G1", mount_mode="drone")
    with Book.open(job) as book:
        last = find_last_flight(book)
    bare = start_job(tmp_path / "bare").folder
    with BookWriter.open(bare) as writer:
        values = {key: known.to_values() for key, known in last.items()}
        writer.append(Draft(Kind.FLIGHT, {"id": "F1", "name": "", "values": values}))
    assert "flight.rig" not in record(bare, "flight", ask=person()).values


@pytest.mark.parametrize(
    ("takeoff", "mark", "offered"),
    [
        ("2026-05-14T20:59Z", "QM1", "1.5 m"),
        ("2026-05-14T21:01Z", "QM1", ""),
        ("2026-05-14T13:00Z", "QM2", ""),
        ("", "QM1", ""),
    ],
)
def test_the_height_of_the_base_is_offered_within_one_outing(
    job: Path, person: type, takeoff: str, mark: str, offered: str
) -> None:
    """Within twelve hours and on the same mark it stands in its own question.

    The second reading never does. Common practice, no source.
    """
    record(
        job, "flight", base_mark="QM1", base_height="1.5", base_height_again="1.501",
        takeoff="2026-05-14T09:00Z",
    )  # fmt: skip
    ask = person({"flight.takeoff": takeoff})
    result = record(job, "flight", ask=ask, base_mark=mark)
    asked = {question.key: question for question in ask.asked}
    assert asked["flight.base_height"].default == offered
    assert ("nobody touched the base" in asked["flight.base_height"].hint) == bool(offered)
    assert "flight.base_height_again" not in result.values
    if offered:
        known = result.values["flight.base_height"]
        assert (known.value, known.known_by) == ("1.5", KnownBy.CARRIED)
        assert asked["flight.base_height_again"].default == ""


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
    job: Path, person: type, takeoff: str, typed: str, landing: str
) -> None:
    """The clock alone means the first such time after the take-off, in the offset that it says."""
    ask = person({"flight.takeoff": takeoff, "flight.landing": typed})
    result = record(job, "flight", ask=ask)
    assert result.values["flight.landing"].value == landing


@pytest.mark.parametrize("typed", ["9:18", "25:10Z"])
def test_a_landing_without_offset_or_day_is_asked_again(
    job: Path, person: type, typed: str
) -> None:
    """A time that can be read in two ways, or is none, is refused in its own question."""
    refused = []

    class Once(person):  # type: ignore[misc]
        def answer(self, question: Question) -> str:
            if not question.help:
                return str(super().answer(question))
            refused.append(question.key)
            return ""

    ask = Once({"flight.takeoff": "2026-05-14T09:00Z", "flight.landing": typed})
    assert "flight.landing" not in record(job, "flight", ask=ask).values
    assert refused == ["flight.landing"]


class Stubborn:
    """A person who gives the same answer each time a question comes again."""

    interactive = True

    def __init__(self, key: str, answers: list[str]) -> None:
        """Keep the answers to one key, in turn; the last one again and again."""
        self.key, self.answers = key, answers
        self.asked: list[Question] = []

    def answer(self, question: Question) -> str:
        """Answer that key, and leave all others as they are."""
        if question.key != self.key:
            return question.default
        self.asked.append(question)
        return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]

    def confirm(self, question: Question) -> bool:
        """Take what is offered."""
        return question.default == "yes"

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Tick nothing."""
        return ()

    def tell(self, line: str) -> None:
        """Hear it."""


@pytest.mark.parametrize(
    ("typed", "times"),
    [("0.3", 1), ("3", 1), ("0.299", 2), ("3.001", 2), ("152.3 cm", 1), ("1523", 2)],
)
def test_an_unusual_height_of_the_base_is_asked_once_more(
    job: Path, typed: str, times: int
) -> None:
    """Over 3 m or under 0.3 m is mostly a slip; said again, it is taken.

    Common practice, no source.
    """
    ask = Stubborn("flight.base_height", [typed])
    result = record(job, "flight", ask=ask)
    assert len(ask.asked) == times
    assert "flight.base_height" in result.values
    assert all("most lie between 0.3 and 3 m" in each.help for each in ask.asked[1:])
    doubts = [text for is_doubt, text in notes(result) if is_doubt]
    assert any("unusual height" in text for text in doubts) == (times == 2)


def test_an_unusual_height_may_be_put_right_when_it_is_asked_once_more(job: Path) -> None:
    """The slip of the decimal mark stands there to be put right."""
    ask = Stubborn("flight.base_height", ["15.23", "1.523"])
    result = record(job, "flight", ask=ask)
    assert result.values["flight.base_height"] == KnownValue("1.523", "m")
    assert ask.asked[1].default == "15.23"


def test_an_unusual_height_is_said_without_a_terminal_too(job: Path) -> None:
    """A form that was filled in by hand is taken, and the doubt stands beside it."""
    ((is_doubt, told),) = notes(record(job, "flight", base_height="152.3"))
    assert is_doubt
    assert told.startswith("152.3 m is an unusual height of a base antenna")
    assert "swathbook amend F1" in told
