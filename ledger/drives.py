"""Drives that copies go to: told apart, found again, and measured before anything is copied.

A drive is known by what the system says of its volume, or, where that does not last, by a small
label file at its root, written at its first use for copies. A letter or mount point is only where
it is connected now.

4 GiB limit: Microsoft FAT specification (2004), directory entry, file size of 32 bits.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
from collections.abc import Container, Iterable, Iterator
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import Fault, FaultsError, UnreadableFileError, UnwritableFileError, UsageError
from ledger.loading import load_part
from ledger.model.phrases import describe_bytes
from ledger.volumes import Volume, identify_volume, is_lasting

LABEL_NAME = "swathbook-volume.json"

_LABELLED = "label:"
_LARGEST_ON_FAT = 2**32 - 1
_FAT = frozenset({"vfat", "msdos", "fat", "fat12", "fat16", "fat32", "umsdos"})
# Where Unix systems connect what is no drive; `/run/media` holds drives.
_OF_SYSTEM = tuple(map(Path, ("/proc", "/sys", "/dev", "/run/user", "/run/lock", "/snap")))
_SHARED_MEMORY = Path("/dev/shm")  # noqa: S108 - a drive in memory, as good as any
# Room for the book, for folders, and for what the file system keeps for itself.
_SPARE_BYTES = 64 << 20


@dataclass(frozen=True)
class Drive:
    """A drive, as it is connected now.

    Args:
        id: what tells it from others, wherever it is connected.
        root: the folder at which it is connected.
        folder: the folder on it that copies go to.
        device: the system's number of it, while it is connected.
        free: bytes that are free.
        largest: bytes of the largest file that it takes; None for no limit that is known.
    """

    id: str
    root: Path
    folder: Path
    device: int
    free: int
    largest: int | None = None

    def is_there(self) -> bool:
        """Say whether its folder still lies on it: a mount point outlives what was mounted."""
        try:
            return self.folder.stat().st_dev == self.device
        except OSError:
            return False


def open_drive(folder: Path, sources: Container[int] = ()) -> Drive:
    """Return the drive of a folder, labelling it where the system gives no lasting id.

    Nothing is written to a drive that files come from: it may be a card.

    Args:
        folder: a folder that is there.
        sources: what the system numbers the devices that files are copied from.

    Raises:
        UsageError: there is no such folder, or files are copied from that very drive.
        UnwritableFileError: the drive needs a label and does not take it.
    """
    place = Path(os.path.abspath(folder))  # noqa: PTH100 - without `..`; links stay links
    if not os.path.isdir(place):
        raise UsageError(
            "there is no such drive or folder", where=str(folder), remedy="connect it, or make it"
        )
    device = place.stat().st_dev
    if device in sources:
        raise UsageError(
            "the files lie on that drive themselves; a copy there would not be a second one",
            where=str(folder),
            remedy="name another drive",
        )
    volume = identify_volume(place)
    root = Path(volume.root or place)
    return Drive(
        id=volume.id if _keeps_id(volume, root) else _read_label(root) or _write_label(root),
        root=root,
        folder=place,
        device=device,
        free=shutil.disk_usage(place).free,
        largest=_LARGEST_ON_FAT if _find_type(root) in _FAT else None,
    )


def find_id(folder: Path) -> str:
    """Return the id of the drive of a folder, where it has one that lasts; writes no label.

    Args:
        folder: a folder that is there; of another one nothing is known.
    """
    volume = identify_volume(folder)
    if is_lasting(volume.id):
        return volume.id
    return _read_label(Path(volume.root)) if volume.root else ""


def find_roots(drive: str) -> tuple[Path, ...]:
    """Return where a drive is connected now, under whatever letters or names.

    Args:
        drive: its id.
    """
    if drive.startswith(_LABELLED):
        return tuple(root for root in list_roots() if _read_label(root) == drive)
    return tuple(root for root in list_roots() if identify_volume(root).id == drive)


def list_roots() -> Iterator[Path]:
    """Yield the folders at which drives and shares are connected, those of the system left out."""
    partitions = load_part("psutil", "disk_partitions")(all=True)
    places = dict.fromkeys(Path(each.mountpoint) for each in partitions)
    yield from (place for place in places if not _is_of_system(place))


def _is_of_system(place: Path) -> bool:
    """Say whether a folder holds what a system makes up, and no drive (common practice)."""
    return any(place.is_relative_to(folder) for folder in _OF_SYSTEM) and place != _SHARED_MEMORY


def require_room(drive: Drive, files: Iterable[tuple[Path, int]]) -> None:
    """Refuse a drive that cannot take the files, before the first one is copied.

    Args:
        drive: the drive.
        files: path and size of every copy still to be made there.

    Raises:
        FaultsError: with one fault for the room and one for each file that is too large.
    """
    listed = tuple(files)
    needed = sum(size for _, size in listed)
    faults = []
    if listed and needed + _SPARE_BYTES > drive.free:
        faults.append(
            Fault(
                "the drive is too full, nothing was copied",
                found=f"{describe_bytes(drive.free)} free",
                expected=f"{describe_bytes(needed)}, and {describe_bytes(_SPARE_BYTES)} to spare",
                where=str(drive.folder),
                remedy="make room, or name another drive",
            )
        )
    faults += [
        Fault(
            "the file is too large for the file system of the drive, nothing was copied",
            found=describe_bytes(size),
            expected="less than 4 GiB",
            where=str(path),
            remedy="format the drive exFAT, or name another drive",
        )
        for path, size in listed
        if drive.largest is not None and size > drive.largest
    ]
    if faults:
        raise FaultsError.from_faults(tuple(faults))


def _keeps_id(volume: Volume, root: Path) -> bool:
    """Say whether the system's id does: it lasts, or the drive is the computer's own."""
    return is_lasting(volume.id) or _is_own(root)


def _is_own(root: Path) -> bool:
    """Say whether the computer itself lives on this drive: it is not labelled."""
    devices = set()
    for place in (Path.home(), Path(Path.home().anchor)):
        try:
            devices.add(place.stat().st_dev)
        except OSError:
            continue
    return root.stat().st_dev in devices


def _read_label(root: Path) -> str:
    """Return the id that a label file states; empty where there is none that can be used."""
    try:
        stored = json.loads((root / LABEL_NAME).read_text(encoding="utf-8"))
        return f"{_LABELLED}{int(stored['volume'], 16):016x}"
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _write_label(root: Path) -> str:
    path = root / LABEL_NAME
    name = secrets.token_hex(8)
    about = "This file tells Swathbook which drive this is. It may be kept; it holds nothing else."
    text = json.dumps({"volume": name, "about": about}, indent=1)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
    except FileExistsError:
        raise UnreadableFileError(
            "the label of the drive cannot be read",
            where=str(path),
            remedy="move it away, then run the same command again",
        ) from None
    except OSError as error:
        raise UnwritableFileError(
            f"the drive takes no label: {error.strerror or error}",
            where=str(path),
            remedy="name a drive that can be written to",
        ) from error
    return f"{_LABELLED}{name}"


def _find_type(root: Path) -> str:
    """Return the kind of file system in small letters; empty when it is not known."""
    for each in load_part("psutil", "disk_partitions")(all=True):
        if Path(each.mountpoint) == root:
            return str(each.fstype).lower()
    return ""
