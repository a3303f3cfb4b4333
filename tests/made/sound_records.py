"""What is on record of a rig, a flight and a run in which nothing is wrong, as a form takes it.

Jobs of tests add what is their own: the place, the geoid, the times.
"""

from __future__ import annotations

RIG = {
    "scanner_serial": "SU-07",
    "lever_arm_aircraft": "0.112 0.004 0.231",
    "lever_arm_convention": "forward-right-down",
    "lever_arm_measured": "2026-04-02",
    "bracket": "B-1",
}
FLIGHT = {
    "rig": "G1",
    "platform": "drone",
    "mount_mode": "drone",
    "orientation": "inverted",
    "position_source": "aircraft receiver",
    "scanner_antenna_fitted": "no",
    "height_type": "ellipsoidal",
    "base_kind": "own base",
    "base_mark": "QM1",
    "base_method": "published",
    "base_height": "1.523",
    "base_height_again": "1.524",
}
RUN = {
    "software": "Example Suite",
    "version": "3.2",
    "mount_mode": FLIGHT["mount_mode"],
    "orientation": FLIGHT["orientation"],
    "position_source": FLIGHT["position_source"],
    "lever_arm": RIG["lever_arm_aircraft"],
    "lever_arm_from": "aircraft antenna",
    "lever_arm_convention": RIG["lever_arm_convention"],
    "input_height_type": FLIGHT["height_type"],
    "output_height_type": "orthometric",
    "geoid_version": "1",
    "decision": "accepted",
}
