"""Writes docs/reference/faults.md anew: `python tests/faults/page.py [--hours 2]`.

It runs each long mode for its share of the time. With `--figures FOLDER` the page is made from the
figures that they kept there, whatever ran before; each says on which day.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
PAGE = HERE.parents[1] / "docs" / "reference" / "faults.md"
Figures = Mapping[str, Any]

_HEAD = """\
<!-- Written by tests/faults/page.py; do not edit. -->

# Faults that were provoked

What was done to the program on purpose, how often, and what came of it. `python
tests/faults/page.py` does all of it again and writes this page anew; it needs Linux, `strace`
for two of the parts, and for small disks a user who may mount them. A short mode of every part
runs with the tests.

What has to hold after each: a refusal is one line of ours and status 2, never a traceback; the
book is unbroken; it holds every entry that a command told of, and nothing by halves; a copy under
its name is whole; no raw or delivered file is other than it was; the next command works.
"""

_KILLS = """\
## Killed

Commands that get SIGKILL at random instants: half of them anywhere in their work, by the processor
time that they took, and half while a write goes to the file. Each runs in a process of its own,
forked from one that has loaded the program, so that every kill falls into its work.
"""

_REFUSALS = """\
## Refused

`strace` refuses one call of the system in the running command: of each kind the first, the second,
and so on, those inside SQLite among them, in an order thrown with dice. Only calls for the user's
files count, and of calls that are alike, such as opening one file again and again, the first and
the second. A command that ends with 2 after its entry was stored has to name that entry. A write
that takes less than it was given cannot be made so: it is made from inside Python in the short
mode, for our own files, and by a limit of length below, for those of SQLite.
"""

_FULLDISK = """\
## Full disks

Each command is typed again and again, each time with 4 KiB more of room, until it gets through: on
a small disk in memory, on one of ext4, and with a limit of the length of any file. What runs full
is the job's disk, with the user's own folder on it, or the drive that is copied to. While there is
no room things can be looked up; then room is made, and the next command works.
"""

_POWERCUTS = """\
## Power cuts

Every write, rename and wait for the medium of a command is written down with `strace`, and the
power goes before and after each wait, and before each rename, cut and removal. The file system
that is assumed owes the content of a file once that file was waited for, and a name once its
folder was; of all else any part may be there, in sectors of 512 bytes, in any order.
"""

_FUZZ = """\
## Bytes nobody can trust

Readers are fed with altered files, and whole commands with altered jobs, each target in processes
of its own. A fault is whatever is neither an answer nor an error of ours, more than 5 s of
processor time, or more than 512 MiB resident. Where a format has a form, seven of ten inputs keep
it and say something else: values of TOML and JSON change their kind and size, books are worked on
with SQL, digests and trees are computed anew. Inputs that failed are kept in `tests/faults/found/`,
and every run of the tests feeds them.
"""


def write_page(kept: Path) -> str:
    """Return the page.

    Args:
        kept: folder with the figures of each long mode, `kills.json` and so on.
    """
    parts = [_HEAD]
    for name, make in _PARTS.items():
        place = kept / f"{name}.json"
        if place.exists():
            figures = json.loads(place.read_text(encoding="utf-8"))
            parts.append("\n".join(make(figures)) + "\n")
    return "\n".join(parts)


def _tell_kills(found: Figures) -> Iterator[str]:
    total, ended = sum(found["killed"].values()), sum(found["ended"].values())
    yield _KILLS
    rate = total / found["seconds"]
    yield f"{total:,} kills, {rate:.1f} a second with all that is looked at after each:"
    yield f"{_join(found['killed'])}."
    yield f"{found['writing']:,} of them in the middle of a write of the book."
    yield f"{ended:,} commands ended before they could be killed."
    yield _tell_faults(found)


def _tell_refusals(found: Figures) -> Iterator[str]:
    total, tried = sum(found["refused"].values()), len(found["done"])
    yield _REFUSALS
    yield f"{tried:,} of {found['there']:,} such calls were tried. {tried - total:,} of those were"
    yield f"met by no call then; {total:,} were refused: {_join(found['refused'])}."
    yield _tell_faults(found)
    yield "\n| call and error | refused |\n| --- | --- |"
    yield from (f"| {call} | {found['sites'][call]:,} |" for call in sorted(found["sites"]))
    yield f"\nCommands by their status: {_join(dict(sorted(found['outcome'].items())))}."
    yield "Those with 0, 1 or 3 went on without what was refused, and were right."
    yield f"{found['entered']:,} ended with 2 although their entry is in the book, and said so."


def _tell_fulldisk(found: Figures) -> Iterator[str]:
    yield _FULLDISK
    total = sum(found["ways"].values())
    yield f"{total:,} commands with too little room, or just enough: {_join(found['ways'])}."
    yield f"By their status: {_join(dict(sorted(found['outcome'].items())))}."
    yield _tell_faults(found)


def _tell_powercuts(found: Figures) -> Iterator[str]:
    yield _POWERCUTS
    yield f"{sum(found['waits'].values()):,} waits: {_join(found['waits'])}."
    yield f"{sum(found['cuts'].values()):,} folders as they may be found were opened again."
    yield _tell_faults(found)


def _tell_fuzz(found: Figures) -> Iterator[str]:
    targets = found["targets"]
    total, guided = (sum(each[what] for each in targets.values()) for what in ("inputs", "guided"))
    seconds = sum(each["seconds"] for each in targets.values())
    yield _FUZZ
    yield "The faults in the table are those that were met; all of them are mended since.\n"
    yield f"{total:,} inputs, {total / seconds:,.0f} a second ({found['day']}); {guided:,} of them"
    yield "were altered by what they cover, with atheris, the others blindly.\n"
    yield "| target | inputs | guided | a second | slowest, s | peak, MiB | faults |"
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    for name, each in targets.items():
        rate = each["inputs"] / each["seconds"] if each["seconds"] else 0
        faults = ", ".join(f"`{fault}` × {times:,}" for fault, times in each["faults"].items())
        yield (
            f"| {name} | {each['inputs']:,} | {each['guided']:,} | {rate:.0f} "
            f"| {each['slowest_s']:.2f} | {each['peak_bytes'] >> 20} | {faults or 'none'} |"
        )


def _tell_faults(found: Figures) -> str:
    faults = found["faults"]
    told = "Everything held" if not faults else f"{len(faults)} did not hold"
    rows = "".join(f"\n- {fault}" for fault in faults)
    return f"{told} ({found['day']}, {found['cores']} cores).{rows}"


def _join(counts: Mapping[str, int]) -> str:
    return ", ".join(f"{name} {times:,}" for name, times in counts.items())


_PARTS = {
    "kills": _tell_kills,
    "refusals": _tell_refusals,
    "fulldisk": _tell_fulldisk,
    "powercuts": _tell_powercuts,
    "fuzz": _tell_fuzz,
}


def measure(kept: Path, hours: float) -> None:
    """Run the long modes, each for its share of the time at most."""
    share = hours * 3600 / len(_PARTS)
    for name in _PARTS:
        words = [sys.executable, str(HERE / f"{name}.py"), "--figures", str(kept / f"{name}.json")]
        if name == "fuzz":
            words += ["--minutes", f"{share / 60:.1f}", "--keep", str(kept / "fuzzed")]
        try:
            subprocess.run(words, check=False, timeout=share + 300)
        except subprocess.TimeoutExpired:
            sys.stdout.write(f"\n{name}: its time is over; what it reached is kept\n")


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=2.0)
    parser.add_argument("--figures", type=Path)
    options = parser.parse_args()
    if options.figures is not None:
        PAGE.write_text(write_page(options.figures), encoding="utf-8")
        return 0
    with tempfile.TemporaryDirectory() as name:
        measure(Path(name), options.hours)
        PAGE.write_text(write_page(Path(name)), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(_main())
