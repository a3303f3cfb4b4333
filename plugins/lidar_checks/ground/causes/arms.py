"""What may be wrong with a lever arm, and how that lies on the map."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.site_facts import Arms, Overflown

Complexes = NDArray[np.complex128]

SIGMA_ARM_M = 0.01
"""How well a lever arm is known (common practice, no source)."""

BRACKET = "measure the lever arm on the bracket again"
ARM_REMEDY = "Process again with the measured lever arm of the antenna that gave the positions."
ARM_TOPICS = ("lever-arm-chain",)

_NOWHERE = (0.0, 0.0)


@dataclass(frozen=True)
class WrongArm:
    """One mistake with a lever arm, and where it moves the cloud in the axes of the aircraft.

    Args:
        name: kebab case.
        clause: what happened.
        catalogue: id of the catalogue of failures.
        quantity: what its vertical part is.
        ahead: metres ahead; 0 where the horizontal parts are not known.
        aside: metres to the right.
        up: metres up.
    """

    name: str
    clause: str
    catalogue: str
    quantity: str
    ahead: float
    aside: float
    up: float


def list_wrong_arms(arms: Arms) -> Iterator[WrongArm]:
    """Yield the mistakes with the arm of a rig; none where the right one is not known."""
    down = arms.down.get(arms.right)
    if down is None:
        return
    ahead, aside = arms.flat.get(arms.right) or _NOWHERE
    told = f"the vertical lever arm of {arms.owner}"
    omitted, doubled = "the lever arm was left out", "the lever arm was applied twice"
    yield WrongArm("arm-omitted", omitted, "MB-04", told, -ahead, -aside, down)
    yield WrongArm("arm-doubled", doubled, "MB-02", f"minus {told}", ahead, aside, -down)
    upright = "the vertical lever arm has the wrong sign"
    yield WrongArm("arm-reversed", upright, "MB-03", f"twice {told}", 0.0, 0.0, 2 * down)
    flat = f"the horizontal lever arm of {arms.owner}"
    turned = "the horizontal lever arm has the wrong signs"
    yield WrongArm("arm-turned", turned, "MB-03", f"twice {flat}", -2 * ahead, -2 * aside, 0.0)
    swapped = "forward and right of the lever arm are swapped"
    off = aside - ahead
    yield WrongArm("arm-swapped", swapped, "MB-03", f"what is swapped of {flat}", off, -off, 0.0)
    other = "scanner" if arms.right == "aircraft" else "aircraft"
    below = arms.down.get(other)
    if below is not None:
        used = f"the lever arm of the {other} antenna was used"
        first, second = arms.flat.get(other) or _NOWHERE
        told = f"one vertical lever arm of {arms.owner} less the other"
        yield WrongArm(
            *("arm-of-other", used, "MB-02", told),
            ahead=first - ahead,
            aside=second - aside,
            up=down - below,
        )


def lay_on_map(flown: Overflown, ahead: float, aside: float) -> Floats:
    """Return how a move ahead and to the right of the aircraft lies on the map, (n, 3), metres."""
    moved = to_complex(flown.forward) * complex(ahead, -aside)
    return np.column_stack([to_plan(moved), np.zeros(len(moved))])


def to_complex(plan: Floats) -> Complexes:
    """Return east plus i north, (n,)."""
    return np.asarray(plan[:, 0] + 1j * plan[:, 1])


def to_plan(moved: Complexes) -> Floats:
    """Return east and north, (n, 2)."""
    return np.column_stack([moved.real, moved.imag])
