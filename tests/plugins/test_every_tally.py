"""Every tally of the one pass gives the same summary however the points of a file reach it.

A whole audit of a job in which every check has what it needs is watched: which tallies it starts,
from which plans, and what it hands to `finish`. Then the points come again, in any order, in any
chunks, divided among any number of workers, merged in any order. A tally that saw nothing would
keep every law: each is held to have seen something, and to miss what it is not given.
"""

from __future__ import annotations

import importlib
import pickle
import pkgutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from job_bench import make_bench
from sound_job import Job

import lidar_checks
from ledger.contract.check import PointCheck, Tally
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.feeds import Feed, group_checks
from ledger.contract.passing import PointPass
from ledger.contract.registry import build_registry
from ledger.contract.runner import Runner
from ledger.contract.shared import SharedFinding, spread
from ledger.model.chunk import PointChunk
from ledger.model.finding import Finding
from ledger.points import read_points
from ledger.testing import SurveyBuilder, cut, find_difference, restrict, take
from lidar_checks.cloud.idle_tally import IdleTally

CHECKS = {each.check.id: each.check for each in build_registry().checks}
POINT_CHECKS = {name: each for name, each in CHECKS.items() if isinstance(each, PointCheck)}
# The first check of each group speaks for the tally that the group shares.
SPEAKERS = [names[0] for names in group_checks(POINT_CHECKS, {})]


@dataclass
class Watched:
    """What an audit did.

    Args:
        feeds: what was fed, by the check that speaks for it.
        files: each file and all its points, by path.
        asked: check, plan, summaries and evidence of each call of `finish`, by check.
    """

    feeds: dict[str, Feed] = field(default_factory=dict)
    files: dict[str, tuple[DeliveredFile, PointChunk]] = field(default_factory=dict)
    asked: dict[str, tuple[Any, ...]] = field(default_factory=dict)

    def fill(self, name: str, path: str, chunks: list[PointChunk]) -> Tally:
        """Return the tally of a file that has seen these chunks."""
        feed, (file, _) = self.feeds[name], self.files[path]
        wanted = feed.source.dimensions | feed.source.optional_dimensions
        tally = feed.source.start(feed.plan, file)
        for chunk in chunks:
            tally.chunk(restrict(chunk, wanted))
        return tally


def trouble(survey: SurveyBuilder) -> None:
    """Give every tally something to count: doubles, flags, strays, a hole, other times."""
    survey.duplicate_points(0, 40).set_flag(0, "withheld", 0.02).set_flag(1, "overlap", 0.1)
    survey.move_point(0, 3, dz=-30.0).move_point(1, 5, dz=60.0)
    survey.reclassify(2, 2, 7).shift_swath(2, 0.05).zero_returns(3)
    survey.cut_hole(1, 500_030.0, 3_100_010.0, 3.0).week_times(2)


@pytest.fixture(scope="module")
def watched(tmp_path_factory: pytest.TempPathFactory) -> Watched:
    """Return what an audit of a troubled delivery did, with all that checks may need on record."""
    seen = Watched()
    read_all, finish = PointPass.read_all, Runner._finish

    def watch_reading(
        view: PointPass, files: Any, paths: Mapping[str, Any], progress: Any
    ) -> dict[str, Any]:
        seen.feeds = dict(view.feeds)
        names = view._list_dimensions()
        for file in files:
            assert file.header is not None
            whole = list(read_points(paths[file.path], file.header, view.lattice, names))
            assert len(whole) == 1
            seen.files[file.path] = (file, whole[0])
        return read_all(view, files, paths, progress)

    def watch_finish(runner: Runner, state: Any, evidence: Evidence) -> Any:
        answers = finish(runner, state, evidence)
        view = runner._view(state, evidence)
        given = (state.enabled.check, state.plan, dict(state.summaries), view)
        seen.asked[state.enabled.check.id] = given
        return answers

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(PointPass, "read_all", watch_reading)
        patch.setattr(Runner, "_finish", watch_finish)
        Job(before=trouble).audit(make_bench(tmp_path_factory))
    return seen


def list_parts(value: object, known: set[int]) -> Iterator[object]:
    """Yield a tally and every object of ours that it is made of."""
    if id(value) in known:
        return
    known.add(id(value))
    yield value
    within: list[object] = []
    if isinstance(value, Mapping):
        within = list(value.values())
    elif isinstance(value, list | tuple | set | frozenset):
        within = list(value)
    elif type(value).__module__.startswith("lidar_checks"):
        slots = [name for kind in type(value).__mro__ for name in getattr(kind, "__slots__", ())]
        within = [getattr(value, name, None) for name in slots] + list(vars(value).values())
    for each in within:
        yield from list_parts(each, known)


def list_tally_kinds() -> set[type]:
    """Return every class of our checks that counts, merges and closes."""
    modules = pkgutil.walk_packages(lidar_checks.__path__, "lidar_checks.")
    members = [vars(importlib.import_module(each.name)).values() for each in modules]
    kinds = {each for values in members for each in values if isinstance(each, type)}
    ours = {each for each in kinds if each.__module__.startswith("lidar_checks")}
    return {
        each for each in ours if all(hasattr(each, name) for name in ("chunk", "merge", "close"))
    }


def test_every_tally_is_watched(watched: Watched) -> None:
    """No check of points and no kind of tally is left out of what is tried below."""
    assert sorted(watched.feeds) == sorted(SPEAKERS)
    members = {name for feed in watched.feeds.values() for name in feed.members}
    assert members == set(POINT_CHECKS)
    tallies = [watched.fill(name, path, []) for name in watched.feeds for path in watched.files]
    met = {type(part) for tally in tallies for part in list_parts(tally, set())}
    # The one that passes over points has its place where a file cannot be judged at all.
    assert list_tally_kinds() - met == {IdleTally}


@pytest.mark.parametrize("name", SPEAKERS)
def test_every_tally_sees_something(watched: Watched, name: str) -> None:
    """Its summary is not that of no points, and not that of two thirds of them."""
    telling = {"nothing": 0, "two thirds": 0}
    for path, (_, whole) in watched.files.items():
        wanted = watched.fill(name, path, [whole]).close()
        some = take(whole, np.arange(len(whole)) % 3 > 0)
        for word, chunks in (("nothing", []), ("two thirds", [some])):
            telling[word] += bool(find_difference(watched.fill(name, path, chunks).close(), wanted))
    assert min(telling.values()) > 0, telling


@pytest.mark.parametrize("kind", sorted(list_tally_kinds() - {IdleTally}, key=repr))
def test_every_kind_of_tally_needs_its_merge(
    watched: Watched, monkeypatch: pytest.MonkeyPatch, kind: type
) -> None:
    """Two halves whose merge does nothing are told from the whole: the laws below can break."""
    monkeypatch.setattr(kind, "merge", lambda tally, other: None)
    noticed = 0
    for name in watched.feeds:
        for path, (_, whole) in watched.files.items():
            half = len(whole) // 2
            first = watched.fill(name, path, [whole.slice(0, half)])
            second = watched.fill(name, path, [whole.slice(half, len(whole))])
            if kind not in {type(part) for part in list_parts(first, set())}:
                continue
            first.merge(second)
            wanted = watched.fill(name, path, [whole]).close()
            noticed += bool(find_difference(wanted, first.close()))
    assert noticed


@given(data=st.data())
@settings(max_examples=6, deadline=None)
@pytest.mark.parametrize("name", SPEAKERS)
def test_every_tally_gives_the_same_however_points_come(
    watched: Watched, name: str, data: st.DataObject
) -> None:
    """Order, chunks, workers and the order of merging make no difference to the last digit."""
    path = data.draw(st.sampled_from(sorted(watched.files)))
    whole = watched.files[path][1]
    wanted = watched.fill(name, path, [whole]).close()
    random = np.random.default_rng(data.draw(st.integers(0, 2**32 - 1)))
    shuffled = random.permutation(len(whole))
    workers = data.draw(st.integers(1, 5))
    shares = np.array_split(shuffled, np.sort(random.integers(0, len(whole) + 1, workers - 1)))
    tallies = []
    for share in shares:
        points = take(whole, share)
        size = data.draw(st.integers(max(1, len(whole) // 40), len(whole)))
        filled = watched.fill(name, path, cut(points, size))
        tallies.append(pickle.loads(pickle.dumps(filled)))  # noqa: S301 - made in this line
    while len(tallies) > 1:
        other = tallies.pop(data.draw(st.integers(0, len(tallies) - 1)))
        tallies[data.draw(st.integers(0, len(tallies) - 1))].merge(other)
    assert find_difference(wanted, tallies[0].close()) == ""


@pytest.mark.parametrize("name", sorted(POINT_CHECKS))
def test_findings_do_not_depend_on_the_order_of_files(watched: Watched, name: str) -> None:
    """Summaries and files in the opposite order give the same findings, maps and figures."""
    check, plan, summaries, evidence = watched.asked[name]
    assert summaries
    turned = replace(evidence, files=tuple(reversed(evidence.files)))
    backwards = dict(reversed(summaries.items()))
    there = tell(check.finish(plan, summaries, evidence))
    assert there
    assert find_difference(there, tell(check.finish(plan, backwards, turned))) == ""


def tell(answers: Any) -> list[Any]:
    """Return what a check answered in an order of its own; shared findings one a file."""
    told = list(answers)
    findings = [each for each in told if isinstance(each, Finding | SharedFinding)]
    others = [each for each in told if not isinstance(each, Finding | SharedFinding)]
    return sorted(spread(findings), key=repr) + sorted(others, key=lambda each: each.name)
