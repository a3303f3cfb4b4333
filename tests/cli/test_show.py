"""A printed command is typed in the job folder; where the person stands elsewhere, that is said."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench


def test_nothing_is_said_in_the_job_folder(bench: JobBench) -> None:
    """Where the command works as it stands, the line would only be in the way."""
    assert "Commands are typed in" not in bench.run().out


def join(text: str) -> str:
    """Return a text without the blanks and line breaks at which a screen may wrap it."""
    return "".join(text.split())


@pytest.mark.parametrize("words", [(), ("register", "../raw/a.bin", "--flight", "F1")])
def test_below_the_job_folder_its_place_is_named(bench: JobBench, words: tuple[str, ...]) -> None:
    """In a folder of the job, paths of the printed command would lead astray."""
    bench.write("raw/a.bin", b"a")
    ran = bench.run(*words, cwd=bench.job / "out")
    assert ran.status == 0, ran.err
    assert join(ran.out).endswith(join(f"Commands are typed in the job folder, {bench.job}"))


def test_with_another_job_named_its_place_is_named(bench: JobBench, tmp_path: Path) -> None:
    """With `--job` the printed command works there, not here."""
    out = bench.run("--job", str(bench.job), cwd=tmp_path).out
    assert join(out).endswith(join(f"Commands are typed in the job folder, {bench.job}"))


def test_a_screen_without_a_command_says_nothing(bench: JobBench) -> None:
    """Where nothing is to be typed there is nothing to say about where."""
    assert "Commands are typed" not in bench.run("recheck", cwd=bench.job / "out").out
