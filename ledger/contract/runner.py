"""Running checks over one delivery: records and headers first, then the one pass over points.

Invariants:

- A check that raises, in any phase, is dropped and gives one *errored* finding; the rest go on.
- An unmet need is *not assessed* with its name and the reason.
- Silence is no pass: a check that answers nothing gives *inconclusive*.
- A file that could not be read whole gives *not assessed* for every check of points, whatever the
  check says of the other files.
- No check alters what the next one sees by assignment: the evidence is frozen before any is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from typing import Any

from ledger.contract.check import Check, Plan, PointCheck
from ledger.contract.crew import Hire
from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import Evidence
from ledger.contract.feeds import Feed, group_checks, make_feed
from ledger.contract.figures import MAX_FIGURES, require_figure
from ledger.contract.gathering import gather
from ledger.contract.guard import Attempt, Guard
from ledger.contract.needs import find_unmet
from ledger.contract.ordering import list_followers, sort_checks, sort_findings
from ledger.contract.passing import PassResult, PointPass, count_stated_points
from ledger.contract.portions import pack_kit
from ledger.contract.rasters import MAX_RASTERS, name_plan_unit, require_raster
from ledger.contract.shared import SharedFinding, Told, spread
from ledger.contract.stamping import stamp
from ledger.contract.subjects import Subjects
from ledger.contract.validity import require_finding, require_shared
from ledger.errors import ContractError
from ledger.model.ask import Progress
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.figure import Figure
from ledger.model.finding import SPECIFICATION, Finding, Outcome, Where
from ledger.model.frozen import Freezer, FrozenDict
from ledger.model.raster import Raster
from ledger.remote.files import Place

Fold = Callable[[Iterable[Told]], Iterable[Finding]]


@dataclass
class _State:
    """What is known of one check so far."""

    enabled: EnabledCheck
    plan: Plan | None = None
    errored: Finding | None = None
    findings: tuple[Told, ...] = ()
    rasters: tuple[Raster, ...] = ()
    figures: tuple[Figure, ...] = ()
    summaries: Mapping[str, Any] = field(default_factory=dict)
    gaps: Mapping[str, str] = field(default_factory=dict)


class Runner:
    """Runs the checks of one audit.

    Call `judge_records`, then `read_points` unless the audit is quick, then `judge_all`.

    Attributes:
        lost: why nobody could read the points of a file, by its path.
    """

    def __init__(self, enabled: Sequence[EnabledCheck], guard: Guard | None = None) -> None:
        """Take the checks that are part of the audit.

        Args:
            enabled: the checks; none of them waits for itself.
            guard: calls the checks; None for one of its own.
        """
        self._guard = guard if guard is not None else Guard()
        self._freezer = Freezer()
        self._states = {each.check.id: _State(each) for each in enabled}
        waits = {each.check.id: each.check.after for each in enabled}
        self.lost: dict[str, str] = {}
        self._order = sort_checks(waits)
        self._explains = {each.check.id: each.check.explains for each in enabled}
        self._late = list_followers(waits, (each.check.id for each in enabled if each.reads_points))

    @property
    def pending(self) -> frozenset[str]:
        """Return the ids of the checks that wait for points."""
        return self._late

    @property
    def rasters(self) -> tuple[Raster, ...]:
        """Return the maps that the checks drew when they were last asked, by check and name."""
        drawn = (raster for state in self._states.values() for raster in state.rasters)
        return tuple(sorted(drawn, key=lambda raster: (raster.check, raster.name)))

    @property
    def figures(self) -> tuple[Figure, ...]:
        """Return the figures that the checks told when they were last asked, as each told them.

        They come in order of the checks' ids: in which order checks were asked tells nobody
        anything.
        """
        names = sorted(self._order)
        return tuple(figure for name in names for figure in self._states[name].figures)

    def judge_records(self, evidence: Evidence) -> tuple[Finding, ...]:
        """Return what the checks find that wait for no point, worst first."""
        return self._judge([name for name in self._order if name not in self._late], evidence)

    def judge_all(self, evidence: Evidence, fold: Fold | None = None) -> tuple[Finding, ...]:
        """Return what every check finds, worst first.

        Checks of records and headers are asked again: reading the points may have shown what
        made a file.

        Args:
            evidence: all that is known.
            fold: brings answers of one check together; None to keep each.
        """
        return self._judge(self._order, evidence, fold)

    def read_points(
        self,
        evidence: Evidence,
        paths: Mapping[str, Place],
        progress: Progress,
        hire: Hire | None = None,
    ) -> dict[str, PassResult]:
        """Read every point file once and feed every check that reads points.

        Args:
            evidence: the evidence before points were read.
            paths: where each file lies, by its path in the delivery.
            progress: counts points.
            hire: brings together who reads; None to read in this process.

        Returns:
            What reading gave, by path, for every file with a readable header that is not lost.

        Raises:
            StoreError: the store that holds them was lost.
        """
        view = self._make_pass(self._freezer.freeze(evidence))
        progress.start("reading points", count_stated_points(evidence.point_files), "points")
        if hire is None:
            results = view.read_all(evidence.point_files, paths, progress)
        else:
            plugins = {name: state.enabled.plugin for name, state in self._states.items()}
            kit = pack_kit(view, plugins)
            with hire(kit) as crew:
                gathered = gather(view, evidence.point_files, paths, crew, self._guard, progress)
            results, self.lost = gathered.results, gathered.lost
        progress.finish()
        for name in (member for feed in view.feeds.values() for member in feed.members):
            self._states[name].summaries = view.summaries.get(name, {})
            self._states[name].gaps = view.gaps.get(name, {})
        return results

    def _make_pass(self, evidence: Evidence) -> PointPass:
        checks: dict[str, PointCheck] = {}
        plans: dict[str, Plan] = {}
        for name, state in self._states.items():
            check = state.enabled.check
            if not isinstance(check, PointCheck) or self._find_unmet(state, evidence):
                continue
            plan = self._prepare(state, self._view(state, evidence))
            if plan is not None:
                checks[name], plans[name] = check, plan
        feeds = self._make_feeds(checks, plans, evidence)
        return PointPass(feeds, evidence.lattice, self._call, self._report)

    def _make_feeds(
        self, checks: Mapping[str, PointCheck], plans: Mapping[str, Plan], evidence: Evidence
    ) -> dict[str, Feed]:
        """Return what the pass feeds; a family that cannot be prepared drops all its members."""
        feeds: dict[str, Feed] = {}
        plugins = {name: self._states[name].enabled.plugin.name for name in checks}
        for group in group_checks(checks, plugins):
            with self._call(group[0], "prepare") as attempt:
                feeds[group[0]] = make_feed(
                    {name: checks[name] for name in group},
                    {name: plans[name] for name in group},
                    evidence,
                )
            if attempt.fault:
                for name in group:
                    self._report(name, "prepare", attempt.fault)
        return feeds

    def _call(self, name: str, phase: str) -> AbstractContextManager[Attempt]:
        return self._guard.call(self._states[name].enabled.plugin, f"check {name}, {phase}")

    def _judge(
        self, names: Collection[str], evidence: Evidence, fold: Fold | None = None
    ) -> tuple[Finding, ...]:
        self._freezer.freeze(evidence)
        subjects = Subjects(evidence)
        for name in names:
            state = self._states[name]
            answers = self._ask(state, evidence)
            state.findings = tuple(stamp(each, state.enabled, subjects) for each in answers)
        found = [told for name in names for told in self._states[name].findings]
        return sort_findings((spread if fold is None else fold)(found), self._explains)

    def _ask(self, state: _State, evidence: Evidence) -> tuple[Told, ...]:
        check = state.enabled.check
        if state.errored is None:
            unmet = self._find_unmet(state, evidence)
            if unmet:
                return (_tell_unmet(check, unmet),)
            answers = self._finish(state, evidence)
            if state.errored is None:
                return answers or (_tell_silence(check),)
        return (state.errored,)

    def _finish(self, state: _State, evidence: Evidence) -> tuple[Told, ...]:
        """Return what the check answers, and *not assessed* for each file it did not see."""
        check = state.enabled.check
        if state.gaps and not state.summaries:
            return _tell_gaps(check, state.gaps)
        view = self._view(state, evidence)
        plan = self._prepare(state, view)
        if plan is None:
            return ()
        answers: tuple[Told, ...] = ()
        with self._call(check.id, "finish") as attempt:
            found = tuple(check.finish(plan, state.summaries, view))
            state.rasters = _take_rasters(check, found, view)
            state.figures = _take_figures(check, found)
            answers = tuple(
                require_shared(check, each)
                if isinstance(each, SharedFinding)
                else require_finding(check, each)
                for each in found
                if not isinstance(each, Raster | Figure)
            )
        if attempt.fault:
            self._report(check.id, "finish", attempt.fault)
        return (*answers, *_tell_gaps(check, _leave_out_told(state.gaps, answers)))

    def _prepare(self, state: _State, view: Evidence) -> Plan | None:
        """Return the plan of a check, made once an audit; None when the check broke."""
        check, criteria = state.enabled.check, state.enabled.criteria
        if state.plan is None and state.errored is None and criteria is not None:
            with self._call(check.id, "prepare") as attempt:
                plan = check.prepare(view, criteria)
                if not isinstance(plan, Plan):
                    raise ContractError("prepare returned no plan", found=type(plan).__name__)
                vars(plan)["sources"] = state.enabled.sources
                state.plan = plan
            if attempt.fault:
                self._report(check.id, "prepare", attempt.fault)
        return state.plan if state.errored is None else None

    def _view(self, state: _State, evidence: Evidence) -> Evidence:
        """Return the evidence with the findings that this check waits for, of most checks none.

        What the evidence has worked out once of its files is then there for the next check too.
        """
        after = state.enabled.check.after
        if not after and not evidence.results:
            return evidence
        known = {name: self._states[name].findings for name in after if name in self._states}
        results = {name: tuple(spread(told)) for name, told in known.items()}
        return replace(evidence, results=FrozenDict(results))

    def _find_unmet(self, state: _State, evidence: Evidence) -> tuple[str, ...]:
        check = state.enabled.check
        needs = check.needs
        if isinstance(check, PointCheck) and "points" not in needs:
            needs = ("points", *needs)
        blanks = tuple(f"{key}: it is blank and has no default" for key in state.enabled.blanks)
        return (*find_unmet(needs, evidence), *blanks)

    def _report(self, name: str, phase: str, fault: str) -> None:
        """Drop a check: from now on it is *errored* and nothing else."""
        state = self._states[name]
        plugin = state.enabled.plugin
        check = state.enabled.check
        way_out = "" if check.always_required else ", or switch the check off with a reason"
        state.errored = Finding(
            check=name,
            outcome=Outcome.ERRORED,
            subject=WHOLE_DELIVERY,
            sentence=f"The check broke off in {phase} and says nothing here: {fault} ({plugin}).",
            catalogue=check.catalogue,
            remedy=f"Report this to the authors of {plugin.name}{way_out}.",
        )


def _take_rasters(check: Check, found: Iterable[object], evidence: Evidence) -> tuple[Raster, ...]:
    drawn = [require_raster(check.id, each) for each in found if isinstance(each, Raster)]
    if len(drawn) > MAX_RASTERS or len({each.name for each in drawn}) < len(drawn):
        raise ContractError(f"{check.id} drew too many maps, or two of one name", found=len(drawn))
    if not drawn:
        return ()
    unit = name_plan_unit(
        file.crs.governing.crs for file in evidence.point_files if file.crs is not None
    )
    return tuple(replace(each, check=check.id, cell_unit=unit) for each in drawn)


def _take_figures(check: Check, found: Iterable[object]) -> tuple[Figure, ...]:
    told = [require_figure(check.id, each) for each in found if isinstance(each, Figure)]
    if len(told) > MAX_FIGURES or len({each.name for each in told}) < len(told):
        raise ContractError(
            f"{check.id} told too many figures, or two of one name", found=len(told)
        )
    return tuple(replace(each, check=check.id) for each in told)


def _tell_unmet(check: Check, unmet: tuple[str, ...]) -> Finding:
    listed = "; ".join(each.removeprefix(SPECIFICATION) for each in unmet)
    return check.not_assessed(WHOLE_DELIVERY, f"Missing: {listed}.", unmet)


def _tell_gaps(check: Check, gaps: Mapping[str, str]) -> tuple[Finding, ...]:
    return tuple(
        check.not_assessed(
            path, f"{path} was not assessed, because of {why}.", (why,), where=Where(file=path)
        )
        for path, why in sorted(gaps.items())
    )


def _leave_out_told(gaps: Mapping[str, str], answers: Iterable[Told]) -> Mapping[str, str]:
    """Return the gaps in what was read that the check itself told nobody of."""
    if not gaps:
        return gaps
    told = {each.subject for each in spread(answers) if each.outcome is Outcome.NOT_ASSESSED}
    return {path: why for path, why in gaps.items() if path not in told}


def _tell_silence(check: Check) -> Finding:
    return check.inconclusive(
        WHOLE_DELIVERY, "The check found nothing to judge in this delivery, which is no pass."
    )
