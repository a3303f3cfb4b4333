"""What a card that was just recorded says by itself, while somebody can still look again.

Pure rules on the values of a flight or rig; nothing is refused because of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from ledger.dataclass import dataclass
from ledger.forms import find_doubt
from ledger.model.antenna import READINGS_APART_M, BaseHeight, read_base_height
from ledger.model.known import KnownValue
from ledger.model.rig import BRACKET, find_stale_arms, is_other

_SCANNER = "rig.scanner_serial"
_CALIBRATED = "rig.calibration_serial"

Values = Mapping[str, KnownValue]


@dataclass(frozen=True)
class Note:
    """One thing that follows from what was recorded.

    Args:
        sentence: what it is.
        is_doubt: somebody should look again; else it was only computed.
    """

    sentence: str
    is_doubt: bool = True


def list_notes(kind: str, name: str, before: Values, now: Values) -> tuple[Note, ...]:
    """Return what follows from a record.

    Args:
        kind: kind of record; only flights and rigs have notes.
        name: its id.
        before: of a rig, its values before, or those of the rig that it takes the place of.
        now: its values.
    """
    tell = _TELL.get(kind)
    return () if tell is None else (*_tell_doubts(name, now), *tell(name, before, now))


def _tell_doubts(name: str, now: Values) -> Iterator[Note]:
    """Yield the answers that somebody should look at once more."""
    for key, known in now.items():
        doubt = find_doubt(key, known)
        if doubt:
            right = f'swathbook amend {name} --set {key.partition(".")[2]}=… --reason "…"'
            yield Note(f"{doubt.partition('. Enter')[0]}. If it is wrong: {right}.")


def _tell_flight(name: str, _before: Values, now: Values) -> Iterator[Note]:
    height = read_base_height(now)
    if height is None:
        return
    if not height.agrees:
        read = " and ".join(f"{reading} m" for reading in height.readings)
        yield Note(
            f"The two readings of the base antenna, {read}, are {_write_mm(height)} apart; two of "
            f"one height lie within {READINGS_APART_M.scaleb(3):f} mm (common practice, no "
            "source). Read it a third time while the antenna stands, then swathbook amend "
            f"{name}."
        )
    if height.kind == "slant" and (height.radius is None or height.offset is None):
        yield Note(_tell_no_reduction(name, height))
    if height.kind == "slant" and height.vertical is not None:
        yield Note(
            f"Base antenna: {height.mean.normalize():f} m slant is {height.vertical} m vertical, "
            "mark to antenna reference point.",
            is_doubt=False,
        )
    if height.radius is not None and height.kind == "slant" and height.mean <= height.radius:
        yield Note(
            "The slant height of the base antenna is not longer than its radius: one of the two "
            f"is mistyped. Put it right with swathbook amend {name}."
        )


def _tell_no_reduction(name: str, height: BaseHeight) -> str:
    keys = {"base_antenna_radius": height.radius, "base_antenna_offset": height.offset}
    missing = [key for key, known in keys.items() if known is None]
    settings = " ".join(f"--set {key}=…" for key in missing)
    return (
        "The height of the base antenna was read slant and cannot be made vertical without "
        f"{' and '.join(key.removeprefix('base_antenna_') for key in missing)} of the antenna, "
        f"from its data sheet: swathbook record flight {name} {settings}."
    )


def _write_mm(height: BaseHeight) -> str:
    apart = height.apart or READINGS_APART_M
    return f"{apart.scaleb(3).normalize():f} mm"


def _tell_rig(name: str, before: Values, now: Values) -> Iterator[Note]:
    stale = find_stale_arms(before, now)
    if stale:
        yield Note(
            f"The bracket was {before[BRACKET].value} and is {now[BRACKET].value}, and the lever "
            "arm stands as it was. Measure it again; if it is the same, say when that was: "
            f"swathbook record rig {name} --set lever_arm_measured=DATE."
        )
    if is_other(now.get(_SCANNER), now.get(_CALIBRATED)):
        yield Note(
            f"The calibration is of scanner {now[_CALIBRATED].value}, the rig has scanner "
            f"{now[_SCANNER].value}."
        )


_TELL: Mapping[str, Callable[[str, Values, Values], Iterator[Note]]] = MappingProxyType(
    {"flight": _tell_flight, "rig": _tell_rig}
)
