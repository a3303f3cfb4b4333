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
from pathlib import Path
from urllib.parse import unquote, urlsplit

from ledger.contract.packages import compute_package_digest, find_file
from ledger.loading import load_part
from ledger.model.audit import Plugin

OWN_DISTRIBUTION = "swathbook"
ENTRY_POINT_GROUP = "swathbook.checks"
_CORE_PACKAGE = "ledger"


def identify_plugin(entry_point: EntryPoint) -> Plugin:
    """Return name and version of the distribution behind an entry point, without importing it."""
    found = entry_point.dist
    if found is None:
        return Plugin(entry_point.name, "", "", entry_point.name, entry_point.module)
    return Plugin(found.name, found.version, "", entry_point.name, entry_point.module)


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
        if not _belongs(find_file(sys.modules.get(name)), own, editable)
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
