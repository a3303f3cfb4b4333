"""Surveyed points of the made-up site, and the settings of its two runs."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from ledger.demo import site
from ledger.demo.site import CHECKPOINTS

# K3 lies 2 cm from C09, so that this checkpoint is none once a run uses the control.
CONTROL = (
    ("K1", 552020.000, 4272020.000),
    ("K2", 552460.000, 4272022.000),
    ("K3", 552149.014, 4272152.014),
    ("K4", 552018.000, 4272301.000),
)
_DECLARATION = (
    "# frame: NAD83(2011) epoch 2010.0; coordinate system: EPSG:6346",
    "# heights: orthometric, demo-geoid-A 1; unit: metre",
    "# base: network service; surface: nonvegetated",
)


def write_points(folder: Path) -> None:
    """Write the checkpoint table and the control table."""
    folder.mkdir(parents=True, exist_ok=True)
    checks = [
        (each.name, each.east, each.north, _ground(each.east, each.north) - each.accepted_m)
        for each in CHECKPOINTS
    ]
    control = [(name, east, north, _ground(east, north)) for name, east, north in CONTROL]
    _write_table(folder / "checks.csv", checks)
    _write_table(folder / "control.csv", control)


def _ground(east: float, north: float) -> float:
    return float(site.compute_ground(np.array([east]), np.array([north]))[0])


def _write_table(path: Path, rows: list[tuple[str, float, float, float]]) -> None:
    lines = [*_DECLARATION, "id,easting,northing,height"]
    lines += [f"{name},{east:.3f},{north:.3f},{height:.3f}" for name, east, north, height in rows]
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


def write_settings(folder: Path) -> None:
    """Write the settings that the made-up program left for each run."""
    folder.mkdir(parents=True, exist_ok=True)
    common = {
        "program": "demo-proc",
        "version": "4.1.0",
        "mount": "drone",
        "position_source": "aircraft",
        "lever_arm_m": [0.112, 0.004, 0.231],
        "range_gate_m": 90,
        "control": False,
    }
    for run, height in (("R1", "ellipsoidal"), ("R2", "orthometric:demo-geoid-A")):
        text = json.dumps({**common, "output_height": height}, indent=2)
        (folder / f"{run}.json").write_text(text + "\n", encoding="ascii", newline="\n")
