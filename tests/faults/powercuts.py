"""Power that goes away: what was not waited for is lost, cut short or written in another order.

    python tests/faults/powercuts.py [--kind register]… [--cuts 5] [--seed 1]

writes down every write of a command with `strace`, those of SQLite among them, and every wait for
the medium. Then the power goes before and after each of those waits, and in between: from what a
strict file system owes at that instant, folders are laid as a computer might find them. It owes
the content of a file once that file was waited for, and a name once its folder was; of all else it
may have written any part, in sectors, in any order. Each folder is then opened again: the book
has to be unbroken, hold every entry that had been told by then, hold nothing by halves, and take
the next; a copy under its name has to be whole, and there once it was told of.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from judging import make_words
from kills import KINDS, Bench, keep_figures, read_entry
from nursery import Nursery
from refusals import Refusing

from ledger.store.machine import HOME_VARIABLE

SECTOR = 512
_TRACED = "openat,write,pwrite64,ftruncate,rename,unlink,mkdir,fsync,fdatasync"
_LINE = re.compile(r"^(\d+) +(.*)$", re.DOTALL)
_CALL = re.compile(r"^(\w+)\((.*)\) += (-?\d+)(?:<(.*)>)?", re.DOTALL)
_RESUMED = re.compile(r"^<\.\.\. \w+ resumed>")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_FILE = re.compile(r"^(\d+)<([^>]*)>")
_ANSWER = ".out"
_SHARES = (0.0, 0.5, 1.0, 0.3, 0.8)  # of what was on its way, what arrives
_TELLING = ("rename", "unlink", "ftruncate")  # what makes an entry or a file count


@dataclass(frozen=True)
class Event:
    """One thing that a command asked of the system.

    Args:
        call: name of the call.
        paths: what it was for.
        data: bytes that were written.
        number: offset or length, bytes; −1 for none.
    """

    call: str
    paths: tuple[str, ...]
    data: bytes = b""
    number: int = -1


@dataclass
class Inode:
    """A file: what is on the medium, and what is on its way.

    Args:
        kept: content that was waited for.
        seen: content as programs see it.
        pending: writes on their way: offset and bytes, or a length and None.
    """

    kept: bytes = b""
    seen: bytes = b""
    pending: list[tuple[int, bytes | None]] = field(default_factory=list)

    def write(self, start: int, data: bytes | None) -> None:
        """Write bytes, or cut at a length."""
        self.pending.append((start, data))
        self.seen = apply(self.seen, start, data)

    def wait(self) -> None:
        """Bring everything to the medium."""
        self.kept = self.seen
        self.pending.clear()

    def find_after_cut(self, dice: random.Random, share: float) -> bytes:
        """Return what the medium holds once the power went.

        Args:
            dice: what decides.
            share: of what was on its way, the part that arrives.
        """
        content = self.kept
        arriving = [each for each in self.pending if dice.random() < share]
        if 0 < share < 1:
            dice.shuffle(arriving)
        for start, data in arriving:
            torn = data is not None and len(data) > SECTOR and 0 < share < 1
            if data is None or not torn:
                content = apply(content, start, data)
                continue
            for place in range(0, len(data), SECTOR):
                if dice.random() < share:
                    content = apply(content, start + place, data[place : place + SECTOR])
        return content


def apply(content: bytes, start: int, data: bytes | None) -> bytes:
    """Return content with bytes written at a place, or cut or filled up to a length."""
    if data is None:
        return content[:start].ljust(start, b"\0")
    return content[:start].ljust(start, b"\0") + data + content[start + len(data) :]


class Medium:
    """The folders of a user as a strict file system has them on the medium and on its way."""

    def __init__(self, roots: list[Path]) -> None:
        """Take everything that lies in some folders as being on the medium."""
        self.kept: dict[str, Inode | None] = {}
        for root in roots:
            for path in (root, *root.rglob("*")):
                content = None if path.is_dir() else path.read_bytes()
                self.kept[str(path)] = None if content is None else Inode(content, content)
        self.seen = dict(self.kept)
        self.pending: list[tuple[str, Inode | None, bool]] = []
        self._positions: dict[str, int] = {}

    def take(self, event: Event) -> None:
        """Let an event happen."""
        path = event.paths[0]
        if event.call in ("fsync", "fdatasync"):
            self._wait(path)
        elif event.call in ("openat", "mkdir", "unlink", "rename"):
            self._change_names(event, path)
        elif (inode := self.seen.get(path)) is not None:
            self._write(event, path, inode)

    def _change_names(self, event: Event, path: str) -> None:
        inode = self.seen.get(path)
        if event.call == "openat":
            self._positions[path] = 0
            if path not in self.seen:
                self._name(path, Inode())
        elif event.call == "mkdir":
            self._name(path, None)
        else:
            self._unname(path)
            if event.call == "rename":
                self._name(event.paths[1], inode)

    def _write(self, event: Event, path: str, inode: Inode) -> None:
        if event.call == "write":
            start = self._positions.get(path, 0)
            self._positions[path] = start + len(event.data)
            inode.write(start, event.data)
        elif event.call == "pwrite64":
            inode.write(event.number, event.data)
        elif event.call == "ftruncate":
            inode.write(event.number, None)
        elif inode.seen:  # opened to be written anew
            inode.write(0, None)

    def _name(self, path: str, inode: Inode | None) -> None:
        self.seen[path] = inode
        self.pending.append((path, inode, True))

    def _unname(self, path: str) -> None:
        if path in self.seen:
            self.pending.append((path, self.seen.pop(path), False))

    def _wait(self, path: str) -> None:
        inode = self.seen.get(path)
        if inode is not None:
            inode.wait()
            return
        for name, found, is_there in self.pending:
            if _find_folder(name) == path:
                self._keep(self.kept, name, found, is_there=is_there)
        self.pending = [each for each in self.pending if _find_folder(each[0]) != path]

    @staticmethod
    def _keep(
        names: dict[str, Inode | None], name: str, found: Inode | None, *, is_there: bool
    ) -> None:
        if is_there:
            names[name] = found
        else:
            names.pop(name, None)

    def lay(self, dice: random.Random, share: float, place: dict[str, Path]) -> None:
        """Lay folders as they may be found after a cut.

        Args:
            dice: what decides.
            share: of what was on its way, the part that arrives.
            place: where each root is laid.
        """
        names = dict(self.kept)
        for name, found, is_there in self.pending:
            if dice.random() < share:
                self._keep(names, name, found, is_there=is_there)
        for name in sorted(names):
            root = next(each for each in place if name == each or name.startswith(f"{each}/"))
            target = place[root] / name[len(root) :].lstrip("/")
            inode = names[name]
            if inode is None:
                if target.parent.is_dir() or name == root:
                    target.mkdir(exist_ok=True)
            elif target.parent.is_dir():  # a folder whose name was lost takes its files along
                target.write_bytes(inode.find_after_cut(dice, share))


def _find_folder(name: str) -> str:
    return name.rpartition("/")[0]


def read_events(lines: list[str]) -> Iterator[Event]:
    """Yield what was asked of the system, in the order in which it was answered."""
    waiting: dict[str, str] = {}
    for line in lines:
        if (parts := _LINE.match(line)) is None:
            continue
        thread, text = parts.groups()
        if text.endswith("<unfinished ...>"):
            waiting[thread] = text.removesuffix("<unfinished ...>")
            continue
        if (resumed := _RESUMED.match(text)) is not None:
            text = waiting.pop(thread, "") + text[resumed.end() :].lstrip()
        found = _CALL.match(text)
        if found is not None and not found[3].startswith("-"):
            yield from _read_call(found[1], found[2], found[4] or "")


def _read_call(call: str, given: str, opened: str) -> Iterator[Event]:
    texts = [bytes.fromhex(text.replace("\\x", "")) for text in _TEXT.findall(given)]
    opened = _read_path(opened)
    if call == "openat":
        if "O_CREAT" in given or "O_TRUNC" in given or "O_APPEND" in given:
            yield Event("openat", (opened,))
        if "O_TRUNC" in given:
            yield Event("truncated", (opened,))
        return
    if call in ("rename", "unlink", "mkdir"):
        yield Event(call, tuple(text.decode() for text in texts))
        return
    if (file := _FILE.match(given)) is None:
        return
    path = _read_path(file[2])
    number = int(given.rsplit(",", 1)[1]) if call in ("pwrite64", "ftruncate") else 0
    yield Event(call, (path,), texts[0] if texts else b"", number)


def _read_path(text: str) -> str:
    """Return a path as it is; everything is written in hex."""
    is_hex = text.startswith("\\x")
    return bytes.fromhex(text.replace("\\x", "")).decode() if is_hex else text


@dataclass
class Tally:
    """What came of all cuts.

    Args:
        cuts: folders that were opened after a cut, by command.
        waits: waits for the medium, by command.
        faults: what did not hold.
    """

    cuts: Counter[str] = field(default_factory=Counter)
    waits: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def cut_all(
    base: Path, kinds: tuple[str, ...], cuts: int, seed: int, figures: Path | None = None
) -> Tally:
    """Let the power go at every wait of every command.

    Args:
        base: an empty folder.
        kinds: commands.
        cuts: folders laid at each instant.
        seed: what the dice begin with.
        figures: file that the figures are kept in; None for none.
    """
    for name in ("streams", "scratch", "bench"):
        (base / name).mkdir()
    tally, dice = Tally(), random.Random(seed)
    with Nursery(base / "streams") as nursery:
        bench = Bench(base / "bench", dice)
        for kind in kinds:
            _cut(bench, kind, Refusing(bench, nursery, base / "scratch"), cuts, dice, tally)
            keep_figures(figures, tally)
        bench.clear()
    return tally


def _cut(
    bench: Bench, kind: str, watched: Refusing, cuts: int, dice: random.Random, tally: Tally
) -> None:
    """Watch one command, then let the power go at each of its waits."""
    watched.lay_anew()
    words = make_words(bench, kind)
    medium = Medium([bench.job, bench.drive])
    ended = watched.run(words, "-xx", "-s", str(1 << 24), "-e", f"trace={_TRACED}")
    if ended.status == 2:
        return
    told = None
    for event in read_events(watched.read_log()):
        ours = event.paths[0].startswith((f"{bench.job}", f"{bench.drive}"))
        if event.call == "write" and event.paths[0].endswith(_ANSWER):
            told = read_entry(ended.out)
        waits = ours and event.call in ("fsync", "fdatasync")
        tally.waits[kind] += waits
        if waits or (ours and event.call in _TELLING):
            _open_again(bench, kind, medium, told, (cuts, dice, tally))
        if ours:
            medium.take(event)
        if waits:
            _open_again(bench, kind, medium, told, (cuts, dice, tally))
    _open_again(bench, kind, medium, read_entry(ended.out), (cuts, dice, tally))


def _open_again(
    bench: Bench,
    kind: str,
    medium: Medium,
    told: int | None,
    how: tuple[int, random.Random, Tally],
) -> None:
    """Lay what a cut may leave, several times, and look at each."""
    cuts, dice, tally = how
    for _ in range(cuts):
        share = _SHARES[tally.cuts[kind] % len(_SHARES)]
        tally.cuts[kind] += 1
        with tempfile.TemporaryDirectory(dir=bench.base) as name:
            place = {str(bench.job): Path(name) / "job", str(bench.drive): Path(name) / "drive"}
            medium.lay(dice, share, place)
            found = _look(bench, place, told)
        where = f"{kind}, cut {tally.cuts[kind]} after {tally.waits[kind]} waits, share {share}"
        tally.faults += [f"{where}: {fault}" for fault in found]


def _look(bench: Bench, place: dict[str, Path], told: int | None) -> list[str]:
    """Return what does not hold in folders that were found after a cut."""
    after = bench.moved(*place.values())
    faults = after.list_faults(told)
    if told is not None:
        wanted = [path for path in bench.fixed if path.name.startswith("more_")]
        there = {path.name for path in after.drive.rglob("more_*.bin")}
        on_drive = any(bench.drive.rglob("more_*.bin"))
        faults += [
            f"the copy {path.name} was told of and is gone"
            for path in wanted
            if on_drive and path.name not in there
        ]
    return faults


def describe(tally: Tally) -> Iterator[str]:
    """Yield the figures, a line each."""
    yield f"waits for the medium: {dict(tally.waits)}"
    yield f"folders opened after a cut: {dict(tally.cuts)}"
    yield from tally.faults or ["everything held"]


def _main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", action="append", choices=KINDS, default=[])
    parser.add_argument("--cuts", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--figures", type=Path, help="file that the figures are kept in")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        os.environ[HOME_VARIABLE] = str(Path(name) / "home")
        kinds = tuple(options.kind) or KINDS
        tally = cut_all(Path(name), kinds, options.cuts, options.seed, options.figures)
    sys.stdout.write("\n".join(describe(tally)) + "\n")
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(_main())
