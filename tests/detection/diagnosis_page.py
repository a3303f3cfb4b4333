"""Counts the tables of docs/reference/diagnosis.md: `python tests/detection/diagnosis_page.py`.

It makes several hundred jobs with one hidden mistake each and asks the diagnosis, so that the
numbers of the page can be made again by anybody. Takes some minutes. A test holds sixty of the jobs
to the same shares.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests" / "made"))

from cause_audits import (  # noqa: E402 - the folder above holds it
    SPOILT,
    audit,
    make_setting,
)
from cause_jobs import make_job, make_unknown_job  # noqa: E402
from cause_mistakes import BY_NAME, MISTAKES, NO_MISTAKE  # noqa: E402
from cause_places import MISPLACED, count_places  # noqa: E402
from cause_scores import Answer, Score, compute_interval, score  # noqa: E402
from open_data import find_collection  # noqa: E402

from ledger.contract.check import Finding  # noqa: E402

PAGE = ROOT / "docs" / "reference" / "diagnosis.md"
JOBS, CLEAN_JOBS, UNKNOWN_JOBS, PAIR_JOBS = 20, 400, 150, 36
AUDITS, PLACES = 5, 36
PAIRS = (
    ("ellipsoidal heights", "antenna height left out"),
    ("ellipsoidal heights", "frame not transformed"),
    ("geoid taken off twice", "survey feet read as others"),
)

_MARK = re.compile(r"(<!-- counted: (\w+) -->\n).*?(<!-- end -->\n)", re.DOTALL)


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
            came = score(job)
            right = [each for each in came.names if each in words or each.split()[0] in words]
            if len(right) < len(came.names):
                answers["wrong"] += 1
            elif came.answer is Answer.TIED:
                answers["told"] += 1
            else:
                answers[("both", "one", "none")[2 - len(right)]] += 1
        told.append((f"{first} and {second}", answers))
    return told


def run_audits(folder: Path, count: int) -> list[tuple[str, Counter[str]]]:
    """Return what whole audits make of surveys with a mistake.

    Args:
        folder: for the surveys.
        count: of each mistake.
    """
    told = []
    for spoilt in SPOILT:
        answers: Counter[str] = Counter()
        for seed in range(count):
            setting = make_setting(seed)
            with tempfile.TemporaryDirectory(dir=folder) as place:
                findings = audit(Path(place), spoilt.move(setting), setting)
            answers[judge_audit(findings, spoilt.ids)] += 1
        told.append((spoilt.fault, answers))
    return told


def run_places(folder: Path, count: int) -> list[tuple[str, Counter[str]]]:
    """Return what is told of clouds that lie elsewhere than their checkpoints."""
    return [(each.name, count_places(each, count, folder)) for each in MISPLACED]


def judge_audit(findings: Iterable[Finding], ids: tuple[str, ...]) -> str:
    """Return what a whole audit told of a mistake: `alone`, `several`, `nothing` or `wrong`.

    Args:
        findings: of the check.
        ids: what stands first in the catalogue of the right finding.
    """
    graded = [each for each in findings if each.grade is not None]
    right = [each for each in graded if set(ids) <= set(each.catalogue)]
    if right:
        told = right[0].sentence
        return "several" if "causes fit it" in told or "It may be that" in told else "alone"
    named = [each for each in graded if each.catalogue != ("GN-01", "VD-10")]
    return "wrong" if named else "nothing"


def write_audits(told: Sequence[tuple[str, Counter[str]]], what: str = "audits") -> str:
    """Return the table of whole audits, or of other jobs."""
    keys = ("alone", "several", "nothing", "wrong")
    rows = [
        (fault, sum(answers.values()), *(answers[key] for key in keys)) for fault, answers in told
    ]
    head = ("mistake", what, "right alone", "among several", "nothing", "wrong")
    return write_table(head, rows)


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


def write_pairs(told: Sequence[tuple[str, Counter[str]]]) -> str:
    """Return the table of jobs with two mistakes."""
    keys = ("both", "told", "one", "none", "wrong")
    rows = [
        (names, sum(answers.values()), *(answers[key] for key in keys)) for names, answers in told
    ]
    head = ("mistakes", "jobs", "both named", "told as possible", "one named", "nothing", "wrong")
    return write_table(head, rows)


def count_all() -> dict[str, str]:
    """Return every table of the page by the name of its mark."""
    if find_collection() is None:
        raise SystemExit("the page is counted on real geoid grids; name the collection first")
    with tempfile.TemporaryDirectory() as folder:
        scores = run_jobs(Path(folder), JOBS, CLEAN_JOBS, UNKNOWN_JOBS)
        return {
            "exceeding": write_exceeding(scores),
            "below": write_below(scores),
            "clean": write_clean(scores),
            "pairs": write_pairs(run_pairs(Path(folder), PAIR_JOBS)),
            "places": write_audits(run_places(Path(folder), PLACES), "jobs"),
            "audits": write_audits(run_audits(Path(folder), AUDITS)),
        }


def fill_page(page: str, tables: Mapping[str, str]) -> str:
    """Return a page with a table between each pair of marks.

    Args:
        page: its text, marks included.
        tables: by the name of their mark.
    """
    return _MARK.sub(lambda found: f"{found[1]}\n{tables[found[2]]}\n{found[3]}", page)


if __name__ == "__main__":
    text = fill_page(PAGE.read_text(encoding="utf-8"), count_all())
    PAGE.write_text(text, encoding="utf-8", newline="\n")
    print(PAGE.relative_to(ROOT))  # noqa: T201 - a script
