"""Every command that README and the guide show is carried out, in the order of the page."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from generate import ROOT
from job_bench import Ran, run_here
from terminal import Terminal

from ledger.cli.frame import swathbook
from ledger.cli.group import load_command
from ledger.cli.record import KINDS
from ledger.cli.table import COMMANDS
from ledger.model.verdict import EXIT_STATUS, Verdict
from ledger.testing import Layout, Scene, SurveyBuilder

README = ROOT / "README.md"
GUIDE = ROOT / "docs" / "guide" / "the-job.md"
REAL = ROOT / "tests" / "real"

# Commands that ask, with what is typed at the first question; a card of blanks is not taken.
ASKING = {
    ("record",): "",
    ("record", "rig"): "SU-07",
    ("record", "flight", "F1"): "",
    ("record", "statement"): "R1",
}

_BLOCK = re.compile(r"```sh\n(.*?)```", re.DOTALL)
_SPAN = re.compile(r"`((?:swathbook|cd) [^`]+)`")
# Lines for the system's own shell; what they do is held by the tests of every commit.
_OTHERS = ("python3", "pip", "py ", ".venv", ".ci", "#")


def list_lines(page: Path) -> list[str]:
    """Return the command lines of a page in the order in which they stand there."""
    text = page.read_text(encoding="utf-8")
    found = [
        (match.start(), line)
        for match in _BLOCK.finditer(text)
        for line in match[1].splitlines()
        if line and not line.startswith(_OTHERS)
    ]
    found += [(match.start(), match[1]) for match in _SPAN.finditer(text)]
    return [line for _, line in sorted(found, key=lambda each: each[0])]


def list_pages() -> list[Path]:
    """Return the pages on which people type commands."""
    folders = ("guide", "plugin-author", "decisions")
    pages = [page for folder in folders for page in sorted((ROOT / "docs" / folder).glob("*.md"))]
    return [README, ROOT / "DEVELOPERS.md", *pages]


class Walk:
    """A job below a folder of the test, to which files come as the page says that they do."""

    def __init__(self, folder: Path) -> None:
        """Stand in the folder where the jobs lie."""
        self.place = folder

    def do(self, line: str) -> Ran:
        """Carry out one line."""
        words = shlex.split(line, comments=True)
        if words[0] == "cd":
            self.place /= words[1]
            return Ran(0, "", "")
        self._prepare(words[1:])
        words = [word.replace("…", "as agreed") for word in words[1:]]
        words = [self._find_minor() if word == "ID" else word for word in words]
        if tuple(words) in ASKING:
            terminal = Terminal(self.place, *words)
            status = terminal.press_enter_until_it_ends(ASKING[tuple(words)])
            return Ran(status, terminal.shown, "")
        return run_here(words, self.place)

    def _prepare(self, words: list[str]) -> None:
        """Put there what a person has by this time."""
        match words:
            case ["register", "geoid"]:
                (self.place / "geoid").mkdir(exist_ok=True)
                shutil.copy(REAL / "test_nodata.gtx", self.place / "geoid")
            case ["register", *_]:
                for name in ("TrimbleR2SampleData.txt", "demo.10o"):
                    shutil.copy(REAL / name, self.place / "raw")
                (self.place / "raw" / "scan.bin").write_bytes(b"raw points")
            case ["record"]:
                self._build("out")
            case ["record", "step", *_]:
                self._build("out/S1")
            case ["record", "out/first-try", *_]:
                self._build("out/first-try")
            case ["audit", "deliver"]:
                self._deliver()
            case ["compare"] | ["compare", "R1", *_]:
                self._build("out/again")
                assert (
                    run_here(["record", "out/again", "--set", "version=2"], self.place).status == 0
                )
            case ["trace", "tile_14.laz"]:
                shutil.copy(self.place / "deliver" / "tile_14.laz", self.place)

    def _build(self, folder: str) -> SurveyBuilder:
        seed = len(folder)
        return SurveyBuilder(self.place / folder, Layout(), Scene(seed=seed))

    def _deliver(self) -> None:
        (self.place / "deliver").mkdir(exist_ok=True)
        for number, path in enumerate(sorted((self.place / "out").glob("*.laz"))):
            shutil.copy(path, self.place / "deliver" / f"tile_{14 + number}.laz")
        # A tile that nobody recorded: a finding that may be taken.
        other = self._build("aside").drop_points(0)
        shutil.copy(other.path(0), self.place / "deliver" / "tile_99.laz")

    def _find_minor(self) -> str:
        told = json.loads(run_here(["audit", "deliver", "--json"], self.place).out)
        return next(str(f["id"]) for f in told["findings"] if f["grade"] == "minor")


@pytest.mark.parametrize("page", [README, GUIDE], ids=lambda page: page.stem)
def test_commands_of_a_page_do_what_it_says(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A person who types the page from top to bottom gets to its end."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    (tmp_path / "jobs").mkdir()
    walk = Walk(tmp_path / "jobs")
    lines = list_lines(page)
    assert len(lines) > 10
    for line in lines:
        ran = walk.do(line)
        expected = set(EXIT_STATUS.values()) if " audit " in f"{line} " else {0}
        expected |= {1} if " handover " in f"{line} " else set()  # as its audit allows
        assert ran.status in expected, (line, ran)
        assert ran.err == "", (line, ran.err)


def list_shown() -> Iterator[tuple[str, list[str]]]:
    """Yield every shown command line of every page, with the page."""
    for page in list_pages():
        for line in list_lines(page):
            if line.startswith("swathbook "):
                yield str(page.relative_to(ROOT)), shlex.split(line, comments=True)[1:]


def test_every_shown_command_and_option_exists() -> None:
    """No page shows a command or an option that is not there."""
    common = {option for each in swathbook.params for option in each.opts}
    unknown = []
    for page, words in list_shown():
        if words[0] not in COMMANDS:
            unknown.append(f"{page}: {words[0]}")
            continue
        kind = KINDS.get("".join(words[1:2])) if words[0] == "record" else None
        command = load_command(kind or COMMANDS[words[0]][0])
        known = {option for each in command.params for option in each.opts} | common
        own = words[: words.index("--")] if "--" in words else words  # what follows is not ours
        unknown += [f"{page}: {word}" for word in own if word[:2] == "--" and word not in known]
    assert unknown == []


def test_the_table_of_verdicts_is_that_of_the_code() -> None:
    """The guide tells each verdict with its exit status."""
    rows = re.findall(r"^\| ([a-z ]+) \| [^|]+ \| (\d) \|$", GUIDE.read_text("utf-8"), re.MULTILINE)
    assert {Verdict(name): int(status) for name, status in rows} == EXIT_STATUS
