"""Which drive a recorded path lies on, told from the path alone, and whether it is connected.

A path outside the job folder is absolute. Its drive is the drive letter or network share on
Windows, the mount below `/media`, `/run/media`, `/Volumes` or `/mnt` elsewhere, else the topmost
folder. (Where systems mount drives: common practice, no source.)
"""

from __future__ import annotations

import os
import re
from pathlib import Path, PurePosixPath

_DRIVE = re.compile(r"^[A-Za-z]:/")
_SHARE = re.compile(r"^//[^/]+/[^/]+")
# Folders that hold mounts, with how many names below them lead to one.
_MOUNT_DEPTH = {"/run/media": 2, "/media": 2, "/Volumes": 1, "/mnt": 1}


def is_outside_job(stored: str) -> bool:
    """Say whether a path of the book lies outside the job folder, on any system."""
    return bool(_DRIVE.match(stored)) or stored.startswith("/")


def find_volume(stored: str) -> str:
    """Return the root of the drive of a path as the book stores it; empty inside the job."""
    if not is_outside_job(stored):
        return ""
    if _DRIVE.match(stored):
        return stored[:3]
    share = _SHARE.match(stored)
    if share is not None:
        return share[0]
    for parent, depth in _MOUNT_DEPTH.items():
        if stored.startswith(f"{parent}/"):
            names = stored[len(parent) + 1 :].split("/")[:depth]
            return "/".join([parent, *names])
    return "/".join(PurePosixPath(stored).parts[:2]).replace("//", "/")


def is_connected(volume: str) -> bool:
    """Say whether a drive can be looked at now.

    A mount folder that is there but empty, and is no mount, is what an unplugged drive leaves.
    """
    if not volume:
        return True
    if _DRIVE.match(volume) and os.name != "nt":
        return False  # recorded on another system
    root = Path(volume)
    if not root.exists():
        return False
    if not any(volume.startswith(f"{parent}/") for parent in _MOUNT_DEPTH):
        return True
    return os.path.ismount(root) or _has_content(root)


def _has_content(folder: Path) -> bool:
    try:
        with os.scandir(folder) as listing:
            return next(listing, None) is not None
    except OSError:
        return False
