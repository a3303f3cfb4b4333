"""Which distribution a plugin comes from, in which version, with which bytes.

The version alone does not say it: an editable installation keeps its version while its files
change. So the digest is over the files that were imported.
"""

from __future__ import annotations

import base64
import hashlib
import json
import sys
from contextlib import suppress
from dataclasses import replace
from importlib.metadata import (
    Distribution,
    EntryPoint,
    PackageNotFoundError,
    PackagePath,
    distribution,
    entry_points,
)
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType
from urllib.parse import unquote, urlsplit

from ledger.loading import load_part
from ledger.model.audit import Plugin

OWN_DISTRIBUTION = "swathbook"
ENTRY_POINT_GROUP = "swathbook.checks"
_CORE_PACKAGE = "ledger"
_COMPILED_FOLDER = "__pycache__"


def identify_plugin(entry_point: EntryPoint) -> Plugin:
    """Return name and version of the distribution behind an entry point, without importing it."""
    found = entry_point.dist
    if found is None:
        return Plugin(entry_point.name, "", "", entry_point.name)
    return Plugin(found.name, found.version, "", entry_point.name)


def list_entry_points() -> list[EntryPoint]:
    """Return the entry points of all plugins; ours first, that no stranger takes a name of ours."""

    def order(entry_point: EntryPoint) -> tuple[bool, str, str]:
        name = entry_point.dist.name if entry_point.dist else ""
        return name != OWN_DISTRIBUTION, entry_point.name, name

    return sorted(entry_points(group=ENTRY_POINT_GROUP), key=order)


def read_installed() -> tuple[Plugin, ...]:
    """Return every installed plugin with the digest of its files, without importing any.

    One whose files cannot be found or read has no digest.
    """
    found = []
    for entry_point in list_entry_points():
        plugin = identify_plugin(entry_point)
        with suppress(OSError, ImportError, ValueError):
            plugin = replace(plugin, digest=compute_package_digest(entry_point.module))
        found.append(plugin)
    return tuple(found)


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
    files = [root] if root.is_file() else sorted(_list_sources(root))
    base = root.parent
    lines = [
        f"{hashlib.sha256(file.read_bytes()).hexdigest()} {file.relative_to(base).as_posix()}\n"
        for file in files
    ]
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
        return _find_file(sys.modules[name])
    found = find_spec(name)  # imports what is above it, and that has no file of its own here
    has_file = found is not None and found.has_location and found.origin
    return Path(str(found.origin)).resolve() if found is not None and has_file else None


def _find_file(module: ModuleType | None) -> Path | None:
    stated = getattr(module, "__file__", None)
    return Path(stated).resolve() if stated else None


def _list_sources(folder: Path) -> list[Path]:
    return [
        path
        for path in folder.rglob("*")
        if path.is_file() and _COMPILED_FOLDER not in path.parts and path.suffix != ".pyc"
    ]


def find_foreign_packages(loaded: tuple[str, ...]) -> tuple[str, ...]:
    """Return those packages of ours that were not imported from our own distribution.

    Another distribution may ship a package of the same name and come first on the path; its
    checks would then speak in our name.

    Args:
        loaded: packages that our own entry points named, already imported.
    """
    try:
        own = distribution(OWN_DISTRIBUTION)
    except PackageNotFoundError:
        return (_CORE_PACKAGE, *loaded)
    editable = _find_editable_home(own)
    return tuple(
        name
        for name in (_CORE_PACKAGE, *loaded)
        if not _belongs(_find_file(sys.modules.get(name)), own, editable)
    )


def _find_editable_home(own: Distribution) -> Path | None:
    """Return the source folder of an editable installation (PEP 610), None for another one."""
    stated = own.read_text("direct_url.json")
    origin = json.loads(stated) if stated else {}
    if not origin.get("dir_info", {}).get("editable"):
        return None
    # Its module loads what it takes to ask the network, and an ordinary installation needs none.
    to_path = load_part("urllib.request", "url2pathname")
    return Path(to_path(unquote(urlsplit(origin["url"]).path))).resolve()


def _belongs(file: Path | None, own: Distribution, editable: Path | None) -> bool:
    if file is None:
        return False
    if editable is not None:
        return file.is_relative_to(editable)
    return any(
        Path(str(listed.locate())).resolve() == file and _is_as_listed(listed, file)
        for listed in own.files or ()
    )


def _is_as_listed(listed: PackagePath, file: Path) -> bool:
    """Say whether the file still has the digest of the installer's record."""
    if listed.hash is None:
        return True
    digest = hashlib.new(listed.hash.mode, file.read_bytes()).digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode() == listed.hash.value
