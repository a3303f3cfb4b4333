"""Recording what has no files of its own: a flight's card, a rig, a statement.

A card that `register --flight` opened is empty until it is filled in here. A later entry about the
same card replaces the values that it gives; the earlier ones stay in the book.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from pathlib import Path
from typing import Any

from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.forms import ARROWS, AS_LAST_TIME, Interview, Unfinished, require_sense
from ledger.model.artefact import FileRecord
from ledger.model.ask import Ask, Question
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.ids import find_next_id, read_id, write_id
from ledger.model.known import KnownValue
from ledger.model.phrases import join_choices
from ledger.model.process import Card, CardKind
from ledger.model.rig import is_other
from ledger.model.typed import quote_word
from ledger.otherdays import remark_on_days
from ledger.record.answers import Answers, make_finder
from ledger.record.notes import Note, list_notes
from ledger.record.result import RecordResult, price_blanks
from ledger.specentry import enter_specification
from ledger.status import find_next_step
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.takenover import find_last_flight, find_origin

_PREFIX: dict[CardKind, str] = {"flight": "F", "rig": "G", "statement": "T", "points": "P"}
_RIG = "flight.rig"
_TAKEOFF = "flight.takeoff"
_ABOUT = "statement.about"
_UNITS = ("rig.scanner_serial", "rig.aircraft_serial")


@dataclass(frozen=True)
class CardOptions:
    """What a person said about a card.

    Args:
        id: id of a card that is in the book, or the next free one, in any case; empty to find it.
        answers: values that were given.
        name: optional name of the card.
        by: function of the person.
        choices: the only answers to some fields, by field key.
        carried: what is offered as answered last time; None for what the last card says.
        require: refuses values that cannot be used together; None to refuse none.
        notes: says what follows from the values by itself; None for the notes of the kind.
    """

    id: str = ""
    answers: Answers = field(default_factory=Answers)
    name: str = ""
    by: str = "technician"
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    carried: Mapping[str, KnownValue] | None = None
    require: Callable[[Mapping[str, KnownValue]], None] | None = None
    notes: Callable[[Mapping[str, KnownValue]], tuple[Note, ...]] | None = None


def record_card(job: Path, kind: CardKind, options: CardOptions, ask: Ask) -> RecordResult:
    """Record a flight, a rig, a statement or a table of points, asking for what was not given.

    Without an id, the one card that is waiting is filled in: an empty flight, or a rig taken over
    from another job. Where there is none, the card is a new one.

    Args:
        job: the job folder.
        kind: `flight`, `rig`, `statement` or `points`.
        options: what was said already.
        ask: the person; where nobody is there, only what was said is recorded.

    Raises:
        UsageError: an id that is not in the book, several cards waiting and nobody to ask, a rig
            that is not in the book, an answer that cannot be used, or no answer at all.
        BookError: the book cannot be used.
    """
    given = options.answers.read(kind, job)
    with Book.open(job) as book:
        cards = book.cards(kind)
        rigs = tuple(card.id for card in book.cards("rig"))
        made = tuple(process.id for process in book.processes())
        last = find_last_flight(book) if kind == "flight" else _find_last(cards)
        origin = find_origin(book) if kind == "flight" else ""
    card_id = _choose(kind, cards, write_id(options.id), ask)
    following = find_next_id(_PREFIX[kind], tuple(card.id for card in cards))
    given = _settle_about(_settle_rig(given, rigs), made)
    interview = Interview(
        kind,
        ask,
        make_finder(job),
        Unfinished(job, f"{kind}-{card_id or 'new'}"),
        carried=_find_carried(kind, last, rigs) if options.carried is None else options.carried,
        standing=_find(cards, card_id),
        choices={_RIG: rigs, **options.choices},
        title=f"{kind.capitalize()} {card_id}" if card_id else f"A new {kind}, {following}",
        since=f"as in the job before, {origin}" if origin else AS_LAST_TIME,
    )
    with interview.unfinished.explain_stop(_write_command(kind, card_id, options)):
        require_sense({**interview.standing, **given})
        values = _settle_about(interview.fill(given), made)
        if options.require is not None:
            options.require({**interview.standing, **values})
    entry = _enter(job, kind, card_id, options, values)
    interview.unfinished.clear()
    result = _report(kind, entry, {**interview.standing, **values})
    before = interview.standing or (_find_like(cards, values) if kind == "rig" else {})
    tell = options.notes or partial(list_notes, kind, result.id, before)
    notes = (*tell(result.values), *_note_days(job, result.id, values))
    return replace(result, notes=notes, step=find_next_step(job))


def _write_command(kind: CardKind, card_id: str, options: CardOptions) -> str:
    """Return the command that goes on with a form that was interrupted."""
    name = (f"--name {quote_word(options.name)}",) if options.name else ()
    words = [f"swathbook record {kind}", card_id, *options.answers.write_options(), *name]
    return " ".join(filter(None, words))


def _note_days(job: Path, name: str, given: Mapping[str, KnownValue]) -> tuple[Note, ...]:
    """Return what to doubt of the files that were registered before the flight was recorded."""
    if _TAKEOFF not in given:
        return ()
    with Book.open(job) as book:
        told = remark_on_days(job, book, _list_once(book.files_of_flight(name)), name)
    return tuple(Note(f"{sentence}.") for sentence in told)


def _list_once(files: Sequence[FileRecord]) -> tuple[FileRecord, ...]:
    return tuple({each.sha256: each for each in files}.values())


def _enter(
    job: Path, kind: CardKind, card_id: str, options: CardOptions, values: Mapping[str, KnownValue]
) -> Entry:
    """Enter a card; an empty id is that of a new one."""
    if not values and not options.name:
        raise _refuse_silence(kind)
    stored: dict[str, Any] = {
        "name": options.name,
        "values": {key: known.to_values() for key, known in values.items()},
    }
    if card_id:
        stored["id"] = card_id
    with BookWriter.open(job) as writer:
        enter_specification(writer, options.by)
        prefix = "" if card_id else _PREFIX[kind]
        return writer.append(Draft(Kind(kind), stored, by=options.by), id_prefix=prefix)


def _refuse_silence(kind: CardKind) -> UsageError:
    return UsageError(
        f"nothing was said about the {kind}, so nothing is recorded",
        remedy=f"swathbook record {kind} --set key=value, or --from FORM.toml; --blank prints "
        "an empty form",
    )


def _find_like(rigs: Sequence[Card], values: Mapping[str, KnownValue]) -> Mapping[str, KnownValue]:
    """Return the values of the latest rig of the same units, which a new one takes the place of."""
    alike = [
        rig.values
        for rig in rigs
        if not any(is_other(rig.values.get(key), values.get(key)) for key in _UNITS)
    ]
    return alike[-1] if alike else {}


def _report(kind: CardKind, entry: Entry, values: Mapping[str, KnownValue]) -> RecordResult:
    name = entry.values["id"]
    return RecordResult(
        entry=entry.seq,
        id=name,
        kind=kind,
        name=entry.values["name"],
        values=values,
        blanks=price_blanks(kind, name, values),
    )


def _find(cards: Sequence[Card], name: str) -> Mapping[str, KnownValue]:
    return next((card.values for card in cards if card.id == name), {})


def _choose(kind: CardKind, cards: Sequence[Card], asked: str, ask: Ask) -> str:
    """Return the id of the card that is recorded; empty for a new one."""
    known = tuple(card.id for card in cards)
    following = find_next_id(_PREFIX[kind], known)
    if asked:
        if asked in known:
            return asked
        if asked == following:
            return ""
        raise UsageError(
            f"there is no such {kind}",
            found=asked,
            expected=join_choices([*known, f"{following} for a new one"]),
        )
    waiting = [card.id for card in cards if _is_waiting(card)]
    if len(waiting) < 2:
        return "".join(waiting)
    if not ask.interactive:
        raise UsageError(
            f"several {kind}s are waiting to be filled in, and there is no terminal to ask at",
            found=", ".join(waiting),
            remedy=f"name one: swathbook record {kind} {waiting[0]}",
        )
    text = f"Which {kind} is this, of those that wait to be filled in"
    return ask.answer(Question(kind, text, waiting[0], tuple(waiting), hint=ARROWS, required=True))


def _is_waiting(card: Card) -> bool:
    """Say whether a card is empty, or holds what another job left and nobody confirmed."""
    return all(not known.confirmed for known in card.values.values())


def _find_last(cards: Sequence[Card]) -> Mapping[str, KnownValue]:
    filled = [card.values for card in cards if card.values]
    return filled[-1] if filled else {}


def _find_carried(
    kind: CardKind, last: Mapping[str, KnownValue], rigs: Sequence[str]
) -> Mapping[str, KnownValue]:
    """Return what is offered: the values of the last card, and the only rig."""
    if kind != "flight":
        return last
    only = {_RIG: KnownValue(rigs[0])} if len(rigs) == 1 else {}
    known = {key: each for key, each in last.items() if key != _RIG or each.value in rigs}
    return {**only, **known}


def _settle_rig(values: Mapping[str, KnownValue], rigs: Sequence[str]) -> dict[str, KnownValue]:
    """Return the values with the rig's id as the book writes it.

    Raises:
        UsageError: the book holds no such rig.
    """
    named = values.get(_RIG)
    if named is None:
        return dict(values)
    rig = write_id(str(named.value))
    if rig not in rigs:
        raise UsageError(
            "flight.rig is no rig of this job",
            found=str(named.value),
            expected=join_choices(rigs) if rigs else "",
            remedy="" if rigs else "record it first: swathbook record rig",
        )
    return {**values, _RIG: replace(named, value=rig)}


def _settle_about(values: Mapping[str, KnownValue], made: Sequence[str]) -> dict[str, KnownValue]:
    """Return the values with the id of the run or step that a statement is about in its one form.

    What is no id is a folder, and stays as it was typed.

    Raises:
        UsageError: the book holds no such run or step.
    """
    named = values.get(_ABOUT)
    read = None if named is None else read_id(str(named.value))
    if named is None or read is None or read.kind not in ("run", "step"):
        return dict(values)
    if read.name not in made:
        raise UsageError(
            f"{_ABOUT} is no run or step of this job",
            found=str(named.value),
            expected=join_choices(made) if made else "",
            remedy="" if made else "record it first: swathbook record",
        )
    return {**values, _ABOUT: replace(named, value=read.name)}
