"""Phrases that messages share."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

# How alike two names must be for one to be offered for the other (0 to 1); no source, by trial.
_ALIKE = 0.6

_KILO = 1000
_SIZES = ("bytes", "kB", "MB", "GB", "TB")


def find_nearest(name: str, known: Iterable[str]) -> str:
    """Return the known name that is most like `name`; empty when none is like it."""
    spelled = {_spell(each): each for each in known}
    close = difflib.get_close_matches(_spell(name), spelled, n=1, cutoff=_ALIKE)
    return spelled[close[0]] if close else ""


def _spell(name: str) -> str:
    return name.lower().replace("_", "-")


def join_choices(choices: Iterable[str]) -> str:
    """Return the choices as a phrase: `a, b or c`; `a, b; or c, d` where they hold commas."""
    listed = list(choices)
    if len(listed) < 2:
        return "".join(listed)
    before = list_choices(listed[:-1])
    return f"{before}{';' if any(',' in each for each in listed) else ''} or {listed[-1]}"


def list_choices(choices: Iterable[str]) -> str:
    """Return the choices one after another: `a, b, c`; `a, b; c, d` where they hold commas."""
    listed = list(choices)
    return ("; " if any("," in each for each in listed) else ", ").join(listed)


def tell_carried(keys: Iterable[str]) -> tuple[str, str]:
    """Return that nobody confirmed these keys of `job.toml`, and what to do about it."""
    listed = list(keys)
    names, them = " and ".join(listed), agree(len(listed), "it", "them")
    told = f"But {names} {agree(len(listed), 'was', 'were')} taken from the last job"
    return (
        f"{told} and nobody confirmed {them}.",
        f"Look at {names} in job.toml; if right, delete {them} from carried.",
    )


def count_things(number: int, thing: str, many: str = "") -> str:
    """Return a number with its noun: `1 file`, `24 files`, `1,048,576 points`."""
    return f"{number:,} {thing if number == 1 else many or thing + 's'}"


def describe_bytes(size: int) -> str:
    """Return a size with its decimal unit: `412 bytes`, `1.25 GB` (1 GB is 10^9 bytes)."""
    scaled, unit = float(size), 0
    while scaled >= _KILO and unit < len(_SIZES) - 1:
        scaled, unit = scaled / _KILO, unit + 1
    return f"{scaled:.2f} {_SIZES[unit]}" if unit else count_things(size, "byte")


def agree(number: int, one: str, many: str) -> str:
    """Return the form of a verb that agrees with a number: `agree(n, "is", "are")`."""
    return one if number == 1 else many
