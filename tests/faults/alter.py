"""Altering bytes: what a bad transfer, a bad card and a bad program do to a file."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

Dice = random.Random
_EDGES = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0xFFFF, 0x7FFF_FFFF, 0xFFFF_FFFF, 2**63 - 1, 2**64 - 1)
_MOST_TIMES = 6


def alter(content: bytes, dice: Dice, words: Sequence[bytes] = ()) -> bytes:
    """Return bytes altered once or several times.

    Args:
        content: what is altered.
        dice: what decides.
        words: words of the format, put in here and there.
    """
    altered = bytearray(content)
    for _ in range(dice.randint(1, _MOST_TIMES)):
        if words and dice.random() < 0.2:
            _put_word(altered, dice, words)
        else:
            dice.choice(_WAYS)(altered, dice)
    return bytes(altered)


def _put_word(content: bytearray, dice: Dice, words: Sequence[bytes]) -> None:
    place = dice.randint(0, len(content))
    word = dice.choice(list(words))
    content[place : place + dice.choice((0, len(word)))] = word


def _flip(content: bytearray, dice: Dice) -> None:
    if content:
        content[dice.randrange(len(content))] ^= 1 << dice.randrange(8)


def _set_byte(content: bytearray, dice: Dice) -> None:
    if content:
        content[dice.randrange(len(content))] = dice.randrange(256)


def _set_number(content: bytearray, dice: Dice) -> None:
    """Overwrite a number of 2, 4 or 8 bytes by one on an edge; headers stand at the beginning."""
    size = dice.choice((2, 4, 8))
    reach = len(content) if dice.random() < 0.5 else min(len(content), 400)
    if reach > size:
        place = dice.randrange(reach - size)
        number = dice.choice(_EDGES) % (1 << 8 * size)
        content[place : place + size] = number.to_bytes(size, dice.choice(("little", "big")))


def _cut(content: bytearray, dice: Dice) -> None:
    del content[dice.randint(0, len(content)) :]


def _leave_out(content: bytearray, dice: Dice) -> None:
    start = dice.randint(0, len(content))
    del content[start : start + dice.randint(1, 64)]


def _repeat(content: bytearray, dice: Dice) -> None:
    start = dice.randint(0, len(content))
    piece = bytes(content[start : start + dice.randint(1, 64)])
    content[start:start] = piece * dice.choice((1, 1, 2, 50))


def _blank(content: bytearray, dice: Dice) -> None:
    """Make a stretch zeros: a sector that was never written."""
    start = dice.randint(0, len(content)) // 512 * 512
    stop = min(start + 512, len(content))
    content[start:stop] = bytes(stop - start)


def _swap(content: bytearray, dice: Dice) -> None:
    """Swap two stretches."""
    size = dice.randint(1, 32)
    if len(content) > 2 * size:
        one, other = sorted(dice.randrange(len(content) - size) for _ in range(2))
        content[one : one + size], content[other : other + size] = (
            content[other : other + size],
            content[one : one + size],
        )


def _change_digit(content: bytearray, dice: Dice) -> None:
    """Change a digit of a text, or what stands before it."""
    places = [place for place in range(min(len(content), 4000)) if 48 <= content[place] <= 57]
    if places:
        place = dice.choice(places)
        text = dice.choice((b"9", b"-", b"1e999", b"nan", b".", b"", b"99999999999999999999"))
        content[place : place + 1] = text


_WAYS: tuple[Callable[[bytearray, Dice], None], ...] = (
    _flip,
    _set_byte,
    _set_number,
    _set_number,
    _cut,
    _leave_out,
    _repeat,
    _blank,
    _swap,
    _change_digit,
)
