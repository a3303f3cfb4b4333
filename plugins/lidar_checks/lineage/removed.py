"""Points that a step removed, read from the line that says how many and why."""

from __future__ import annotations

import re

# Numbers with or without commas or blanks between thousands.
_NUMBER = re.compile(r"(?<![\d.])\d{1,3}(?:[, ]\d{3})+(?![\d.])|(?<![\d.])\d+(?![\d.])")
_COMMA = re.compile(r",(?!\d{3}(?!\d))")


def read_removed(text: str) -> dict[str, int] | None:
    """Return the removed points by reason: `noise 1,200; vehicles 310`.

    Args:
        text: parts divided by semicolons, or by commas where there is none; each with one number
            of points and its reason.

    Returns:
        None where a part has no number, more than one, or no reason: then nothing is guessed.
    """
    listed = text.split(";") if ";" in text else _COMMA.split(text)
    found: dict[str, int] = {}
    for part in (each.strip() for each in listed):
        if not part:
            continue
        numbers = _NUMBER.findall(part)
        reason = " ".join(_NUMBER.sub(" ", part).replace("points", " ").strip(" :=,-").split())
        if len(numbers) != 1 or not any(letter.isalpha() for letter in reason):
            return None
        found[reason] = found.get(reason, 0) + int(re.sub(r"\D", "", numbers[0]))
    return found or None
