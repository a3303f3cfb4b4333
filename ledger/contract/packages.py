"""The files of a package of checks, and what they are known by.

Light: asks nobody what is installed, which alone takes a fifth of a small command.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType

_COMPILED_FOLDER = "__pycache__"
_COMPILED = ".pyc"

# Parts of a path from the folder above the package on, and the whole path.
_Source = tuple[tuple[str, ...], str]


def compute_package_digest(module_name: str) -> str:
    """Return the SHA-256 over names and contents of the files of a module's package.

    Each file gives one line, its SHA-256 and its path from the package's folder; the lines are
    sorted by path. Compiled files are left out: they change with the interpreter.

    Raises:
        OSError: a file cannot be read.
    """
    root = _find_root(module_name)
    if root is None:
        return ""
    if root.is_file():
        files: list[_Source] = [((root.name,), str(root))]
    else:
        files = sorted(_list_sources(str(root), (root.name,)))
    lines = [f"{_hash(path)} {'/'.join(parts)}\n" for parts, path in files]
    return hashlib.sha256("".join(lines).encode("utf-8", "surrogateescape")).hexdigest()


def _find_root(module_name: str) -> Path | None:
    """Return the folder of the outermost regular package of a module, or its file."""
    parts = module_name.split(".")
    for length in range(1, len(parts) + 1):
        file = _locate(".".join(parts[:length]))
        if file is not None:
            return file.parent if file.name.startswith("__init__.") else file
    return None


def _locate(name: str) -> Path | None:
    """Return the file that a module was imported from, or would be."""
    if name in sys.modules:
        return find_file(sys.modules[name])
    found = find_spec(name)  # imports what is above it, and that has no file of its own here
    has_file = found is not None and found.has_location and found.origin
    return Path(str(found.origin)).resolve() if found is not None and has_file else None


def find_file(module: ModuleType | None) -> Path | None:
    """Return the file that a module was imported from; None where it has none."""
    stated = getattr(module, "__file__", None)
    return Path(stated).resolve() if stated else None


def _list_sources(folder: str, parts: tuple[str, ...]) -> Iterator[_Source]:
    """Yield the files of a folder; as texts, for an audit looks at hundreds of them."""
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                if entry.name != _COMPILED_FOLDER:
                    yield from _list_sources(entry.path, (*parts, entry.name))
            elif entry.is_file() and not entry.name.endswith(_COMPILED):
                yield (*parts, entry.name), entry.path


def _hash(path: str) -> str:
    with open(path, "rb", buffering=0) as stream:  # noqa: PTH123 - a text, as it was listed
        return hashlib.sha256(stream.read()).hexdigest()
