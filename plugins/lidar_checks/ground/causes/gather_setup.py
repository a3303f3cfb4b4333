"""Antennas and lever arms of the flights behind a delivery."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.antenna import read_base_height
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.rig import find_state
from lidar_checks.flight.flight_check import read_number
from lidar_checks.ground.causes.site_facts import Antenna, Arms, Missing

# Which number of an arm points forward, right and down, and with which sign.
_AXES = {
    "forward-right-down": ((0, 1.0), (1, 1.0), (2, 1.0)),
    "forward-left-up": ((0, 1.0), (1, -1.0), (2, -1.0)),
    "right-forward-up": ((1, 1.0), (0, 1.0), (2, -1.0)),
}
_PHASE_CENTRE = "flight.base_phase_centre"
_RIGHT = {"aircraft receiver": "aircraft", "scanner receiver": "scanner"}


@dataclass(frozen=True)
class Setup:
    """What is known of antennas and arms; see `SiteFacts` for the parts."""

    antennas: tuple[Antenna, ...] = ()
    arms: tuple[Arms, ...] = ()
    missing: tuple[Missing, ...] = ()


def gather_setup(evidence: Evidence) -> Setup:
    """Return antennas and lever arms, each of which is told once."""
    antennas = _leave_out_alike(_read_antennas(evidence))
    read = (_read_arms(flight, evidence) for flight in evidence.flights)
    arms = tuple(dict.fromkeys(each for each in read if each is not None))
    missing = []
    if all(antenna.phase_centre_m is None for antenna in antennas):
        missing.append(Missing("phase_centre", "no card gives the phase centre of the antenna"))
    if not antennas:
        missing.append(Missing("antennas", "no flight has a vertical antenna height"))
    if not arms:
        missing.append(Missing("arms", "no rig flown has a lever arm with its axes"))
    return Setup(antennas, arms, tuple(missing))


def _read_antennas(evidence: Evidence) -> list[Antenna]:
    found = []
    for card in evidence.flights:
        height = read_base_height(card.values)
        centre = read_number(card, _PHASE_CENTRE)
        above = None if centre is None else centre[0]
        if height is None or height.vertical is None:
            if above is not None:
                found.append(Antenna(card.id, None, phase_centre_m=above))
            continue
        is_slant = height.kind == "slant"
        radius = float(height.radius) if is_slant and height.radius is not None else None
        slant = float(height.mean) if is_slant else None
        found.append(Antenna(card.id, float(height.vertical), slant, radius, above))
    return found


def _leave_out_alike(antennas: Iterable[Antenna]) -> tuple[Antenna, ...]:
    """Return antennas of different height: what is alike predicts the same."""
    kept: dict[tuple[float, float], Antenna] = {}
    for antenna in antennas:
        told = (antenna.vertical_m or 0.0, antenna.phase_centre_m or 0.0)
        kept.setdefault((round(told[0], 3), round(told[1], 3)), antenna)
    return tuple(kept.values())


def _read_arms(flight: Card, evidence: Evidence) -> Arms | None:
    named = flight.values.get("flight.rig")
    if named is None:
        return None
    wanted = str(named.value).strip().casefold()
    rig = next((r for r in evidence.rigs if wanted in (r.id.casefold(), r.name.casefold())), None)
    if rig is None:
        return None
    takeoff = flight.values.get("flight.takeoff")
    state, _ = find_state(rig.states, "" if takeoff is None else str(takeoff.value))
    values = rig.values if state is None else state.values
    source = flight.values.get("flight.position_source")
    right = _RIGHT.get(str(source.value), "") if source is not None else ""
    aircraft = _read_arm(values, "rig.lever_arm_aircraft")
    scanner = _read_arm(values, "rig.lever_arm_scanner")
    if aircraft is None and scanner is None:
        return None
    return Arms(
        rig.id,
        None if aircraft is None else aircraft[2],
        None if scanner is None else scanner[2],
        right,
        None if aircraft is None else aircraft[:2],
        None if scanner is None else scanner[:2],
    )


def _read_arm(values: Mapping[str, KnownValue], key: str) -> tuple[float, float, float] | None:
    """Return how far the scanner lies ahead of an antenna, right of it and below it, metres."""
    arm, axes = values.get(key), values.get("rig.lever_arm_convention")
    if arm is None or axes is None or arm.unit != "m" or str(axes.value) not in _AXES:
        return None
    try:
        ahead, right, down = (
            sign * float(arm.value[place]) for place, sign in _AXES[str(axes.value)]
        )
    except (IndexError, TypeError, ValueError):
        return None
    return ahead, right, down
