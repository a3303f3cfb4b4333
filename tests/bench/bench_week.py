"""Times the week of docs/guide/a-week.md: `python tests/bench/bench_week.py [--write]`.

Each command is started as a person starts it; questions are answered at a terminal. With `--write`
the table on the page is written anew. The card has to lie on another drive than the job: it is put
into the memory of the system. The second drive for copies is left out.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

_TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(_TESTS / "made"), str(_TESTS / "docs")]

from week import FIRST_CARD, PAGE, REPEAT, Week, read_parts, write_table  # noqa: E402 - found by the path above

_MEMORY = Path("/dev/shm")  # noqa: S108 - the only drive beside that of the job
_HEADING = "## What it takes\n"


def _run(card: Path, words: list[str], folder: Path) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-P", "-m", "ledger.cli", *_fit(words, card)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
    )
    return done.returncode, done.stdout + done.stderr


def _fit(words: list[str], card: Path) -> list[str]:
    """Return the words with the card where it lies, and the second drive left out."""
    if "../stick" not in words:
        return words
    place = words.index("../stick")
    kept = words[: place - 1] + words[place + 1 :]
    return [str(card) if word == "../card" else word for word in kept]


def walk(base: Path) -> str:
    """Walk the week in an empty folder and return the table."""
    with tempfile.TemporaryDirectory(dir=_MEMORY if _MEMORY.is_dir() else None) as place:
        card = Path(place) / "card"
        week = Week(base, partial(_run, card))
        shutil.move(base / "card", card)
        walked = []
        for part in (*read_parts(), REPEAT):
            done = list(week.do_part(part))
            walked.append((part.title, done))
            for each in done:
                sys.stderr.write(f"{each.line}: exit {each.status}, {each.seconds:.1f} s\n")
        walked.append((FIRST_CARD, [week.first_card]))
        return write_table(walked)


def main() -> None:
    """Walk it, and print or write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="write the table into the page")
    write = parser.parse_args().write
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATHBOOK_HOME"] = str(Path(folder) / "home")
        base = Path(folder) / "jobs"
        base.mkdir()
        table = walk(base)
    if write:
        text = PAGE.read_text(encoding="utf-8")
        start = text.index(_HEADING) + len(_HEADING)
        head, tail = text[:start], text[start:]
        rest = tail[tail.rindex("|\n") + 2 :] if "|\n" in tail else tail
        PAGE.write_text(f"{head}\n{table}{rest}", encoding="utf-8", newline="\n")
    sys.stdout.write(table)


if __name__ == "__main__":
    main()
