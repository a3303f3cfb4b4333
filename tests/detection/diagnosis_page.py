"""Writes docs/reference/diagnosis.md anew: `python tests/detection/diagnosis_page.py`.

It makes several hundred jobs with one hidden mistake each and asks the diagnosis, so that the
numbers of the page can be made again by anybody. Takes some minutes. A test holds sixty of the jobs
to the same shares.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests" / "made"))

from cause_jobs import (  # noqa: E402 - the folder above holds it
    BY_NAME,
    MISTAKES,
    NO_MISTAKE,
    make_job,
    make_unknown_job,
)
from cause_scores import Answer, Score, compute_interval, score  # noqa: E402
from cause_sites import REGIONS  # noqa: E402
from open_data import find_collection  # noqa: E402

PAGE = ROOT / "docs" / "reference" / "diagnosis.md"
JOBS, CLEAN_JOBS, UNKNOWN_JOBS, PAIR_JOBS = 36, 150, 150, 36
PAIRS = (
    ("ellipsoidal heights", "antenna height left out"),
    ("ellipsoidal heights", "frame not transformed"),
    ("geoid taken off twice", "survey feet read as others"),
)

_HEAD = """# What the diagnosis of residuals finds

<!-- Written by tests/detection/diagnosis_page.py; do not edit. -->

The check `named-cause` predicts, from what a job says of itself, what each known mistake would
leave in the residuals at its checkpoints, and names one where the residuals are inside the gate of
that prediction and of no other.
Here is how often it is right, on jobs that are made: {jobs} jobs at random sites in {regions}
regions, with 5 to 40 checkpoints, 1 to 5 cm of noise, half of them with targets measured in plan.
Each mistake is planted by computing where a program that makes it would put every point, with
pyproj and a bilinear look-up of our own; what predicts is not used to plant.
Every job has the records of all others, so that each mistake has about twenty rivals.
{grids}

The gate of one number is 3·sqrt(s²/n + σ_prediction² + σ_survey²).
A mistake *exceeds* when it is at least two gates large where it was planted; below that nothing can
be told by anybody, and nothing should be named.
Intervals hold 95 of 100 such samples (Wilson 1927).

## Mistakes that exceed two gates

*Right alone*: it was named and nothing else was.
*Among several*: several causes were told, with the measurement that would separate them, and it was
one of them.
*Nothing*: an offset was told without a cause.
*Wrong*: another cause was named.

"""
_BELOW = """
## Mistakes below two gates

They are there, and too small to be told from noise, from the geoid model's own error, or, without
targets and slopes, from nothing at all.

"""
_CLEAN = """
## Jobs without a mistake, and mistakes that no record knows

The last line is what to keep in mind: an offset whose cause stands nowhere in the records sometimes
equals a number of the job by chance.
A name is a lead to follow, not a proof: the sentence gives predicted and observed value, and the
remedy ends in processing again and comparing again.

"""
_PAIRS = """
## Two mistakes at once

"""
_LIMITS = """
## What it cannot do

- Checkpoints on flat ground without measured targets say nothing of the plan. A wrong frame then
  ties with heights in the wrong frame.
- A mistake that turns with the aircraft (a horizontal lever arm, a time lag, roll and pitch) is not
  predicted: headings at the checkpoints are not on record.
- The geoid taken off twice and checkpoints with ellipsoidal heights leave the same residuals. Both
  are told, until a published mark decides.
- An antenna height and a lever arm of the same length, or any two numbers of a job that are equal
  within the gate, cannot be told apart by residuals. They are told together.
- Fewer than three checkpoints have no cause, fewer than five no slopes.
"""


def run_jobs(folder: Path, count: int, clean: int, unknown: int) -> dict[str, list[Score]]:
    """Return the scores of jobs by the name of the mistake.

    Args:
        folder: for geoid grids.
        count: jobs of each mistake.
        clean: jobs without any.
        unknown: jobs with an offset that no record explains.
    """
    scores: dict[str, list[Score]] = {}
    for mistake in MISTAKES:
        jobs = (make_job(mistake, seed, folder) for seed in range(count))
        scores[mistake.name] = [score(job, is_pattern=mistake.is_pattern) for job in jobs]
    scores["none"] = [score(make_job(NO_MISTAKE, seed, folder)) for seed in range(clean)]
    scores["unknown"] = [score(make_unknown_job(seed, folder)) for seed in range(unknown)]
    return scores


def run_pairs(folder: Path, count: int) -> list[tuple[str, Counter[str]]]:
    """Return what came of jobs with two mistakes."""
    told = []
    for first, second in PAIRS:
        answers: Counter[str] = Counter()
        words = [BY_NAME[name].right for name in (first, second)]
        for seed in range(count):
            job = make_job(BY_NAME[first], seed, folder, BY_NAME[second])
            names = score(job).names
            right = [name for name in names if name in words or name.split()[0] in words]
            wrong = len(right) < len(names)
            answers["wrong" if wrong else ("both", "one", "none")[2 - len(right)]] += 1
        told.append((f"{first} and {second}", answers))
    return told


def write_table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table of the page."""
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(str(cell) for cell in row)} |\n" for row in lines)


def tell_share(hits: int, count: int) -> str:
    """Return a share with its interval: `35 of 36, 97 % (86–100)`."""
    if not count:
        return "–"
    low, high = compute_interval(hits, count)
    return f"{hits} of {count}, {hits / count:.1%} ({low:.1%} to {high:.1%})".replace("%", " %")


def _list_exceeding(scores: dict[str, list[Score]]) -> list[tuple[str, list[Score]]]:
    names = [mistake.name for mistake in MISTAKES]
    return [(name, [each for each in scores[name] if each.exceeds]) for name in names]


def write_exceeding(scores: dict[str, list[Score]]) -> str:
    """Return the table of mistakes that exceed two gates."""
    answers = (Answer.ALONE, Answer.TIED, Answer.SILENT, Answer.WRONG)
    rows: list[Sequence[object]] = []
    whole: list[Score] = []
    for name, listed in _list_exceeding(scores):
        whole += listed
        counts = [sum(each.answer is answer for each in listed) for answer in answers]
        rows.append((name, len(listed), *counts))
    counts = [sum(each.answer is answer for each in whole) for answer in answers]
    rows.append(("**all**", len(whole), *counts))
    head = ("mistake", "jobs", "right alone", "among several", "nothing", "wrong")
    found = counts[0] + counts[1]
    return (
        write_table(head, rows)
        + f"\nTold, alone or among several: {tell_share(found, len(whole))}.\n"
        + f"Wrong cause alone: {tell_share(counts[3], len(whole))}.\n"
    )


def write_below(scores: dict[str, list[Score]]) -> str:
    """Return the table of mistakes below two gates."""
    listed = [each for name in (m.name for m in MISTAKES) for each in scores[name]]
    below = [each for each in listed if not each.exceeds]
    named = sum(bool(each.names) for each in below)
    rows = [
        ("nothing named", tell_share(len(below) - named, len(below))),
        ("the right one named all the same", sum(each.answer is Answer.ALONE for each in below)),
        ("another one named", sum(each.answer is Answer.WRONG for each in below)),
    ]
    return write_table(("answer", "jobs"), rows)


def write_clean(scores: dict[str, list[Score]]) -> str:
    """Return the table of jobs whose residuals no record explains."""
    rows = [
        (
            told,
            len(scores[name]),
            tell_share(sum(bool(each.names) for each in scores[name]), len(scores[name])),
        )
        for name, told in (
            ("none", "no mistake"),
            ("unknown", "an offset of 0.06 to 3 m that no record explains"),
        )
    ]
    return write_table(("jobs with", "jobs", "something named"), rows)


def write_page() -> str:
    """Return the whole page."""
    with tempfile.TemporaryDirectory() as folder:
        scores = run_jobs(Path(folder), JOBS, CLEAN_JOBS, UNKNOWN_JOBS)
        pairs = run_pairs(Path(folder), PAIR_JOBS)
    real = find_collection() is not None
    grids = (
        "Geoid grids are real ones (GEOID18, GEOID12B, EGM96) where the open collection has them, "
        "and planes elsewhere."
        if real
        else "Geoid grids are planes."
    )
    total = sum(map(len, scores.values())) + len(PAIRS) * PAIR_JOBS
    head = _HEAD.format(jobs=total, regions=len(REGIONS), grids=grids)
    rows = [
        (name, sum(answers.values()), *(answers[key] for key in ("both", "one", "none", "wrong")))
        for name, answers in pairs
    ]
    return (
        head
        + write_exceeding(scores)
        + _BELOW
        + write_below(scores)
        + _CLEAN
        + write_clean(scores)
        + _PAIRS
        + write_table(("mistakes", "jobs", "both named", "one", "none", "wrong"), rows)
        + _LIMITS
    )


if __name__ == "__main__":
    PAGE.write_text(write_page(), encoding="utf-8", newline="\n")
    print(PAGE.relative_to(ROOT))  # noqa: T201 - a script
