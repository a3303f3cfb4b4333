"""Antennas and lever arms of the flights behind a delivery."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ledger.contract.evidence import Evidence
from ledger.model.antenna import read_base_height
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.rig import find_state
from lidar_checks.ground.causes.site_facts import Antenna, Arms, Missing

# Which number of an arm points down, and with which sign.
_DOWN = {
    "forward-right-down": (2, 1.0),
    "forward-left-up": (2, -1.0),
    "right-forward-up": (2, -1.0),
}
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
    missing = [
        Missing("phase_centre", "no record gives the antenna's phase centre"),
        Missing("headings", "the heading at each point is not known"),
    ]
    if not antennas:
        missing.append(Missing("antennas", "no flight has a vertical antenna height"))
    if not arms:
        missing.append(Missing("arms", "no rig flown has a lever arm with its axes"))
    return Setup(antennas, arms, tuple(missing))


def _read_antennas(evidence: Evidence) -> list[Antenna]:
    found = []
    for card in evidence.flights:
        height = read_base_height(card.values)
        if height is None or height.vertical is None:
            continue
        is_slant = height.kind == "slant"
        radius = float(height.radius) if is_slant and height.radius is not None else None
        slant = float(height.mean) if is_slant else None
        found.append(Antenna(card.id, float(height.vertical), slant, radius))
    return found


def _leave_out_alike(antennas: Iterable[Antenna]) -> tuple[Antenna, ...]:
    """Return antennas of different height: what is alike predicts the same."""
    kept: dict[float, Antenna] = {}
    for antenna in antennas:
        kept.setdefault(round(antenna.vertical_m or 0.0, 3), antenna)
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
    aircraft = _read_down(values, "rig.lever_arm_aircraft")
    scanner = _read_down(values, "rig.lever_arm_scanner")
    if aircraft is None and scanner is None:
        return None
    return Arms(rig.id, aircraft, scanner, right)


def _read_down(values: Mapping[str, KnownValue], key: str) -> float | None:
    """Return how far the scanner lies below an antenna, metres; None where it is not known."""
    arm, axes = values.get(key), values.get("rig.lever_arm_convention")
    if arm is None or axes is None or arm.unit != "m" or str(axes.value) not in _DOWN:
        return None
    place, sign = _DOWN[str(axes.value)]
    try:
        return sign * float(arm.value[place])
    except (IndexError, TypeError, ValueError):
        return None
