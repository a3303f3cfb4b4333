"""What `compare` shows of two jobs: may their surveys be subtracted, and why."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.compare.jobresult import Agreement, Answer, JobComparison
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, say, say_lines, title

_STYLES = {Answer.YES: GOOD, Answer.NO: BAD, Answer.NOT_KNOWN: DOUBT}
_ANSWERS = {
    Answer.YES: "Yes: what {} and {} recorded lets the one survey be subtracted from the other.",
    Answer.NO: "No: {} and {} must not be subtracted as they are.",
    Answer.NOT_KNOWN: "Not known: whether {} and {} may be subtracted cannot be told.",
}
_TITLES = {
    Agreement.APART: "Apart",
    Agreement.NOT_KNOWN: "Not known",
    Agreement.ALIKE: "Alike",
}


class TopicJson(TypedDict):
    """One thing that both surveys have to share."""

    field: Annotated[str, "frame, epoch, coordinate system, heights, geoid, units …"]
    a: Annotated[str, "what the first job says; empty for nothing"]
    b: Annotated[str, "what the second says"]
    state: Annotated[str, "alike, apart or not known"]
    why: Annotated[str, "why it is not alike; empty where it is"]


class JobsJson(TypedDict):
    """What `compare --json` prints of two jobs."""

    schema: Annotated[int, "1"]
    a: Annotated[str, "folder of the first job"]
    b: Annotated[str, "folder of the second"]
    a_runs: Annotated[list[str], "runs that speak for the first"]
    b_runs: Annotated[list[str], "runs that speak for the second"]
    same: Annotated[str, "identical where all topics are alike, else different"]
    may_be_subtracted: Annotated[str, "yes, no or not known"]
    differences: Annotated[list[TopicJson], "topics that are not alike, those apart first"]
    alike: Annotated[list[TopicJson], "topics that are alike"]


def make_json(result: JobComparison) -> JobsJson:
    """Return the object that `--json` prints."""
    topics: list[TopicJson] = [
        {
            "field": topic.name,
            "a": topic.before,
            "b": topic.after,
            "state": str(topic.state),
            "why": topic.why,
        }
        for topic in result.topics
    ]
    alike = str(Agreement.ALIKE)
    return {
        "schema": 1,
        "a": result.first,
        "b": result.second,
        "a_runs": list(result.first_runs),
        "b_runs": list(result.second_runs),
        "same": "identical" if result.is_same else "different",
        "may_be_subtracted": str(result.answer),
        "differences": [topic for topic in topics if topic["state"] != alike],
        "alike": [topic for topic in topics if topic["state"] == alike],
    }


def make_screen(result: JobComparison) -> RenderableType:
    """Return what a person reads."""
    told = _ANSWERS[result.answer].format(result.first, result.second)
    parts: list[RenderableType] = [say(told, _STYLES[result.answer])]
    for state, words in _TITLES.items():
        listed = [topic for topic in result.topics if topic.state is state]
        if not listed:
            continue
        parts.append(title(words))
        for topic in listed:
            shown = [topic.before or "not recorded", topic.after or "not recorded"]
            if state is Agreement.ALIKE:
                parts.append(say_lines([f"{topic.name}: {shown[0]}"], indent=2))
            else:
                parts.append(say_lines([f"{topic.name}: {' → '.join(shown)}"], indent=2))
                parts.append(say_lines([topic.why], indent=4))
    runs = [", ".join(each) or "no run" for each in (result.first_runs, result.second_runs)]
    names = f"{result.first} by {runs[0]}, {result.second} by {runs[1]}"
    parts.append(say(f"Told from what the runs recorded: {names}", QUIET))
    return Group(*parts)
