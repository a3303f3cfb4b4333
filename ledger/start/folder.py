"""Making a job folder whole or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from ledger.store.reading import BOOK_NAME
from ledger.store.schema import SCRATCH_NAME
from ledger.store.writing import BookWriter, create_book
from ledger.wholefile import flush_folder


class Building:
    """What one command has made so far; unless it ends well, all of that is taken away again.

    Nothing that was there before is touched.
    """

    def __init__(self) -> None:
        """Begin with nothing made."""
        self._undo: list[Callable[[], None]] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None:
            for step in reversed(self._undo):
                with suppress(OSError):
                    step()

    def make_folder(self, folder: Path) -> None:
        """Make a folder and those above it, where they are absent."""
        absent = [each for each in (folder, *folder.parents) if not each.exists()]
        for each in reversed(absent):
            each.mkdir()
            self._undo.append(each.rmdir)
            flush_folder(each.parent)

    def make_file(self, path: Path, content: bytes) -> None:
        """Write a file that is not there yet."""
        with path.open("xb") as stream:
            self._undo.append(path.unlink)
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        flush_folder(path.parent)

    def make_book(self, folder: Path) -> BookWriter:
        """Make an empty book."""
        had_scratch = (folder / SCRATCH_NAME).exists()

        def remove() -> None:
            for name in (BOOK_NAME, f"{BOOK_NAME}-journal"):
                (folder / name).unlink(missing_ok=True)
            if not had_scratch:
                shutil.rmtree(folder / SCRATCH_NAME, ignore_errors=True)

        self._undo.append(remove)
        return create_book(folder)
