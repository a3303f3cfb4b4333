"""A clean folder in which a recorded command is run again: copies of its inputs, nothing else.

Invariants:

- A command never meets the recorded inputs or the outputs of the first run: inputs are copied, each
  read back and held against its recorded digest, and paths into the job lead into the folder.
- A command that names a place of the first run which cannot be led elsewhere is refused.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import field
from pathlib import Path

from ledger.copying import Copy, copy_verified
from ledger.dataclass import dataclass
from ledger.errors import ChangedFileError, UnwritableFileError, UsageError
from ledger.jobfolder import find_places, make_scratch
from ledger.model.ask import Progress
from ledger.model.filename import find_path
from ledger.model.process import Process
from ledger.outgoing import is_inside, require_apart
from ledger.repeat.readiness import find_place
from ledger.repeat.result import Sheet
from ledger.settings.secrets import TAKEN_OUT
from ledger.store.reading import Book
from ledger.walk import list_files

_OUTSIDE = "inputs-from-elsewhere"


@dataclass
class CleanFolder:
    """The folder, and what is in it before the command runs.

    Attributes:
        root: stands for the job folder.
        cwd: folder to run the command in.
        words: the command, its paths led into the folder.
        copied: copies, each with size and time.
        unrecorded: files that the command names and that are no recorded input, as in the book.
        is_ours: it lies in the scratch folder, and is no folder that somebody named.
    """

    root: Path
    cwd: Path
    words: tuple[str, ...] = ()
    copied: dict[Path, tuple[int, int]] = field(default_factory=dict)
    unrecorded: tuple[str, ...] = ()
    is_ours: bool = False

    def list_written(self) -> list[Path]:
        """Return the files that were not there before, or are others now."""
        found = list_files([self.root])
        return [path for path in found if _stamp(path) != self.copied.get(path)]

    def drop(self) -> None:
        """Remove the folder with all that is in it, where it is ours."""
        if self.is_ours:
            shutil.rmtree(self.root, ignore_errors=True)

    def drop_copies(self) -> None:
        """Remove the copies that the command left alone: their bytes lie elsewhere."""
        for path, stamp in self.copied.items():
            if os.path.lexists(path) and _stamp(path) == stamp:
                path.unlink()


def prepare(
    book: Book, process: Process, sheet: Sheet, into: Path | None, progress: Progress
) -> CleanFolder:
    """Make the folder and copy the recorded inputs into it.

    Args:
        book: an open book.
        process: the run.
        sheet: its settings, with the command.
        into: a folder of the user's, empty or not there yet; None for one in `.swathbook/`.
        progress: told the bytes copied.

    Raises:
        UsageError: the command cannot be repeated so.
        FileError: an input is not what was recorded, or cannot be copied.
    """
    words = _read_words(sheet)
    root = _make_root(book, process, into)
    try:
        return _fill(book, process, sheet, root, words, progress, is_ours=into is None)
    except BaseException:
        shutil.rmtree(root, ignore_errors=True)  # it was empty: all in it are copies of ours
        raise


def _fill(  # noqa: PLR0913, PLR0917 - what is run, where, on what
    book: Book,
    process: Process,
    sheet: Sheet,
    root: Path,
    words: Sequence[str],
    progress: Progress,
    *,
    is_ours: bool,
) -> CleanFolder:
    """Copy what the command needs, and lead its words into the folder."""
    job = book.folder
    original = job / sheet.folder
    inside = original.is_relative_to(job)
    cwd = root / (original.relative_to(job) if inside else _OUTSIDE)
    clean = CleanFolder(root, cwd, is_ours=is_ours)
    clean.cwd.mkdir(parents=True, exist_ok=True)
    outputs = [find_path(each.file.path, each.file.path_bytes, job) for each in process.outputs]
    moved = _copy_inputs(book, sheet, clean, progress)
    for output in outputs:
        if output.is_relative_to(job):
            (root / output.relative_to(job)).parent.mkdir(parents=True, exist_ok=True)
    mover = _Mover(job, original, root, moved, outputs)
    clean.words = (words[0], *(mover.move(word) for word in words[1:]))
    named = [path for word in words for path in mover.find_named(word)]
    clean.unrecorded = tuple(_copy_named(named, job, clean, progress))
    program = original / words[0]
    if not Path(words[0]).is_absolute() and "/" in words[0].replace("\\", "/"):
        if program.is_relative_to(job) and inside:
            clean.words = (str(clean.root / program.relative_to(job)), *clean.words[1:])
        else:
            clean.words = (str(program), *clean.words[1:])
    return clean


def _read_words(sheet: Sheet) -> list[str]:
    if TAKEN_OUT in sheet.command:
        raise UsageError(
            "a secret was taken out of the command, so that it cannot be run from the book",
            found=sheet.command,
            remedy=f"run it by hand elsewhere, then: swathbook repeat {sheet.run} --with FOLDER",
        )
    return shlex.split(sheet.command)


def _make_root(book: Book, process: Process, into: Path | None) -> Path:
    """Return an empty folder.

    Raises:
        UsageError: the folder holds something, or lies where nothing may be written.
        UnwritableFileError: the system refuses to make it.
    """
    try:
        if into is None:
            root = _make_room(make_scratch(book.folder), process.id)
        else:
            root = Path(os.path.abspath(into))  # noqa: PTH100 - links stay links
            require_apart(book, root)
            if is_inside(root, find_places(book.folder).out):
                raise UsageError(
                    "nothing is repeated among the outputs",
                    where=str(root),
                    remedy="name another folder",
                )
            if os.path.lexists(root) and (not root.is_dir() or any(root.iterdir())):
                raise UsageError(
                    "the folder is not empty", where=str(root), remedy="name another one"
                )
        root.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnwritableFileError(
            "the folder cannot be made", found=error.strerror or str(error), where=str(into)
        ) from error
    return root


def _make_room(scratch: Path, run: str) -> Path:
    """Return a new name in the scratch folder; what earlier repeats of this run left goes.

    Each was graded and entered, or stopped; what somebody wants to keep is written elsewhere.
    """
    earlier = sorted(int(found[1]) for found in _list_numbers(scratch, run))
    for number in earlier:
        shutil.rmtree(scratch / f"repeat-{run}-{number}", ignore_errors=True)
    return scratch / f"repeat-{run}-{(earlier or [0])[-1] + 1}"


def _list_numbers(scratch: Path, run: str) -> Iterator[re.Match[str]]:
    for path in scratch.iterdir():
        found = re.fullmatch(rf"repeat-{re.escape(run)}-(\d+)", path.name)
        if found is not None:
            yield found


def _copy_inputs(
    book: Book, sheet: Sheet, clean: CleanFolder, progress: Progress
) -> dict[Path, Path]:
    """Copy every recorded input and return where those from outside the job lie now.

    Raises:
        UsageError: an input is no longer there.
        FileError: it has other bytes, or cannot be copied.
    """
    moved: dict[Path, Path] = {}
    for number, used in enumerate(sheet.inputs):
        source = find_place(book, used.sha256, used.path)
        if source is None:
            raise UsageError(
                "an input of the run is no longer where it was seen",
                where=used.path,
                remedy="put it back, or say where it is: swathbook register",
            )
        wanted = book.folder / used.path
        if wanted.is_relative_to(book.folder):
            target = clean.root / wanted.relative_to(book.folder)
        else:
            target = clean.root / _OUTSIDE / str(number) / wanted.name
            moved[wanted] = target
        digest = _copy(source, target, clean, progress)
        if digest != used.sha256:
            raise ChangedFileError(
                "an input of the run has other bytes than were recorded",
                found=f"sha256 {digest[:12]}…",
                expected=f"{used.sha256[:12]}…",
                where=str(source),
                remedy="swathbook recheck says where its bytes lie",
            )
    return moved


def _copy(source: Path, target: Path, clean: CleanFolder, progress: Progress) -> str:
    progress.start("copying inputs", 2 * source.stat().st_size, "bytes")
    fixity, (outcome,) = copy_verified(source, [target], progress)
    progress.finish()
    if not isinstance(outcome, Copy):
        raise outcome
    clean.copied[target] = _stamp(target)
    return fixity.sha256


def _copy_named(
    named: Iterable[Path], job: Path, clean: CleanFolder, progress: Progress
) -> Iterator[str]:
    """Copy the files of the job that the command names and nobody recorded as an input."""
    for path in dict.fromkeys(named):
        target = clean.root / path.relative_to(job)
        if target not in clean.copied:
            _copy(path, target, clean, progress)
            yield path.relative_to(job).as_posix()


@dataclass(frozen=True)
class _Mover:
    """Leads the paths in a command into the clean folder.

    Args:
        job: the job folder.
        original: the folder in which the command was run.
        root: the clean folder, standing for the job folder.
        moved: inputs from outside the job, with their copies.
        outputs: what the first run made.
    """

    job: Path
    original: Path
    root: Path
    moved: dict[Path, Path]
    outputs: Sequence[Path]

    def move(self, word: str) -> str:
        """Return a word of the command, its path led into the folder.

        Raises:
            UsageError: it leads to where the first run read or wrote, outside the job.
        """
        lead, mark, value = word.rpartition("=")
        path = self._find(value)
        if path is None:
            return word
        if path in self.moved:
            return f"{lead}{mark}{self.moved[path]}"
        is_inside = path.is_relative_to(self.job)
        if is_inside and not Path(value).is_absolute() and self.original.is_relative_to(self.job):
            return word  # the folder is laid out as the job is
        if is_inside:
            return f"{lead}{mark}{self.root / path.relative_to(self.job)}"
        touched = (*self.outputs, *self.moved)
        if any(each.is_relative_to(path) or path.is_relative_to(each.parent) for each in touched):
            raise UsageError(
                "the command names a place of the first run outside the job",
                found=word,
                remedy="run it by hand with outputs elsewhere, then name them: --with FOLDER",
            )
        return f"{lead}{mark}{path}" if os.path.lexists(path) else word

    def find_named(self, word: str) -> Iterator[Path]:
        """Yield the file of the job that a word names, unless the first run made it."""
        path = self._find(word.rpartition("=")[2])
        if path is None or path in self.outputs or not path.is_relative_to(self.job):
            return
        if os.path.isfile(path):
            yield path

    def _find(self, value: str) -> Path | None:
        """Return the path that a word may be, in full; None where it can be none."""
        if not value or "\0" in value or value.startswith("-"):
            return None
        return Path(os.path.normpath(self.original / value))


def _stamp(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_size, found.st_mtime_ns
