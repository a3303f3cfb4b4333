"""Bytes nobody can trust: the short mode; `python tests/faults/fuzz.py` goes on for hours."""

from __future__ import annotations

import random
import shutil
import warnings
from pathlib import Path

import pytest
from fuzztargets import TARGETS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

READERS = tuple(name for name, target in TARGETS.items() if not target.command)
COMMANDS = tuple(name for name, target in TARGETS.items() if target.command)
SHORTLY = settings(
    max_examples=25,
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
FOUND = sorted((Path(__file__).parent / "found").glob("*.bin"))


def feed(name: str, content: bytes, place: Path) -> None:
    """Feed a target from a folder that is empty again afterwards."""
    folder = place / "fed"
    folder.mkdir()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            TARGETS[name].feed(content, folder)
    finally:
        shutil.rmtree(folder)


@pytest.mark.parametrize("name", READERS)
def test_a_reader_answers_whatever_bytes_it_is_given(name: str, tmp_path: Path) -> None:
    """With what it read, or with an error of ours; nothing else comes of any input."""
    seeds = list(TARGETS[name].seeds())

    @SHORTLY
    @given(seed=st.sampled_from(seeds), dice=st.randoms(use_true_random=False))
    def answer(seed: bytes, dice: random.Random) -> None:
        feed(name, TARGETS[name].alter(seed, dice), tmp_path)

    answer()


@pytest.mark.parametrize("name", COMMANDS)
def test_commands_answer_whatever_lies_in_the_job(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each ends with a status and an object that are documented, and no check of ours breaks."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    dice = random.Random(name)
    seeds = list(TARGETS[name].seeds())
    for _ in range(2):
        feed(name, TARGETS[name].alter(dice.choice(seeds), dice), tmp_path)


@pytest.mark.parametrize("path", FOUND, ids=[path.stem for path in FOUND])
def test_what_once_failed_does_so_no_more(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every input that the long mode found is kept; its target is the first part of its name."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    feed(path.stem.split(".")[0], path.read_bytes(), tmp_path)
