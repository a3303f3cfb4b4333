"""Which drive a file lies on: asked of the system while it is there, told from its path after that.

While a file is there, the system says which file system holds it (`identify_volume`); that is what
an entry keeps. Afterwards only the recorded path is left. One outside the job folder is absolute;
its drive is the drive letter or network share on Windows, the mount below `/media`, `/run/media`,
`/Volumes` or `/mnt` elsewhere, else the topmost folder. (Where systems mount drives: common
practice, no source.)
"""

from __future__ import annotations

import os
import re
from pathlib import Path, PurePosixPath

from ledger.dataclass import dataclass
from ledger.model.address import is_address
from ledger.model.filename import escape_undecodable

_DRIVE = re.compile(r"^[A-Za-z]:/")
_SHARE = re.compile(r"^//[^/]+/[^/]+")
# Folders that hold mounts, with how many names below them lead to one.
_MOUNT_DEPTH = {"/run/media": 2, "/media": 2, "/Volumes": 1, "/mnt": 1}
# What Linux says of mounts and of file systems; absent elsewhere.
_MOUNTS = Path("/proc/self/mountinfo")
_BY_UUID = Path("/dev/disk/by-uuid")

# Holds on one computer until it restarts or the drive is pulled.
_PASSING = "device:"


@dataclass(frozen=True)
class Volume:
    """The file system that holds a file.

    Args:
        id: what tells it from others. `uuid:…` (of the file system), `serial:…` (of the volume, on
            Windows) and `share:…` (server and share) stay with it wherever it is connected;
            `device:…` is a number of this computer, for this time. Empty when nothing is known.
        root: the folder at which it is connected; empty when nothing is known.
    """

    id: str = ""
    root: str = ""


def identify_volume(path: Path) -> Volume:
    """Return the volume of a file or folder that is there.

    Args:
        path: absolute; links are followed.
    """
    try:
        place = Path(os.path.realpath(path))
        device = place.stat().st_dev
        root = _find_root(place)
    except (OSError, ValueError):
        return Volume()
    if os.name == "nt":
        return Volume(f"serial:{device:x}", _write(root))
    source = _find_source(root)
    if source.startswith("//") or re.match(r"[^/:]+:/", source):
        return Volume(f"share:{escape_undecodable(source)}", _write(root))
    uuid = _find_uuid({device, _read_device(source)})
    return Volume(f"uuid:{uuid}" if uuid else f"{_PASSING}{device:x}", _write(root))


def _write(root: Path) -> str:
    return escape_undecodable(root.as_posix())


class VolumeFinder:
    """Identifies the volumes of many files; the system is asked once for each of its devices."""

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._known: dict[int, Volume] = {}

    def identify(self, path: Path) -> Volume:
        """Return the volume of a file or folder that is there."""
        try:
            device = path.stat().st_dev
        except (OSError, ValueError):
            return Volume()
        if device not in self._known:
            self._known[device] = identify_volume(path)
        return self._known[device]


def is_lasting(volume: str) -> bool:
    """Say whether the id of a volume stays with it, so that two ids mean two volumes."""
    return bool(volume) and not volume.startswith(_PASSING)


def _find_root(place: Path) -> Path:
    """Return the folder at which the file system of a path is connected."""
    return next((each for each in (place, *place.parents) if os.path.ismount(each)), place)


def _find_source(root: Path) -> str:
    """Return what is mounted at a folder: a device, or a server with its share."""
    try:
        lines = _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return ""
    # proc_pid_mountinfo(5): the fifth field is the place, the second one after " - " the source.
    for line in reversed(lines):
        before, _, after = line.partition(" - ")
        places, sources = before.split(" "), after.split(" ")
        if len(places) > 4 and len(sources) > 1 and _read_octal(places[4]) == str(root):
            return _read_octal(sources[1])
    return ""


def _read_octal(text: str) -> str:
    return re.sub(r"\\([0-7]{3})", lambda match: chr(int(match[1], 8)), text)


def _read_device(source: str) -> int:
    try:
        return Path(source).stat().st_rdev if source.startswith("/") else 0
    except (OSError, ValueError):
        return 0


def _find_uuid(devices: set[int]) -> str:
    """Return the id of the file system on one of these devices; empty when none is known."""
    try:
        links = sorted(_BY_UUID.iterdir())
    except OSError:
        return ""
    wanted = devices - {0}
    return next((link.name for link in links if _read_device(str(link)) in wanted), "")


def is_outside_job(stored: str) -> bool:
    """Say whether a path of the book lies outside the job folder, on any system."""
    return bool(_DRIVE.match(stored)) or stored.startswith("/") or is_address(stored)


def find_volume(stored: str) -> str:
    """Return the root of the drive of a path as the book stores it; empty inside the job.

    Of what lies in a store it is the bucket.
    """
    if not is_outside_job(stored):
        return ""
    if _DRIVE.match(stored):
        return stored[:3]
    if is_address(stored):
        return "/".join(stored.split("/")[:3])
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
    A store never is: who looks at files of drives does not reach it.
    """
    if not volume:
        return True
    if is_address(volume):
        return False
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
