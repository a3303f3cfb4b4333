"""What the diagnosis makes of jobs whose mistake is known, counted."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from cause_jobs import MadeJob

from lidar_checks.ground.causes.comparison import POWER
from lidar_checks.ground.causes.diagnosis import Diagnosis, Verdict, diagnose
from lidar_checks.ground.causes.gather import gather
from lidar_checks.ground.causes.predict import predict
from lidar_checks.ground.causes.quantile import NORMAL_LIMIT, find_squared_limit


class Answer(StrEnum):
    """What came of a job."""

    ALONE = "named alone"
    TIED = "among those told"
    SILENT = "nothing named"
    WRONG = "another named"


@dataclass(frozen=True)
class Score:
    """One job and its answer.

    Args:
        mistake: what was hidden.
        answer: what was told.
        exceeds: the mistake is at least two gates large.
        names: what was named.
    """

    mistake: str
    answer: Answer
    exceeds: bool
    names: tuple[str, ...]


def ask(job: MadeJob) -> Diagnosis:
    """Return the diagnosis of a job, by the functions that the check calls."""
    return diagnose(job.observed, predict(gather(job.observed, job.evidence)))


def score(job: MadeJob, *, is_pattern: bool = False) -> Score:
    """Return what came of a job."""
    found = ask(job)
    named = [each.candidate.id for each in found.named if each.candidate is not None]
    patterns = [each.pattern.id for each in found.named_patterns]
    if found.named_turning is not None:
        patterns.append(found.named_turning.turning.id)
    told = [each.candidate.id for each in found.tied if each.candidate is not None]
    told += [each.turning.id for each in found.turned]
    for pair in found.pairs:
        told += [each.candidate.id for each in (pair.lead, pair.second) if each.candidate]
    names = (*named, *patterns)
    right = [name for name in names if is_right(job, name)]
    if names:
        is_one = len({name.split(maxsplit=1)[0] for name in names}) == 1
        answer = Answer.ALONE if is_one and len(names) == len(right) else Answer.WRONG
    elif found.verdict is not Verdict.NO_POWER and any(is_right(job, name) for name in told):
        answer = Answer.TIED
    else:
        answer = Answer.SILENT
    exceeds = _exceeds_as_pattern(job, found) if is_pattern else _exceeds(job, found)
    return Score(job.mistake, answer, exceeds, names)


def is_right(job: MadeJob, name: str) -> bool:
    """Say whether the name of a prediction is the hidden mistake's."""
    return bool(job.right) and (name == job.right or name.split(maxsplit=1)[0] == job.right)


def _exceeds(job: MadeJob, found: Diagnosis) -> bool:
    """Say whether what was planted is at least two gates large, by the gates that are told."""
    if _exceeds_turning(job, found):
        return True
    own = next((e for e in found.ranked if e.candidate and is_right(job, e.candidate.id)), None)
    if own is None:
        return False
    planted = {"dz": job.lift.mean(), "dE": job.shift[:, 0].mean(), "dN": job.shift[:, 1].mean()}
    square = sum((planted[axis.axis] / (axis.gate / NORMAL_LIMIT)) ** 2 for axis in own.components)
    return math.sqrt(square / find_squared_limit(len(own.components))) >= POWER


def _exceeds_turning(job: MadeJob, found: Diagnosis) -> bool:
    """Say whether what was planted to turn with the aircraft is two gates large."""
    own = next((each for each in found.turning if is_right(job, each.turning.id)), None)
    if own is None:
        return False
    planted = job.amount if own.turning.value is None else own.turning.value
    return abs(planted) >= POWER * own.gate


def _exceeds_as_pattern(job: MadeJob, found: Diagnosis) -> bool:
    own = next((each for each in found.patterns if is_right(job, each.pattern.id)), None)
    if own is None:
        return False
    planted = _fit_planted(job)
    square = sum(
        (planted[axis.axis] / own.pattern.per_unit / (axis.gate / NORMAL_LIMIT)) ** 2
        for axis in own.components
    )
    return math.sqrt(square / find_squared_limit(len(own.components))) >= POWER


def _fit_planted(job: MadeJob) -> dict[str, float]:
    """Return the turn, stretch, tilts and bend that were planted, by numpy alone."""
    x, y = job.observed.plan.T
    one, zero = np.ones(len(x)), np.zeros(len(x))
    plan = np.concatenate([job.shift[:, 0], job.shift[:, 1]])
    turn = np.column_stack(
        [
            np.concatenate([one, zero]),
            np.concatenate([zero, one]),
            np.concatenate([-y, x]),
            np.concatenate([x, y]),
        ]
    )
    _, _, rotation, scale = np.linalg.lstsq(turn, plan, rcond=None)[0]
    heights = np.column_stack([one, x, y, x**2 + y**2])
    _, east, north, bend = np.linalg.lstsq(heights, job.shift[:, 2], rcond=None)[0]
    tilts = np.linalg.lstsq(heights[:, :3], job.shift[:, 2], rcond=None)[0][1:]
    del east, north
    return {
        "rotation": float(rotation),
        "scale": float(scale),
        "tilt_east": float(tilts[0]),
        "tilt_north": float(tilts[1]),
        "bend": float(bend),
    }


def count_answers(scores: Iterable[Score]) -> Counter[Answer]:
    """Return how many jobs came to each answer."""
    return Counter(each.answer for each in scores)


def compute_interval(hits: int, count: int) -> tuple[float, float]:
    """Return the limits of a share that 95 of 100 such samples bear out.

    Wilson, E. B. (1927), "Probable inference, the law of succession, and statistical inference",
    Journal of the American Statistical Association 22, 209-212.

    Args:
        hits: how many of them.
        count: of how many.
    """
    if not count:
        return 0.0, 1.0
    z = 1.959964  # normal distribution, 97.5 %
    share = hits / count
    middle = share + z * z / (2 * count)
    half = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    scale = 1 + z * z / count
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)
