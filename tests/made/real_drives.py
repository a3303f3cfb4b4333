"""Drives that are really devices of their own: file systems in a file, mounted and pulled.

They need a system that lets the tests mount; where it does not, those tests are skipped, loudly.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

NO_MOUNT = "NO FILE SYSTEM COULD BE MOUNTED: drives were tested with folders that stand in for them"
NO_DEVICE = (
    "NO SECOND DEVICE IS AT HAND: copies to one were tested with folders that stand in for it"
)

_MAKER = "mkfs.ext4"


class RealDrives:
    """Drives below a folder, each a file system in a file of its own."""

    def __init__(self, base: Path) -> None:
        """Make no drive yet."""
        self._base = base
        self._mounted: dict[str, Path] = {}

    def make(self, name: str, mebibytes: int = 96) -> Path:
        """Make a drive, and connect it under a folder of its name; return the folder."""
        maker = shutil.which(_MAKER) or shutil.which(_MAKER, path="/usr/sbin:/sbin")
        if maker is None:
            pytest.skip(f"{NO_MOUNT}: there is no {_MAKER}")
        image = self._find_image(name)
        with image.open("wb") as stream:
            stream.truncate(mebibytes << 20)
        _run(maker, "-q", "-F", str(image))
        return self.plug(name, name)

    def plug(self, name: str, letter: str, *options: str) -> Path:
        """Connect a drive at a folder; return it."""
        folder = self._base / letter
        folder.mkdir(exist_ok=True)
        _run("mount", "-o", ",".join(("loop", *options)), str(self._find_image(name)), str(folder))
        self._mounted[name] = folder
        return folder

    def pull(self, name: str) -> None:
        """Disconnect a drive, whoever writes to it; its folder stays, empty."""
        subprocess.run(["umount", "-l", str(self._mounted.pop(name))], check=True)

    def pull_all(self) -> None:
        """Disconnect every drive."""
        for name in list(self._mounted):
            self.pull(name)

    @property
    def connected(self) -> frozenset[str]:
        """Return the names of the drives that are connected."""
        return frozenset(self._mounted)

    def _find_image(self, name: str) -> Path:
        return self._base / f"{name}.img"


def _run(*words: str) -> None:
    """Run a command of the system; what it does not let us do skips the test."""
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip(f"{NO_MOUNT}: {' '.join(done.stderr.split()) or words[0]}")
