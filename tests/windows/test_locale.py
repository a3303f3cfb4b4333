"""The language of the system and its encoding change nothing that is stored, printed or read.

Where a system has decimal commas, or an encoding of its own for files, a program that trusts either
writes another book there.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

import ledger
import lidar_checks
from ledger.store.reading import Book
from ledger.testing import Layout, Scene, SurveyBuilder

SOURCES = [
    path
    for package in (ledger, lidar_checks)
    for path in sorted(Path(str(package.__file__)).parent.rglob("*.py"))
]
# With decimal commas. Which of them a system has is its own affair.
COMMAS = ("de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "German_Germany.1252", "nl_NL.UTF-8")

# A job from its start to its trace, printed as a person and as a program reads it.
STEPS = (
    ("register", "raw", "--flight", "F1"),
    ("record", "flight", "F1", "--set", "base_height=1,480", "--set", "base_height_kind=vertical"),
    ("record", "out", "--set", "mount_mode=drone", "--set", "crs=EPSG:6346+5703"),
    ("audit", "out", "--all"),
    ("trace", "out/tile_0_0.las"),
    ("checks",),
    ("compare", "R1", "R1"),
)

# No line is broken, wherever the job lies and however long the name of its folder is.
WIDE = {"COLUMNS": "1000"}

# What a run says of its own moment and place.
_MOMENT = re.compile(
    r"\d{1,2} [A-Z][a-z]+ \d{4}|\d{4}-\d\d-\d\d(T| )?[\d:]*( UTC|Z)?|[\d.,]+ m?s\b"
    r"|\b[0-9a-f]{4,64}\b|(?<=\"seconds\": )[\d.]+"
)


def walk(base: Path, environment: Mapping[str, str], *options: str) -> str:
    """Carry out the steps in a job of its own, each in a process; return what was printed."""
    job = base / "job"
    told = []

    def run(folder: Path, *words: str) -> None:
        done = subprocess.run(
            [sys.executable, "-P", *options, "-m", "ledger.cli", *words],
            cwd=folder,
            env={**os.environ, **WIDE, "SWATHBOOK_HOME": str(base / "home"), **environment},
            capture_output=True,
            check=False,
        )
        assert done.returncode in (0, 1, 3), (words, done.stderr)
        told.append(done.stdout.decode("utf-8") + done.stderr.decode("utf-8"))

    run(base, "start", "job")
    SurveyBuilder(job / "out", Layout(compressed=False), Scene(density=0.5))
    (job / "raw").mkdir(exist_ok=True)
    (job / "raw" / "a.bin").write_bytes(b"points")
    for words in STEPS:
        run(job, *words)
        run(job, *words[:2], *words[2:], "--json")
    return _MOMENT.sub("…", "\n".join(told)).replace(str(base), "BASE")


@dataclass(frozen=True)
class Walked:
    """A job that was walked through, and what was printed."""

    base: Path
    said: str


@pytest.fixture(scope="module")
def plain(tmp_path_factory) -> Walked:
    """The job where the system has no language."""
    base = tmp_path_factory.mktemp("plain")
    return Walked(base, walk(base, {"LC_ALL": "C.UTF-8"}))


def speak_commas(folder: Path) -> dict[str, str]:
    """Return the environment of a language with decimal commas; empty where there is none.

    Where the system has none ready, one is made in a folder by the tool of its C library.
    """
    maker = shutil.which("localedef")
    for name in COMMAS:
        made = folder / name
        if maker is not None and "." in name:
            words = [maker, "-i", name.partition(".")[0], "-f", "UTF-8", str(made)]
            folder.mkdir(exist_ok=True)
            subprocess.run(words, capture_output=True, check=False)
        place = {"LOCPATH": str(folder)} if made.exists() else {}
        tried = {**os.environ, **place, "LC_ALL": name}
        asked = "import locale; locale.setlocale(locale.LC_ALL, ''); print(locale.str(1.5), end='')"
        done = subprocess.run(
            [sys.executable, "-c", asked], env=tried, capture_output=True, text=True, check=False
        )
        if done.stdout == "1,5":
            return {**place, "LC_ALL": name, "LANGUAGE": "de"}
    return {}


def test_decimal_commas_of_the_system_change_nothing(tmp_path, plain: Walked) -> None:
    """The same job gives the same screens and the same JSON, digit for digit."""
    commas = speak_commas(tmp_path / "locales")
    if not commas:
        pytest.skip("this system has no language with decimal commas")
    assert walk(tmp_path, commas) == plain.said


def test_nothing_asks_for_the_language_of_the_system() -> None:
    """No number, date or order is made by its rules: what could ask for them stands nowhere."""
    asks = []
    for path in SOURCES:
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = [*(each.name for each in node.names), getattr(node, "module", "") or ""]
                asks += [f"{path.name}: {name}" for name in names if name == "locale"]
            if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
                spec = ast.unparse(node.format_spec)
                asks += [f"{path.name}:{node.lineno}: {spec}" for _ in [0] if "n'" in spec]
            if isinstance(node, ast.Attribute) and node.attr in ("strftime", "strptime"):
                line = text.splitlines()[node.lineno - 1]
                asks += [f"{path.name}: {line}" for _ in [0] if re.search(r"%[aAbBcpxXZ]", line)]
    assert asks == []


def test_nothing_is_opened_in_the_encoding_of_the_system(tmp_path) -> None:
    """Python warns of every text that is opened without saying how it is stored (PEP 597).

    Our own modules have no such place on the way through a job; a warning would end the command.
    """
    code = (
        "import sys, warnings\n"
        "warnings.filterwarnings('error', category=EncodingWarning, "
        "module=r'(ledger|lidar_checks)(\\.|$)')\n"
        "from ledger.cli import main\n"
        "sys.exit(main(['demo', sys.argv[1]]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-X", "warn_default_encoding", "-c", code, str(tmp_path / "demo")],
        cwd=tmp_path,
        env={**os.environ, "SWATHBOOK_HOME": str(tmp_path / "home")},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr


@pytest.mark.skipif(os.name == "nt", reason="there the system speaks its own encoding anyway")
def test_a_system_that_speaks_another_encoding_stores_the_same(tmp_path, plain: Walked) -> None:
    """With ASCII as the encoding of files and streams, as a bare service has it, the book is alike.

    Signs that the stream cannot show are written another way, so only the entries are compared.
    """
    walk(tmp_path, {"LC_ALL": "POSIX", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"})
    stored = list_lasting(tmp_path / "job")
    assert stored == list_lasting(plain.base / "job")
    assert len(stored) > 4


def list_lasting(job: Path) -> list[tuple[str, dict[str, object]]]:
    """Return of each entry what is of the job and not of its moment or place."""
    with Book.open(job) as book:
        return [
            (entry.kind, {k: v for k, v in entry.values.items() if _is_lasting(k, v)})
            for entry in book.entries()
        ]


def _is_lasting(key: str, value: object) -> bool:
    return isinstance(value, str | int) and not re.search("time|seen|manifest|volume|outputs", key)
