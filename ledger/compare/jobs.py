"""May two surveys of a site be subtracted? Told from what the runs of both jobs recorded.

What a client asked for says nothing of what was done, so `job.toml` is not read here. A topic is
alike only on values that can prove: one that was assumed, or carried over and not confirmed, leaves
it open, and so does one that accepted runs of one job do not share.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

from ledger.compare.jobgeoids import UsedGeoid, compare_used, read_used_geoid
from ledger.compare.jobresult import Agreement, JobComparison, Topic
from ledger.crs import compare, describe, name_frame
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.known import KnownValue, show_value
from ledger.model.process import Decision, Process
from ledger.model.sitegeoid import Likeness
from ledger.model.weight import is_equal
from ledger.store.reading import Book

_ORDER = (Agreement.APART, Agreement.NOT_KNOWN, Agreement.ALIKE)


@dataclass(frozen=True)
class _Survey:
    """What speaks for one job: its accepted runs, or else those that nobody decided on."""

    name: str
    runs: tuple[Process, ...]
    is_accepted: bool
    geoid: UsedGeoid


def compare_jobs(first: Path, second: Path) -> JobComparison:
    """Say whether the surveys of two jobs may be subtracted.

    Args:
        first: folder of the one job.
        second: folder of the other.

    Raises:
        BookError: one of the books cannot be opened or read.
    """
    one, two = _read(first), _read(second)
    topics = [_TOPICS[name](one, two) for name in _TOPICS]
    unspoken = [each for each in (one, two) if not each.is_accepted]
    if unspoken:
        names = " and ".join(each.name for each in unspoken)
        topics.append(
            Topic(
                "runs",
                _name_runs(one),
                _name_runs(two),
                Agreement.NOT_KNOWN,
                f"No run of {names} is accepted, so that nothing says which result counts.",
            )
        )
    return JobComparison(
        one.name,
        two.name,
        tuple(run.id for run in one.runs),
        tuple(run.id for run in two.runs),
        tuple(sorted(topics, key=lambda topic: _ORDER.index(topic.state))),
    )


def _read(folder: Path) -> _Survey:
    with Book.open(folder) as book:
        runs = [each for each in book.processes() if each.kind == "run"]
        accepted = tuple(run for run in runs if run.decision is Decision.ACCEPTED)
        undecided = tuple(run for run in runs if run.decision is Decision.UNDECIDED)
        chosen = accepted or undecided
        geoid = read_used_geoid(book, chosen)
    return _Survey(folder.resolve().name, chosen, bool(accepted), geoid)


def _name_runs(survey: _Survey) -> str:
    return ", ".join(run.id for run in survey.runs)


def _find(survey: _Survey, name: str) -> tuple[KnownValue | None, str]:
    """Return the value that all runs share, and why there is none that can prove."""
    values = [run.find_value(name) for run in survey.runs]
    known = [value for value in values if value is not None]
    words = name.replace("_", " ")
    if not known or len(known) < len(values):
        blank = [run.id for run in survey.runs if run.find_value(name) is None]
        who = f" for {', '.join(blank)}" if blank else ""
        return (known[0] if known else None), f"{words} is not recorded in {survey.name}{who}"
    if any(not is_equal(known[0], value) for value in known[1:]):
        return known[0], f"the runs of {survey.name} do not share one {words}"
    if not all(value.can_prove for value in known):
        return known[0], f"{words} in {survey.name} was assumed, or carried over unconfirmed"
    return known[0], ""


def _compare_values(names: tuple[str, ...], topic: str, one: _Survey, two: _Survey) -> Topic:
    """Compare values by name; the first that is apart, or else the first gap, tells why."""
    pairs = [(name, _find(one, name), _find(two, name)) for name in names]
    before = " ".join(show_value(mine) for _, (mine, _), _ in pairs if mine is not None)
    after = " ".join(show_value(theirs) for _, _, (theirs, _) in pairs if theirs is not None)
    gaps = [why for _, (_, mine), (_, theirs) in pairs for why in (mine, theirs) if why]
    for name, (mine, _), (theirs, _) in pairs:
        if mine is not None and theirs is not None and not is_equal(mine, theirs):
            words = name.replace("_", " ")
            why = f"The {words} of the two is not the same."
            return Topic(topic, before, after, Agreement.APART, why)
    if gaps:
        return Topic(topic, before, after, Agreement.NOT_KNOWN, _say(gaps[0]))
    return Topic(topic, before, after, Agreement.ALIKE)


def _say(clause: str) -> str:
    return f"{clause[:1].upper()}{clause[1:]}."


def _compare_systems(one: _Survey, two: _Survey) -> Topic:
    topic = "coordinate system"
    (mine, gap), (theirs, other_gap) = _find(one, "crs"), _find(two, "crs")
    before, after = (str(known.value) if known is not None else "" for known in (mine, theirs))
    systems = [_describe(known) for known in (mine, theirs)]
    if systems[0] is not None and systems[1] is not None:
        parts = compare(systems[0], systems[1])
        if parts:
            told = "; ".join(f"{part.part}: {part.a} → {part.b}" for part in parts)
            return Topic(topic, before, after, Agreement.APART, f"The systems differ: {told}.")
    gaps = [why for why in (gap, other_gap) if why]
    if not gaps and None in systems:
        gaps = ["a coordinate system could not be understood"]
    if gaps:
        return Topic(topic, before, after, Agreement.NOT_KNOWN, _say(gaps[0]))
    return Topic(topic, before, after, Agreement.ALIKE)


def _describe(known: KnownValue | None) -> Crs | None:
    if known is None:
        return None
    try:
        return describe(str(known.value))
    except SwathbookError:
        return None


def _compare_frames(one: _Survey, two: _Survey) -> Topic:
    """Compare frames as recorded; a coordinate system names its frame where nobody did."""
    topic = _compare_values(("frame",), "frame", one, two)
    if topic.state is not Agreement.NOT_KNOWN or (topic.before and topic.after):
        return topic
    told: list[str] = []
    gaps: list[str] = []
    for survey in (one, two):
        known, why = _find(survey, "frame")
        if known is None:
            known, why = _find(survey, "crs")
            crs = _describe(known)
            told.append(name_frame(crs) if crs is not None and crs.kind is not CrsKind.NONE else "")
        else:
            told.append(str(known.value))
        gaps.append(why if told[-1] else why or f"no frame is known in {survey.name}")
    if all(told) and told[0] != told[1]:
        # Two spellings may name one frame; that the systems agree is told beside.
        return Topic(
            "frame", told[0], told[1], Agreement.NOT_KNOWN, "The frames are named otherwise."
        )
    if any(gaps) or not all(told):
        return Topic("frame", told[0], told[1], Agreement.NOT_KNOWN, _say(next(filter(None, gaps))))
    return Topic("frame", told[0], told[1], Agreement.ALIKE)


def _compare_geoids(one: _Survey, two: _Survey) -> Topic:
    """Compare geoids: by the grids where both have one, else by name and version."""
    kinds = [_find(survey, "output_height_type") for survey in (one, two)]
    values = [known.value if known is not None else "" for known, _ in kinds]
    if values == ["ellipsoidal", "ellipsoidal"] and not any(why for _, why in kinds):
        return Topic("geoid", "none needed", "none needed", Agreement.ALIKE)
    by_file = _compare_values(("geoid_file",), "geoid", one, two)
    by_name = _compare_values(("geoid_name", "geoid_version"), "geoid", one, two)
    if by_file.state is Agreement.NOT_KNOWN:
        return by_name
    if by_file.state is Agreement.ALIKE:
        # Names that nobody wrote are no gap beside one and the same grid.
        return by_name if by_name.state is Agreement.APART else _alike(by_name)
    found = compare_used(one.geoid, two.geoid)
    if found.likeness in (Likeness.VALUES, Likeness.RESAMPLED):
        return _alike(by_name)
    told = "The grid files are not the same bytes, whatever they are called"
    if found.largest_m is not None:
        told = f"At five places of the site the two grids differ by up to {found.largest_m:.3f} m"
    elif found.reason:
        told += f", and what they say at the site cannot be compared: {found.reason}"
    return Topic("geoid", by_name.before, by_name.after, Agreement.APART, f"{told}.")


def _alike(topic: Topic) -> Topic:
    return Topic(topic.name, topic.before, topic.after, Agreement.ALIKE)


def _compare_scales(one: _Survey, two: _Survey) -> Topic:
    bases = [_find(survey, "scale_basis")[0] for survey in (one, two)]
    names: tuple[str, ...] = ("scale_basis",)
    if any(known is not None and known.value == "ground" for known in bases):
        names = ("scale_basis", "combined_factor", "scale_origin", "scale_height")
    return _compare_values(names, "scale basis", one, two)


def _compare_software(one: _Survey, two: _Survey) -> Topic:
    topic = _compare_values(("software", "version"), "software", one, two)
    if topic.state is not Agreement.APART:
        return topic
    why = (
        "Programs or versions differ, and nothing shows that both give the same heights: process "
        "one capture with both and compare."
    )
    return Topic("software", topic.before, topic.after, Agreement.NOT_KNOWN, why)


def _compare_heights(one: _Survey, two: _Survey) -> Topic:
    kinds = [_find(survey, "output_height_type")[0] for survey in (one, two)]
    both = all(known is not None and known.value == "ellipsoidal" for known in kinds)
    names = ("output_height_type",) if both else ("output_height_type", "vertical_datum")
    return _compare_values(names, "heights", one, two)


_TOPICS: Mapping[str, Callable[[_Survey, _Survey], Topic]] = {
    "frame": _compare_frames,
    "epoch": partial(_compare_values, ("epoch",), "epoch"),
    "coordinate system": _compare_systems,
    "heights": _compare_heights,
    "geoid": _compare_geoids,
    "units": partial(_compare_values, ("unit_horizontal", "unit_vertical"), "units"),
    "scale basis": _compare_scales,
    "software": _compare_software,
}
