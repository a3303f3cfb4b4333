"""What a measurement was made on, as far as it matters, and whether others worked there too.

Neither the name of the machine nor any path of it is told.
"""

from __future__ import annotations

import os
import platform
import sqlite3
import ssl
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import psutil

_LIBRARIES = ("laspy", "lazrs", "numpy", "pyproj", "click")
# What decides how fast digests and sums of numbers are; names as Linux and macOS list them.
_INSTRUCTIONS = {
    "SHA": ("sha_ni", "sha2", "FEAT_SHA256"),
    "AVX2": ("avx2",),
    "AVX-512": ("avx512f",),
}
_CPU = Path("/proc/cpuinfo")

BUSY = 0.5
"""Programs of others that want a processor at once, from which on a measurement is disturbed."""


def describe() -> Iterator[tuple[str, str]]:
    """Yield facts on the machine and what runs on it, each with its name."""
    yield "processor", f"{platform.machine()}, {os.cpu_count()} cores; {_list_instructions()}"
    yield "memory", f"{psutil.virtual_memory().total / 2**30:.1f} GiB"
    yield "system", platform.system()
    yield "Python", f"{platform.python_implementation()} {platform.python_version()}"
    libraries = [f"{name} {version(name)}" for name in _LIBRARIES]
    own = (f"SQLite {sqlite3.sqlite_version}", ssl.OPENSSL_VERSION.rsplit(" ", 3)[0])
    yield "libraries", ", ".join((*libraries, *own))


def _list_instructions() -> str:
    if not _CPU.exists():
        return "instructions not known"
    lines = _CPU.read_text(encoding="utf-8", errors="replace").splitlines()
    stated = [line for line in lines if line.startswith(("flags", "Features"))]
    flags = {flag for line in stated for flag in line.partition(":")[2].split()}
    told = (
        f"{name} instructions" if flags.intersection(names) else f"no {name}"
        for name, names in _INSTRUCTIONS.items()
    )
    return ", ".join(told)


def read_others() -> float | None:
    """Return the programs of others that wanted a processor at once, mean of a minute.

    None where the system does not count them (Windows).
    """
    if not hasattr(os, "getloadavg"):
        return None
    return max(0.0, os.getloadavg()[0] - 1.0)
