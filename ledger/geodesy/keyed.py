"""From GeoTIFF keys to a definition, following what each key says.

A code alone is not the whole of it: a unit key beside a code changes the unit, a datum code may
stand where a system code belongs, and a system may be spelt out without any code. The keys are
followed as a reader of the standard would, and what contradicts is noted.

Sources: OGC GeoTIFF 1.1 (19-008r4) for the keys; GeoTIFF 1.0, section 6.3.4.1, for the old vertical
codes 5001 to 5033 (heights above an ellipsoid) and 5101 to 5106 (vertical datums).
"""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.errors import CrsError
from ledger.geodesy.keyedhorizontal import read_horizontal
from ledger.geodesy.keyedvertical import OLD_ELLIPSOIDAL, read_vertical
from ledger.geodesy.keyreader import VERTICAL, Json, KeyReader, Keys, Registry


@dataclass(frozen=True)
class KeyedDefinition:
    """What the keys define.

    Args:
        horizontal: PROJJSON of the horizontal part; None when only a vertical one is given.
        vertical: PROJJSON of the vertical part; None when there is none.
        is_ellipsoidal: heights are stated to lie above the ellipsoid.
        notes: contradictions, one sentence each.
    """

    horizontal: Json | None
    vertical: Json | None
    is_ellipsoidal: bool
    notes: tuple[str, ...]


def define(keys: Keys, registry: Registry) -> KeyedDefinition:
    """Return what the keys define.

    Raises:
        CrsError: they define no system, or one that is not understood.
    """
    reader = KeyReader(keys, registry)
    horizontal, vertical = read_horizontal(reader), read_vertical(reader)
    is_ellipsoidal = keys.get(VERTICAL) in OLD_ELLIPSOIDAL
    if horizontal is None and vertical is None:
        raise CrsError("; ".join(["the GeoTIFF keys name no coordinate system", *reader.notes]))
    return KeyedDefinition(horizontal, vertical, is_ellipsoidal, tuple(reader.notes))
