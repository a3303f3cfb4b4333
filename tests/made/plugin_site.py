"""A plugin of somebody else, laid out as an installer does, and the real command beside it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

GROUP = "swathbook.checks"


def lay_out(
    site: Path,
    name: str,
    source: str,
    *,
    version: str = "1.0",
    points: Mapping[str, Mapping[str, str]] | None = None,
) -> None:
    """Put a distribution of one module on a folder of the path, as a wheel is laid out.

    Source of the layout: PyPA, core metadata and entry points specifications. No index is asked.

    Args:
        site: the folder.
        name: name of the distribution.
        source: text of its module, which is named as the distribution, with underscores.
        version: its version.
        points: entry points by group and name; None for one in our group, named as itself.
    """
    module = name.replace("-", "_")
    about = site / f"{module}-{version}.dist-info"
    about.mkdir(parents=True)
    metadata = f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n"
    (about / "METADATA").write_text(metadata, encoding="utf-8")
    lines = []
    for group, targets in (points or {GROUP: {name: module}}).items():
        lines += [f"[{group}]", *(f"{each} = {target}" for each, target in targets.items())]
    (about / "entry_points.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (site / f"{module}.py").write_text(source, encoding="utf-8")
    (about / "RECORD").write_text(f"{module}.py,,\n", encoding="utf-8")


def find_beside(site: Path, home: Path) -> dict[str, str]:
    """Return the environment of a process that finds the plugins of a folder."""
    return {**os.environ, "PYTHONPATH": str(site), "SWATHBOOK_HOME": str(home)}


def run_module(
    environment: Mapping[str, str], folder: Path, *words: str
) -> subprocess.CompletedProcess[str]:
    """Run a module in a process of its own, in a folder."""
    return subprocess.run(
        [sys.executable, "-m", *words],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        stdin=subprocess.DEVNULL,
    )
