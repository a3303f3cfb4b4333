"""The job walked from an empty folder by typing what is printed as the next thing, and no more.

What a person does by hand stands between: raw files are put in place, a program writes outputs, a
delivery is put together. Whatever a command or the bare command names next is then typed as it
stands, and has to be understood; where nothing is to be typed yet, it is said what has to happen.
"""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from job_bench import JobBench, Ran

from ledger.testing import Scene, SurveyBuilder

DONE = {0, 1, 3}  # a command that was understood and carried out, whatever it found


class Walker:
    """Types commands in a job and reads what each one names next."""

    def __init__(self, bench: JobBench) -> None:
        """Begin in a new job."""
        self.bench = bench

    def find_next(self) -> tuple[str, str]:
        """Return the next command of the bare command, and what has to happen before."""
        state = self.bench.ask()
        command = state["next"]
        when = next((row["when"] for row in state["state"] if row["next"] == command), "")
        return command, when if command else ""

    def follow(self, **said: str) -> Ran:
        """Type the next command as it stands, with words only where it leaves three dots."""
        command, _ = self.find_next()
        return self.type(command, **said)

    def type(self, command: str, **said: str) -> Ran:
        """Type a command; it has to be understood."""
        for place, text in said.items():
            command = f"{command} {shlex.join(['--set', f'{place}={text}'])}"
        program, *words = shlex.split(command)
        assert program == "swathbook"
        ran = self.bench.run(*words)
        assert ran.status in DONE, (command, ran.err)
        return ran

    def read_step(self, ran: Ran) -> str:
        """Return the command that the screen of another command names next."""
        found = re.findall(r"^Next: (swathbook .*?)(?:   .*)?$", ran.out, re.MULTILINE)
        return found[-1] if found else ""


@pytest.fixture
def walker(bench: JobBench) -> Walker:
    """Give a new job."""
    return Walker(bench)


def test_outside_a_job(bench: JobBench, tmp_path: Path) -> None:
    """Before there is a job, one is begun; in the folder round one, the way leads into it."""
    nowhere = tmp_path / "nowhere"
    nowhere.mkdir()
    ran = bench.run("--json", cwd=nowhere)
    assert json.loads(ran.out)["next"] == "swathbook start FOLDER"
    ran = bench.run("--json", cwd=tmp_path)
    assert json.loads(ran.out)["next"] == "cd job"


def test_start_leads_into_the_job(bench: JobBench, tmp_path: Path) -> None:
    """The folder is named as it has to be typed, and what is typed there afterwards."""
    ran = bench.run("start", "new pit", cwd=tmp_path)
    lines = ran.out.splitlines()
    assert any(line.startswith("Next: cd 'new pit'") for line in lines)
    assert any(line.startswith("Next: swathbook register raw --flight F1") for line in lines)


def test_the_job_from_an_empty_folder(walker: Walker, bench: JobBench) -> None:
    """Each printed step works as it stands, in the order of the work, to the end."""
    assert walker.find_next() == (
        "swathbook register raw --flight F1",
        "once what came off card, base and aircraft lies in raw",
    )
    bench.write("raw/cap p1.bin", b"capture")
    ran = walker.follow()
    assert walker.read_step(ran) == walker.find_next()[0] == "swathbook record rig"
    ran = walker.follow(scanner_serial="SU-07")
    assert walker.read_step(ran) == walker.find_next()[0] == "swathbook record flight F1"
    ran = walker.follow(mount_mode="drone", rig="g1")
    assert walker.read_step(ran) == "swathbook record"
    assert walker.find_next() == ("swathbook record", "once something is processed into out")

    SurveyBuilder(bench.job / "out" / "R1", scene=Scene(columns=2, density=1.0))
    ran = walker.follow(software="demo-proc")
    assert walker.read_step(ran) == "swathbook record decision R1 accepted"
    ran = walker.follow()
    assert walker.read_step(ran) == walker.find_next()[0] == "swathbook audit out/R1"

    delivery = bench.job / "for the client"
    shutil.copytree(bench.job / "out" / "R1", delivery)
    assert walker.find_next()[0] == f"swathbook audit {shlex.quote(delivery.name)}"
    ran = walker.follow()
    step = walker.read_step(ran)
    assert step == walker.find_next()[0]
    assert step.startswith(("swathbook audit ", "swathbook accept "))


def test_a_tile_from_nowhere_is_recorded_by_its_path(walker: Walker, bench: JobBench) -> None:
    """What the audit and the bare command print for an orphan records that very file."""
    bench.write("raw/a.bin", b"a")
    walker.type("swathbook register raw --flight F1")
    SurveyBuilder(bench.job / "out" / "R1", scene=Scene(columns=2, density=1.0))
    walker.type("swathbook record out/R1 --set decision=accepted")
    place = bench.job / "to send" / "final (2)"
    SurveyBuilder(place, scene=Scene(columns=1, density=2.0))
    ran = walker.type("swathbook audit 'to send/final (2)'")
    (tile,) = sorted(path.name for path in place.iterdir())
    typed = f"swathbook record 'to send/final (2)/{tile}'"
    assert f"({typed})" in " ".join(ran.out.split())
    assert walker.find_next()[0] == typed
    walker.follow(decision="accepted")
    assert typed not in walker.find_next()[0]
    assert bench.ask()["unexplained"] == []


def test_a_flipped_bit_leads_back_to_the_file(walker: Walker, bench: JobBench) -> None:
    """After a bad recheck the next thing is that file, until its good bytes are back."""
    raw = bench.write("raw/a.bin", b"good")
    walker.type("swathbook register raw --flight F1")
    raw.write_bytes(b"baad")
    assert walker.type("swathbook recheck").status == 1
    assert walker.find_next() == (
        "swathbook recheck raw/a.bin",
        "once the good bytes are back in place",
    )
    raw.write_bytes(b"good")
    assert walker.follow().status == 0
    assert walker.find_next()[0] == "swathbook record rig"


def test_an_acceptance_needs_words_of_a_person(walker: Walker, bench: JobBench) -> None:
    """The three dots of a printed command are no reason: typed as they stand they are refused."""
    ran = bench.run("accept", "abcd1234", "--by", "site engineer", "--reason", "…")
    assert ran.status == 2
    assert "the reason is blank" in ran.err
