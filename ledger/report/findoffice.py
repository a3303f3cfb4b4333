"""What a search of all jobs shows, and what something bad reached."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.find.hits import Asked, EverywhereResult, JobHit, RecallResult, Touched
from ledger.find.questions import Answer, Question
from ledger.model.phrases import agree, count_things
from ledger.report.find import HitJson, say_hit, write_hit
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, STRONG, say, say_lines, title

_SHOWN = 12
_NAMED = 4
_DIGITS = 12

Answers = tuple[Question, tuple[tuple[str, str, tuple[Answer, ...]], ...]]


class AskedJson(TypedDict):
    """Which jobs were asked."""

    jobs: Annotated[int, "jobs that were asked"]
    unreached: Annotated[list[str], "folders not there now; asked as they were read last"]
    unknown: Annotated[list[str], "folders not there now, and never read"]
    broken: Annotated[list[str], "folders whose book the last recheck found broken"]


class JobHitJson(HitJson):
    """A record of one of several jobs."""

    job: Annotated[str, "reference of the job, else the name of its folder"]
    folder: Annotated[str, "its folder"]


class EverywhereJson(TypedDict):
    """What `find --everywhere --json` prints."""

    schema: Annotated[int, "1"]
    words: Annotated[list[str], "what was searched for"]
    asked: Annotated[AskedJson, "which jobs were asked"]
    hits: Annotated[list[JobHitJson], "records that hold all the words"]


class SentJson(TypedDict):
    """A delivery that went out."""

    id: Annotated[str, "id of the transmittal"]
    to: Annotated[str, "function of whoever has it"]
    revision: Annotated[str, "its revision"]
    time: Annotated[str, "when it went out, UTC"]
    replaced_by: Annotated[str, "transmittal that replaced it; empty for none"]


class TouchedJson(TypedDict):
    """A deliverable with the thing behind it."""

    job: Annotated[str, "reference of the job, else the name of its folder"]
    folder: Annotated[str, "folder of the job"]
    deliverable: Annotated[str, "D1"]
    audited: Annotated[str, "the audited folder"]
    through: Annotated[list[str], "ids and digests by which it is reached"]
    sent: Annotated[list[SentJson], "where it went"]


class RecallJson(TypedDict):
    """What `find --recall --json` prints."""

    schema: Annotated[int, "1"]
    words: Annotated[list[str], "what was called back"]
    asked: Annotated[AskedJson, "which jobs were asked"]
    records: Annotated[list[JobHitJson], "records that name it"]
    touched: Annotated[list[TouchedJson], "deliverables that have it behind them"]


class JobAnswerJson(TypedDict):
    """What one job says to a saved question."""

    job: Annotated[str, "reference of the job, else the name of its folder"]
    folder: Annotated[str, "its folder"]
    answers: Annotated[list[list[str]], "subject and sentence of each line"]


class AnswersJson(TypedDict):
    """What `find --ask NUMBER --everywhere --json` prints."""

    schema: Annotated[int, "1"]
    number: Annotated[int, "number of the question"]
    text: Annotated[str, "the question"]
    jobs: Annotated[list[JobAnswerJson], "each job with its answer"]


def make_json(result: EverywhereResult) -> EverywhereJson:
    """Return the object that `--json` prints for a search of all jobs."""
    return {
        "schema": 1,
        "words": list(result.words),
        "asked": _describe_asked(result.asked),
        "hits": [_describe_hit(each) for each in result.hits],
    }


def make_recall_json(result: RecallResult) -> RecallJson:
    """Return the object that `--json` prints for a recall."""
    return {
        "schema": 1,
        "words": list(result.words),
        "asked": _describe_asked(result.asked),
        "records": [_describe_hit(each) for each in result.records],
        "touched": [_describe_touched(each) for each in result.touched],
    }


def make_answers_json(result: Answers) -> AnswersJson:
    """Return the object that `--json` prints for a question to all jobs."""
    question, jobs = result
    return {
        "schema": 1,
        "number": question.number,
        "text": question.text,
        "jobs": [
            {"job": name, "folder": folder, "answers": [list(line) for line in lines]}
            for name, folder, lines in jobs
        ],
    }


def _describe_asked(asked: Asked) -> AskedJson:
    return {
        "jobs": asked.jobs,
        "unreached": list(asked.unreached),
        "unknown": list(asked.unknown),
        "broken": list(asked.broken),
    }


def _describe_hit(each: JobHit) -> JobHitJson:
    return {**write_hit(each.hit), "job": each.job, "folder": each.folder}


def _describe_touched(each: Touched) -> TouchedJson:
    return {
        "job": each.job,
        "folder": each.folder,
        "deliverable": each.deliverable,
        "audited": each.audited,
        "through": list(each.through),
        "sent": [
            {
                "id": sent.id,
                "to": sent.to,
                "revision": sent.revision,
                "time": sent.time,
                "replaced_by": sent.replaced_by,
            }
            for sent in each.sent
        ],
    }


def make_screen(result: EverywhereResult, *, whole: bool = False) -> RenderableType:
    """Return what a person reads of a search of all jobs."""
    words = " ".join(result.words)
    found = count_things(len(result.hits), "record")
    parts: list[RenderableType] = [
        say(f"{found} with: {words}; {count_things(result.asked.jobs, 'job')} asked", STRONG)
    ]
    for (job, folder), hits in _group(result.hits).items():
        parts.append(title(f"{job}   {folder}"))
        shown = hits if whole else hits[:_SHOWN]
        parts += [say_hit(each.hit, whole=whole, kind=True) for each in shown]
        if len(shown) < len(hits):
            parts.append(say(f"  and {len(hits) - len(shown)} more: --all", QUIET))
    return Group(*parts, *_say_asked(result.asked))


def _group(hits: tuple[JobHit, ...]) -> dict[tuple[str, str], list[JobHit]]:
    groups: dict[tuple[str, str], list[JobHit]] = {}
    for each in hits:
        groups.setdefault((each.job, each.folder), []).append(each)
    return groups


def _say_asked(asked: Asked) -> Iterator[RenderableType]:
    """Yield which jobs could not be looked at now: silence would read as a clean answer."""
    if asked.broken:
        yield say(
            f"{count_things(len(asked.broken), 'book')} found broken, may tell wrong things: "
            f"{_name_some(asked.broken)}",
            BAD,
        )
    if asked.unreached:
        yield say(
            f"{count_things(len(asked.unreached), 'job')} not there now, asked as last read: "
            f"{_name_some(asked.unreached)}",
            DOUBT,
        )
    if asked.unknown:
        yield say(
            f"{count_things(len(asked.unknown), 'job')} not there now and never read: "
            f"{_name_some(asked.unknown)}. Nothing is known of them.",
            DOUBT,
        )


def _name_some(names: tuple[str, ...]) -> str:
    more = ", …" if len(names) > _NAMED else ""
    return f"{', '.join(names[:_NAMED])}{more}"


def make_recall_screen(result: RecallResult) -> RenderableType:
    """Return what a person reads of a recall: who has to be told, before all else."""
    sent = [(touched, each) for touched in result.touched for each in touched.sent]
    parts: list[RenderableType] = [_say_reach(result, len(sent))]
    if sent:
        parts.append(title("Went out"))
        for touched, each in sent:
            replaced = f"; replaced by {each.replaced_by}" if each.replaced_by else ""
            told = (
                f"{each.to}: {touched.deliverable} ({touched.audited}) of {touched.job}, {each.id} "
                f"revision {each.revision}, {each.time[:10]}{replaced}"
            )
            parts.append(say_lines([told, _say_through(touched)], indent=2))
    kept = [touched for touched in result.touched if not touched.sent]
    if kept:
        parts.append(title("Audited, and not handed over"))
        parts += [
            say_lines(
                [f"{each.deliverable} ({each.audited}) of {each.job}", _say_through(each)], indent=2
            )
            for each in kept
        ]
    if result.records:
        parts.append(title("Records that name it"))
        parts += [
            say_lines([f"{each.job}: {each.hit.kind} {each.hit.id}"], indent=2)
            for each in result.records[:_SHOWN]
        ]
        left = len(result.records) - _SHOWN
        if left > 0:
            parts.append(say(f"  and {left} more: --json", QUIET))
    return Group(*parts, *_say_asked(result.asked))


def _say_reach(result: RecallResult, sent: int) -> RenderableType:
    words = " ".join(result.words)
    jobs = count_things(result.asked.jobs, "job")
    if not result.records and not result.touched:
        return say(f"Nothing in {jobs} names {words}, and no delivery has it behind it.", STRONG)
    deliveries = count_things(len(result.touched), "delivery", "deliveries")
    told = (
        f"{words}: behind {deliveries} in {jobs}; {sent} {agree(sent, 'was', 'were')} handed over."
    )
    return say(told, BAD if sent else GOOD)


def _say_through(touched: Touched) -> str:
    named = (name if len(name) <= _DIGITS else f"{name[:_DIGITS]}…" for name in touched.through)
    return f"  through {', '.join(named)}"


def make_answers_screen(result: Answers) -> RenderableType:
    """Return what a person reads of a saved question to all jobs."""
    question, jobs = result
    parts: list[RenderableType] = [say(question.text, STRONG)]
    for name, folder, lines in jobs:
        parts.append(title(f"{name}   {folder}"))
        parts += [
            say_lines([f"{subject}: {sentence}" if subject else sentence], indent=2)
            for subject, sentence in lines
        ]
    if not jobs:
        parts.append(say("This computer knows no job yet."))
    return Group(*parts)
