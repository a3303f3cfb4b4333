"""Which distribution a plugin comes from, in which version, with which bytes.

The version alone does not say it: an editable installation keeps its version while its files
change. So the digest is over the files that were imported.
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import sys
from contextlib import suppress
from dataclasses import replace
from importlib.metadata import (
    Distribution,
    EntryPoint,
    PackageNotFoundError,
    PackagePath,
    distribution,
    distributions,
    entry_points,
)
from pathlib import Path
from urllib.parse import unquote, urlsplit

from ledger.contract.guard import describe_exception
from ledger.contract.packages import compute_package_digest, find_file
from ledger.loading import load_part
from ledger.model.audit import Plugin, PluginFault

OWN_DISTRIBUTION = "swathbook"
ENTRY_POINT_GROUP = "swathbook.checks"
_CORE_PACKAGE = "ledger"


def identify_plugin(entry_point: EntryPoint) -> Plugin:
    """Return name and version of the distribution behind an entry point, without importing it."""
    name, version = _read_about(entry_point)
    try:
        module = entry_point.module
    except AttributeError:  # how the library says that the value is none
        module = ""
    return Plugin(name, version, "", entry_point.name, module)


def _read_about(entry_point: EntryPoint) -> tuple[str, str]:
    """Return name and version of a distribution; its own name for an entry point without one."""
    try:
        found = entry_point.dist
        name, version = (found.name, found.version) if found is not None else ("", "")
    except ValueError:  # an installer's own file that is no text
        name, version = "", ""
    return name or entry_point.name, version or ""  # either is None where the file lacks it


def list_entry_points(faults: list[PluginFault] | None = None) -> list[EntryPoint]:
    """Return the entry points of all plugins; ours first, that no stranger takes a name of ours.

    Args:
        faults: gets one for each installation whose list of entry points cannot be read.
    """
    try:
        found = list(entry_points(group=ENTRY_POINT_GROUP))
    except Exception:  # noqa: BLE001 - the library lets one unreadable installation hide all others
        found = _list_one_by_one(faults if faults is not None else [])

    def order(entry_point: EntryPoint) -> tuple[bool, str, str]:
        name, _ = _read_about(entry_point)
        return name != OWN_DISTRIBUTION, entry_point.name, name

    return sorted(found, key=order)


def _list_one_by_one(faults: list[PluginFault]) -> list[EntryPoint]:
    found: dict[str, list[EntryPoint]] = {}
    for installed in distributions():
        place = getattr(installed, "_path", None)  # the only place that names a nameless one
        folder = place.name if isinstance(place, Path) else "a distribution"
        try:
            points = list(installed.entry_points.select(group=ENTRY_POINT_GROUP))
            found.setdefault(installed.name or folder, points)
        except Exception as error:  # noqa: BLE001 - the file may hold anything
            sentence = f"what it offers cannot be read: {describe_exception(error)}"
            faults.append(PluginFault(folder, "", sentence))
    return [point for points in found.values() for point in points]


def read_installed() -> tuple[Plugin, ...]:
    """Return every installed plugin with the digest of its files, without importing any.

    One whose files cannot be found or read has no digest.
    """
    found = []
    for entry_point in list_entry_points():
        plugin = identify_plugin(entry_point)
        with suppress(OSError, ImportError, ValueError):
            plugin = replace(plugin, digest=compute_package_digest(plugin.module))
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
    path = unquote(urlsplit(origin["url"]).path)
    if os.name == "nt":  # drives are written otherwise; the module loads what asks the network
        path = load_part("urllib.request", "url2pathname")(path)
    return Path(path).resolve()


def _belongs(file: Path | None, own: Distribution, editable: Path | None) -> bool:
    if file is None:
        return False
    if editable is not None:
        return file.is_relative_to(editable)

    def order(listed: PackagePath) -> bool:
        """Put the likely ones first: to resolve a path is to ask the system of each part of it."""
        return listed.parts[-2:] != file.parts[-2:]

    return any(
        Path(str(listed.locate())).resolve() == file and _is_as_listed(listed, file)
        for listed in sorted(own.files or (), key=order)
    )


def _is_as_listed(listed: PackagePath, file: Path) -> bool:
    """Say whether the file still has the digest of the installer's record."""
    if listed.hash is None:
        return True
    digest = hashlib.new(listed.hash.mode, file.read_bytes()).digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode() == listed.hash.value
