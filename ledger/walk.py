"""Files as a person names them, and folders listed in a fixed order without following links."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from urllib.parse import unquote

from ledger.errors import UnreadableFileError, UsageError
from ledger.model.address import Address, find_scheme, read_address
from ledger.settings.typedtext import require_no_secret

# What shells put a backslash before.
_ESCAPED = re.compile(r"\\([ ()&'\[\]])")

# Files that systems leave behind and nobody delivers.
SYSTEM_NAMES = frozenset({".DS_Store", "Thumbs.db", "desktop.ini", "System Volume Information"})


def read_dropped_path(text: str) -> Path:
    """Return a path as typed, or as a window drops it into a terminal.

    Dropped paths arrive in quotes, with escaped spaces, or as a `file://` address. A name that is
    there exactly as typed is taken as it is.

    Raises:
        UsageError: it is empty, can be no path on any system, or is the address of something that
            no drive holds (`s3://`, `https://`).
    """
    if os.path.lexists(text):
        return Path(text)
    bare = _strip_quotes(text)
    if bare.startswith("file://"):
        host, slash, path = bare.removeprefix("file://").partition("/")
        share = f"//{host}" if host not in ("", "localhost") else ""  # \\host\folder on Windows
        bare = unquote(share + slash + path, errors="surrogateescape")
        bare = bare[1:] if re.match(r"/[A-Za-z]:", bare) else bare  # file:///D:/raw
    elif scheme := find_scheme(bare):
        raise UsageError(
            "this is an address, and only what a drive of this computer holds is read here",
            found=f"{scheme}://…",  # the rest may hold a password
            remedy="copy it to a drive, or have it mounted as one, and name the folder there",
        )
    elif "\\" in bare and not os.path.lexists(bare):
        bare = _ESCAPED.sub(r"\1", bare)
    if not bare or "\0" in bare:
        raise UsageError(
            "a path is empty" if not bare else "a path holds a null character",
            found=repr(text),
            expected="the name of a file or folder",
        )
    try:
        return Path(bare).expanduser()
    except RuntimeError:
        raise UsageError(
            "there is no such user", found=bare.split("/")[0], remedy=f"write ./{bare} for a name"
        ) from None


def read_dropped_place(text: str) -> Path | Address:
    """Return a path as `read_dropped_path` does, or the address of a folder in a store.

    Raises:
        UsageError: it can be neither, or the address holds what may open the store.
    """
    bare = _strip_quotes(text)
    if os.path.lexists(text) or bare.startswith("file://") or not find_scheme(bare):
        return read_dropped_path(text)
    address = read_address(bare)
    require_no_secret(bare, "the address")
    return address


def _strip_quotes(text: str) -> str:
    bare = text.strip()
    is_quoted = len(bare) > 1 and bare[0] == bare[-1] and bare[0] in "'\""
    return bare[1:-1] if is_quoted else bare


def _refuse(error: UnreadableFileError) -> None:
    raise error


def list_files(
    paths: Iterable[Path], on_closed: Callable[[UnreadableFileError], None] = _refuse
) -> list[Path]:
    """Return every file named, or inside a folder named, as absolute paths sorted by path.

    Links to files are followed, to the bytes they point at. A link to a folder is not followed, and
    is listed like a file, so that whoever reads it says so: left out, it would pass unseen.

    Args:
        paths: files and folders.
        on_closed: is told of each folder that cannot be listed, which is then passed over.

    Raises:
        UnreadableFileError: a path does not exist, or, unless `on_closed` takes it, a folder cannot
            be listed.
    """
    found: set[Path] = set()
    for path in paths:
        absolute = Path(os.path.abspath(path))  # noqa: PTH100 - resolve() would follow links
        if os.path.isdir(absolute):
            found.update(_walk(absolute, on_closed))
        else:
            _require_present(absolute)
            found.add(absolute)
    return sorted(found)


def _walk(folder: Path, on_closed: Callable[[UnreadableFileError], None]) -> Iterator[Path]:
    def refuse(error: OSError) -> None:
        on_closed(
            UnreadableFileError(
                "the folder cannot be listed",
                found=error.strerror or str(error),
                where=os.fsdecode(error.filename),
                remedy="check its permissions and the drive",
            )
        )

    for root, names, files in os.walk(folder, onerror=refuse, followlinks=False):
        names[:] = [name for name in names if name not in SYSTEM_NAMES]
        links = [name for name in names if (Path(root) / name).is_symlink()]
        for name in (*files, *links):
            if name not in SYSTEM_NAMES:
                yield Path(root) / name


def _require_present(path: Path) -> None:
    try:
        path.lstat()
    except FileNotFoundError as error:
        raise UnreadableFileError(
            "there is no such file or folder", where=str(path), remedy="check the path"
        ) from error
    except (OSError, ValueError) as error:
        raise UnreadableFileError(
            "there is no such file or folder",
            found=(isinstance(error, OSError) and error.strerror) or str(error),
            where=str(path),
        ) from error
