"""Where a written coordinate system contradicts the code that it bears."""

from __future__ import annotations

from dataclasses import replace

from ledger.geodesy.difference import compare, compare_vertical
from ledger.model.georeferencing import Crs


def contradict_code(written: Crs, registered: Crs | None) -> tuple[str, ...]:
    """Return what a horizontal system says otherwise than its code does, one sentence each.

    Args:
        written: as understood from its text.
        registered: what the registry has under its code; None when it has nothing.
    """
    if not written.code:
        return ()
    if registered is None:
        return (f"the code {written.code} is not known",)
    return tuple(
        f"it bears the code {written.code} but its {d.part} is {d.a}, not {d.b}"
        for d in compare(replace(written, vertical=None), replace(registered, vertical=None))
    )


def contradict_vertical(written: Crs, registered: Crs | None) -> tuple[str, ...]:
    """Return what a vertical part says otherwise than its code does, one sentence each.

    Args:
        written: as understood from its text.
        registered: what the registry has under the code of its vertical part.
    """
    height = written.vertical
    if height is None or registered is None or registered.vertical is None:
        return ()
    known = replace(registered.vertical, geoid=height.geoid, code="")
    return tuple(
        f"its heights bear the code {height.code} but their {d.part} is {d.a}, not {d.b}"
        for d in compare_vertical(replace(height, code=""), known)
    )
