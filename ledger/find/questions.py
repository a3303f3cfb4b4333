"""Questions that are asked of a job later, saved with the way to answer them.

Each is answered from the whole book at once, and from every book of a computer; where more is to be
said of one file or run, the command that says it is named. What the book does not hold is said to
be not recorded, never left out.
(Which questions are asked: common practice, no source.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from ledger.auditentry import read_acceptances, read_latest_audits
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError, UsageError
from ledger.find.accuracy import read_accuracy, read_stated
from ledger.find.sent import read_replaced, read_sent
from ledger.find.wholebook import (
    BALANCE,
    CONTROL,
    FIXES,
    HEIGHTS,
    read_areas,
    read_audited,
    read_comparable,
    read_differences,
    read_geoids_of_files,
    read_readiness,
    read_shared,
    read_sources,
    read_standings,
    read_unexplained,
)
from ledger.jobfolder import read_names
from ledger.loading import load_part
from ledger.model.antenna import read_base_height
from ledger.model.ask import NoProgress
from ledger.model.entry import Kind
from ledger.model.finding import Outcome
from ledger.model.known import KnownValue, show_value
from ledger.model.phrases import count_things
from ledger.model.process import Card, Process
from ledger.office import list_known_jobs
from ledger.store.reading import Book

_NOT_RECORDED = "not recorded"
_OF_STEPS = ("kind", "removed", "purpose")
_OPEN = (Outcome.NOT_ASSESSED, Outcome.INCONCLUSIVE, Outcome.ERRORED)

Answer = tuple[str, str]


@dataclass(frozen=True)
class Question:
    """One saved question.

    Args:
        number: what it is called.
        text: the question.
        read: reads the answer from a book: subject and sentence of each line.
        typed: the command that says more of one file, run or word; empty for none.
        empty: what is said when the book holds no such line.
    """

    number: int
    text: str
    read: Callable[[Book], Iterator[Answer]]
    typed: str = ""
    empty: str = _NOT_RECORDED


@dataclass(frozen=True)
class QuestionResult:
    """The answer to a saved question.

    Args:
        question: what was asked.
        lines: subject and sentence of each line, at least one.
    """

    question: Question
    lines: tuple[Answer, ...]


def answer_question(job: Path, number: int) -> QuestionResult:
    """Return what a book says to a saved question.

    Raises:
        UsageError: no question has this number.
        BookError: the book cannot be opened or read.
    """
    question = _find_question(number)
    with Book.open(job) as book:
        lines = tuple(question.read(book))
    return QuestionResult(question, lines or (("", question.empty),))


def _find_question(number: int) -> Question:
    question = next((each for each in QUESTIONS if each.number == number), None)
    if question is None:
        raise UsageError(
            "no question has this number", found=str(number), expected=f"1 to {len(QUESTIONS)}"
        )
    return question


def answer_everywhere(
    number: int, job: Path | None = None
) -> tuple[Question, tuple[tuple[str, str, tuple[Answer, ...]], ...]]:
    """Return what every known job says to a saved question: name, folder and lines of each.

    A job that is not there now has one line that says so.

    Raises:
        UsageError: no question has this number.
    """
    question = _find_question(number)
    own = () if job is None else (job,)
    told = []
    for folder in dict.fromkeys((*list_known_jobs(), *own)):
        name = (read_names(folder) or {}).get("reference", "") or folder.name
        try:
            lines = answer_question(folder, number).lines
        except SwathbookError as error:
            lines = (("", f"not reached: {error.faults[0].what}"),)
        told.append((name, str(folder), lines))
    return question, tuple(told)


def _read_versions(book: Book) -> Iterator[Answer]:
    for process in book.processes():
        named = (process.find_value("software"), process.find_value("version"))
        text = " ".join(str(known.value) for known in named if known is not None)
        outputs = count_things(len(process.outputs), "output")
        yield process.id, f"{text or _NOT_RECORDED}; {outputs}, {process.decision}"


_MORE_OF_BASE = {
    "base_height_again": "read again",
    "base_antenna_radius": "radius",
    "base_antenna_offset": "offset",
}


def _read_base_heights(book: Book) -> Iterator[Answer]:
    for card in book.cards("flight"):
        parts = [
            _tell(card.values.get(f"flight.{name}"), name.replace("_", " "))
            for name in ("base_mark", "base_height", "base_height_kind")
        ]
        parts += [
            _tell(known, label)
            for name, label in _MORE_OF_BASE.items()
            if (known := card.values.get(f"flight.{name}")) is not None
        ]
        height = read_base_height(card.values)
        if height is not None and height.kind == "slant":
            told = "not known" if height.vertical is None else f"{height.vertical} m (computed)"
            parts.append(f"vertical {told}")
        photo = card.values.get("flight.photo_base")
        parts.append(f"photo {_NOT_RECORDED if photo is None else photo.where}")
        yield card.id, f"{'; '.join(parts)}; entered by {card.by}, {card.time}"


def _tell(known: KnownValue | None, label: str) -> str:
    if known is None:
        return f"{label} {_NOT_RECORDED}"
    return f"{label} {show_value(known)} ({known.known_by})"


def _read_steps(book: Book) -> Iterator[Answer]:
    for process in book.processes():
        if process.kind == Kind.STEP:
            counted = sum(output.points or 0 for output in process.outputs)
            points = count_things(counted, "point")
            files = count_things(len(process.outputs), "output")
            reason = f"; {process.reason}" if process.reason else ""
            removed = "".join(
                f"; {name.replace('_', ' ')} {show_value(known)}"
                for name in _OF_STEPS
                if (known := process.find_value(name)) is not None
            )
            yield process.id, f"{files}, {points}, {process.decision}{removed}{reason}"
    yield from read_audited(book, BALANCE)


def _read_unproven(book: Book) -> Iterator[Answer]:
    records: list[Card | Process] = [*book.cards("rig"), *book.cards("flight"), *book.processes()]
    for record in records:
        for key, known in record.values.items():
            if not known.can_prove:
                how = f"{known.known_by}, {'confirmed' if known.confirmed else 'not confirmed'}"
                yield record.id, f"{key} {show_value(known)} ({how})"
    for process in book.processes():
        for used in process.inputs:
            if used.assumed:
                yield process.id, f"input {used.flight or used.path} (assumed, not confirmed)"
    for key in _read_carried(book):
        yield "job.toml", f"{key} (carried, not confirmed)"


def _read_carried(book: Book) -> tuple[str, ...]:
    """Return the keys of `job.toml` that came from another job, as it was last entered."""
    entered = book.last(Kind.SPECIFICATION)
    if entered is None:
        return ()
    # Only this one question reads a specification: a search loads nothing for it.
    read_leniently = load_part("ledger.specfile.reading", "read_leniently")
    carried: tuple[str, ...] = read_leniently(
        book.blob(str(entered.values["sha256"]))
    ).specification.carried
    return carried


def _read_not_assessed(book: Book) -> Iterator[Answer]:
    for audit in read_latest_audits(book):
        alike: dict[str, list[str]] = {}
        for each in audit.findings:
            found = each.finding
            if found.outcome in _OPEN:
                sentence = f"{found.outcome}: {found.sentence}"
                said = sentence.replace(found.subject, "", 1) if found.subject else sentence
                alike.setdefault(f"{found.check}: {said}", []).append(sentence)
        for sentences in alike.values():
            rest = len(sentences) - 1
            more = f" And {rest} more like it." if rest else ""
            yield audit.folder, f"{sentences[0]}{more}"


def _read_acceptances(book: Book) -> Iterator[Answer]:
    for finding, acceptance in read_acceptances(book).items():
        yield finding, f"by {acceptance.by}: {acceptance.reason}"


def _read_geoids(book: Book) -> Iterator[Answer]:
    for process in book.processes():
        known = process.find_value("output_height_type")
        geoid = process.find_value("geoid_name")
        yield process.id, f"{_tell(known, 'heights')}; {_tell(geoid, 'geoid')}"
    yield from read_audited(book, HEIGHTS)


def _read_frames(book: Book) -> Iterator[Answer]:
    for process in book.processes():
        names = ("frame", "epoch", "crs")
        yield process.id, "; ".join(_tell(process.find_value(name), name) for name in names)


def _read_mounts(book: Book) -> Iterator[Answer]:
    names = ("mount_mode", "position_source", "lever_arm", "lever_arm_from")
    for process in book.processes():
        if process.kind == Kind.RUN:
            parts = (_tell(process.find_value(name), name.replace("_", " ")) for name in names)
            yield process.id, "; ".join(parts)


def _read_control(book: Book) -> Iterator[Answer]:
    for process in book.processes():
        if process.kind == Kind.RUN:
            yield process.id, _tell(process.find_value("control_used"), "control used")
    yield from read_audited(book, CONTROL)


# Fix quality of a GGA sentence: NMEA 0183 as gpsd documents it ("NMEA Revealed", GGA, field 6).
_QUALITIES = {"0": "no position", "1": "single", "2": "differential", "4": "fixed", "5": "float"}


def _read_fixes(book: Book) -> Iterator[Answer]:
    for file in book.files_last_seen():
        counts = file.facts.get("qualities")
        if isinstance(counts, Mapping) and counts:
            total = sum(counts.values())
            said = (
                f"{number} {_QUALITIES.get(quality, f'of quality {quality}')}"
                for quality, number in counts.items()
            )
            yield file.path, f"{count_things(total, 'position')}: {', '.join(said)}"
    yield from read_audited(book, FIXES)


def _read_root(book: Book) -> Iterator[Answer]:
    state = book.check(NoProgress())
    yield "", state.sentence[:1].upper() + state.sentence[1:]
    root = state.root.hex()
    groups = " ".join(root[place : place + 4] for place in range(0, len(root), 4))
    yield f"root after entry {state.entries}", groups


QUESTIONS = (
    Question(
        1,
        "Which geoid is in the heights of each file?",
        read_geoids_of_files,
        "swathbook trace FILE",
    ),
    Question(
        2,
        "Which versions of the programs made what?",
        _read_versions,
        "swathbook find --recall PROGRAM VERSION",
    ),
    Question(
        3,
        "Was a file touched since it was audited?",
        read_standings,
        "swathbook recheck",
        empty="nothing was audited",
    ),
    Question(
        4,
        "Could each run be made again, and what is missing?",
        read_readiness,
        "swathbook repeat R1",
    ),
    Question(
        5,
        "What differs between two runs?",
        read_differences,
        "swathbook compare R1 R2",
        empty="there are no two runs",
    ),
    Question(
        6,
        "Did the runs use control, and are checkpoints independent of it?",
        _read_control,
    ),
    Question(
        7,
        "Which raw files is each run made from, and where do they lie?",
        read_sources,
        "swathbook trace FILE",
    ),
    Question(8, "Which mount mode, position source and lever arm were set?", _read_mounts),
    Question(9, "Who read the base height, when, and how?", _read_base_heights),
    Question(10, "In which frame and epoch are the coordinates?", _read_frames),
    Question(11, "Are the heights orthometric, and how is that known?", _read_geoids),
    Question(12, "Was the position fixed all the time, and above which files not?", _read_fixes),
    Question(13, "Which accuracy may be stated, from how many points?", read_accuracy),
    Question(
        14,
        "Where are voids, thin places, or no checkpoints?",
        read_areas,
        "swathbook audit FOLDER --all",
        empty="nothing was audited",
    ),
    Question(15, "What was cleaned or classified by hand, and why?", _read_steps, empty="none"),
    Question(16, "Who was sent which files, and when?", read_sent, empty="nobody"),
    Question(17, "Who has a delivery that was replaced?", read_replaced, empty="nobody"),
    Question(
        18,
        "Which records name which scanner, base mark, grid, calibration or version?",
        read_shared,
        "swathbook find --recall WORD --everywhere",
    ),
    Question(19, "Which outputs does no run explain?", read_unexplained, "swathbook", empty="none"),
    Question(
        20,
        "Which values were assumed, or carried over and not confirmed?",
        _read_unproven,
        empty="none",
    ),
    Question(
        21, "What was not checked on the last audits, and why?", _read_not_assessed, empty="none"
    ),
    Question(22, "Who accepted which finding, with what reason?", _read_acceptances, empty="none"),
    Question(23, "Do the numbers of the report match the files?", read_stated),
    Question(
        24,
        "Can two surveys be compared: frame, geoid, units, version?",
        read_comparable,
        "swathbook compare OTHER_JOB .",
    ),
    Question(25, "Is the book unbroken, and what is its root?", _read_root, "swathbook recheck"),
)
"""The saved questions, in the order in which they are numbered on every screen."""
