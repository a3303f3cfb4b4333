"""What `find` shows: the records that hold the words, or the answer to a saved question."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.find import FindResult, Hit
from ledger.find.questions import QUESTIONS, QuestionResult
from ledger.model.phrases import count_things
from ledger.report.screen import QUIET, STRONG, make_table, next_step, say, say_lines, title

_SHOWN = 12
_PARTS_SHOWN = 3
_KINDS = {
    "run": "runs",
    "step": "steps",
    "flight": "flights",
    "rig": "rigs",
    "statement": "statements",
    "points": "tables of points",
    "file": "files",
    "audit": "audits",
    "acceptance": "acceptances",
    "job": "job",
}


class PartJson(TypedDict):
    """One part that holds a word."""

    label: Annotated[str, "field or part of the record"]
    text: Annotated[str, "what stands there"]


class HitJson(TypedDict):
    """One record that holds all the words."""

    kind: Annotated[
        str, "run, step, flight, rig, statement, points, file, audit, acceptance or job"
    ]
    id: Annotated[str, "its id, or the path of a file"]
    entry: Annotated[int | None, "number of its entry; null for a file"]
    time: Annotated[str, "when it was entered, UTC; empty for a file"]
    by: Annotated[str, "function of the person who entered it; empty for a file"]
    matched: Annotated[list[PartJson], "every part that holds one of the words"]


class AnswerJson(TypedDict):
    """One line of an answer."""

    subject: Annotated[str, "what it is about; empty for the whole job"]
    sentence: Annotated[str, "the answer"]


class QuestionJson(TypedDict):
    """A saved question."""

    number: Annotated[int, "what it is called"]
    text: Annotated[str, "the question"]
    command: Annotated[str, "what says more of one file, run or word; empty for none"]


class FindJson(TypedDict):
    """What `find --json` prints."""

    schema: Annotated[int, "1"]
    words: Annotated[list[str], "what was searched for"]
    hits: Annotated[list[HitJson], "records that hold all the words"]
    questions: Annotated[list[QuestionJson], "the saved questions; the one asked with --ask"]
    answers: Annotated[list[AnswerJson], "answer to a saved question"]


def make_json(result: FindResult) -> FindJson:
    """Return the object that `--json` prints for a search."""
    return _make_object(words=list(result.words), hits=[write_hit(each) for each in result.hits])


def make_question_json(result: QuestionResult) -> FindJson:
    """Return the object that `--json` prints for a saved question."""
    number = result.question.number
    answers: list[AnswerJson] = [
        {"subject": subject, "sentence": sentence} for subject, sentence in result.lines
    ]
    return _make_object(numbers=(number,), answers=answers)


def make_list_json(_result: None) -> FindJson:
    """Return the object that `--json` prints for the list of questions."""
    return _make_object(numbers=tuple(each.number for each in QUESTIONS))


def _make_object(
    *,
    words: list[str] | None = None,
    hits: list[HitJson] | None = None,
    numbers: Iterable[int] = (),
    answers: list[AnswerJson] | None = None,
) -> FindJson:
    listed = set(numbers)
    return {
        "schema": 1,
        "words": words or [],
        "hits": hits or [],
        "questions": [
            {"number": each.number, "text": each.text, "command": each.typed}
            for each in QUESTIONS
            if each.number in listed
        ],
        "answers": answers or [],
    }


def write_hit(hit: Hit) -> HitJson:
    """Return a record as JSON tells it."""
    return {
        "kind": hit.kind,
        "id": hit.id,
        "entry": hit.entry or None,
        "time": hit.time,
        "by": hit.by,
        "matched": [{"label": label, "text": text} for label, text in hit.matched],
    }


def make_screen(result: FindResult, *, whole: bool = False) -> RenderableType:
    """Return what a person reads of a search.

    Args:
        result: what was found.
        whole: show every record and part.
    """
    words = " ".join(result.words)
    if not result.hits:
        return Group(
            say(f"Nothing in this book holds: {words}", STRONG),
            say("It was not recorded here, or it was written otherwise: try fewer letters."),
        )
    parts: list[RenderableType] = [
        say(f"{count_things(len(result.hits), 'record')} with: {words}", STRONG)
    ]
    for kind, plural in _KINDS.items():
        hits = [each for each in result.hits if each.kind == kind]
        if hits:
            parts.append(title(plural))
            shown = hits if whole else hits[:_SHOWN]
            parts.extend(say_hit(each, whole=whole) for each in shown)
            if len(shown) < len(hits):
                parts.append(say(f"  and {len(hits) - len(shown)} more: --all", QUIET))
    first = next(each for kind in _KINDS for each in result.hits if each.kind == kind)
    return Group(*parts, next_step(first.next))


def say_hit(hit: Hit, *, whole: bool, kind: bool = False) -> RenderableType:
    """Return a record and what of it holds the words.

    Args:
        hit: the record.
        whole: show every part.
        kind: say first what it is, where no heading does.
    """
    matched = [(label, text) for label, text in hit.matched if text != hit.id]
    shown = matched if whole else matched[:_PARTS_SHOWN]
    said = "; ".join(f"{_name(label)}: {text}" for label, text in shown)
    rest = len(matched) - len(shown)
    more = f"; and {count_things(rest, 'more part')}" if rest else ""
    before = f"{hit.kind} " if kind else ""
    return say_lines([f"{before}{hit.id}{f'   {said}{more}' if said else ''}"], indent=2)


def _name(label: str) -> str:
    return label.rsplit(".", 1)[-1].replace("_", " ")


def make_question_screen(result: QuestionResult) -> RenderableType:
    """Return what a person reads of a saved question."""
    parts: list[RenderableType] = [say(result.question.text, STRONG)]
    parts += [
        say_lines([f"{subject}: {sentence}" if subject else sentence], indent=2)
        for subject, sentence in result.lines
    ]
    if result.question.typed:
        parts.append(next_step(result.question.typed, "says more of one of them"))
    return Group(*parts)


def make_list_screen(_result: None) -> RenderableType:
    """Return the list of saved questions."""
    table = make_table("", "question", "more of one file or run", numbers=(0,))
    for each in QUESTIONS:
        table.add_row(str(each.number), say(each.text), say(each.typed))
    return Group(
        say("Search with: swathbook find WORD …", STRONG),
        say("Ask with: swathbook find --ask NUMBER, of all jobs with --everywhere too"),
        table,
    )
