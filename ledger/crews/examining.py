"""What a computer would audit with, and whether it sees the files: asked of each worker."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version

from ledger.contract.origin import read_installed
from ledger.contract.packages import compute_package_digest
from ledger.errors import SwathbookError
from ledger.remote.files import Place, look

# What decodes points and computes with them: of another version, the last digit may differ.
_LIBRARIES = ("laspy", "lazrs", "numpy", "pyproj", "scipy")
_ABSENT = "not installed"

Sight = tuple[Place, int]
"""Where a file lies, and its size."""


def describe_installation() -> dict[str, str]:
    """Return what is installed here, each with version and, where it is ours, digest."""
    described = {"swathbook core": _name_version("swathbook", compute_package_digest("ledger"))}
    for plugin in read_installed():
        told = f"{plugin.version}, digest {plugin.digest[:12]}"
        described[f"plugin {plugin.name} ({plugin.entry_point})"] = told
    described.update((name, _name_version(name)) for name in _LIBRARIES)
    return described


def _name_version(name: str, digest: str = "") -> str:
    try:
        found = version(name)
    except PackageNotFoundError:
        return _ABSENT
    return f"{found}, digest {digest[:12]}" if digest else found


def find_unseen(sights: Sequence[Sight]) -> str:
    """Return the first file that is not here with that size; empty where all are."""
    for place, size in sights:
        try:
            if look(place).bytes == size:
                continue
        except OSError:
            pass
        except SwathbookError as error:
            return str(error)  # which names the file
        return str(place)
    return ""


def compare_installations(here: Mapping[str, str], there: Mapping[str, str]) -> tuple[str, ...]:
    """Return what is not the same there, each in words."""
    return tuple(
        f"{name}: {there.get(name, _ABSENT)} there, {here.get(name, _ABSENT)} here"
        for name in sorted(here.keys() | there.keys())
        if here.get(name) != there.get(name)
    )
