"""The user's own folder of this program, and the short id of this computer.

The id says which entries were made on the same computer. It is random and kept in the user's own
folder: a host name often holds a person's name.
"""

from __future__ import annotations

import os
import re
import secrets
from pathlib import Path

import platformdirs

HOME_VARIABLE = "SWATHBOOK_HOME"
UNKNOWN_MACHINE = "unknown"

_ID = re.compile(r"[0-9a-f]{8}")


def find_home() -> Path:
    """Return the folder for what belongs to the user and to no job; it may not exist yet."""
    named = os.environ.get(HOME_VARIABLE)
    if named:
        return Path(named)
    return Path(platformdirs.user_data_dir("swathbook", appauthor=False))


def read_machine_id() -> str:
    """Return the id of this computer, 8 hex digits, making it at first use.

    Where nothing can be kept it is `unknown`: an entry is worth more than the name of a computer.
    """
    file = find_home() / "machine"
    known = _read_id(file)
    if known is not None:
        return known
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        fresh = file.with_name(f"machine.{secrets.token_hex(4)}")
        fresh.write_text(secrets.token_hex(4) + "\n", encoding="ascii")
        _put_in_place(fresh, file)
    except OSError:
        return UNKNOWN_MACHINE
    return _read_id(file) or UNKNOWN_MACHINE


def _put_in_place(fresh: Path, file: Path) -> None:
    """Give `fresh` its name; where another process was faster, keep what that one wrote."""
    try:
        if os.name == "nt":
            fresh.rename(file)  # refuses a name that is taken, as linking does elsewhere
        else:
            os.link(fresh, file)
    except FileExistsError:
        if _read_id(file) is None:  # it was there before and holds no id
            fresh.replace(file)
    finally:
        fresh.unlink(missing_ok=True)


def _read_id(file: Path) -> str | None:
    try:
        text = file.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return None
    return text if _ID.fullmatch(text) else None
