"""Refusing a call of the system or of SQLite from inside Python: on any system, without a tool.

What is asked for files below some folders is counted; one call of it is refused, or writes less
than it was given. Files are opened by the implementation of streams in Python, so that every read
and write of theirs is counted; of SQLite it is the statements that are.
"""

from __future__ import annotations

import builtins
import errno
import importlib
import io
import os
import sqlite3
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pytest

SHORT = "short"
ERRORS = ("EIO", "ENOSPC", "EACCES", SHORT, "EROFS")
_BY_PATH = (
    *("open", "mkdir", "rename", "replace", "unlink", "utime"),
    *("link", "listdir", "scandir", "stat"),
)
_BY_NUMBER = ("read", "write", "fsync")
_CODES = {
    "EIO": "SQLITE_IOERR",
    "ENOSPC": "SQLITE_FULL",
    "EACCES": "SQLITE_READONLY",
    "EROFS": "SQLITE_READONLY",
}


class Refuser:
    """Refuses one call while it is entered as a context."""

    def __init__(self, roots: Sequence[Path], number: int, error: str) -> None:
        """Say what is refused.

        Args:
            roots: folders whose files count.
            number: which call, from 1; 0 for none.
            error: one of `ERRORS`.
        """
        self._roots = tuple(f"{root}{os.sep}" for root in roots)
        self._number, self._error = number, error
        self._open: dict[int, str] = {}
        self._lock = threading.Lock()
        self._patch = pytest.MonkeyPatch()
        self.count = 0
        self.refused = ""
        """What was refused; empty while nothing was."""

    def __enter__(self) -> Self:
        for name in _BY_PATH:
            self._patch.setattr(os, name, self._guard_path(name, getattr(os, name)))
        for name in _BY_NUMBER:
            self._patch.setattr(os, name, self._guard_number(name, getattr(os, name)))
        for module in (builtins, io):
            self._patch.setattr(module, "open", importlib.import_module("_pyio").open)
        self._patch.setattr(sqlite3, "connect", self._guard_connect(sqlite3.connect))
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._patch.undo()

    def is_due(self, what: str) -> bool:
        """Count a call, and say whether it is the one."""
        with self._lock:
            self.count += 1
            if self.count != self._number:
                return False
            self.refused = what
            return True

    def make_sqlite_error(self) -> sqlite3.OperationalError:
        """Return what SQLite raises when the system refuses."""
        name = _CODES.get(self._error, "SQLITE_IOERR")
        error = sqlite3.OperationalError("refused")
        error.sqlite_errorcode = getattr(sqlite3, name)
        error.sqlite_errorname = name
        return error

    def _make_error(self, path: str) -> OSError:
        number = getattr(errno, self._error, errno.EIO)
        return OSError(number, os.strerror(number), path)

    def _guard_path(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(path: Any = ".", *args: Any, **parts: Any) -> Any:
            place = str(Path(path).absolute()) if isinstance(path, str | Path) else ""
            ours = place.startswith(self._roots)
            if ours and self.is_due(f"{name} {place}"):
                raise self._make_error(place)
            result = real(path, *args, **parts)
            if name == "open":
                self._open[result] = place if ours else ""
            return result

        return call

    def _guard_number(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(number: int, *args: Any) -> Any:
            place = self._open.get(number, "")
            if place and self.is_due(f"{name} {place}"):
                if self._error != SHORT:
                    raise self._make_error(place)
                if name == "write":
                    return real(number, args[0][: max(1, len(args[0]) // 2)])
            return real(number, *args)

        return call

    def _guard_connect(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def connect(*args: Any, **parts: Any) -> Any:
            connection = real(*args, **{**parts, "factory": _Connection})
            connection.refuser = self
            return connection

        return connect


class _Connection(sqlite3.Connection):
    """A connection whose statements are counted."""

    refuser: Refuser | None = None

    def _ask(self, statement: str) -> None:
        if self.refuser is not None and self.refuser.is_due(f"SQL {statement[:60]}"):
            raise self.refuser.make_sqlite_error()

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        """Run a statement."""
        self._ask(sql)
        return super().execute(sql, *args)

    def executemany(self, sql: str, *args: Any) -> sqlite3.Cursor:
        """Run a statement for several rows."""
        self._ask(sql)
        return super().executemany(sql, *args)

    def rollback(self) -> None:
        """Undo what was begun; SQLite may refuse to say that it did."""
        super().rollback()
        self._ask("rollback")

    def backup(self, *args: Any, **parts: Any) -> None:
        """Copy all pages."""
        self._ask("backup")
        super().backup(*args, **parts)
